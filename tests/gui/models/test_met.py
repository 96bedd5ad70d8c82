"""What is kept of the marks tells the same as the whole recording."""

import copy
from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.profile import Mark
from strokewise.analysis.samples import Events, Press
from strokewise.analysis.trace.marks_met import seen_in
from strokewise.gui.models.steps import marks_passed as met
from strokewise.gui.models.steps.marks_passed import MetKeeper

NOTCH, KEY = Mark("notch", 1), Mark("key")


@pytest.fixture
def marked(toy):
    """Ten turns on and one back, a notch met on each, and a key pressed now and then."""
    angles = np.concatenate([np.linspace(0, 3600, 24_000), np.linspace(3600, 3240, 2_400)])
    segment = toy.segment(angles)
    at = np.flatnonzero(np.diff(np.floor((angles - 77.0) / 360)))
    s = segment.samples
    events = Events(s.time_us[at], s.count[at], np.ones(len(at), np.int64))
    presses = tuple(Press("key", int(s.time_us[k])) for k in (5_000, 12_000, 20_000))
    return replace(segment, events=events, presses=presses)


def fed(keeper, segment, size=50):
    s, e = segment.samples, segment.events
    edges = [*s.time_us[::size].tolist(), np.inf]
    for k, start in enumerate(range(0, len(s), size)):
        part = slice(start, start + size)
        inside = (e.time_us >= edges[k]) & (e.time_us < edges[k + 1])
        keeper.add(
            replace(
                segment,
                samples=s.only(part),
                events=e.only(inside),
                presses=tuple(p for p in segment.presses if edges[k] <= p.time_us < edges[k + 1]),
            )
        )
    return keeper


@pytest.mark.parametrize("mark", [NOTCH, KEY])
def test_the_same_as_the_whole_recording(toy, marked, mark):
    keeper = fed(MetKeeper(toy.profile()), marked)
    whole, kept = seen_in(marked, mark, toy.profile()), keeper.now().seen(mark)
    assert [p.forward for p in kept.passes] == [p.forward for p in whole.passes]
    assert [p.angle_deg for p in kept.passes] == [p.angle_deg for p in whole.passes]
    for one, other in zip(kept.presses, whole.presses, strict=True):
        assert one.angle_deg == pytest.approx(other.angle_deg, abs=0.02)
        assert one.speed_deg_s == pytest.approx(other.speed_deg_s, rel=0.02)
    assert len(kept) == len(whole) > 0
    assert keeper.now().count_of(mark) == len(whole)


def test_both_ways_are_told_apart(toy, marked):
    passes = fed(MetKeeper(toy.profile()), marked).now().seen(NOTCH).passes
    assert [p.forward for p in passes] == [True] * 10 + [False]


def test_samples_are_not_kept(toy, marked):
    keeper = fed(MetKeeper(toy.profile()), marked)
    held_s = sum(len(s) for s in keeper._recent) / 2000
    assert held_s <= met.RECENT_S + 0.1
    assert keeper.now().names == ("key",)


def test_an_edge_counts_before_its_samples_are_there(toy, marked):
    keeper = MetKeeper(toy.profile())
    keeper.add(replace(marked, samples=toy.segment([]).samples))
    assert keeper.now().count == len(marked.events) + 3
    assert len(keeper.now().seen(NOTCH)) == 0


def test_another_start_of_the_board_begins_anew(toy, marked):
    keeper = fed(MetKeeper(toy.profile()), marked)
    keeper.add(replace(marked, number=1, events=Events.empty(), presses=()))
    assert keeper.now().count == 0


def test_a_copy_goes_its_own_way(toy, marked):
    keeper = fed(MetKeeper(toy.profile()), marked)
    twin = copy.deepcopy(keeper)
    twin.add(replace(marked, number=1))
    assert keeper.now().count_of(NOTCH) == 11
    assert twin.now().count_of(NOTCH) == 11
    assert keeper._number == 0


def test_no_more_than_a_tracker_keeps(toy, marked, monkeypatch):
    monkeypatch.setattr(met, "MOST_MET", 4)
    assert len(fed(MetKeeper(toy.profile()), marked).now().passes[1]) == 4
