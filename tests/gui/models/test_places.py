"""Bookmarks and a loop in a recording, and the time along it."""

import itertools

import numpy as np
import pytest

from strokewise.daq.recording.container import Chunk
from strokewise.gui.models.run.places import Places, round_steps
from strokewise.gui.models.run.player import Deck
from strokewise.gui.models.run.replay import ReplayRun


@pytest.fixture
def deck_of_toy(toy):
    """A recording of four seconds, 200 degrees a second."""
    items = [Chunk(k * 10_000, d) for k, d in enumerate(toy.bytes(np.linspace(0, 800, 8000)))]
    made = Deck(items, lambda board: toy.profile(), toy.Tracker, name="toy.swr")
    made.scan_all()
    return made


def test_a_bookmark_is_put_and_taken_away_at_the_same_place():
    places = Places().with_bookmark(2.0).with_bookmark(0.5).with_bookmark(7.0)
    assert places.bookmarks_s == (0.5, 2.0, 7.0)
    assert places.with_bookmark(2.01).bookmarks_s == (0.5, 7.0)


def test_bookmarks_are_gone_through_both_ways_and_round_the_end():
    places = Places((0.5, 2.0, 7.0))
    assert [places.next_to(at, 1) for at in (0.0, 0.5, 2.0, 7.0)] == [0.5, 2.0, 7.0, 0.5]
    assert [places.next_to(at, -1) for at in (9.0, 7.0, 2.0, 0.5)] == [7.0, 2.0, 0.5, 7.0]
    assert Places().next_to(1.0, 1) is None


def test_a_loop_goes_from_here_to_here_and_off():
    one = Places().looped(3.0)
    assert one.back_from(9.0) is None
    assert "V again for its end" in one.loop_words
    both = one.looped(1.0)  # the end may be said first
    assert (both.loop_from_s, both.loop_to_s) == (1.0, 3.0)
    assert both.back_from(2.9) is None
    assert both.back_from(3.0) == 1.0
    assert "from 1.00 to 3.00 s" in both.loop_words
    assert both.looped(2.0) == Places()
    assert one.looped(3.01) == Places()  # too short to be one


@pytest.mark.parametrize("length_s", [0.4, 4.0, 18.1, 61.0, 600.0, 3601.0])
@pytest.mark.parametrize("most", [3, 8, 12])
def test_the_time_scale_has_round_steps_within_the_recording(length_s, most):
    steps = round_steps(length_s, most)
    assert steps[0] == 0.0
    assert steps[-1] <= length_s + 1e-9
    assert 1 <= len(steps) <= most + 1
    assert round_steps(0.0, most) == ()


class Clock:
    now_s = 0.0

    def __call__(self):
        return self.now_s


def test_playing_goes_back_to_the_start_of_its_loop(deck_of_toy):
    clock = Clock()
    run = ReplayRun(deck_of_toy, playing=True, clock=clock)
    run._hold()
    deck_of_toy.seek(1.0)
    run.newest.put(run._now())
    run.loop()
    deck_of_toy.seek(2.0)
    run.newest.put(run._now())
    places = run.loop()
    assert (places.loop_from_s, places.loop_to_s) == pytest.approx((1.0, 2.0), abs=0.05)
    run._hold()
    seen = []
    for _ in range(40):
        clock.now_s += 0.1
        run._play_on()
        seen.append(deck_of_toy.position_s)
    assert min(seen) >= 0.9
    assert max(seen) <= 2.15
    assert sum(b < a for a, b in itertools.pairwise(seen)) >= 3
    assert run._now().replay.places == places
