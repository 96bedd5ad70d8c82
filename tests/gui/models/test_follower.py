import copy

import numpy as np
import pytest

from strokewise.gui.models.figures.trail import CYCLES_KEPT, MOST_TRAIL_POINTS, TrailKeeper
from strokewise.gui.models.run.follower import Follower
from strokewise.gui.models.run.snapshot import Link
from strokewise.gui.models.turn.first_turns import FirstTurns
from strokewise.gui.models.turn.target import Target
from strokewise.gui.pages.sign import Certainty


class Trace:
    """As much of the analysis' nodes as a drawing needs."""

    def __init__(self, time_s, angle_deg, pressure_bar):
        self.time_s, self.angle_deg, self.pressure_bar = time_s, angle_deg, pressure_bar

    def __len__(self):
        return len(self.time_s)


@pytest.fixture
def follower(toy):
    return Follower(toy.profile(), toy.Tracker)


def turn(follower, toy, angles, **more):
    for block in toy.blocks(toy.segment(angles, **more)):
        follower.feed(block)
        follower.judge()
    return follower.snapshot(1, Link())


def test_from_nothing_to_decided(follower, toy):
    assert follower.snapshot(0, Link()).sentence().certainty is Certainty.WAITING
    begun = turn(follower, toy, np.linspace(-300, 0, 2000))
    assert begun.sentence().certainty is Certainty.NOT_YET
    one = turn(follower, toy, np.linspace(0, 300, 2000), start_us=1_000_000)
    assert one.verdict.tdc is not None
    assert not one.chart().decided
    assert one.target.kind == "tdc"  # all that can be turned to before the phase is known
    two = turn(follower, toy, np.linspace(300, 1000, 5000), start_us=2_000_000)
    assert two.sentence().certainty is Certainty.SURE
    assert two.chart().decided
    assert two.target == Target("firing", 1)
    assert two.guidance.remaining_deg == pytest.approx(540, abs=0.5)


def test_another_target_is_counted_down_at_once(follower, toy):
    turn(follower, toy, np.linspace(-300, 1000, 9000))
    follower.choose(Target("overlap", 1))
    assert follower.guidance.remaining_deg == pytest.approx(180, abs=0.5)


def test_an_answer_taken_back_is_remembered(follower, toy):
    turn(follower, toy, np.linspace(-300, 1000, 9000))
    follower._tracker._restart(0)
    after = turn(follower, toy, np.linspace(1000, 1010, 100), start_us=9_000_000)
    assert after.was_decided
    assert after.sentence().certainty is Certainty.WITHDRAWN


def test_a_new_start_of_the_board_starts_anew(follower, toy):
    turn(follower, toy, np.linspace(-300, 1000, 9000))
    after = turn(follower, toy, np.linspace(0, 5, 50), number=1)
    assert not after.verdict.decided
    assert len(after.trail.angle_deg) <= 12


def test_the_compressions_before_a_slip_are_kept_until_the_board_starts_anew(toy):
    class Held(toy.Tracker):
        holds = 0

        @property
        def hold(self):
            return (self.segment, self.holds)

    follower = Follower(toy.profile(), Held)
    before = turn(follower, toy, np.linspace(-300, 1700, 12_000))
    assert len(before.passes) == 3
    assert before.passes_before == ()
    follower._tracker.holds, follower._tracker.passes = 1, ()
    after = turn(follower, toy, np.linspace(1700, 1710, 100), start_us=9_000_000)
    assert after.ended == "encoder"
    assert not after.passes
    assert after.passes_before == before.passes
    again = turn(follower, toy, np.linspace(0, 5, 50), number=1)
    assert again.passes_before == ()


def test_an_opinion_on_another_profile_is_not_taken(follower, toy):
    turn(follower, toy, np.linspace(-300, 1000, 9000))
    opinion = follower.question()()
    assert opinion.verdict.decided
    other = Follower(toy.profile(name="another"), toy.Tracker)
    other.feed(toy.segment(np.linspace(1000, 1010, 100), start_us=9_000_000))
    other.take(opinion)
    assert other.snapshot(1, Link()).verdict is None
    assert other.stale  # it is still to be asked
    follower.take(opinion)
    assert follower.snapshot(2, Link()).verdict.decided


def test_a_copy_is_a_bookmark(follower, toy):
    turn(follower, toy, np.linspace(-300, 1000, 9000))
    bookmark = copy.deepcopy(follower)
    later = turn(follower, toy, np.linspace(1000, 1300, 3000), start_us=9_000_000)
    again = turn(bookmark, toy, np.linspace(1000, 1300, 3000), start_us=9_000_000)
    assert later.now == again.now
    assert later.guidance == again.guidance
    assert np.array_equal(later.trail.angle_deg, again.trail.angle_deg)


