"""What is known by now? The live answer, from blocks of samples as they arrive.

Memory is bounded: of each sensor the last nodes are kept, and the answer rests on them. The batch
answer is this tracker fed a whole recording, so the two cannot differ.
"""

from __future__ import annotations

import copy
from collections import deque
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from strokewise.analysis.crank.angle import deg_per_count
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.remark import remark
from strokewise.analysis.samples import Board, Events, Press, Samples, Segment, parted
from strokewise.analysis.tdc.diagnostics import diagnostics
from strokewise.analysis.trace.passes import Pass
from strokewise.analysis.trace.trace import DEFAULT_ADC_BITS, pressure_of
from strokewise.analysis.verdict.earlier import Before, by_index, with_earlier, with_why
from strokewise.analysis.verdict.followed import Followed
from strokewise.analysis.verdict.hold import Change, Ended, HoldWatch
from strokewise.analysis.verdict.judge import Judgement, judge, pulses_only
from strokewise.analysis.verdict.manifold import rule_manifold
from strokewise.analysis.verdict.now import Now, moment_of
from strokewise.analysis.verdict.reasons import NOTHING_MEASURED
from strokewise.analysis.verdict.rocking_valves import with_rocking
from strokewise.analysis.verdict.ruling import Evidence, index_deg, no_samples, rule
from strokewise.analysis.verdict.several import Ruled, together
from strokewise.analysis.verdict.silent import SILENT_S, silent_notice
from strokewise.analysis.verdict.suspicion import held_back
from strokewise.analysis.verdict.taken_back import taken_back
from strokewise.analysis.verdict.unchecked import unchecked_notice, weighed
from strokewise.analysis.verdict.verdict import DECIDED_AT, AskedMethod, Tdc, Verdict

MOST_EVENTS = 2_000

MOST_PRESSES = 200

SLAB_SAMPLES = 1 << 16
"""A whole recording is taken in parts of so many: half a minute at 2,000 a second, and the memory
of what is made on the way does not follow the length."""

NO_SAMPLES = remark("no-samples-yet")
FIRST_SAMPLES = remark("first-samples")
STANDS_NOW = remark("count-stands-now")
"""Why there is no answer yet, or at this moment."""


def slabs(block: Segment) -> Iterator[Segment]:
    """Return a block in the parts in which a tracker takes it, at least one."""
    while len(block.samples) > SLAB_SAMPLES:
        slab, block = parted(block, SLAB_SAMPLES)
        yield slab
    yield block


