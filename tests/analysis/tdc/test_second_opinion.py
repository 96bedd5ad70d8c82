"""The second opinion: silent where methods agree or do not hold, plain where they contradict."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.tdc import baselines
from strokewise.analysis.tdc.second_opinion import second_opinion
from strokewise.analysis.tdc.volume_baselines import heat_shape
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Pass
from strokewise.analysis.verdict.methods import BASELINES, tdc_by, why_none
from strokewise.gui.sayings import say

TDC = 200.0
PROFILE = Profile(
    4, (1, 3, 4, 2), (180.0,) * 4, compression_ratio=9.0, stroke_mm=80.0, rod_length_mm=140.0,
    bore_mm=80.0,
)  # fmt: skip
SENSOR = Sensor(cylinder=1, points=((0.0, 0.0), (4000.0, 20.0)), response_time_s=0.4e-3)


@dataclass
class Fitted:
    """All that a second opinion asks of a fit."""

    tdc_deg: Interval


def cranked(rpm=200.0, *, early_deg=0.0, way=1, noise=0.003, seed=0):
    """A loss-free compression seen through the stated lag, its losses moved ``early_deg``."""
    rod, ratio = 3.5, 9.0
    after = np.arange(-100.0, 100.0, 1.2)
    theta = np.radians(after + early_deg - 6.0 * rpm * 0.4e-3)
    down = (rod + 1 - np.cos(theta) - np.sqrt(rod**2 - np.sin(theta) ** 2)) / 2
    pressure = 1.0 * ((1 / (ratio - 1) + 0.8) / (1 / (ratio - 1) + down)) ** 1.32
    k = len(after)
    pressure = pressure + np.random.default_rng(seed).normal(0.0, noise, k)
    nodes = Nodes(
        after / (6.0 * rpm) + 10.0, TDC + way * after, np.full(k, way * 6.0 * rpm), pressure,
        np.ones(k), np.zeros(k, bool), 0.005, 0.15, 0.005,
    )  # fmt: skip
    return Pass(nodes, TDC, 0, way > 0)


def opinion(fitted_deg, passes, profile=PROFILE, sensor=SENSOR, half=0.15):
    fit = Fitted(Interval(fitted_deg, fitted_deg - half, fitted_deg + half))
    return second_opinion(fit, passes, profile, sensor)


# A sound engine's shaped heat stands some 1.2° early.
SOUND = tuple(cranked(early_deg=1.2, seed=seed) for seed in range(6))


def test_silent_where_they_agree():
    assert opinion(TDC, SOUND) is None
    assert opinion(TDC + 0.5, SOUND) is None


@pytest.mark.parametrize(("off_deg", "where"), [(2.5, "before"), (-1.0, None)])
def test_a_fit_far_off_is_contradicted_with_figures(off_deg, where):
    said = opinion(TDC + off_deg, SOUND)
    if where is None:  # the peak would then stand hardly before TDC: still within what is met
        assert said is None
        return
    assert said.code == "second-opinion"
    assert f"2.5° {where} the fit" in say(said.remark)
    assert "rocking or a stop" in say(said.remark)


def test_a_wide_interval_or_an_unknown_lag_is_given_more_room():
    assert opinion(TDC + 1.7, SOUND) is not None
    assert opinion(TDC + 1.7, SOUND, half=1.5) is None
    assert opinion(TDC + 1.6, SOUND) is not None
    unknown = replace(SENSOR, response_time_s=None)
    assert opinion(TDC + 1.6, SOUND, sensor=unknown) is None


def test_silent_where_the_shape_is_not_meant_to_hold():
    slow = tuple(cranked(40.0, early_deg=1.2, seed=seed) for seed in range(6))
    worn = tuple(cranked(early_deg=6.0, seed=seed) for seed in range(6))
    back = tuple(cranked(early_deg=1.2, way=-1, seed=seed) for seed in range(6))
    noisy = tuple(cranked(early_deg=1.2, noise=0.4, seed=seed) for seed in range(6))
    assert opinion(TDC + 3.0, slow) is None
    assert opinion(TDC, worn) is None
    assert opinion(TDC - 3.0, back) is None
    assert opinion(TDC + 2.5, noisy) is None
    assert opinion(TDC, ()) is None


def test_rocking_contradicts_at_any_speed():
    both = tuple(
        cranked(12.0, early_deg=8.0, way=way, seed=seed) for seed in range(4) for way in (1, -1)
    )
    assert opinion(TDC, both) is None
    said = opinion(TDC + 0.8, both)
    assert "met from both sides lies 0.8" in say(said.remark)
    assert "before the fitted TDC" in say(said.remark)


@dataclass
class Judged:
    """All that a method asks of a judgement."""

    fit: Fitted | None
    passes: tuple[Pass, ...]


def test_methods_stay_on_the_fitted_turn():
    turn_on = replace(SOUND[0], tdc_deg=TDC + 720.0)
    nodes = replace(turn_on.nodes, angle_deg=turn_on.nodes.angle_deg + 720.0)
    judged = Judged(Fitted(Interval(TDC, TDC, TDC)), (replace(turn_on, nodes=nodes),))
    for name in BASELINES:
        assert abs(tdc_by(name, judged, PROFILE).value - TDC) < 5.0
    assert tdc_by("fit", judged, PROFILE) == judged.fit.tdc_deg


def test_methods_that_find_nothing_say_why():
    half = SOUND[0].nodes.part(0, 60)
    judged = Judged(Fitted(Interval(TDC, TDC, TDC)), (replace(SOUND[0], nodes=half),))
    for name in (*BASELINES, "rocking"):
        assert tdc_by(name, judged, PROFILE) is None
        assert len(say(why_none(name))) > 40
    assert tdc_by("peak", Judged(None, SOUND), PROFILE) is None


def test_readings_cut_off_at_the_top_give_no_peak():
    nodes = SOUND[0].nodes
    cut = replace(SOUND[0], nodes=replace(nodes, clipped=nodes.pressure_bar > 8.0))
    assert baselines.peak((cut,)) is None
    assert baselines.chords((cut,)) is None
    assert heat_shape((cut,), PROFILE) is None


def test_passes_the_engines_own_way_go_before_the_others():
    mixed = (*SOUND, cranked(early_deg=6.0, way=-1))
    assert baselines.peak(mixed) == baselines.peak(SOUND)
    assert baselines.peak(mixed[-1:]) is not None