def test_what_has_been_found_out_is_built_upon(toy, monkeypatch):
    from strokewise.analysis.verdict.tracker import Tracker

    follower = Follower(toy.profile(), Tracker)
    blocks = list(toy.blocks(toy.segment(np.linspace(-300, 2300, 10_000))))
    for block in blocks[:-1]:
        follower.feed(block)
    follower.judge()
    first = follower.snapshot(1, Link()).judgement.fit.tdc_deg

    def never(*args, **more):
        raise AssertionError("no new compression, no new fit")

    monkeypatch.setattr("strokewise.analysis.verdict.judge.joint_fit", never)
    follower.feed(blocks[-1])
    assert follower.stale
    follower.judge()
    assert follower.snapshot(2, Link()).judgement.fit.tdc_deg == first


def test_a_compression_is_drawn_before_it_is_fitted(toy):
    from types import SimpleNamespace

    from strokewise.gui.models.figures.loose_passes import SHOWN_REACH_DEG, loose_passes

    angle = np.linspace(-300, 900, 2401)
    nodes = Trace(angle / 200, angle, toy.pressure(angle))
    at = int(np.argmin(np.abs(angle - 100)))
    hump = SimpleNamespace(at=at, angle_deg=100.0, direction=1)
    one = loose_passes(SimpleNamespace(nodes=nodes, humps=(hump,)))[0]
    assert one.angle_deg[0] == pytest.approx(100 - SHOWN_REACH_DEG, abs=0.5)
    assert one.angle_deg[-1] == pytest.approx(100 + SHOWN_REACH_DEG, abs=0.5)
    assert one.pressure_bar.max() == pytest.approx(toy.pressure(np.array([100.0]))[0])
    assert loose_passes(None) == ()


def test_the_last_reading_is_the_boards_own(follower, toy):
    segment = toy.segment(np.linspace(0, 10, 100))
    snapshot = turn(follower, toy, np.linspace(0, 10, 100))
    assert snapshot.reading.count == segment.samples.count[-1]
    assert snapshot.reading.raw == (int(segment.samples.readings[-1, 0]),)


def test_the_trail_shows_the_pressure_where_it_was(follower, toy):
    snapshot = turn(follower, toy, np.linspace(0, 700, 6000))
    trail = snapshot.trail
    expected = toy.pressure(trail.angle_deg)
    assert np.abs(trail.pressure_bar - expected).max() < 0.3
    assert len(trail.angle_deg) == pytest.approx(1400, abs=5)


def test_the_trail_never_grows_beyond_its_measure(toy):
    keeper = TrailKeeper(toy.profile())
    for k in range(6):
        swing = 200 * np.sin(np.linspace(0, 60, 60_000) + k)
        keeper.add(toy.segment(swing, start_us=k * 40_000_000))
        if k % 2:
            assert len(keeper.trail().angle_deg) <= MOST_TRAIL_POINTS
    keeper.add(toy.segment(np.linspace(0, 720 * 12, 60_000), start_us=400_000_000))
    reach = np.ptp(keeper.trail().angle_deg)
    assert reach <= CYCLES_KEPT * 720


def test_stretches_are_cut_at_the_ends_of_the_axis_and_fade(toy):
    keeper = TrailKeeper(toy.profile())
    keeper.add(toy.segment(np.linspace(0, 1500, 20_000)))
    stretches = keeper.trail().stretches(100.0, 720.0)
    assert [round(s.x_deg[0]) for s in stretches] == [620, 0, 0]
    assert all(s.x_deg.min() >= 0 and s.x_deg.max() <= 720 for s in stretches)
    weights = [s.weight for s in stretches]
    assert weights == sorted(weights)
    assert weights[-1] == 1
    assert TrailKeeper(toy.profile()).trail().stretches(0, 720) == ()


def test_two_turns_by_hand_come_before_the_starter():
    state = FirstTurns()
    assert "First two full turns by hand (0.0 done)" in state.words
    for angle in range(0, 721, 10):
        state = state.follow(angle, 60.0)
    assert state.done
    assert state.words == ""


def test_rocking_to_and_fro_is_not_turning():
    state = FirstTurns()
    for angle in (0, 90, 0, 90, 0, 90, 0, 90, 0, 90):
        state = state.follow(angle, 60.0)
    assert state.turned_deg == 90


def test_the_starter_before_the_two_turns_is_said():
    state = FirstTurns().follow(0, 0).follow(30, 60).follow(60, 1000)
    assert state.too_early
    assert "Stop" in state.words
    assert FirstTurns(suspect=False).follow(0, 1000).words == ""


def test_a_new_start_of_the_board_does_not_count_as_turning():
    state = FirstTurns().follow(0, 0).follow(100, 60).new_segment().follow(5000, 0)
    assert state.turned_deg == 100
