"""Charges that burn, a release that shuts late, and walls and speeds of an engine that runs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.engine.burn import (
    FULL_J_KG,
    HEAT_J_KG,
    LENGTH_DEG,
    ROWS_BEFORE,
    START_DEG,
    Combustion,
    drawn_burns,
    wiebe_per_deg,
)
from strokewise.daq.bench.engine.constants import constants_of
from strokewise.daq.bench.engine.cylinder import cylinder_volume
from strokewise.daq.bench.engine.settings import (
    BenchEngine,
    CompressionRelease,
    HeatTransfer,
    Held,
    RecordedTurning,
    RunDown,
    Starter,
    ValveSet,
)
from strokewise.daq.bench.engine.solve import simulate, solve

BURNED, WORK = 6, 5
PETROL = Combustion(strength=0.9)
TIGHT = BenchEngine(
    cylinders=1,
    firing_order=(1,),
    intake=ValveSet(34.0, 0.0, 0.35),
    exhaust=ValveSet(34.0, 0.0, 0.35),
    ring_leak_mm2=0.0,
    heat=HeatTransfer("none", still_gas=False),
)


@pytest.mark.parametrize("shape", [0.6, 2.0])
def test_a_wiebe_burn_is_done_to_993_thousandths_after_its_length(shape):
    degrees = np.linspace(0.0, 200.0, 200_001)
    rate = np.array([wiebe_per_deg(d, 50.0, shape) for d in degrees])
    burned = np.cumsum(0.5 * (rate[1:] + rate[:-1]) * np.diff(degrees))
    assert burned[-1] == pytest.approx(1.0, abs=1e-4)
    assert np.interp(50.0, degrees[1:], burned) == pytest.approx(1 - np.exp(-5.0), abs=1e-4)
    assert wiebe_per_deg(-1.0, 50.0, shape) == 0.0


def test_cycles_burn_misfire_and_scatter_as_they_are_told():
    told = Combustion(
        1.0, 20.0, 60.0, start_scatter_deg=2.0, misfires=0.2, first_cycle=3, cycles=1500
    )
    burns = drawn_burns(told, 2, seed=5)
    lit = burns[:, :, HEAT_J_KG] > 0.0
    assert not lit[: ROWS_BEFORE + 3].any()
    assert not lit[ROWS_BEFORE + 1503 :].any()
    burning = slice(ROWS_BEFORE + 3, ROWS_BEFORE + 1503)
    assert lit[burning].mean() == pytest.approx(0.8, abs=0.03)  # 3000 draws: 4 sigma
    assert burns[:, :, START_DEG].std() == pytest.approx(2.0, rel=0.1)
    assert burns[:, :, START_DEG].mean() == pytest.approx(-20.0, abs=0.2)
    assert np.median(burns[:, :, LENGTH_DEG]) == pytest.approx(60.0, rel=0.02)
    assert np.array_equal(burns, drawn_burns(told, 2, seed=5))
    assert not np.array_equal(burns, drawn_burns(told, 2, seed=6))


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"misfires": 1.2}, "misfires must be a share"),
        ({"length_deg": 1.0}, "cannot be"),
        ({"shape": 0.0}, "cannot be"),
        ({"cycles": -1}, "cycles of the combustion must not be negative"),
    ],
)
def test_a_burn_that_cannot_be_is_refused(wrong, message):
    with pytest.raises(InputError, match=message):
        Combustion(**wrong)


def test_a_closed_charge_turns_its_heat_into_energy_and_work():
    """Tight, no heat to the walls: what burned is in the gas or went to the crank, to 1e-6."""
    engine = replace(TIGHT, combustion=Combustion(strength=0.8, strength_scatter=0.0))
    turning = Held(rpm=600.0, ripple=0.0, held_s=0.2, start_deg=-300.0)
    found = solve(engine, turning, 20_000.0, 3, [1], "fine")
    went = found.accounts[-1, 0] - found.accounts[0, 0]
    heat = 0.8 * FULL_J_KG * found.gas[0, 0, 0]
    assert went[BURNED] == pytest.approx(heat, rel=1e-4)
    gained = found.gas[-1, 0, 1] - found.gas[0, 0, 1]
    assert gained == pytest.approx(went[BURNED] - went[WORK], abs=1e-6 * heat)
    assert went[WORK] > 0.2 * heat


def test_only_the_cycles_before_the_cut_burn_and_the_engine_runs_down():
    engine = BenchEngine(combustion=replace(PETROL, cycles=2))
    found = solve(engine, RunDown(1200.0, 0.8, start_deg=-200.0), 10_000.0, 1, (1, 2, 3, 4), "fine")
    crank = np.degrees(found.crank[:, 0])
    for c, firing in enumerate((0.0, 540.0, 180.0, 360.0)):
        overlaps = np.arange(firing - 1080.0, crank[-1], 720.0)
        made = np.diff(np.interp(overlaps, crank, found.accounts[:, c, BURNED]))
        lit = made[overlaps[1:] - 360.0 > crank[0]] > 100.0  # J, of each firing TDC passed
        assert lit[:2].all()
        assert not lit[2:].any()
    assert found.crank[-1, 1] < found.crank[:, 1].max()


def test_a_held_engine_is_cut_where_it_is_let_go():
    engine = BenchEngine(combustion=PETROL)
    run = simulate(engine, Held(1500.0, 0.02, 0.4, 1.5, start_deg=10.0), 10_000.0)
    held = run.time_s < 0.4
    assert run.speed_rpm[held].mean() == pytest.approx(1500.0, rel=0.01)
    assert np.ptp(run.speed_rpm[held]) == pytest.approx(60.0, rel=0.05)
    near_tdc = np.abs((run.crank_deg[held] + 90.0) % 180.0 - 90.0) < 5.0
    assert run.speed_rpm[held][near_tdc].max() < 1475.0
    assert run.speed_rpm[-1] < 1000.0
    hot = run.temperature_k.max(axis=1)
    assert hot[run.time_s < 0.3].max() > 2000.0
    assert hot[run.time_s > 0.6].max() < 1100.0


def test_nothing_burns_in_a_crank_turned_back():
    engine = replace(TIGHT, combustion=PETROL)
    turning = RecordedTurning((0.0, 0.1, 0.2), (300.0, 0.0, -300.0))
    found = solve(engine, turning, 10_000.0, 1, [1], "fine")
    assert found.accounts[-1, 0, BURNED] == 0.0


def test_a_release_keeps_pressure_down_until_it_shuts():
    release = CompressionRelease(80.0, closes_btdc_deg=60.0)
    engine = replace(TIGHT, release=release, ring_leak_mm2=0.2)
    turning = Held(300.0, 0.0, 0.25, start_deg=-190.0)
    with_it = simulate(engine, turning, 20_000.0)
    without = simulate(replace(engine, release=CompressionRelease()), turning, 20_000.0)
    early = (with_it.crank_deg > -180.0) & (with_it.crank_deg < -95.0)
    assert with_it.pressure_bar[early, 0].max() < 1.2
    assert without.pressure_bar[early, 0].max() > 1.25 * with_it.pressure_bar[early, 0].max()
    # From where it shuts on, the charge is squeezed as any closed one: pressure by volume ratio to
    # the power of 1.4, less what it leaks to the rings.
    k = constants_of(engine)
    shut, top = (cylinder_volume(k, 0, np.radians(at))[0] for at in (-60.0, 0.0))
    at_shut = np.interp(-60.0, with_it.crank_deg, with_it.pressure_bar[:, 0])
    peak = with_it.pressure_bar[:, 0].max()
    assert (shut / top) ** 1.3 < peak / at_shut < (shut / top) ** 1.4
    assert peak < 0.7 * without.pressure_bar[:, 0].max()


def test_flyweights_shut_the_release_at_speed():
    release = CompressionRelease(20.0, closes_btdc_deg=60.0, below_rpm=250.0)
    turning = Held(300.0, 0.0, 0.25, start_deg=-190.0)
    kept = simulate(replace(TIGHT, release=release), turning, 5_000.0)
    none = simulate(TIGHT, turning, 5_000.0)
    assert kept.pressure_bar == pytest.approx(none.pressure_bar, rel=1e-9)


def test_a_release_or_a_holding_that_cannot_be_is_refused():
    with pytest.raises(InputError, match="cannot be"):
        CompressionRelease(5.0, closes_btdc_deg=200.0)
    with pytest.raises(InputError, match="must be above 0"):
        Held(rpm=0.0)


def test_hot_walls_warm_the_charge_and_lose_less_of_it():
    cold = simulate(BenchEngine(), Starter(1.5, start_deg=20.0), 4000.0)
    hot_walls = HeatTransfer(wall_temperature_c=150.0, liner_temperature_c=110.0)
    hot = simulate(BenchEngine(heat=hot_walls), Starter(1.5, start_deg=20.0), 4000.0)
    assert hot.temperature_k[:, 0].max() > cold.temperature_k[:, 0].max() + 40.0


def test_liner_and_head_are_as_warm_as_each_is_told():
    """Still gas, no work to speak of: it ends between the two walls, nearer to the larger."""
    heat = HeatTransfer(wall_temperature_c=100.0, liner_temperature_c=20.0)
    turning = Held(rpm=1.0, ripple=0.0, held_s=3.0, start_deg=170.0)
    run = simulate(replace(TIGHT, heat=heat), turning, 100.0)
    assert 293.15 < run.temperature_k[-1, 0] < 373.15
