import time
from pathlib import Path

import numpy as np
import pytest

from strokewise.daq.recording.container import Chunk
from strokewise.gui.models.figures.overview import OverviewMaker
from strokewise.gui.models.run.player import Deck
from strokewise.gui.models.run.replay import SPEEDS, ReplayRun
from strokewise.gui.models.run.sources import open_deck
from strokewise.gui.pages.sign import Certainty

RATE_HZ = 2000.0


def items_of(toy, *turns):
    """A recording of one board start for each array of angles."""
    items, host = [], 0
    for boot, angles in enumerate(turns):
        for data in toy.bytes(angles, RATE_HZ, boot=boot):
            items.append(Chunk(host, data))
            host += 10_000
    return items


@pytest.fixture
def angles():
    return np.linspace(-300, 1700, 20_000)  # ten seconds, 200 degrees a second


@pytest.fixture
def deck(toy, angles):
    made = Deck(items_of(toy, angles), lambda board: toy.profile(), toy.Tracker, name="toy.swr")
    made.scan_all()
    return made


def test_looking_through_finds_length_and_passes(deck, toy):
    assert deck.length_s == pytest.approx(10.0, abs=0.001)
    passes = deck.snapshot().replay.passes_s
    # Firing TDCs at 100, 820 and 1540 degrees, 200 degrees a second from -300.
    assert passes == pytest.approx([2.0, 5.6, 9.2], abs=0.02)


def test_an_opinion_on_a_later_place_is_not_taken_after_a_leap_back(deck):
    deck.seek(9.5)
    opinion = deck.follower.question()()
    assert opinion.verdict.decided
    deck.seek(1.0)
    deck.follower.take(opinion)
    assert deck.snapshot().verdict is None
    assert deck.follower.stale  # what is known at this place is still to be asked


def test_what_is_to_be_known_of_a_replays_profile():
    cranked = Path(__file__).parents[3] / "recordings" / "cranked.swr"
    made = open_deck(cranked, settings=["encoder.counts_per_rev=2401"])
    made.seek(0.5)
    (notice,) = made.snapshot().notices
    assert notice.code == "counts-contradiction"
    assert open_deck(cranked).snapshot().notices == ()


def test_any_place_is_reached_from_any_other(deck, angles):
    for at in (3.0, 8.0, 1.0, 9.5, 0.0, 5.0):
        deck.seek(at)
        assert deck.position_s == pytest.approx(at, abs=1e-9)
        expected = angles[int(at * RATE_HZ)] if at else angles[0]
        if at:
            assert deck.snapshot().angle_deg == pytest.approx(expected, abs=0.2)


def test_a_jump_ends_where_playing_ends(deck, toy, angles):
    played = Deck(items_of(toy, angles), lambda board: toy.profile(), toy.Tracker)
    played.advance_to(7.3)
    deck.seek(9.9)
    deck.seek(7.3)
    for one in (deck, played):
        one.follower.judge()
    a, b = deck.snapshot(), played.snapshot()
    assert a.angle_deg == b.angle_deg
    assert a.verdict == b.verdict
    assert a.link.samples == b.link.samples
    assert np.array_equal(a.trail.angle_deg, b.trail.angle_deg)


def test_a_target_survives_a_jump(deck):
    from strokewise.gui.models.turn.target import Target

    deck.seek(9.0)
    deck.follower.judge()
    deck.choose(Target("overlap", 3))
    deck.seek(2.0)
    assert deck.follower.target == Target("overlap", 3)


def test_steps_by_sample_go_there_and_back(deck):
    deck.seek(4.0)
    here = deck.snapshot().link.samples
    deck.step_samples(1)
    assert deck.snapshot().link.samples == here + 1
    assert deck.position_s == pytest.approx(4.0005)
    deck.step_samples(3)
    deck.step_samples(-4)
    assert deck.snapshot().link.samples == here
    deck.seek(0.0)
    deck.step_samples(-1)
    assert deck.position_s == 0.0


def test_steps_by_degree_go_there_and_back(deck):
    deck.seek(4.0)
    start = deck.snapshot().angle_deg
    deck.step_degrees(1)
    assert deck.snapshot().angle_deg - start == pytest.approx(1.0, abs=0.2)
    deck.step_degrees(-1)
    assert deck.snapshot().angle_deg - start == pytest.approx(0.0, abs=0.2)


def test_back_by_a_degree_is_one_where_the_overview_keeps_a_point_every_seven():
    """A starter turns 1.4° from sample to sample: back is the same way as on."""
    deck = open_deck(str(Path(__file__).parents[3] / "recordings" / "cranked.swr"))
    deck.seek(2.0)
    start = deck.snapshot().angle_deg
    deck.step_degrees(1)
    on = deck.snapshot().angle_deg - start
    deck.step_degrees(-1)
    assert deck.snapshot().angle_deg == pytest.approx(start, abs=1e-6)
    deck.step_degrees(-1)
    assert start - deck.snapshot().angle_deg == pytest.approx(on, abs=0.5)
    deck.seek(0.0)
    deck.step_degrees(-1)
    assert deck.position_s == 0.0


