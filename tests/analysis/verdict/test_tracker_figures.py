"""What a tracker makes of blocks as they come: starts, holds, silence, sensors, all as kept.

Samples of one start are never joined to those of another, and a count that is no longer the
crank's ends an answer: here a made-up engine is turned, switched off, held, left alone and turned
back under one tracker's eyes, and what it says each time is held.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/analysis/verdict
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from suite_kept import held, sweep, turns_at
from suite_turned import SENSOR, turned

from strokewise.analysis.profile import Profile, Sensor, even_intervals_deg
from strokewise.analysis.samples import Board, Events, Press, Samples, Segment
from strokewise.analysis.tdc.coarse import FINE_PASSES
from strokewise.analysis.trace.passes import Hump
from strokewise.analysis.verdict.judge import Memory
from strokewise.analysis.verdict.tracker import MOST_EVENTS, Tracker
from strokewise.analysis.verdict.verdict import Verdict

FIVE = Profile(5, (1, 2, 4, 5, 3), even_intervals_deg(5, 720.0), sensors=(SENSOR,))
MANIFOLD = Sensor(channel=1, place="manifold", points=((0.0, 0.0), (4095.0, 2.0)))
BOTH = replace(FIVE, sensors=(SENSOR, MANIFOLD))
ABSENT = replace(FIVE, sensors=(replace(SENSOR, channel=7), SENSOR))
BOARD = Board(counts_per_rev=2400, adc_bits=12, boot=5)

COUNTS_DEG, FULL_BAR = 2400 / 360.0, 20.0


@cache
def sampled(cycles: int = 3, *, back: bool = False) -> Segment:
    """Return what a board sends at 1 kHz: the compression, a manifold that breathes, an index."""
    nodes = turned(cycles)
    time_s = np.arange(nodes.time_s[0], nodes.time_s[-1], 1e-3)
    angle = np.interp(time_s, nodes.time_s, nodes.angle_deg) * (-1.0 if back else 1.0)
    bar = np.interp(time_s, nodes.time_s, nodes.pressure_bar)
    breath = 0.7 + 0.05 * np.sin(np.radians(angle) * 2.5) + 0.02 * np.sin(np.radians(angle) / 2)
    readings = np.stack([bar / FULL_BAR, breath / 2.0], axis=1) * 4095.0
    readings[50:53, 0] = 4095.0
    time_us = (1e6 * time_s).astype(np.int64) + 10_000_000
    count = np.floor(angle * COUNTS_DEG).astype(np.int64)
    return Segment(
        1,
        BOARD,
        Samples(time_us, count, np.round(readings).astype(np.uint16), np.zeros(len(count), bool)),
        index(time_us, count),
    )


def index(time_us: np.ndarray, count: np.ndarray) -> Events:
    at = np.flatnonzero(np.diff((count - 700) // 2400)) + 1
    return Events(time_us[at], count[at], np.zeros(len(at), np.int64))


def part(segment: Segment, first: float, last: float) -> Segment:
    """Return a stretch of a segment, by shares of its samples."""
    n = len(segment.samples)
    own = slice(int(first * n), int(last * n))
    samples = segment.samples.only(own)
    low, high = int(samples.time_us[0]), int(samples.time_us[-1])
    inside = (segment.events.time_us >= low) & (segment.events.time_us <= high)
    return replace(segment, samples=samples, events=segment.events.only(inside))


def later(segment: Segment, by_s: float, counts: int = 0, number: int | None = None) -> Segment:
    by_us = round(by_s * 1e6)
    s, e = segment.samples, segment.events
    return replace(
        segment,
        number=segment.number if number is None else number,
        samples=replace(s, time_us=s.time_us + by_us, count=s.count + counts),
        events=replace(e, time_us=e.time_us + by_us, count=e.count + counts),
    )


def standing(segment: Segment, seconds: float, to_bar: float | None = None) -> Segment:
    """Return what follows a segment while the crank rests: its last count, and a pressure."""
    s, n = segment.samples, round(seconds * 1000)
    time_us = s.time_us[-1] + 1000 * np.arange(1, n + 1)
    readings = np.repeat(s.readings[-1:], n, axis=0)
    if to_bar is not None:
        readings[n // 2 :, 0] = round(to_bar / FULL_BAR * 4095)
    samples = Samples(time_us, np.full(n, s.count[-1]), readings, np.zeros(n, bool))
    return replace(segment, samples=samples, events=Events.empty())


def blocks(segment: Segment, size: int) -> Iterator[Segment]:
    n = len(segment.samples)
    for first in range(0, n, size):
        yield part(segment, first / n, min(first + size, n) / n)


def short(said: object) -> str:
    """Return how a remark prints, its figures to six digits: the last ones hang on the machine."""
    return re.sub(r"-?\d+\.\d+(e-?\d+)?", lambda found: f"{float(found[0]):.6g}", repr(said))


def told(verdict: Verdict) -> Any:
    return [
        verdict.decided,
        short(verdict.reason),
        [[w.code, short(w.remark)] for w in verdict.warnings],
        verdict.tdc,
        verdict.firing_deg,
        round(verdict.probability, 6),
        verdict.clipped,
        short(verdict.earlier),
        verdict.segment,
        verdict.unchecked_since_s,
    ]


def seen(tracker: Tracker) -> Any:
    now = tracker.now
    return [
        tracker.state,
        list(tracker.hold),
        tracker.ended,
        now and [now.time_s, now.angle_deg, round(now.speed_deg_s, 3), now.segment, now.standing],
    ]


def after(*pieces: Segment, profile: Profile = FIVE, size: int = 10**6) -> Any:
    """Return what a tracker says and shows after each piece, and at last."""
    tracker = Tracker(profile, fitted=False)
    found = [seen(tracker), told(tracker.verdict())]
    for piece in pieces:
        for block in blocks(piece, size) if len(piece.samples) else [piece]:
            tracker.feed(block)
        found += [seen(tracker), told(tracker.verdict()), seen(tracker)[0]]
    return [*found, told(tracker.last_verdict()), len(tracker.passes)]


def pressed(segment: Segment, *keys: tuple[str, float]) -> Segment:
    s = segment.samples
    places = [(name, int(s.time_us[int(share * len(s))])) for name, share in keys]
    return replace(segment, presses=tuple(Press(name, at_us) for name, at_us in places))


FIRST, LAST_S = sampled(), 5.0

CASES: dict[str, Callable[[], Any]] = {
    "whole": lambda: after(FIRST),
    "in blocks": lambda: after(*(part(FIRST, low / 8, (low + 1) / 8) for low in range(8)), size=37),
    "nothing but an event": lambda: after(
        replace(FIRST, samples=Samples.empty()), part(FIRST, 0.0, 0.02)
    ),
    "two starts": lambda: after(FIRST, later(part(FIRST, 0.0, 0.15), LAST_S, -900, 2)),
    "two starts, both whole": lambda: after(FIRST, later(FIRST, LAST_S, -900, 2)),
    "three starts": lambda: after(
        FIRST,
        later(part(FIRST, 0.3, 0.5), LAST_S, 55, 2),
        later(part(FIRST, 0.0, 0.02), 2 * LAST_S, 0, 3),
    ),
    "silent": lambda: after(part(FIRST, 0.0, 0.5), later(part(FIRST, 0.5, 1.0), 4.0)),
    "a moment silent": lambda: after(part(FIRST, 0.0, 0.5), later(part(FIRST, 0.5, 1.0), 0.3)),
    "at rest": lambda: after(FIRST, standing(FIRST, 1.5)),
    "the encoder stands": lambda: after(FIRST, standing(FIRST, 1.5, 4.0)),
    "it stands, and goes on": lambda: after(
        FIRST, standing(FIRST, 1.5, 4.0), later(FIRST, LAST_S, 11)
    ),
    "turned back": lambda: after(sampled(back=True)),
    "with a manifold": lambda: after(FIRST, profile=BOTH),
    "the manifold alone": lambda: after(FIRST, profile=replace(FIVE, sensors=(MANIFOLD,))),
    "a channel that is not there": lambda: after(FIRST, profile=ABSENT),
    "none that is there": lambda: after(
        FIRST, profile=replace(FIVE, sensors=(replace(SENSOR, channel=7),))
    ),
    "keys": lambda: after(
        pressed(FIRST, ("cylinder 2", 0.2), ("cylinder 2", 0.55), ("notch", 0.6))
    ),
    "no board": lambda: after(replace(FIRST, board=None)),
    "clipped at both ends": lambda: [
        told(tracker.last_verdict())[6]
        for low in (0, 1)
        for tracker in (Tracker(FIVE, fitted=False),)
        for _ in (tracker.feed(bent(FIRST, low)),)
    ],
}


def bent(segment: Segment, low: int) -> Segment:
    readings = segment.samples.readings.copy()
    readings[100:107, 0] = low
    readings[200:203, 0] = 4094
    return replace(segment, samples=replace(segment.samples, readings=readings))


@pytest.mark.parametrize("name", CASES)
def test_what_a_tracker_says_is_what_was_kept(name: str) -> None:
    held(__file__, name, CASES, relative=1e-5)


def edges(count: int, first_us: int) -> Segment:
    time_us = first_us + 1000 * np.arange(count, dtype=np.int64)
    return Segment(1, BOARD, Samples.empty(), Events(time_us, time_us // 7, 0 * time_us))


@pytest.mark.parametrize(
    ("blocks_fed", "each", "kept"),
    [(20, 100, 2000), (21, 100, 2000), (3, 900, 1800), (1, 2500, 2500), (2, 1000, 2000)],
)
def test_only_the_last_edges_are_kept(blocks_fed: int, each: int, kept: int) -> None:
    """An hour with the engine running must not fill the memory; a block is never cut."""
    tracker = Tracker(FIVE, fitted=False)
    for number in range(blocks_fed):
        tracker.feed(edges(each, number * each * 1000))
    assert sum(map(len, tracker._events)) == kept
    assert MOST_EVENTS == 2000


def test_a_copy_that_was_fed_on_leaves_the_first_as_it_was() -> None:
    """A live run judges a copy while samples come in."""
    tracker = Tracker(FIVE, fitted=False)
    tracker.feed(pressed(part(FIRST, 0.0, 0.4), ("a", 0.3)))
    before = [told(tracker.last_verdict()), seen(tracker)]
    twin = copy.deepcopy(tracker)
    twin.feed(pressed(part(FIRST, 0.4, 1.0), ("b", 0.3)))
    assert told(twin.last_verdict()) != before[0]
    assert [told(tracker.last_verdict()), seen(tracker)] == before
    tracker.feed(pressed(part(FIRST, 0.4, 1.0), ("b", 0.3)))
    assert told(tracker.last_verdict()) == told(twin.last_verdict())


def test_nothing_is_adopted_from_a_copy_of_another_start() -> None:
    tracker = Tracker(FIVE, fitted=False)
    tracker.feed(FIRST)
    judged = copy.deepcopy(tracker)
    judged.verdict()
    tracker.feed(later(part(FIRST, 0.0, 0.5), LAST_S, 0, 2))
    tracker.adopt(judged)
    assert tracker.judgement is None
    other = copy.deepcopy(tracker)
    other.verdict()
    tracker.adopt(other)
    assert tracker.judgement is other.judgement
    assert tracker.judgement is not None


def humps(*ways: int) -> tuple[Hump, ...]:
    return tuple(Hump(at, 9.0, 9.0, 8.0, way, True) for at, way in enumerate(ways))


def memory(found: Sequence[int], last_s: float = 10.0, begin_s: float = 1.0) -> Memory:
    kept = Memory()
    kept.keep("a fit", humps(*found), last_s, begin_s)  # type: ignore[arg-type]
    return kept


def test_a_fit_is_gone_on_from_only_where_its_compressions_are_of_the_same_kind() -> None:
    """One made forwards alone says nothing of those met backwards, nor the other way round."""
    one, two = memory((1, 1, 1)), memory((1, -1, 1))
    assert Memory().earlier(humps(1, 1), float("-inf")) is None
    assert one.earlier(humps(1, 1, 1, 1), 1.0) == "a fit"
    assert one.earlier(humps(1, 1), 1.5) is None
    assert one.earlier(humps(1, -1), 1.0) is None
    assert two.earlier(humps(1, -1), 1.0) == "a fit"
    assert two.earlier(humps(1, 1), 1.0) is None


def test_a_fit_holds_until_enough_has_come_since() -> None:
    def holds(made_of: int, new: int, since_s: float) -> bool:
        ways = (1,) * (made_of + new)
        times = np.concatenate([np.linspace(1.0, 10.0, made_of), np.full(new, 10.0 + since_s)])
        return memory((1,) * made_of).holds(humps(*ways), times, 1.0)

    few = [sweep(lambda n, m=m: holds(m, n, 0.5), range(1, 12)) for m in (3, 6, FINE_PASSES - 1)]
    assert few == [[[1, True], [turns, False]] for turns in (2, 3, 4)]  # two fifths of them
    assert turns_at(lambda s: holds(FINE_PASSES, 10, s), 0.0, 300.0) == pytest.approx(6.0)
    assert turns_at(lambda s: holds(4, 1, s), 0.0, 300.0) == pytest.approx(1.0)
    assert not holds(4, 1, -0.5)
    assert not memory((1,)).holds(humps(1), np.array([10.0]), 2.0)
