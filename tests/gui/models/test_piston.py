"""The piston beside the trace: where it stands and what its valves do, held against the trade."""

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import ValveTiming
from strokewise.analysis.verdict.verdict import Tdc
from strokewise.gui.models.classroom.questions import masked
from strokewise.gui.models.figures.piston import piston_now
from strokewise.gui.models.run.follower import Follower
from strokewise.gui.models.run.snapshot import Link

TIMING = ValveTiming(12.0, 48.0, 46.0, 14.0)


@pytest.fixture
def at(toy):
    """Returns the moment so many degrees after firing TDC of cylinder 1."""
    follower = Follower(toy.profile(), toy.Tracker)
    for block in toy.blocks(toy.segment(np.linspace(-300, 950, 9000))):
        follower.feed(block)
    follower.judge()
    moment = follower.snapshot(1, Link())
    assert moment.verdict.decided

    def make(after_deg, timing=TIMING, **changes):
        verdict = replace(
            moment.verdict,
            tdc=Tdc(Interval(70.0, 69.5, 70.5), 1, "fit", 3),
            firing_deg={**moment.verdict.firing_deg, 1: 70.0},
        )
        profile = replace(moment.profile, valve_timing=timing, stroke_mm=86.0, rod_length_mm=146.0)
        now = replace(moment.now, angle_deg=70.0 + after_deg)
        return replace(moment, verdict=verdict, profile=profile, now=now, **changes)

    return make


@pytest.mark.parametrize(
    ("after_deg", "down", "stroke", "inlet", "exhaust"),
    [
        (0.0, 0.0, "firing", False, False),
        (90.0, None, "firing", False, False),
        (180.0, 1.0, "exhaust", False, True),  # the exhaust opens 46° before BDC
        (360.0, 0.0, "intake", True, True),  # overlap: both valves rock
        (450.0, None, "intake", True, False),
        (560.0, None, "compression", True, False),  # the inlet shuts 48° after BDC
        (700.0, None, "compression", False, False),
    ],
)
def test_the_piston_follows_the_crank_and_the_valves_their_timing(
    at, after_deg, down, stroke, inlet, exhaust
):
    piston = piston_now(at(after_deg))
    assert piston.stroke == stroke
    assert (piston.inlet > 0.001, piston.exhaust > 0.001) == (inlet, exhaust)
    assert piston.after_tdc_deg == pytest.approx(after_deg % 360.0)
    if down is not None:
        assert piston.down == pytest.approx(down, abs=1e-6)


def test_halfway_through_the_turn_the_piston_is_more_than_halfway_down(at):
    # Slider-crank: at 90° it is down by 1/2 + (l - sqrt(l² - 1))/2 of the stroke, l = rod/radius.
    rod = 146.0 / 43.0
    down = 0.5 + (rod - np.sqrt(rod**2 - 1)) / 2
    assert piston_now(at(90.0)).down == pytest.approx(down, abs=1e-6)


def test_what_is_assumed_is_said(at):
    bare = piston_now(at(450.0, timing=None))
    assert bare.inlet > 0.5
    assert any("not stated" in note for note in bare.notes)
    assert not piston_now(at(450.0)).notes


def test_nothing_is_drawn_of_what_nobody_knows(at):
    moment = at(30.0)
    unsure = replace(moment, verdict=replace(moment.verdict, decided=False))
    assert piston_now(unsure).stroke == ""
    assert piston_now(unsure).inlet is None
    assert piston_now(replace(moment, verdict=replace(moment.verdict, tdc=None))) is None
    assert piston_now(replace(moment, now=None)) is None


def test_it_gives_no_answer_to_a_question(at):
    assert piston_now(masked(at(30.0), "firing")) is None
    asked = piston_now(masked(at(30.0), "fault"))
    assert asked.stroke == ""
    assert asked.inlet is None
    assert "firing" not in " ".join(asked.words)
