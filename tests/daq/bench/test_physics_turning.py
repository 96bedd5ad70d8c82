"""How the crank is turned: smooth by hand, by torque with a starter, and standing when held."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.engine.settings import (
    BenchEngine,
    RecordedTurning,
    RockedTurning,
    RunDown,
    Spanner,
    Starter,
)
from strokewise.daq.bench.engine.solve import simulate
from strokewise.daq.bench.engine.turning import drive_of, motion_of

ENGINE = BenchEngine()


@pytest.mark.parametrize(
    "turning",
    [Spanner(), Spanner(total_deg=-800.0), RockedTurning(), RockedTurning(cylinder=3, jerk=0.6)],
)
def test_a_hand_moves_the_crank_smoothly(turning):
    motion = motion_of(ENGINE, turning, 5)
    times = np.linspace(0.0, motion.duration_s, 200_001)
    angle, speed = motion.angle_deg(times), motion.speed_deg_s(times)
    # Speed is the derivative of the angle, and has no jumps: C1.
    assert np.gradient(angle, times)[1:-1] == pytest.approx(speed[1:-1], abs=3.0)
    assert np.abs(np.diff(speed)).max() < 0.02 * np.abs(speed).max()
    assert speed[0] == speed[-1] == 0.0
    assert motion.prescribed_s == motion.duration_s


def test_spanner_goes_as_far_as_told_with_back_rolls_and_pauses():
    turning = Spanner(total_deg=900.0, back_roll_deg=(2.0, 5.0), start_deg=33.0)
    run = simulate(ENGINE, turning, 1000.0, 4, cylinders_simulated=[1], detail="coarse")
    assert run.crank_deg[0] == pytest.approx(33.0)
    assert run.crank_deg[-1] == pytest.approx(933.0, abs=0.01)
    assert run.speed_rpm.min() < -2.0
    assert (run.speed_rpm == 0.0).mean() > 0.2
    assert 20.0 < run.speed_rpm.max() < 100.0
    back = simulate(
        ENGINE, replace(turning, total_deg=-900.0), 1000.0, 4, cylinders_simulated=[1],
        detail="coarse",
    )  # fmt: skip
    assert back.crank_deg[-1] == pytest.approx(33.0 - 900.0, abs=0.01)


def test_a_pause_in_the_compression_leaks_it_away():
    up = np.linspace(0.0, 1.0, 60)
    times = np.concatenate([up, [9.0]])
    angles = np.concatenate([-120.0 + 100.0 * (3 * up**2 - 2 * up**3), [-20.0]])
    run = simulate(
        ENGINE, RecordedTurning(tuple(times), tuple(angles)), 500.0, cylinders_simulated=[1]
    )
    held = run.pressure_bar[run.time_s >= 1.0, 0]
    assert held[0] > 3.0
    assert np.all(np.diff(held) < 1e-9)
    assert held[-1] == pytest.approx(1.013, abs=0.02)


@pytest.mark.parametrize("cylinder", [1, 2])
def test_rocking_passes_the_firing_tdc_both_ways(cylinder):
    turning = RockedTurning(cylinder=cylinder, amplitude_deg=60.0, swings=6)
    run = simulate(ENGINE, turning, 1000.0, 2, cylinders_simulated=[cylinder], detail="coarse")
    tdc = ENGINE.firing_deg(cylinder)
    passes = np.flatnonzero(np.diff(np.sign(run.crank_deg - tdc)) != 0)
    assert passes.size == 6
    assert set(np.sign(run.speed_rpm[passes])) == {1.0, -1.0}
    assert np.abs(run.crank_deg - tdc).max() < 64.1
    assert np.nanmax(run.pressure_bar[:, cylinder - 1]) > 2.0


def test_the_seed_draws_and_repeats():
    runs = [
        simulate(ENGINE, Spanner(total_deg=400.0), 500.0, s, cylinders_simulated=[1])
        for s in (1, 1, 2)
    ]
    assert np.array_equal(runs[0].crank_deg, runs[1].crank_deg)
    assert np.array_equal(runs[0].pressure_bar[:, 0], runs[1].pressure_bar[:, 0])
    assert runs[0].crank_deg[0] != runs[2].crank_deg[0]


def test_starter_runs_up_holds_and_is_released():
    run = simulate(ENGINE, Starter(duration_s=2.0, run_down_s=2.0, start_deg=10.0), 2000.0)
    assert run.speed_rpm[0] == 0.0
    cranking = (run.time_s > 1.0) & (run.time_s < 2.0)
    assert run.speed_rpm[cranking].min() > 50.0
    assert run.speed_rpm[-1] == 0.0
    # It came to rest well before the end and stayed, held by friction.
    last_move = run.time_s[np.flatnonzero(run.speed_rpm != 0.0)[-1]]
    assert 2.1 < last_move < 3.9
    assert np.ptp(run.crank_deg[run.time_s > last_move]) == pytest.approx(0.0, abs=1e-9)


def test_a_tired_battery_cranks_slower_and_sags():
    def speed(battery, sag):
        turning = Starter(duration_s=3.0, battery=battery, sag_per_s=sag, start_deg=10.0)
        run = simulate(ENGINE, turning, 500.0, detail="coarse")
        return [run.speed_rpm[(run.time_s > a) & (run.time_s <= a + 1.0)].mean() for a in (1, 2)]

    good, tired, sagging = speed(1.0, 0.0), speed(0.85, 0.0), speed(1.0, 0.12)
    assert tired[1] < 0.9 * good[1]
    assert sagging[1] < sagging[0] - 5.0
    assert abs(good[1] - good[0]) < 8.0


def test_plugs_out_crank_faster_and_evenly():
    turning = Starter(duration_s=2.0, start_deg=10.0)
    all_in = simulate(ENGINE, turning, 1000.0)
    out = simulate(BenchEngine(plugs_out=(2, 3, 4)), turning, 1000.0)
    late = all_in.time_s > 1.0
    assert out.speed_rpm[late].mean() > 1.15 * all_in.speed_rpm[late].mean()
    assert out.pressure_bar[:, 1].max() < 2.0 < out.pressure_bar[:, 0].max()


def test_run_down_begins_at_speed_and_ends_at_rest():
    run = simulate(ENGINE, RunDown(start_rpm=800.0, duration_s=4.0), 1000.0, 1)
    assert run.speed_rpm[0] == pytest.approx(800.0)
    assert run.speed_rpm[-1] == 0.0
    # The last compressions throw it back a little: that is how engines stop.
    assert run.speed_rpm.min() < 0.0


def test_run_down_without_gas_or_viscous_drag_slows_as_the_textbook_says():
    """ω = ω0 − T t / I: dry friction alone, all plug holes wide open and no reciprocating mass."""
    engine = BenchEngine(
        plugs_out=(1, 2, 3, 4), plug_hole_mm2=5000.0, viscous_nm_s=0.0, reciprocating_mass_kg=0.0
    )
    run = simulate(engine, RunDown(start_rpm=300.0, duration_s=0.15, start_deg=0.0), 1000.0)
    slowing = engine.friction_nm / engine.inertia_kg_m2 * 30.0 / np.pi
    assert run.speed_rpm == pytest.approx(300.0 - slowing * run.time_s, abs=2.0)


def test_reciprocating_mass_exchanges_energy_only():
    """Frictionless and with nothing to compress, kinetic energy stays what it was."""
    engine = BenchEngine(
        plugs_out=(1, 2, 3, 4), plug_hole_mm2=50_000.0, friction_nm=0.0, viscous_nm_s=0.0,
        reciprocating_mass_kg=2.0, intake=replace(ENGINE.intake, lift_mm=0.0),
    )  # fmt: skip
    run = simulate(engine, RunDown(start_rpm=120.0, duration_s=2.0, start_deg=0.0), 1000.0)
    at_tdc = np.abs((run.crank_deg + 90.0) % 180.0 - 90.0) < 1.0
    # All four pistons stand still at every dead centre: the same speed each time.
    assert np.ptp(run.speed_rpm[at_tdc]) < 1.0
    assert np.ptp(run.speed_rpm) > 3.0


def test_a_recorded_motion_is_followed():
    times = np.linspace(3.0, 5.0, 40)
    angles = -300.0 + 200.0 * (times - 3.0) + 20.0 * np.sin(times)
    run = simulate(
        ENGINE, RecordedTurning(tuple(times), tuple(angles)), 1000.0, cylinders_simulated=[1]
    )
    assert run.time_s[-1] == pytest.approx(2.0)
    expected = np.interp(run.time_s, times - 3.0, angles)
    assert run.crank_deg == pytest.approx(expected, abs=0.2)


def test_cylinders_not_simulated_are_not_a_number():
    run = simulate(ENGINE, RockedTurning(cylinder=2, swings=2), 500.0, cylinders_simulated=[2])
    assert np.isfinite(run.pressure_bar).all(axis=0).tolist() == [False, True, False, False]
    assert np.isnan(run.temperature_k[:, [0, 2, 3]]).all()
    whole = simulate(ENGINE, RockedTurning(cylinder=2, swings=2), 500.0)
    assert run.pressure_bar[:, 1] == pytest.approx(whole.pressure_bar[:, 1], rel=2e-3)


@pytest.mark.parametrize(
    ("turning", "message"),
    [
        (RecordedTurning((0.0, 1.0), (0.0,)), "as many angles"),
        (RecordedTurning((0.0, 0.0), (0.0, 1.0)), "times rising"),
        (Spanner(swing_deg=(3.0, 5.0)), "longer than back_roll_deg"),
        (Spanner(rpm=(-5.0, -1.0)), "must be above 0"),
    ],
)
def test_a_motion_that_cannot_be_is_refused(turning, message):
    with pytest.raises(InputError, match=message):
        motion_of(ENGINE, turning, 0)


def test_a_torque_curve_must_rise_in_speed():
    with pytest.raises(InputError, match="speeds rising"):
        drive_of(Starter(torque_curve=((320.0, 0.0), (0.0, 180.0))))
