"""Two sensed cylinders: the second confirms the firing order, contradicts it, or says nothing."""

from __future__ import annotations

import pytest

from strokewise.analysis.crank.strokes import firing_tdcs
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile, Sensor, even_intervals_deg
from strokewise.analysis.stroke.phase import NOTHING_KNOWN
from strokewise.analysis.trace.trace import Trace
from strokewise.analysis.verdict.judge import Judgement
from strokewise.analysis.verdict.several import Ruled, together
from strokewise.analysis.verdict.verdict import DECIDED_AT, Candidate, Tdc, Verdict
from strokewise.gui.sayings import say

FOUR = Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720))
NO_TRACE: Trace = None  # type: ignore[assignment]  # nothing here looks at it
SEEN_NOTHING = Judgement(NO_TRACE, (), (), (), None, NOTHING_KNOWN)  # type: ignore[arg-type]


def ruled(cylinder: int, firing_1_deg: float, probability: float, half_deg: float = 5.0) -> Ruled:
    """Return a cylinder that puts cylinder 1's firing TDC there, so sure, or else a turn away."""
    candidates = (
        Candidate(firing_1_deg, probability),
        Candidate((firing_1_deg + 360.0) % 720.0, 1.0 - probability),
    )
    decided = probability >= DECIDED_AT
    angle = firing_1_deg % 360.0
    verdict = Verdict(
        decided,
        "so it is" if decided else "no compression here",
        tdc=Tdc(Interval(angle, angle - half_deg, angle + half_deg), cylinder, "peak", 3),
        firing_deg=firing_tdcs(FOUR, firing_1_deg) if decided else None,
        probability=probability,
        candidates=tuple(sorted(candidates, key=lambda c: -c.probability)),
    )
    return Ruled(Sensor(cylinder=cylinder), SEEN_NOTHING, verdict)


def said(*all_ruled: Ruled) -> Verdict:
    return together(all_ruled, FOUR)[1]


def codes(verdict: Verdict) -> set[str]:
    return {notice.code for notice in verdict.warnings}


def test_two_that_agree_are_decided_and_it_is_said():
    verdict = said(ruled(1, 100.0, 0.99999), ruled(3, 104.0, 0.99999))
    assert verdict.decided
    assert "second-agrees" in codes(verdict)


@pytest.mark.parametrize("apart_deg", [120.0, 180.0, 360.0, 540.0])
def test_two_sure_ones_that_contradict_each_other_decide_nothing(apart_deg: float):
    verdict = said(ruled(1, 100.0, 0.99999), ruled(3, (100.0 + apart_deg) % 720.0, 0.99999))
    assert not verdict.decided
    assert verdict.firing_deg is None
    assert "profile contradicts the trace" in say(verdict.reason)


@pytest.mark.parametrize(
    ("firing_1_deg", "probability"), [(460.0, 0.99), (460.0, 0.9), (220.0, 0.6), (280.0, 0.5)]
)
def test_an_unsure_one_that_points_elsewhere_takes_the_answer_away(
    firing_1_deg: float, probability: float
):
    verdict = said(ruled(3, 100.0, 0.99999), ruled(1, firing_1_deg, probability))
    assert not verdict.decided
    assert verdict.firing_deg is None
    assert "speaks against the firing order" in say(verdict.reason)
    # nothing is left of the 0.99999: each turn is as likely as the other
    assert [each.probability for each in verdict.candidates] == [0.5, 0.5]
    assert verdict.probability == 0.5


@pytest.mark.parametrize(
    ("apart_deg", "half_deg", "decided"),
    [(259.0, 68.0, False), (110.0, 68.0, True), (259.0, 220.0, True)],
)
def test_a_wide_tdc_speaks_against_only_what_lies_beyond_it(
    apart_deg: float, half_deg: float, decided: bool
):
    # A sensor cut off by compressions knows its stroke, and TDC to some 70° only.
    verdict = said(ruled(2, 450.0, 0.99999), ruled(1, 450.0 - apart_deg, 0.9, half_deg))
    assert verdict.decided is decided


@pytest.mark.parametrize("probability", [0.5, 0.9, 0.999])
def test_an_unsure_one_that_does_not_contradict_leaves_the_answer_and_says_so(probability: float):
    verdict = said(ruled(3, 100.0, 0.99999), ruled(1, 110.0, probability))
    assert verdict.decided
    assert "second-silent" in codes(verdict)


def test_two_unsure_ones_that_agree_decide_together():
    assert said(ruled(1, 100.0, 0.9995), ruled(3, 100.0, 0.9995)).decided
    assert not said(ruled(1, 100.0, 0.9995), ruled(3, 460.0, 0.9995)).decided
