"""What is held against a fitted model: each check with a fit that it must doubt, and one not."""

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.tdc.closed_cycle import Runs
from strokewise.analysis.tdc.doubts import (
    MOST_COST,
    Doubt,
    below_the_bound,
    delayed_unseen,
    doubts,
    heat_given,
    held,
    parameters_strange,
    parts_disagree,
    passes_scatter,
    refusal_of,
    residuals_too_large,
)
from strokewise.analysis.tdc.fit import Fit, Part
from strokewise.analysis.tdc.pass_tdc import PassTdc
from strokewise.analysis.tdc.priors import priors_for
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.gui.sayings import say

PROFILE = Profile(1, (1,), (720.0,))
SENSOR = Sensor(cylinder=1, points=((0.0, 0.0), (4000.0, 20.0)))
PRIORS = priors_for(PROFILE, SENSOR, zero_sigma_bar=0.3)
OUTSIDE_BAR = 1.0
TWO = PassTdc(np.array([0.01, -0.01]), np.array([0.02, 0.02]))


def fitted(*, peak_deg=-2.0, cost=0.8, parts=(), turning=(1, 1)):
    """A fit at TDC 0 of two even humps of pressure that peak at ``peak_deg``."""
    angle = np.arange(-100.0, 101.0, 2.0)
    ways = np.array(turning, float)[:, None]
    rows = ways * angle
    bar = 1.0 + 10.0 * np.exp(-0.5 * ((angle - peak_deg) / 25.0) ** 2) * np.ones_like(ways)
    runs = Runs(
        np.abs(rows) / 1200.0, rows, ways * np.full_like(rows, 1200.0), bar,
        np.full_like(rows, 0.01), np.ones(rows.shape, bool),
    )  # fmt: skip
    values = {p.name: np.full(2, p.mean) for p in PRIORS}
    values["lag_s"] = np.zeros(2)
    return Fit(Interval(0.0, -0.2, 0.2), 0.1, values, {}, runs, bar, cost, 1.0, tuple(parts))


def test_a_sound_fit_is_not_doubted():
    fit = fitted(parts=[Part("on the way up", 0.1, 0.1)])
    found = doubts(fit, TWO, PRIORS, OUTSIDE_BAR)
    assert refusal_of(found) is None
    assert held(fit.tdc_deg, found) == fit.tdc_deg


def test_large_residuals_refuse_with_what_to_do():
    assert residuals_too_large(fitted(cost=MOST_COST)) is None
    doubt = residuals_too_large(fitted(cost=9.0))
    assert doubt is not None
    assert "piston stop" in say(doubt.refusal)


def test_flanks_alone_are_not_refused_for_their_residuals():
    fit = fitted(cost=9.0)
    used = fit.runs.used.copy()
    used[:, 40:60] = False
    assert residuals_too_large(replace(fit, runs=replace(fit.runs, used=used))) is None


def test_a_parameter_far_from_what_is_known_refuses_and_is_named():
    fit = fitted()
    assert parameters_strange(fit, PRIORS) is None
    values = {**fit.values, "lag_s": np.full(2, 4e-3)}
    doubt = parameters_strange(replace(fit, values=values), PRIORS)
    assert doubt is not None
    assert "lag_s" in say(doubt.refusal)


def test_where_an_engine_runs_a_parameter_may_be_less_strange_if_more_is_left_over():
    """A diesel that burned weakly: its crevice was 6.1 sigmas away, and TDC 7.7° late."""
    prior = next(p for p in PRIORS if p.name == "crevice")
    fit = fitted(cost=3.0)
    strange = {**fit.values, "crevice": np.full(2, prior.mean + 6.1 * prior.sigma)}
    by_starter = replace(fit, values=strange)  # at 200 rev/min
    running = replace(by_starter, runs=replace(fit.runs, speed_deg_s=4.0 * fit.runs.speed_deg_s))
    slower = running.runs.speed_deg_s * np.array([[1.0], [0.7]])
    assert parameters_strange(by_starter, PRIORS) is None
    assert parameters_strange(replace(running, cost=1.5), PRIORS) is None
    doubt = parameters_strange(running, PRIORS)
    assert doubt is not None
    assert "crevice" in say(doubt.refusal)
    run_down = replace(running, runs=replace(running.runs, speed_deg_s=slower))
    assert parameters_strange(run_down, PRIORS) is None


