"""Which part of a try-out was at rest, which squeezed and which turned?

A person leaves the rig alone, squeezes the sensor and lets go, and turns the crank to a mark. Where
nobody said when each began, the samples themselves tell.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from strokewise.analysis.samples import Board, Events, Health, Samples, Segment

STILL_COUNTS = 2
"""A shaft at rest may stand on a line and tremble: the count goes to and fro by one or two."""


def nowhere() -> slice:
    """Return the part of a run that there was not."""
    return slice(0, 0)


@dataclass(frozen=True, slots=True)
class RigRun:
    """What came from the board while the rig was tried.

    Attributes
    ----------
    board : Board or None
        What it said of itself last.
    came : bool
        Whether any byte came at all.
    samples : Samples
        All of the board's last start.
    events : Events
        Of the same.
    rest, squeezed, turned : slice
        Which of the samples belong to each part; empty slices where there was none.
    turns : float
        How far the crank was turned, in turns of the crank, the engine's own way.
    """

    board: Board | None = None
    came: bool = False
    health: Health = field(default_factory=Health)
    samples: Samples = field(default_factory=Samples.empty)
    events: Events = field(default_factory=Events.empty)
    rest: slice = field(default_factory=nowhere)
    squeezed: slice = field(default_factory=nowhere)
    turned: slice = field(default_factory=nowhere)
    turns: float = 1.0


def run_of(segment: Segment, health: Health, *, came: bool = True, turns: float = 1.0) -> RigRun:
    """Return a run whose parts nobody named.

    It was turned from the first count on that lies apart from the start to the last that moved. At
    rest, and then squeezed, it was before; where it was turned at once, after.
    """
    count = segment.samples.count
    n = len(count)
    rest, turned = slice(0, n), slice(n, n)
    moved = np.flatnonzero(np.abs(count - count[0]) > STILL_COUNTS) if n else np.empty(0, np.int64)
    if len(moved):
        away = np.flatnonzero(np.abs(count - count[-1]) > STILL_COUNTS)
        begin = int(np.flatnonzero(count[: moved[0]] == count[0])[-1])
        last = int(away[-1]) + 1
        end = last + int(np.flatnonzero(count[last:] == count[-1])[0])
        turned = slice(begin, end + 1)
        rest = slice(0, begin + 1) if begin >= n - end else slice(end, n)
    return RigRun(
        segment.board, came, health, segment.samples, segment.events, rest, rest, turned, turns
    )


def run_at(
    segment: Segment,
    health: Health,
    *,
    rest_until_us: int,
    squeezed_until_us: int,
    turned_from_us: int,
    turns: float = 1.0,
) -> RigRun:
    """Return a run whose parts were named as it went, in board time."""
    at = np.searchsorted(
        segment.samples.time_us, [rest_until_us, squeezed_until_us, turned_from_us], side="right"
    )
    rest, squeezed, turned = (int(place) for place in at)
    return RigRun(
        segment.board,
        True,
        health,
        segment.samples,
        segment.events,
        slice(0, rest),
        slice(rest, squeezed),
        slice(max(0, turned - 1), len(segment.samples)),
        turns,
    )