def test_the_next_tdc_is_the_next_one_of_either_kind(deck):
    deck.seek(6.0)
    deck.follower.judge()
    assert deck.next_tdc()
    angle = deck.snapshot().angle_deg
    assert (angle - 100) % 360 == pytest.approx(0, abs=0.5) or (
        (angle - 100) % 360 == pytest.approx(360, abs=0.5)
    )
    assert deck.position_s > 6.0


def test_before_a_tdc_is_known_it_goes_on_to_the_next_compression(deck):
    deck.seek(0.5)
    assert deck.snapshot().verdict is None
    assert deck.next_tdc()
    assert deck.position_s in deck.snapshot().replay.passes_s
    assert deck.position_s > 0.5


def test_with_neither_it_stays_where_it_is(deck, monkeypatch):
    deck.seek(0.5)
    monkeypatch.setattr(type(deck.overview), "passes_s", lambda self: ())
    assert not deck.next_tdc()
    assert deck.position_s == pytest.approx(0.5)


def test_at_the_end_nothing_more_is_played(deck):
    deck.seek(99.0)
    assert deck.at_end
    deck.step_samples(1)
    assert deck.snapshot().link.state == "ended"


def test_starts_of_the_board_lie_one_after_the_other(toy):
    turns = (np.linspace(0, 400, 4000), np.linspace(0, 400, 4000))
    deck = Deck(items_of(toy, *turns), lambda board: toy.profile(), toy.Tracker)
    deck.scan_all()
    assert deck.length_s == pytest.approx(2 + 1 + 2, abs=0.01)
    deck.seek(4.0)
    assert deck.snapshot().now.segment == 1


def test_an_empty_recording_is_no_trouble(toy):
    deck = Deck([], lambda board: toy.profile(), toy.Tracker)
    deck.scan_all()
    deck.seek(1.0)
    deck.step_samples(1)
    deck.step_degrees(1)
    deck.step_degrees(-1)
    assert deck.snapshot().angle_deg is None
    assert deck.snapshot().sentence().certainty is Certainty.WAITING


def test_the_strip_shows_lowest_and_highest_of_each_column(deck):
    low, high = deck.overview.envelope(100, deck.length_s)
    assert np.nanargmax(high) in (19, 20, 55, 56, 91, 92)
    assert np.all(low <= high)
    assert np.isnan(OverviewMaker(deck.profile).overview().envelope(10, 1.0)[0]).all()


def test_long_standstills_cost_nothing(toy):
    maker = OverviewMaker(toy.profile())
    segment = toy.segment(np.full(20_000, 50.0))
    maker.add(segment, segment.samples.time_us * 1e-6)
    assert len(maker.overview().position_s) < 60


@pytest.fixture
def run(toy, angles):
    made = ReplayRun(
        Deck(items_of(toy, angles), lambda board: toy.profile(), toy.Tracker), playing=False
    )
    made.start()
    yield made
    made.stop()


def until(condition, run):
    deadline = time.monotonic() + 60
    while not condition(run.snapshot):
        assert time.monotonic() < deadline, run.snapshot
        time.sleep(0.005)
    return run.snapshot


def test_playing_follows_the_clock(run):
    until(lambda s: s.replay.loaded == 1.0, run)
    run.set_speed(5.0)
    started = time.monotonic()
    run.play(True)
    snapshot = until(lambda s: s.replay.position_s > 4.0, run)
    elapsed = time.monotonic() - started
    assert snapshot.replay.position_s <= elapsed * 5.0 + 0.5
    assert snapshot.link.state == "running"
    run.play(False)
    until(lambda s: s.link.state == "paused", run)


def test_it_decides_as_it_plays_and_stops_at_the_end(run):
    run.set_speed(20.0)
    run.play(True)
    snapshot = until(
        lambda s: s.link.state == "ended" and s.verdict is not None and s.verdict.decided, run
    )
    assert snapshot.sentence().certainty is Certainty.SURE
    run.play(True)
    until(lambda s: s.link.state == "running" and s.replay.position_s < 5, run)


def test_slow_motion_is_read_as_it_goes(deck):
    from dataclasses import replace

    deck.seek(9.0)
    deck.follower.judge()
    fast = deck.snapshot(playing=True, speed=1.0)
    now = replace(fast.now, speed_deg_s=1200.0)
    assert "Every firing TDC" in replace(fast, now=now).sentence().first
    slow = replace(deck.snapshot(playing=True, speed=0.05), now=now)
    assert "firing stroke" in slow.sentence().first
    paused = replace(deck.snapshot(playing=False), now=now)
    assert "firing stroke" in paused.sentence().first


def test_speeds_stay_within_their_range(run):
    run.set_speed(1000)
    until(lambda s: s.replay.speed == SPEEDS[-1], run)
    run.faster(-100)
    until(lambda s: s.replay.speed == SPEEDS[0], run)
    run.faster(1)
    until(lambda s: s.replay.speed == SPEEDS[1], run)


def test_a_jump_and_a_step_pause_it(run):
    until(lambda s: s.replay.loaded == 1.0, run)
    run.seek(8.0)
    until(lambda s: s.replay.position_s == pytest.approx(8.0), run)
    run.play(True)
    run.step_samples(1)
    until(lambda s: s.link.state == "paused", run)
    run.step_degrees(-5)
    run.next_tdc()
    until(lambda s: s.link.state == "paused", run)
