"""Is the second simulated cylinder of the accuracy table right where theory says what is right?"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
pytest.importorskip("numba")
from second_physics import Second, air, filled_anew

from strokewise.analysis.profile import Atmosphere, ValveTiming
from strokewise.daq.bench.engine.gas import AIR_J_KG_K, heat_capacity
from strokewise.daq.bench.engine.settings import BenchEngine, RecordedTurning, ValveSet
from strokewise.daq.bench.engine.solve import simulate

LOSSLESS = Second(
    heat=1e-9, p_power=0.0, t_power=0.0, speed_power=0.0, stirred_m_s=0.1, head_k=293.15,
    piston_k=293.15, liner_k=293.15, film_s=0.01, film_share=0.0, crevice_share=1e-9,
    ring_share=1e-3, leak_m2=0.0, seat_share=0.0, seat_pa=1e5, motion=0.0, vapour=0.0,
)  # fmt: skip
NEVER = ValveSet(34.0, 0.0, 0.3)
TIGHT = BenchEngine(
    cylinders=1, firing_order=(1,), adaptor_cylinder=None, intake=NEVER, exhaust=NEVER,
    ring_leak_mm2=0.0, valve_timing=ValveTiming(10.0, 30.0, 30.0, 10.0),
    atmosphere=Atmosphere(1.0, 20.0),
)  # fmt: skip


@pytest.mark.parametrize(("ratio", "bar", "kelvin"), [(8.0, 17.913, 656.4), (23.0, 74.784, 953.2)])
def test_squeezed_without_losses_it_is_the_isentrope_of_air(ratio, bar, kelvin):
    """Cantera 3.2 (O2:0.21, N2:0.79) from 1.0 bar and 293.15 K; within 0.4 %, as vibrating rotors
    without anharmonicity and excited electrons lack half a hundredth of the heat capacity. Its own
    isentrope, by quadrature, it follows to a hundred-thousandth."""
    engine = replace(TIGHT, compression_ratio=ratio)
    run = simulate(engine, RecordedTurning((0.0, 1.0), (-180.0, 0.0)), 4000.0)
    found = filled_anew(run, LOSSLESS).pressure_bar[-1, 0]
    assert found == pytest.approx(bar, rel=0.004)
    assert found / ratio * 293.15 == pytest.approx(kelvin, rel=0.004)
    kelvins = np.linspace(293.15, 1100.0, 20_001)
    per_k = np.array([air(t, 0.0)[2] / air(t, 0.0)[0] / t for t in kelvins])
    squeezed = np.exp(np.concatenate([[0.0], np.cumsum(0.5 * (per_k[1:] + per_k[:-1]))
                                      * np.diff(kelvins)[0]]))  # fmt: skip
    end_k = np.interp(ratio, squeezed, kelvins)
    assert found == pytest.approx(ratio * end_k / 293.15, rel=1e-5)


def test_heat_capacity_is_that_of_the_polynomials_of_nasa():
    """Air of 21 % oxygen and 79 % nitrogen: NASA TM-4513, as the bench engine has it."""
    for kelvin in (300.0, 500.0, 800.0, 1200.0):
        expected = heat_capacity(kelvin) - AIR_J_KG_K
        assert air(kelvin, 0.0)[2] == pytest.approx(expected, rel=0.007)
    low, high = air(500.0, 0.02)[1], air(501.0, 0.02)[1]
    assert high - low == pytest.approx(air(500.5, 0.02)[2], rel=1e-6)


def test_pin_offset_puts_the_pressure_peak_at_tdc_of_the_bench():
    """Without losses pressure is highest where the piston is: both physics mean the same TDC."""
    engine = replace(TIGHT, pin_offset_mm=1.2)
    run = simulate(engine, RecordedTurning((0.0, 2.0), (-90.0, 90.0)), 8000.0)
    pressure = filled_anew(run, LOSSLESS).pressure_bar[:, 0]
    near = pressure > 0.97 * pressure.max()
    a, b, _ = np.polyfit(run.crank_deg[near], pressure[near], 2)
    assert -b / (2 * a) == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("film_share", [0.0, 0.4])
def test_losses_put_the_peak_before_tdc_whichever_way_it_is_turned(film_share):
    lossy = replace(LOSSLESS, heat=40.0, leak_m2=0.5e-6, film_share=film_share)
    engine = replace(TIGHT, valve_timing=ValveTiming(10.0, 30.0, 30.0, 10.0))
    for way in (1.0, -1.0):
        run = simulate(engine, RecordedTurning((0.0, 0.4), (-100.0 * way, 100.0 * way)), 8000.0)
        pressure = filled_anew(run, lossy).pressure_bar[:, 0]
        early = -way * run.crank_deg[pressure.argmax()]
        assert 0.5 < early < 15.0
