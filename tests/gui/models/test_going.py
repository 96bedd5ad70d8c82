"""Long work says how far it has come and how long the rest takes, and ends when it is stopped."""

import numpy as np
import pytest

from strokewise.daq.recording.container import Chunk
from strokewise.gui.models.run.going import Going, StoppedError
from strokewise.gui.models.run.player import Deck


def test_it_says_the_share_and_the_rest_by_what_it_took():
    now = [100.0]
    going = Going("Reading bench.swr", lambda: now[0])
    assert (going.words, going.long) == ("Reading bench.swr …", False)
    now[0] = 110.0
    going(0.25)
    assert going.long
    assert going.words == "Reading bench.swr: 25%, some 30 s left"


def test_work_ends_where_it_was_stopped():
    going = Going("Reading bench.swr")
    going.stop()
    with pytest.raises(StoppedError, match=r"^Reading bench\.swr: stopped$"):
        going(0.5)


@pytest.fixture
def deck(toy):
    data = toy.bytes(np.linspace(-300, 1700, 20_000))
    items = [Chunk(k * 10_000, each) for k, each in enumerate(data)]
    return Deck(items, lambda board: toy.profile(), toy.Tracker, name="toy.swr")


def test_played_item_by_item_it_ends_as_if_sought(deck, toy):
    shares = []
    while not deck.at_end:
        deck.play_some()
        shares.append(deck.played)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert len(set(shares)) > 3
    played = deck.follower.samples
    deck.seek(0.0)
    deck.seek(float("inf"))
    assert deck.follower.samples == played == 20_000


def test_what_was_not_looked_through_can_be_played_all_the_same(deck):
    for _ in range(3):
        deck.scan()
    deck.stop_looking()
    assert deck.scanned
    looked_s = deck.length_s
    assert 0 < looked_s < 9
    assert deck.snapshot().replay.loaded == 1.0
    deck.seek(8.0)
    assert deck.position_s == pytest.approx(8.0, abs=0.01)
