"""Where in a recording are we, and how do we get elsewhere? A replay without clock or thread.

The very bytes go through the very decoder that a live run uses. Bookmarks, copies of all that a
run remembers, are laid as the recording is looked through, so that any place is reached from a
near one.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.crank.angle import angle_of_count
from strokewise.analysis.samples import Board, Segment
from strokewise.daq.recording.container import Item
from strokewise.daq.wire.intake import Intake
from strokewise.gui.models.figures.overview import Overview, OverviewMaker
from strokewise.gui.models.figures.views import Subject
from strokewise.gui.models.run.follower import Follower, MakeTracker
from strokewise.gui.models.run.run import MakeProfile, known
from strokewise.gui.models.run.silence import Heard
from strokewise.gui.models.run.snapshot import Link, Replay, Snapshot
from strokewise.gui.models.turn.target import Target

BETWEEN_SEGMENTS_S = 1.0
"""How long a new start of the board lasts on the time line: a board takes about that to start."""
BOOKMARKS = 40
"""A bookmark holds up to two megabytes of what the tracker remembers."""
BOOKMARK_LEAST_S = 5.0
MANY_ITEMS = 32
"""Decoded at once where nobody looks at each: numpy's overhead is then paid for once."""
FAR_S = 5.0
"""So far from the place wanted nobody looks at each."""


@dataclass
class Timeline:
    """Puts the board time of several starts of the board on one line, without gaps or overlaps."""

    segment: int | None = None
    first_us: int = 0
    starts_s: float = 0.0
    end_s: float = 0.0

    def place(self, block: Segment) -> NDArray[np.float64]:
        """Return the place of each sample of a block, in seconds from the start."""
        time_us = block.samples.time_us
        if len(time_us) == 0:
            return np.empty(0)
        if block.number != self.segment:
            gap = 0.0 if self.segment is None else BETWEEN_SEGMENTS_S
            self.segment, self.first_us = block.number, int(time_us[0])
            self.starts_s = self.end_s + gap
        place = self.starts_s + (time_us - self.first_us) * 1e-6
        self.end_s = float(place[-1])
        return np.asarray(place, np.float64)


@dataclass
class _Reel:
    """All that a replay remembers: copied whole, it is a bookmark."""

    follower: Follower
    intake: Intake = field(default_factory=Intake)
    timeline: Timeline = field(default_factory=Timeline)
    next_item: int = 0
    waiting: list[tuple[Segment, NDArray[np.float64]]] = field(default_factory=list)
    position_s: float = 0.0
    heard: Heard = field(default_factory=Heard)
    finished: bool = False


