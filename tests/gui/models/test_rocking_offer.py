"""When rocking is worth offering, and what is said of it."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.remark import remark
from strokewise.gui.models.run.follower import Follower
from strokewise.gui.models.run.sources import open_deck
from strokewise.gui.models.sentence import sentence_for
from strokewise.gui.models.turn.rocking import BY_HAND_RPM, rocking_for
from strokewise.gui.pages.sign import Certainty
from strokewise.gui.sayings import say

RECORDINGS = Path(__file__).parents[3] / "recordings"
TDC = 100.0


@pytest.fixture
def offered(engine, half_known):
    def make(*passes, half=1.4, turning_back="allowed"):
        verdict = half_known()
        tdc = replace(verdict.tdc, angle_deg=Interval(TDC, TDC - half, TDC + half))
        profile = engine(turning_back=turning_back)
        return rocking_for(profile, replace(verdict, tdc=tdc), SimpleNamespace(passes=passes))

    return make


def test_wide_and_one_way_by_hand_is_offered(offered, swing):
    rocking = offered(swing(), swing(turn=2))
    assert rocking.helps
    assert not rocking.wanted
    assert (
        rocking.offer
        == "TDC only ± 1.4° by the fit, turned one way by hand: rocking would narrow that"
    )
    assert rocking.instruction.startswith("Now turn back through the same compression")


def test_narrow_or_cranked_is_not(offered, swing):
    assert offered(swing(), half=0.2).offer == ""
    assert offered(swing(rpm=BY_HAND_RPM * 2.5)).offer == ""
    assert offered(half=5.0).offer == ""  # nothing met yet: the verdict says what to do


def test_where_it_must_not_be_turned_back_the_other_way_is_named(offered, swing):
    rocking = offered(swing(), turning_back="never")
    assert rocking.guidance.refused
    assert say(remark("never-rock-this")) in rocking.offer
    assert not offered(swing(), swing(-1), turning_back="never").wanted
    assert "rocking would" not in rocking.offer


def test_where_nobody_said_the_offer_says_that_the_manual_decides(offered, swing):
    rocking = offered(swing(), turning_back=None)
    assert "Where its manual allows turning back" in rocking.offer
    assert "look it up in the maker's manual first" in rocking.cautions[0]


def test_rocked_right_now_it_is_shown_unasked_until_enough(offered, swing):
    begun = offered(swing(), swing(-1))
    assert begun.under_way
    assert begun.wanted
    assert "2 more each way" in begun.instruction
    done = offered(*(swing(way) for _ in range(4) for way in (1, -1)))
    assert done.guidance.enough
    assert not done.wanted
    turned_on = offered(swing(), swing(-1), swing(turn=2))
    assert not turned_on.under_way


def test_while_rocking_the_sentence_counts_swings(offered, swing, four, decided, half_known):
    rocking = offered(swing(), swing(-1), swing())
    assert rocking.wanted
    sure = sentence_for(four, decided(four), 500.0, rocking=rocking)
    assert sure.text == "Cylinder 4 is on its firing stroke: rocked on 2×, back 1× so far"
    open_ = sentence_for(four, half_known(), 500.0, rocking=rocking)
    assert open_.certainty is Certainty.NOT_YET
    assert open_.second == rocking.short
    back = sentence_for(four, half_known(), 500.0, rocking=rocking, was_decided=True)
    assert back.second == "turn two full turns again"
    assert len(replace(rocking, guidance=replace(rocking.guidance, forward=12)).short) <= 42


def test_it_comes_with_its_cautions(offered, swing):
    said = " ".join(offered(swing()).cautions)
    for thing in ("crank's bolt", "ratchet tensioner", "belt", "Ignition off"):
        assert thing in said


def test_where_the_crank_stands_about_the_tdc_rocked_through(offered, swing):
    rocking = offered(swing(turn=2))
    assert rocking.after_tdc_deg(TDC + 720 + 12) == pytest.approx(12)
    assert rocking.after_tdc_deg(TDC - 30) == pytest.approx(-30)
    assert offered().after_tdc_deg(0.0) is None


def test_before_anything_has_been_met_it_begins_at_the_first_step(engine):
    rocking = rocking_for(engine(turning_back="allowed"), None, None)
    assert rocking.instruction.startswith("Turn forwards through the compression")
    assert not rocking.helps


def test_a_rocked_recording_is_guided_to_enough():
    deck = open_deck(RECORDINGS / "rocked.swr")
    said = []
    for place in (2.2, 4.7, 7.2):
        deck.seek(place)
        deck.follower.judge()
        said.append(deck.snapshot().rocking)
    assert [rocking.wanted for rocking in said] == [False, True, False]
    assert said[0].helps
    assert said[2].guidance.enough


def test_a_tracker_without_passes_of_its_own_is_no_trouble(toy):
    follower = Follower(toy.profile(), toy.Tracker)
    for block in toy.blocks(toy.segment(np.linspace(-300, 1000, 9000))):
        follower.feed(block)
    follower.judge()
    assert not follower._opinion.rocking.helps
