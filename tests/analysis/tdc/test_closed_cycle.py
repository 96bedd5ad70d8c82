"""The closed-cycle model against what is known exactly of it."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline

from strokewise.analysis.crank.kinematics import volume_ratio
from strokewise.analysis.tdc.closed_cycle import (
    AIR_GAS_CONSTANT,
    SETTLED_M_S,
    Gas,
    Runs,
    Surroundings,
    crank_after_tdc_deg,
    pressures,
)
from strokewise.analysis.tdc.losses import SEATED_BAR, gamma_of

ONE = np.ones((1, 1))
AROUND = Surroundings()
TIGHT = Gas(
    tdc_deg=0 * ONE, log_clearance=np.log(8.0) * ONE, log_leak=-30 * ONE, log_heat=-30 * ONE,
    heat_power=0.8 * ONE, log_swirl=0 * ONE, wall_k=300 * ONE, log_still=-30 * ONE,
    gap_power=0 * ONE, lag_s=0 * ONE, delay_s=0 * ONE, log_rod=np.log(3.5) * ONE,
    pin_offset=0 * ONE, wobble_deg=0 * ONE, backlash_deg=0 * ONE, log_gain=0 * ONE,
    log_start=np.log(1.2) * ONE, log_warm=0 * ONE, zero_bar=0 * ONE, drift_bar_s=0 * ONE,
)  # fmt: skip


def run(rpm: float = 200.0, step_deg: float = 1.0, reach: float = 110.0) -> Runs:
    angle = np.arange(-reach, reach + 1e-9, step_deg)[None] * np.sign(rpm)
    speed = np.full_like(angle, rpm * 6.0)
    time = (angle - angle[:, :1]) / (rpm * 6.0)
    ones = np.ones_like(angle)
    return Runs(time, angle, speed, ones, ones, np.ones(angle.shape, bool))


def test_without_losses_pressure_mirrors_about_tdc():
    bar = pressures(run(), TIGHT, AROUND)[0, 0]
    assert bar == pytest.approx(bar[::-1], rel=1e-4)
    assert np.argmax(bar) == len(bar) // 2


def test_without_losses_it_follows_the_isentrope_of_its_own_heat_capacity():
    """d ln p = -γ(T) d ln V, integrated by scipy."""
    runs = run()
    bar = pressures(runs, TIGHT, AROUND)[0, 0]
    volume = volume_ratio(runs.angle_deg[0], 9.0, rod_ratio=3.5)
    log_volume = np.log(volume / volume[0])

    def slope(_, state):
        gamma = float(gamma_of(np.exp(state[1])))
        return [-gamma, -(gamma - 1.0)]

    down = solve_ivp(slope, (0.0, log_volume.min()), [np.log(1.2), np.log(300.0)], rtol=1e-10)
    assert np.log(bar.max()) == pytest.approx(down.y[0, -1], abs=2e-4)


@pytest.mark.parametrize("rpm", [200.0, -200.0])
def test_losses_bring_the_peak_before_tdc_in_the_direction_of_turning(rpm):
    lossy = replace(TIGHT, log_leak=np.log(3e-3) * ONE, log_heat=np.log(40.0) * ONE)
    runs = run(rpm)
    bar = pressures(runs, lossy, AROUND)[0, 0]
    peak = runs.angle_deg[0, np.argmax(bar)] * np.sign(rpm)
    assert -8.0 < peak < -0.5


def test_a_choked_leak_empties_at_the_textbook_rate():
    """dm/dt = -A p sqrt(γ/(R T)) (2/(γ+1))^((γ+1)/(2(γ-1))): Heywood, app. C, choked."""
    area = 1e-3  # 1/m: 0.5 mm² in half a litre
    still = replace(TIGHT, log_leak=np.log(area) * ONE, log_start=np.log(8.0) * ONE)
    time = np.linspace(0.0, 0.02, 41)[None]
    angle = np.full_like(time, 0.0)
    angle[0] += np.linspace(0.0, 1e-6, 41)
    runs = Runs(time, angle, np.zeros_like(time), time * 0, time * 0 + 1, np.ones_like(time, bool))
    bar = pressures(runs, still, AROUND)[0, 0]
    gamma, temperature = 1.4, 300.0
    flow = np.sqrt(gamma) * (2 / (gamma + 1)) ** ((gamma + 1) / (2 * (gamma - 1)))
    rate = gamma * area * 8.0 * flow * np.sqrt(AIR_GAS_CONSTANT * temperature)  # filled = 1/8
    assert -np.gradient(np.log(bar), time[0])[1] == pytest.approx(rate, rel=0.02)


def test_lag_delays_a_ramp_by_its_time_constant():
    late = pressures(run(), replace(TIGHT, lag_s=1e-3 * ONE), AROUND)[0, 0]
    prompt = pressures(run(), TIGHT, AROUND)[0, 0]
    angle = run().angle_deg[0]
    at = np.interp(6.0, prompt[60:105], angle[60:105])
    at_late = np.interp(6.0, late[60:105], angle[60:105])
    assert at_late - at == pytest.approx(1.2, abs=0.15)  # 1 ms at 200 rev/min


def test_the_march_stays_finite_in_long_steps_with_every_loss_at_its_largest():
    worst = replace(
        TIGHT, log_leak=-3.5 * ONE, log_heat=5.5 * ONE, log_still=4.5 * ONE, gap_power=1.5 * ONE
    )
    assert np.isfinite(pressures(run(rpm=5.0, step_deg=1.5), worst, AROUND)).all()


def test_gamma_of_air_at_tabled_temperatures():
    """Ideal-gas air tables, from memory: 1.400 at 300 K, 1.387 at 500 K, 1.354 at 800 K."""
    assert gamma_of(np.array([300.0, 500.0, 800.0])) == pytest.approx(
        [1.400, 1.387, 1.354], abs=2e-3
    )


def test_play_is_shared_by_both_ways_and_one_way_has_none():
    forth, back = run(200.0), run(-200.0)
    both = Runs(
        *(
            np.vstack([getattr(forth, name), getattr(back, name)])
            for name in (
                "time_s", "angle_deg", "speed_deg_s", "pressure_bar", "sigma_bar", "used",
            )
        )
    )  # fmt: skip
    gas = replace(TIGHT, backlash_deg=0.4 * ONE)
    moved = (crank_after_tdc_deg(both, gas)[0] - both.angle_deg)[:, 0]
    assert moved == pytest.approx([0.2, -0.2])
    assert crank_after_tdc_deg(forth, gas)[0] == pytest.approx(forth.angle_deg)
    assert crank_after_tdc_deg(back, gas)[0] == pytest.approx(back.angle_deg - 0.4)


def integrated_bar(
    runs: Runs, *, heat=0.0, crevice=0.0, leak=0.0, seating=0.0, cooled=0.0, ring_motion=0.0
):
    """The same cylinder by scipy, one loss at a time as its documentation gives it.

    States: ln p (bar) and ln T.
    """
    clearance, wall_k, stroke_m = 1.0 / 8.0, 300.0, AROUND.stroke_m
    angle, time = runs.angle_deg[0], runs.time_s[0]
    filled = volume_ratio(angle, 9.0, rod_ratio=3.5) * clearance
    gap = CubicSpline(time, filled)
    rate = gap.derivative()

    def slope(at_s, state):
        log_p, log_t = state
        p, t, v = np.exp(log_p), np.exp(log_t), float(gap(at_s))
        dv = float(rate(at_s)) / v
        gamma = float(gamma_of(t))
        wall = (2.0 + 4.0 * v) / (stroke_m * v)
        stirring = ((abs(runs.speed_deg_s[0, 0]) / 180.0 * stroke_m + 1.0) / 1.5) ** 0.75
        coefficient = wall / 1e5 * heat * stirring * p**-0.2 * (t / 300.0) ** -0.45
        q = coefficient * (t - wall_k)
        drop = log_p - np.log(AROUND.atmosphere_bar)
        ratio = max(np.exp(-abs(drop)), 0.5283)  # Heywood, app. C: choked below
        flow = np.sqrt(2 * 1.4 / 0.4 * (ratio ** (2 / 1.4) - ratio ** (2.4 / 1.4)))
        piston_m_s = abs(float(rate(at_s))) * stroke_m
        area = leak / v * (1.0 + ring_motion * piston_m_s / (1.0 + piston_m_s / SETTLED_M_S))
        area *= 1.0 - seating * (1.0 - np.exp(-max(p - AROUND.atmosphere_bar, 0.0) / SEATED_BAR))
        denser = (t / wall_k) ** (0.5 * cooled)
        out = np.sign(drop) * area * flow * np.sqrt(AIR_GAS_CONSTANT * t) * denser
        rise = -gamma * dv - (gamma - 1.0) * q - gamma * out
        held = crevice * clearance / v * t / wall_k
        back = 1.0 if rise > 0.0 else wall_k / t
        rise /= 1.0 + gamma * held * back
        warmer = -(gamma - 1.0) * (dv + q + out) - held * (gamma * back - 1.0) * rise
        return [rise, warmer]

    found = solve_ivp(
        slope, (time[0], time[-1]), [np.log(1.2), np.log(300.0)], t_eval=time,
        rtol=1e-8, atol=1e-8, max_step=1e-3,
    )  # fmt: skip
    return np.exp(found.y[0])


@pytest.mark.parametrize("rpm", [200.0, -60.0])
@pytest.mark.parametrize(
    ("has", "within"),
    [
        ({"crevice": 0.03}, 0.002),
        ({"heat": 40.0}, 0.002),
        # The orifice's short form is within 3 %, of a leak that takes a tenth of the pressure.
        ({"leak": 1e-3}, 0.006),
        ({"leak": 1e-3, "seating": 0.3}, 0.006),
        ({"leak": 1e-3, "cooled": 1.0}, 0.006),
        ({"leak": 1e-3, "ring_motion": 0.5}, 0.006),
    ],
)
def test_each_loss_is_as_its_documentation_says(has, within, rpm):
    given = {name: value * ONE for name, value in has.items() if name not in ("heat", "leak")}
    if "heat" in has:
        given["log_heat"] = np.log(has["heat"]) * ONE
    if "leak" in has:
        given["log_leak"] = np.log(has["leak"]) * ONE
    runs = run(rpm)
    expected = integrated_bar(runs, **has)
    bar = pressures(runs, replace(TIGHT, **given), AROUND)[0, 0]
    # Near the pressure outside the model smooths an orifice's infinite slope.
    up = expected > 1.2 * AROUND.atmosphere_bar
    assert bar[up] == pytest.approx(expected[up], rel=within)
    plain = pressures(runs, TIGHT, AROUND)[0, 0]
    assert np.abs(np.log(plain / expected)).max() > 4 * within


def test_the_pressure_outside_may_be_another_than_the_stated():
    leaky = replace(TIGHT, log_leak=np.log(2e-3) * ONE, log_outside=np.log(0.9) * ONE)
    high = replace(AROUND, atmosphere_bar=0.9 * AROUND.atmosphere_bar)
    plain = replace(leaky, log_outside=0.0 * ONE)
    assert pressures(run(), leaky, AROUND) == pytest.approx(pressures(run(), plain, high))