class Deck:
    """Plays a recording's items to a follower.

    Parameters
    ----------
    items : sequence of Item
        What the recording holds.
    make_profile : callable
        Gives the engine profile for what the board says.
    """

    def __init__(
        self,
        items: Sequence[Item],
        make_profile: MakeProfile,
        make_tracker: MakeTracker,
        *,
        name: str = "",
        simulated: bool = False,
    ) -> None:
        self.name = name
        self._items = items
        self._simulated = simulated
        engine = known(make_profile(_first_board(items)))
        profile = engine.profile
        self.profile = profile
        self._reel = _Reel(Follower(profile, make_tracker, notices=engine.notices))
        self._scan = _Reel(Follower(profile, make_tracker, notices=engine.notices))
        self._bookmarks = [copy.deepcopy(self._scan)]
        self._maker = OverviewMaker(profile)
        self._overview = self._maker.overview()
        self._passes_s: tuple[float, ...] = ()
        self._number = 0
        self._spacing_s = BOOKMARK_LEAST_S

    @property
    def position_s(self) -> float:
        """Where the replay stands."""
        return self._reel.position_s

    @property
    def length_s(self) -> float:
        """Length of what has been looked through so far."""
        return self._scan.timeline.end_s

    @property
    def scanned(self) -> bool:
        """True once the whole recording has been looked through."""
        return self._scan.finished

    @property
    def at_end(self) -> bool:
        """True where nothing is left to play."""
        return self._reel.finished and not self._reel.waiting

    @property
    def overview(self) -> Overview:
        """What has been looked through so far, thinned."""
        return self._overview

    @property
    def follower(self) -> Follower:
        """What follows the engine at the present place."""
        return self._reel.follower

    def scan(self) -> None:
        """Look through some more of the recording: lays bookmarks and draws the overview."""
        reel = self._scan
        for block, place in self._pull(reel, MANY_ITEMS):
            reel.follower.feed(block)
            self._maker.add(block, place)
        reel.position_s = reel.timeline.end_s
        if reel.position_s - self._bookmarks[-1].position_s >= self._spacing_s:
            reel.follower.tidy()
            self._bookmarks.append(copy.deepcopy(reel))
            if len(self._bookmarks) > BOOKMARKS:  # of a long recording every other one will do
                self._bookmarks = self._bookmarks[::2]
                self._spacing_s *= 2
        if reel.finished:
            self.look()

    def look(self) -> None:
        """Bring the overview up to what has been looked through."""
        self._overview = self._maker.overview()
        self._passes_s = self._overview.passes_s()

    def scan_all(self) -> None:
        """Look through the whole recording."""
        while not self.scanned:
            self.scan()

    def stop_looking(self) -> None:
        """Look through no more of it: what was looked through can be played, and played on."""
        self._scan.finished = True
        self.look()

    @property
    def played(self) -> float:
        """Which share of the recording has been played."""
        return 1.0 if self.at_end else self._reel.next_item / max(1, len(self._items))

    def play_some(self) -> None:
        """Play the next items, however long they last."""
        reel = self._reel
        for block, place in (*reel.waiting, *self._pull(reel, MANY_ITEMS)):
            self._play(reel, block, place)
        reel.waiting.clear()
        if reel.finished:
            reel.follower.closing = True

    def advance_to(self, position_s: float) -> None:
        """Play on to a later place."""
        reel = self._reel
        while True:
            while reel.waiting:
                block, place = reel.waiting[0]
                count = int(np.searchsorted(place, position_s, "right"))
                if count < len(place):
                    self._play_part(reel, count)
                    reel.position_s = max(reel.position_s, position_s)
                    return
                reel.waiting.pop(0)
                self._play(reel, block, place)
            if reel.finished:
                reel.follower.closing = True
                return
            far = position_s - reel.timeline.end_s > FAR_S
            reel.waiting += self._pull(reel, MANY_ITEMS if far else 1)

    def seek(self, position_s: float) -> None:
        """Go to any place: on from here, or from the nearest bookmark before it."""
        position_s = max(0.0, position_s)
        mark = max(
            (m for m in self._bookmarks if m.position_s <= position_s),
            key=lambda m: m.position_s,
        )
        ahead = self._reel.position_s <= position_s
        if not ahead or mark.position_s > self._reel.position_s:
            target = self._reel.follower.target
            self._reel = copy.deepcopy(mark)
            self._reel.follower.choose(target)
        self.advance_to(position_s)

    def subject_at_end(self, name: str) -> Subject:
        """Play all that is left, and return the passes under a name."""
        self.seek(float("inf"))
        self.follower.judge()
        return self.snapshot().subject(name)

    def step_samples(self, count: int) -> None:
        """Go on or back by samples."""
        if count < 0:
            self.seek(self._sample_before(-count))
            return
        for _ in range(count):
            if (place := self._next_place()) is not None:
                self.advance_to(place)

    def step_degrees(self, degrees: float) -> None:
        """Go on or back until the crank has moved so many degrees."""
        if degrees < 0:
            self.seek(self._moved_back(-degrees))
            return
        start = self._angle()
        while (place := self._next_place()) is not None:
            self.advance_to(place)
            if start is None or abs((self._angle() or 0.0) - start) >= degrees:
                return

    def next_tdc(self) -> bool:
        """Go to the next TDC of the sensed cylinder; before it is known, to the next compression.

        False when there is none.
        """
        verdict = self.snapshot().verdict
        if verdict is None or verdict.tdc is None:
            self.look()
            ahead = [at for at in self._passes_s if at > self.position_s]
            if ahead:
                self.seek(min(ahead))
            return bool(ahead)
        at = self._overview.next_crossing_s(self.position_s, verdict.tdc.angle_deg.value, 360.0)
        if at is None:
            return False
        self.seek(at)
        return True

    def choose(self, target: Target) -> None:
        """Turn to another position."""
        self._reel.follower.choose(target)

    def snapshot(self, *, playing: bool = False, speed: float = 1.0) -> Snapshot:
        """Return the moment that the replay stands at."""
        self._number += 1
        health = self._reel.intake.health
        link = Link(
            self.name,
            "ended" if self.at_end else "running" if playing else "paused",
            samples=self._reel.follower.samples,
            lost_frames=health.lost_frames,
            bad_frames=health.bad_frames,
            simulated=self._simulated,
        )
        loaded = 1.0 if self.scanned else self._scan.next_item / max(1, len(self._items))
        replay = Replay(self.position_s, self.length_s, speed, loaded, self._passes_s)
        snapshot = self._reel.follower.snapshot(self._number, link, replay, heard=self._reel.heard)
        # A silence in the recording is one here, too; its end is none.
        return snapshot if self.at_end else snapshot.shown_at(self.position_s)

    def _pull(self, reel: _Reel, items: int = 1) -> list[tuple[Segment, NDArray[np.float64]]]:
        """Decode the next items."""
        if reel.next_item >= len(self._items):
            blocks = [] if reel.finished else reel.intake.finish()
            reel.finished = True
        else:
            blocks = reel.intake.feed(self._items[reel.next_item : reel.next_item + items])
            reel.next_item = min(reel.next_item + items, len(self._items))
        return [(block, reel.timeline.place(block)) for block in blocks]

    def _play(self, reel: _Reel, block: Segment, place: NDArray[np.float64]) -> None:
        reel.follower.feed(block)
        if len(place):
            reel.position_s = float(place[-1])
            reel.heard = reel.heard.hear(block.samples, reel.position_s)

    def _play_part(self, reel: _Reel, count: int) -> None:
        """Play the first samples of the waiting block and leave the rest of it waiting."""
        if count == 0:
            return
        block, place = reel.waiting[0]
        first = replace(block, samples=block.samples.only(slice(None, count)))
        self._play(reel, first, place[:count])  # events and presses go with the first samples
        later = Segment(block.number, block.board, block.samples.only(slice(count, None)))
        reel.waiting[0] = (later, place[count:])

    def _next_place(self) -> float | None:
        """Return the place of the next sample, or None at the end."""
        reel = self._reel
        while not reel.finished or reel.waiting:
            for _, place in reel.waiting:
                if len(place):
                    return float(place[0])
            if reel.finished:
                return None
            reel.waiting += self._pull(reel)
        return None

    def _sample_before(self, count: int) -> float:
        """Return the place of a sample so many before the present one."""
        here = self.position_s
        back_s = 0.05
        while True:
            blocks = self._blocks_since(here - back_s)
            places: list[float] = [
                p for _, place in blocks for p in place[place < here - 1e-9].tolist()
            ]
            if len(places) >= count:
                return sorted(places)[-count]
            if back_s > here:
                return 0.0
            back_s *= 4

    def _moved_back(self, degrees: float) -> float:
        """Return the place of the last sample that was so many degrees from the present one.

        The overview keeps a point now and then: the samples between its point and here tell.
        """
        here = self.position_s
        begin = self._overview.moved_back_s(here, degrees)
        blocks = self._blocks_since(begin)
        samples = [(b, place) for b, place in blocks if len(place) and place[0] <= here]
        if not samples:
            return begin
        own = [(b, place) for b, place in samples if b.number == samples[-1][0].number]
        place = np.concatenate([each for _, each in own])
        count = np.concatenate([b.samples.count for b, _ in own])
        angle = angle_of_count(count, self._reel.follower.profile.encoder)[place <= here + 1e-9]
        away = np.flatnonzero(np.abs(angle - angle[-1]) >= degrees)
        return max(begin, float(place[away[-1]])) if len(away) else begin

    def _blocks_since(self, begin_s: float) -> list[tuple[Segment, NDArray[np.float64]]]:
        """Return the blocks from a place, or somewhat before it, to here and somewhat beyond."""
        probe = copy.deepcopy(self._mark_before(begin_s))
        blocks = [*probe.waiting]
        while not probe.finished and probe.timeline.end_s < self.position_s:
            blocks += self._pull(probe)
        return blocks

    def _mark_before(self, position_s: float) -> _Reel:
        return max(
            (m for m in self._bookmarks if m.position_s <= max(0.0, position_s)),
            key=lambda m: m.position_s,
        )

    def _angle(self) -> float | None:
        return self._reel.follower.angle_deg


def _first_board(items: Sequence[Item]) -> Board | None:
    """Return what the board says of itself first, which the profile may rest on."""
    intake = Intake()
    for item in items:
        for block in intake.feed((item,)):
            if block.board is not None:
                return block.board
            if len(block.samples):
                return None
    return None
