"""Do burning cycles of the bench engine look as published ones do? Ranges, not laws."""

from __future__ import annotations

import numpy as np
import pytest

from strokewise.daq.bench.engine.burn import FULL_J_KG, Combustion, wiebe_per_deg
from strokewise.daq.bench.engine.settings import BenchEngine, HeatTransfer, Held, ValveSet
from strokewise.daq.bench.engine.solve import solve

BURNED, HEAT, WORK = 6, 4, 5
RPM = 1500.0
HOT = HeatTransfer(wall_temperature_c=170.0, liner_temperature_c=120.0)


def held(engine, seconds=0.5):
    turning = Held(RPM, 0.0, seconds, start_deg=-360.0)
    return solve(engine, turning, 20_000.0, 2, range(1, engine.cylinders + 1), "fine")


@pytest.fixture(scope="module")
def petrol():
    engine = BenchEngine(
        adaptor_cylinder=None,
        throttle_area_mm2=900.0,
        heat=HOT,
        combustion=Combustion(0.9, start_btdc_deg=18.0, start_scatter_deg=0.0),
    )
    return held(engine)


def of_cylinder_1(found):
    crank = np.degrees(found.crank[:, 0])
    return crank, found.state[:, 0, 0] * 1e-5, found.state[:, 0, 1]


def test_half_of_the_charge_is_burned_and_pressure_peaks_where_best_timing_has_them(petrol):
    """With the best spark timing pressure peaks about 16° after TDC, and half the charge is burned
    about 10° after it: Heywood, Internal Combustion Engine Fundamentals, ch. 9 (from memory); a
    start 18° before TDC with 55° to burn is near it."""
    crank, pressure, _ = of_cylinder_1(petrol)
    for firing in (720.0, 1440.0):
        near = np.abs(crank - firing) < 90.0
        assert 10.0 < crank[near][pressure[near].argmax()] - firing < 22.0
        burned = petrol.accounts[near, 0, BURNED]
        share = (burned - burned[0]) / np.ptp(burned)
        assert 5.0 < np.interp(0.5, share, crank[near]) - firing < 15.0


def test_pressure_and_temperature_of_a_full_petrol_charge(petrol):
    """30 to 80 bar, and 2,400 to 3,000 K of a burned charge; Heywood, ch. 9 (from memory). The gas
    does not dissociate here, so the upper end is fair."""
    _, pressure, temperature = of_cylinder_1(petrol)
    assert 35.0 < pressure.max() < 80.0
    assert 2300.0 < temperature.max() < 3200.0


def test_where_the_heat_of_a_petrol_charge_goes(petrol):
    """25 to 40 % to the crank (indicated) and 15 to 35 % to the walls; Heywood, ch. 12 has 17 to
    26 % to the coolant and 30 % to the walls at light load (from memory, widened)."""
    crank, _, _ = of_cylinder_1(petrol)
    ends = [np.argmin(np.abs(crank - at)) for at in (360.0, 1800.0)]
    went = petrol.accounts[ends[1], 0] - petrol.accounts[ends[0], 0]
    assert 0.25 < went[WORK] / went[BURNED] < 0.42
    assert 0.12 < -went[HEAT] / went[BURNED] < 0.35


def test_a_diesel_peaks_soon_after_tdc_and_higher():
    """Direct-injection diesels peak at 60 to 110 bar within 5° to 15° of TDC (Heywood, ch. 10, from
    memory)."""
    engine = BenchEngine(
        compression_ratio=19.0,
        adaptor_cylinder=None,
        throttle_area_mm2=1500.0,
        heat=HOT,
        combustion=Combustion(0.5, 6.0, 70.0, 0.6, start_scatter_deg=0.0),
    )
    crank, pressure, _ = of_cylinder_1(held(engine))
    near = np.abs(crank - 720.0) < 90.0
    assert 60.0 < pressure[near].max() < 110.0
    assert 2.0 < crank[near][pressure[near].argmax()] - 720.0 < 15.0


def test_heat_of_a_petrol_charge():
    """A stoichiometric mixture of petrol and air holds 2.7 to 2.9 MJ in a kilogram: Heywood, app. D
    (44 MJ/kg at 14.6 to 1, from memory)."""
    assert 2.7e6 < FULL_J_KG < 2.9e6


def test_a_charge_that_burns_at_once_at_tdc_rises_as_at_constant_volume():
    """No losses: the pressure ratio of a constant-volume burn is that of the absolute temperatures
    (any thermodynamics text; common practice, no source). Looked at equally far to both sides of
    TDC, volumes being equal."""
    closed = ValveSet(34.0, 0.0, 0.35)
    engine = BenchEngine(
        cylinders=1, firing_order=(1,), intake=closed, exhaust=closed, ring_leak_mm2=0.0,
        adaptor_cylinder=None, heat=HeatTransfer("none", still_gas=False),
        combustion=Combustion(0.3, 1.5, 3.0, start_scatter_deg=0.0, length_scatter=0.0),
    )  # fmt: skip
    found = solve(engine, Held(60.0, 0.0, 1.1, start_deg=-200.0), 4000.0, 1, [1], "fine")
    crank = np.degrees(found.crank[:, 0])
    before, after = (int(np.argmin(np.abs(crank - at))) for at in (-1.6, 1.6))
    gas, state = found.gas[:, 0, 1], found.state[:, 0]
    rise = state[after, 0] / state[before, 0]
    assert rise == pytest.approx(state[after, 1] / state[before, 1], rel=2e-3)
    assert gas[after] - gas[before] == pytest.approx(
        found.accounts[after, 0, BURNED] - found.accounts[before, 0, BURNED], rel=0.01
    )


def test_wiebe_against_the_textbook_curve():
    """Arithmetic on Wiebe's curve, m = 2 and a = 5: it is fastest at (m / (a (m + 1)))^(1/(m+1)) of
    the length, from setting the second derivative to nought."""
    y = np.linspace(0.0, 1.0, 10_001)
    rate = [wiebe_per_deg(50.0 * at, 50.0, 2.0) for at in y]
    assert y[int(np.argmax(rate))] == pytest.approx((2.0 / 15.0) ** (1 / 3), abs=1e-3)
