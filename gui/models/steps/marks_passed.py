"""What has been met of the marks since the board started? Edges and presses, and nothing else.

A live run may last an hour, so its samples are not kept: of each edge or press only the crank angle
and the direction stay. They are worked out as for a whole recording, from the samples about it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from strokewise.analysis.crank.angle import deg_per_count, motion_of
from strokewise.analysis.profile import Mark, Profile
from strokewise.analysis.samples import Events, Samples, Segment
from strokewise.analysis.trace.marks_met import MarkPass, MarkPress, MarkSeen, seen_in

ABOUT_S = 0.5
"""Samples so long before and after an edge tell the direction, also of a slow hand."""
EDGE_LAG_S = 1.0
"""An edge may come in so long after the samples of its moment."""
MARKS_GATHER_S = 0.5
"""Edges are worked out together, so often at the most."""
RECENT_S = ABOUT_S + EDGE_LAG_S + ABOUT_S + MARKS_GATHER_S
MOST_MET = 2_000
"""Of one mark: as many as a tracker keeps of all of them."""


@dataclass(frozen=True, slots=True)
class Met:
    """What has been met by now.

    Attributes
    ----------
    passes : dict of int to tuple of MarkPass
        By mark input, in order of time.
    presses : dict of str to tuple of MarkPress
        By the name pressed.
    waiting : Segment
        Edges and presses that are not worked out yet.
    recent : tuple of Samples
        The samples about them.
    """

    profile: Profile
    passes: dict[int, tuple[MarkPass, ...]]
    presses: dict[str, tuple[MarkPress, ...]]
    waiting: Segment
    recent: tuple[Samples, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Names pressed, each once."""
        return tuple(dict.fromkeys((*self.presses, *(p.name for p in self.waiting.presses))))

    @property
    def count(self) -> int:
        """How many edges and presses there were, those waiting included."""
        done = sum(map(len, self.passes.values())) + sum(map(len, self.presses.values()))
        return done + len(self.waiting.events) + len(self.waiting.presses)

    def count_of(self, mark: Mark) -> int:
        """Return how often a mark was met by now, worked out or not."""
        waiting = self.waiting
        edges = int(np.count_nonzero(waiting.events.input == mark.input)) if mark.input else 0
        edges += len(self.passes.get(mark.input, ())) if mark.input else 0
        presses = sum(press.name == mark.name for press in waiting.presses)
        return edges + presses + len(self.presses.get(mark.name, ()))

    def seen(self, mark: Mark) -> MarkSeen:
        """Return every edge and press of one mark."""
        about = replace(self.waiting, samples=Samples.joined(self.recent))
        now = seen_in(about, mark, self.profile)
        cell_deg = abs(deg_per_count(self.profile.encoder))
        passes = self.passes.get(mark.input, ()) if mark.input else ()
        presses = self.presses.get(mark.name, ())
        return MarkSeen(mark, (*passes, *now.passes), (*presses, *now.presses), cell_deg)


class MetKeeper:
    """Takes blocks in, keeps what was met of the marks in the present start of the board."""

    def __init__(self, profile: Profile) -> None:
        self._profile = profile
        self._begin(0)

    def _begin(self, number: int) -> None:
        self._number = number
        self._met = Met(self._profile, {}, {}, Segment(number))
        self._recent: tuple[Samples, ...] = ()

    def __deepcopy__(self, memo: dict[int, Any]) -> MetKeeper:
        """Return a keeper that goes its own way: all that is held is frozen, and shared."""
        twin = MetKeeper(self._profile)
        twin._number, twin._met, twin._recent = self._number, self._met, self._recent
        return twin

    def add(self, block: Segment) -> None:
        """Take a block in; another segment starts the memory anew."""
        if block.number != self._number:
            self._begin(block.number)
        marks = block.events.input > 0
        if marks.any() or block.presses:
            waiting = self._met.waiting
            events = Events.joined([waiting.events, block.events.only(marks)])
            presses = (*waiting.presses, *block.presses)
            self._met = replace(self._met, waiting=replace(waiting, events=events, presses=presses))
        if not len(block.samples):
            return
        self._recent = (*self._recent, block.samples)
        newest_us = int(block.samples.time_us[-1])
        times = _times(self._met.waiting)
        if len(times) and newest_us - times.min() > (ABOUT_S + MARKS_GATHER_S) * 1e6:
            self._work_out(newest_us - ABOUT_S * 1e6)
        until_us = newest_us - RECENT_S * 1e6
        while len(self._recent) > 1 and self._recent[0].time_us[-1] < until_us:
            self._recent = self._recent[1:]

    def now(self) -> Met:
        """Return what has been met by now."""
        waiting = self._met.waiting
        if not len(waiting.events) and not waiting.presses:
            return self._met
        return replace(self._met, recent=self._recent)

    def _work_out(self, until_us: float) -> None:
        """Keep of what came before a moment the angle and direction alone."""
        waiting = self._met.waiting
        early = waiting.events.time_us <= until_us
        ripe = Segment(
            waiting.number,
            samples=Samples.joined(self._recent),
            events=waiting.events.only(early),
            presses=tuple(p for p in waiting.presses if p.time_us <= until_us),
        )
        motion = motion_of(ripe.samples.time_us, ripe.samples.count, self._profile.encoder)
        passes, presses = dict(self._met.passes), dict(self._met.presses)
        for number in np.unique(ripe.events.input).tolist():
            new = seen_in(ripe, Mark("", number), self._profile, motion).passes
            passes[number] = (*passes.get(number, ()), *new)[-MOST_MET:]
        for name in dict.fromkeys(p.name for p in ripe.presses):
            pressed = seen_in(ripe, Mark(name), self._profile, motion).presses
            presses[name] = (*presses.get(name, ()), *pressed)[-MOST_MET:]
        later = replace(
            waiting,
            events=waiting.events.only(~early),
            presses=tuple(p for p in waiting.presses if p.time_us > until_us),
        )
        self._met = Met(self._profile, passes, presses, later)


def _times(waiting: Segment) -> np.ndarray:
    return np.array([*waiting.events.time_us.tolist(), *(p.time_us for p in waiting.presses)])
