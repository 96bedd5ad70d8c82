"""The shut part of the cycle is found from the trace, and a compression release is named."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from suite_bench import tdc_off_deg

from strokewise.analysis.estimate import Interval
from strokewise.analysis.tdc.coarse import UNKNOWN_REACH, Reach
from strokewise.analysis.tdc.fit import Fit
from strokewise.analysis.tdc.shut_window import (
    RELEASE,
    clear_of_valves,
    release_notices,
    shut_window,
    worst_of,
)
from strokewise.analysis.verdict.find import find
from strokewise.gui.sayings import say

ZERO = np.zeros(1)


def left(cost):
    """A fit of which only the cost is asked."""
    return Fit(Interval(0.0, 0.0, 0.0), 0.0, {}, {}, None, None, cost, 1.0)  # type: ignore[arg-type]


def test_a_fit_with_small_residuals_is_left_alone():
    def never(_):
        raise AssertionError

    assert shut_window(left(1.0), UNKNOWN_REACH, never).reach == UNKNOWN_REACH


@pytest.mark.parametrize("before", [True, False])
@pytest.mark.parametrize(("times", "shut"), [(1.6, True), (1.9, True), (2.1, False), (3.0, False)])
def test_an_end_is_left_out_where_residuals_are_what_an_open_valve_makes(before, times, shut):
    """A cam that stands right made up to 1.6 times those between, one two teeth late 3 and more."""
    angle = np.arange(-104.0, 105.0, 2.0)
    at_end = (angle <= -90.0) if before else (angle >= 90.0)
    missed = np.where(at_end, times, 1.0) * 0.01
    runs = SimpleNamespace(
        angle_deg=angle[None],
        used=np.ones((1, len(angle)), bool),
        pressure_bar=np.full((1, len(angle)), 3.0),
        sigma_bar=np.full((1, len(angle)), 0.01),
    )
    fit = replace(left(1.0), runs=runs, model_bar=3.0 + missed[None], values={"tdc_deg": ZERO})
    found = clear_of_valves(fit, UNKNOWN_REACH)
    ends = (found.before_deg, found.after_deg)
    end, other = ends if before else ends[::-1]
    assert other == 105.0
    assert end == (105.0 if shut else 90.0)


@pytest.mark.parametrize("before", [True, False])
def test_the_side_whose_narrowing_helps_is_narrowed_and_no_further_than_helps(before):
    def refit(reach):
        inward = reach.before_deg if before else reach.after_deg
        return left(1.0 if inward <= 45.0 else 4.0 if inward <= 60.0 else 12.0)

    found = shut_window(left(12.0), UNKNOWN_REACH, refit).reach
    assert found == (Reach(45.0, 105.0) if before else Reach(105.0, 45.0))


def test_where_narrowing_helps_little_the_whole_is_kept():
    found = shut_window(left(12.0), UNKNOWN_REACH, lambda _: left(10.0))
    assert found.reach == UNKNOWN_REACH


def test_only_a_compression_that_begins_later_than_any_cam_names_a_release():
    assert release_notices(UNKNOWN_REACH, UNKNOWN_REACH) == ()
    assert release_notices(Reach(75.0, 105.0), UNKNOWN_REACH) == ()
    assert release_notices(Reach(60.0, 105.0), Reach(60.0, 90.0)) == ()
    (notice,) = release_notices(Reach(60.0, 105.0), UNKNOWN_REACH)
    assert notice.code == RELEASE
    assert "60° before TDC" in say(notice.remark)


def test_the_compression_with_the_largest_residuals_is_told(turned):
    made = turned("cranked")
    from strokewise.analysis.verdict.tracker import Tracker

    tracker = Tracker(made.profile)
    for segment in made.recording.segments:
        tracker.feed(segment)
    tracker.verdict(closing=True)
    fit = tracker.judgement.fit
    model = fit.model_bar.copy()
    model[2] += 1.0
    assert worst_of(Fit(**{**{k: getattr(fit, k) for k in fit.__slots__}, "model_bar": model})) == 2


def test_a_release_that_shuts_late_is_named_and_tdc_found_from_what_comes_after(turned):
    made = turned("compression-release")
    verdict = find(made.recording, made.profile)
    assert RELEASE in [notice.code for notice in verdict.warnings]
    assert verdict.tdc is not None
    angle = verdict.tdc.angle_deg
    off = tdc_off_deg(angle.value, made.truth)
    assert abs(off) <= angle.half_width < 3.0


@pytest.mark.parametrize("name", ["cranked", "cam-tooth-late", "worn-rings"])
def test_no_release_is_named_where_there_is_none(turned, name):
    made = turned(name)
    codes = [notice.code for notice in find(made.recording, made.profile).warnings]
    assert RELEASE not in codes