def test_many_parameters_each_a_little_strange_refuse_together():
    fit = fitted()
    values = {p.name: np.full(2, p.mean + 5.0 * p.sigma) for p in PRIORS}
    assert parameters_strange(replace(fit, values=values, cost=3.0), PRIORS) is not None
    # Where hardly anything is left over the interval holds what every part says instead.
    parts = (Part("on the way up", 0.4, 0.5),)
    strange = replace(fit, values=values, parts=parts)
    assert parameters_strange(strange, PRIORS) is None
    assert Doubt(holds_deg=0.4) in doubts(strange, TWO, PRIORS, OUTSIDE_BAR)


def test_walls_as_hot_as_the_fit_allows_give_heat_that_only_burning_does():
    fit = fitted()
    assert heat_given(fit) is None
    hot = replace(fit, values={**fit.values, "wall_k": np.full(2, 549.0)})
    assert refusal_of(doubts(hot, TWO, PRIORS, OUTSIDE_BAR)) == heat_given(hot).refusal
    by_hand = replace(hot, runs=replace(hot.runs, speed_deg_s=0.1 * hot.runs.speed_deg_s))
    assert heat_given(by_hand) is None  # losses of any shape rule there
    slower = hot.runs.speed_deg_s * np.array([[1.0], [0.7]])
    assert heat_given(replace(hot, runs=replace(hot.runs, speed_deg_s=slower))) is None


@pytest.mark.parametrize("way", [1, -1])
def test_of_an_engine_that_ran_at_one_speed_the_interval_holds_what_a_hose_delays(way):
    """0.6 ms at 200 rev/min are 0.72°, and the truth lies before what came late."""
    fit = fitted(turning=(way, way))
    assert delayed_unseen(fit) == Doubt(holds_deg=pytest.approx(-way * (0.2 + 0.72)))
    assert doubts(fit, TWO, PRIORS, OUTSIDE_BAR, hose_unknown=True)[-1] == delayed_unseen(fit)
    told = replace(fit, sigmas={"hose": 0.1})
    assert delayed_unseen(told) is None


def test_a_side_that_puts_tdc_elsewhere_is_held_by_the_interval():
    fit = fitted(parts=[Part("on the way up", -0.5, 0.1), Part("on the way down", 0.5, 0.3)])
    assert parts_disagree(fit) == (Doubt(holds_deg=-0.5),)
    assert held(fit.tdc_deg, parts_disagree(fit)) == Interval(0.0, -0.5, 0.2)


def test_the_interval_is_no_narrower_than_the_compressions_scatter():
    each = PassTdc(np.array([-0.6, 0.1, 0.5]), np.full(3, 0.02))
    interval = held(Interval(0.0, -0.2, 0.2), passes_scatter(fitted(), each))
    # Student's t for two degrees of freedom, 4.303 (tables; from memory), times sd/sqrt(3).
    assert interval.high == pytest.approx(4.303 * 0.5568 / 3**0.5, rel=1e-3)
    assert interval.low == pytest.approx(-interval.high)


def test_met_from_both_sides_the_passes_mirror_each_other_and_say_nothing():
    each = PassTdc(np.array([-0.6, 0.6]), np.full(2, 0.02))
    assert passes_scatter(fitted(turning=(1, -1)), each) == ()


def test_tdc_before_the_middle_of_equal_pressures_is_held_by_the_interval():
    assert below_the_bound(fitted(peak_deg=-2.0), OUTSIDE_BAR) is None
    doubt = below_the_bound(fitted(peak_deg=3.0), OUTSIDE_BAR)
    assert doubt is not None
    assert doubt.holds_deg == pytest.approx(3.0, abs=0.2)


def test_below_the_crankcase_air_leaks_in_and_bounds_nothing():
    fit = fitted(peak_deg=3.0)
    low = {**fit.values, "zero_bar": np.full(2, 12.0)}  # the readings stand so much over the truth
    assert below_the_bound(replace(fit, values=low), OUTSIDE_BAR) is None


def test_what_the_sensor_delays_is_taken_off_the_bound():
    fit = fitted(peak_deg=3.0)
    late = {**fit.values, "lag_s": np.full(2, 2.0 / 1200.0)}
    doubt = below_the_bound(replace(fit, values=late), OUTSIDE_BAR)
    assert doubt is not None
    assert doubt.holds_deg == pytest.approx(1.0, abs=0.2)


@pytest.mark.parametrize("name", ["cranked", "run-down"])
def test_sound_engines_are_not_refused(turned, name):
    made = turned(name)
    tracker = Tracker(made.profile)
    for segment in made.recording.segments:
        tracker.feed(segment)
    assert tracker.verdict(closing=True).decided
    assert tracker.judgement is not None
    assert tracker.judgement.doubt is None