class Tracker:
    """Follows one rig through the segments of its board.

    ``feed`` costs the same for every sample; ``verdict`` is computed when asked for and kept until
    there is something new. The joint fit, which costs most, is made anew only when compressions
    have been added, and not at each of many.

    Parameters
    ----------
    fitted : bool
        False: the phase alone, with TDC no better than the peaks show it.

    Examples
    --------
    >>> from strokewise.analysis import Profile, Tracker
    >>> verdict = Tracker(Profile(4, (1, 3, 4, 2), firing_intervals_deg=(180.0,) * 4)).verdict()
    >>> verdict.decided, verdict.reason
    (False, no-samples-yet)
    """

    def __init__(
        self, profile: Profile, *, method: AskedMethod = "fit", fitted: bool = True
    ) -> None:
        self._profile, self._method, self._fitted = profile, method, fitted
        self._sensors = profile.sensors or (Sensor(),)
        self._number: int | None = None
        self._board: Board | None = None
        self._before = Before()
        self._holds = 0
        self._past: tuple[Tracker, ...] = ()
        self._known: tuple[Verdict | None, Tdc | None] = (None, None)
        self._begin()

    def _begin(self) -> None:
        """Begin a hold: nothing that was measured before is joined to what comes now."""
        self._watch = HoldWatch(
            deg_per_count(self._profile.encoder),
            self._profile.atmosphere.pressure_bar,
            self._sensors[0].response_time_s or 0.0,
        )
        self._begin_us = -(2**62)
        self._ended: Ended | None = None
        self._followed = [Followed(self._profile, sensor) for sensor in self._sensors]
        self._events: deque[Events] = deque()
        self._held_events = 0
        self._presses: deque[Press] = deque(maxlen=MOST_PRESSES)
        self._last: Samples | None = None
        self._now: Now | None = None
        self._moved_s = float("-inf")
        self._silence: tuple[float, float] | None = None
        self._judgement: Judgement | None = None
        self._verdict: Verdict | None = None
        self._stale = True

    def __deepcopy__(self, memo: object) -> Tracker:
        """Return a tracker that goes its own way; samples, nodes and answers never change."""
        twin = copy.copy(self)
        twin._watch = self._watch.copy()
        twin._followed = [followed.copy() for followed in self._followed]
        twin._events, twin._presses = self._events.copy(), self._presses.copy()
        return twin

    def feed(self, block: Segment) -> None:
        """Take a block: a part of a segment, in order. A new number begins a new segment."""
        if block.number != self._number:
            if self._number is not None:
                self._end(None)
                self._board = None
            self._number = block.number
        self._board = block.board or self._board
        for slab in slabs(block):
            self._follow(slab)

    def _follow(self, block: Segment) -> None:
        """Take a block up to where a hold ends or another begins, and what comes after."""
        while len(block.samples) and (change := self._watched(block.samples)) is not None:
            first, block = parted(block, change.at)
            self._take(first)
            watch = self._watch
            if change.ended is None:
                self._begin()
            else:
                self._end(change.ended)
            self._watch, self._ended = watch, change.ended
            self._begin_us = int(block.samples.time_us[0])
        self._take(block)

    def _watched(self, samples: Samples) -> Change | None:
        """Let the samples be looked at for the end of a hold."""
        sensor = self._sensors[0]
        if sensor.channel >= samples.readings.shape[1]:
            return None
        reading = samples.readings[:, sensor.channel].astype(np.float64)
        bar, _ = pressure_of(reading, sensor, self._profile, self._bits)
        return self._watch.feed(samples.time_us, samples.count, bar)

    def _end(self, ended: Ended | None) -> None:
        """Put a hold aside as it is, to be asked only where it matters, and begin another."""
        past = copy.copy(self)
        past._past = ()
        self._past = (*self._past, past)
        self._before = Before(self._before.starts + (ended is None), ended)
        self._holds += 1
        self._begin()

    def _take(self, block: Segment) -> None:
        """Take a block of one hold."""
        self._presses.extend(block.presses)
        if len(block.events):
            own = block.events.time_us >= self._begin_us  # an edge may come late
            self._events.append(block.events if own.all() else block.events.only(own))
            self._held_events += len(self._events[-1])
            while self._held_events > MOST_EVENTS and len(self._events) > 1:
                self._held_events -= len(self._events.popleft())
        if not len(block.samples):
            return
        before_us = block.samples.time_us[:1] if self._last is None else self._last.time_us[-1:]
        if block.samples.time_us[-1] - before_us[0] > SILENT_S * 1e6:  # in a short block: never
            time_us = np.concatenate([before_us, block.samples.time_us])
            silent = np.flatnonzero(np.diff(time_us) > SILENT_S * 1e6)
            if len(silent):
                at_us, back_us = time_us[silent[-1] : silent[-1] + 2].tolist()
                self._silence = (at_us * 1e-6, (back_us - at_us) * 1e-6)
        self._look(block)
        if self._ended is not None:  # the count is not the crank's
            return
        new = [followed.feed(block, self._board) for followed in self._followed]
        self._stale = self._stale or any(new)

    def _look(self, block: Segment) -> None:
        """Note when the crank last moved, and how many readings stood at the converter's ends."""
        samples = block.samples
        last = samples.count[-1]
        for followed in self._followed:
            followed.note(samples, self._bits)
        other = (samples.count != last).nonzero()[0]
        if len(other):
            self._moved_s = float(samples.time_us[other[-1] + 1]) * 1e-6
        elif self._last is not None and self._last.count[-1] != last:
            self._moved_s = float(samples.time_us[0]) * 1e-6
        self._last, self._now = samples, None

    @property
    def _bits(self) -> int:
        return (self._board.adc_bits if self._board else None) or DEFAULT_ADC_BITS

    @property
    def hold(self) -> tuple[int | None, int]:
        """Start of the board and hold of the clamp: an answer of another is none of this one."""
        return self._number, self._holds

    @property
    def ended(self) -> bool:
        """True while the count is known not to be the crank's."""
        return self._ended is not None

    @property
    def now(self) -> Now | None:
        """Where the crank stands by the last block's raw counts; None before the first sample."""
        if self._now is None and self._last is not None and self._number is not None:
            self._now = self._moment(self._last, self._number)
        return self._now

    def _moment(self, samples: Samples, segment: int) -> Now:
        return moment_of(samples, segment, self._profile, self._sensors, self._bits, self._moved_s)

    @property
    def passes(self) -> tuple[Pass, ...]:
        """The compressions that the last verdict knew, oldest first."""
        return self._judgement.passes if self._judgement else ()

    @property
    def judgement(self) -> Judgement | None:
        """What the last verdict rests on: nodes, fit and phase, for the views that explain."""
        return self._judgement

    @property
    def state(self) -> str:
        """A plain word: "waiting", "turn on", "sure" or "not sure"."""
        if self._last is None:
            return "waiting"
        verdict = self._verdict
        if verdict is not None and verdict.decided:
            return "sure"
        known = verdict is not None and verdict.probability >= DECIDED_AT
        if verdict is None or (verdict.tdc is None and not known):
            return "turn on"
        return "not sure"

    def verdict(self, *, closing: bool = False) -> Verdict:
        """Return the answer by now; ``closing`` also uses the last samples, those still in work.

        It speaks of the present start of the board and hold of the clamp alone.
        """
        if not (self._stale or closing) and self._verdict is not None:
            return self._verdict
        before = self._verdict
        verdict = self._present(closing)
        if verdict.tdc is None and self._before.why and self._ended is None:
            cell_deg = deg_per_count(self._profile.encoder)
            tdc = self._from_before()[1]
            verdict = by_index(
                verdict, self._before, tdc, self._index_deg(), cell_deg, self._profile
            )
        verdict = with_why(replace(verdict, segment=self._number), self._before)
        if self._silence is not None:
            verdict = replace(verdict, warnings=(*verdict.warnings, silent_notice(*self._silence)))
        if not closing:
            verdict = held_back(verdict, self._judgement)
        if not closing and before is not None and before.segment == self._number:
            verdict = taken_back(before, verdict, self._profile.cycle_deg)
        self._verdict = verdict
        return verdict

    def last_verdict(self) -> Verdict:
        """Return the answer of a recording fed whole, be it of an earlier start than the last."""
        verdict = self.verdict(closing=True)
        if verdict.decided or not self._before.why:
            return verdict
        return with_earlier(verdict, self._from_before()[0], self._before)

    def _present(self, closing: bool) -> Verdict:
        """Return what the present hold says by itself."""
        if self._ended is not None:
            return no_samples(STANDS_NOW)
        if not closing and not any(followed.seen for followed in self._followed):
            return no_samples(NO_SAMPLES if self._last is None else FIRST_SAMPLES)
        self._stale = closing
        return self._together(closing)

    def _from_before(self) -> tuple[Verdict | None, Tdc | None]:
        """Return the last answer that decided, and the last TDC after the index, of all before."""
        decided, tdc = self._known
        for past in self._past:
            verdict = replace(past._present(closing=True), segment=past._number)
            decided = verdict if verdict.decided else decided
            if verdict.tdc is not None and verdict.tdc.after_index_deg is not None:
                tdc = verdict.tdc
        self._past, self._known = (), (decided, tdc)
        return self._known

    def _index_deg(self) -> float | None:
        if self._judgement is None:
            return None
        return index_deg(self._judgement, self._profile, Events.joined(tuple(self._events)))

    def adopt(self, judged: Tracker) -> None:
        """Take over what a copy of this tracker has found out, judged while this one was fed on.

        Nothing is taken from a copy of an earlier start of the board or hold of the clamp.
        """
        if judged.hold == self.hold:
            for mine, its in zip(self._followed, judged._followed, strict=True):
                mine.memory = its.memory
            self._verdict, self._judgement = judged._verdict, judged._judgement
            self._past, self._known = judged._past, judged._known

    def _together(self, closing: bool) -> Verdict:
        """Rule over every sensor that has shown anything, and over all of them together."""
        ruled = []
        for followed in self._followed:
            sensor, judgement = followed.sensor, self._judge(followed, closing)
            if judgement is not None and sensor.place == "manifold":
                verdict = rule_manifold(
                    judgement.nodes, self._profile, sensor, tuple(self._presses)
                )
                ruled.append(Ruled(sensor, judgement, verdict))
            elif judgement is not None:
                given = Evidence(
                    judgement,
                    self._profile,
                    sensor,
                    events=Events.joined(tuple(self._events)),
                    presses=tuple(self._presses),
                    method=self._method,
                    clipped=followed.at_end_share,
                )
                ruled.append(Ruled(sensor, judgement, rule(given)))
        if not ruled:
            return no_samples(NOTHING_MEASURED)
        first, verdict = together(tuple(ruled), self._profile)
        self._judgement = first.judgement
        since_s = self._followed[self._sensors.index(first.sensor)].unchecked_since_s
        if since_s is not None and verdict.tdc is not None:
            warnings = (*verdict.warnings, unchecked_notice(since_s))
            verdict = replace(verdict, warnings=warnings, unchecked_since_s=since_s)
        fit = first.judgement.fit
        if closing and fit is not None and verdict.tdc is not None and verdict.tdc.method == "fit":
            told = diagnostics(fit, first.judgement.passes, self._profile, first.sensor)
            verdict = replace(verdict, diagnostics=told)
        return with_rocking(verdict, first.judgement.nodes, tuple(self._presses), self._profile)

    def _judge(self, followed: Followed, closing: bool) -> Judgement | None:
        nodes = followed.nodes(closing=closing)
        if nodes is None:
            return None
        followed.unchecked_since_s = None
        if followed.sensor.place == "manifold":
            return pulses_only(nodes)
        part = weighed(nodes, self._profile.cycle_deg)
        followed.unchecked_since_s = part.since_s
        return judge(
            part.nodes,
            self._profile,
            followed.sensor,
            fitted=self._fitted,
            memory=None if closing else followed.memory,
        )
