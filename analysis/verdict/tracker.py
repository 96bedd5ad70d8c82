"""What is known by now? The live answer, from blocks of samples as they arrive.

Memory is bounded: of each sensor the last nodes are kept, and the answer rests on them. The batch
answer is this tracker fed a whole recording, so the two cannot differ.
"""

from __future__ import annotations

import copy
from collections import deque
from dataclasses import dataclass, replace

import numpy as np

from strokewise.analysis.crank.angle import angle_of_count, deg_per_count
from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.estimate import Notice
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.samples import Board, Events, Press, Samples, Segment
from strokewise.analysis.tdc.diagnostics import diagnostics
from strokewise.analysis.trace.blocks import Gatherer
from strokewise.analysis.trace.nodes import Nodes, joined
from strokewise.analysis.trace.passes import Pass
from strokewise.analysis.trace.trace import DEFAULT_ADC_BITS, pressure_of
from strokewise.analysis.verdict.judge import Judgement, Memory, judge, pulses_only
from strokewise.analysis.verdict.manifold import rule_manifold
from strokewise.analysis.verdict.rocking_valves import with_rocking
from strokewise.analysis.verdict.ruling import no_samples, rule
from strokewise.analysis.verdict.several import Ruled, together
from strokewise.analysis.verdict.verdict import DECIDED_AT, Method, Verdict

MOST_NODES = 6_000
"""Nodes kept of a sensor: some twelve cycles cranked, some minutes turned by hand."""

MOST_EVENTS = 2_000

MOST_PRESSES = 200

STANDING_BLOCKS = 30
"""Blocks kept of a standing crank, some 6 s: more says nothing new, and an hour's work beside a
standing engine must not push its compressions out of memory."""

STANDING_DEG = 0.5
"""A crank that moves less within a block stands, but for the width of a count."""

WITHDRAWN = "withdrawn"
MOVED_DEG = 20.0
"""An answer that moves by so much is another answer, not a finer one."""

NO_SAMPLES = "no samples yet: start the board and turn the crank"
FIRST_SAMPLES = "the first samples have only just come in: turn on"

STANDING_S = 0.3
"""No count for so long, and the crank is standing."""


@dataclass(frozen=True, slots=True)
class Now:
    """Where everything stands at the last sample.

    Attributes
    ----------
    angle_deg : float
        Unwrapped crank angle in the encoder frame.
    pressure_bar : tuple of float
        One for each sensor of the profile.
    """

    time_s: float
    angle_deg: float
    speed_deg_s: float
    pressure_bar: tuple[float, ...]
    segment: int
    standing: bool


class Tracker:
    """Follows one rig through the segments of its board.

    ``feed`` costs the same for every sample; ``verdict`` is computed when asked for and kept until
    there is something new. The joint fit, which costs most, is made anew only when compressions
    have been added, and not at each of many.

    Parameters
    ----------
    fitted : bool
        False: the phase alone, with TDC no better than the peaks show it.
    """

    def __init__(self, profile: Profile, *, method: Method = "fit", fitted: bool = True) -> None:
        self._profile, self._method, self._fitted = profile, method, fitted
        self._sensors = profile.sensors or (Sensor(),)
        self._number: int | None = None
        self._decided: Verdict | None = None  # of an earlier segment
        self._segments = 0
        self._begin()

    def _begin(self) -> None:
        self._board: Board | None = None
        self._gatherers = [Gatherer(self._profile, sensor) for sensor in self._sensors]
        self._nodes: list[deque[Nodes]] = [deque() for _ in self._sensors]
        self._events: deque[Events] = deque()
        self._presses: deque[Press] = deque(maxlen=MOST_PRESSES)
        self._last: Samples | None = None
        self._now: Now | None = None
        self._samples = 0
        self._clipped = [0 for _ in self._sensors]
        self._moved_s = float("-inf")
        self._judgement: Judgement | None = None
        self._memories = [Memory() for _ in self._sensors]
        self._verdict: Verdict | None = None
        self._stale = True

    def __deepcopy__(self, memo: object) -> Tracker:
        """Return a tracker that goes its own way; samples, nodes and answers never change."""
        twin = copy.copy(self)
        twin._gatherers = [copy.copy(gatherer) for gatherer in self._gatherers]
        twin._nodes = [kept.copy() for kept in self._nodes]
        twin._events, twin._presses = self._events.copy(), self._presses.copy()
        twin._clipped = self._clipped.copy()
        twin._memories = [replace(memory, seen=memory.seen.copy()) for memory in self._memories]
        return twin

    def feed(self, block: Segment) -> None:
        """Take a block: a part of a segment, in order. A new number begins a new segment."""
        if block.number != self._number:
            if self._number is not None:
                last = self.verdict(closing=True)
                self._decided = last if last.decided else self._decided
                self._begin()
            self._number = block.number
            self._segments += 1
        self._board = block.board or self._board
        self._presses.extend(block.presses)
        if len(block.events):
            self._events.append(block.events)
            while sum(map(len, self._events)) > MOST_EVENTS and len(self._events) > 1:
                self._events.popleft()
        if not len(block.samples):
            return
        self._look(block)
        channels = block.samples.readings.shape[1]
        for sensor, gatherer, kept in zip(self._sensors, self._gatherers, self._nodes, strict=True):
            if sensor.channel >= channels:
                continue
            finished = gatherer.feed(block)
            for nodes in finished:
                self._stale = True
                if (
                    _stands(nodes)
                    and len(kept) >= STANDING_BLOCKS
                    and all(_stands(kept[-1 - i]) for i in range(STANDING_BLOCKS))
                ):
                    kept.pop()
                kept.append(nodes)
            while finished and sum(map(len, kept)) - len(kept[0]) > MOST_NODES:
                kept.popleft()

    def _look(self, block: Segment) -> None:
        """Note when the crank last moved, and how many readings stood at the converter's ends."""
        samples = block.samples
        readings, last = samples.readings, samples.count[-1]
        self._samples += len(samples)
        for index, sensor in enumerate(self._sensors):
            if sensor.channel < readings.shape[1]:
                reading = readings[:, sensor.channel]
                at_end = (reading == 0) | (reading >= (1 << self._bits) - 1)
                self._clipped[index] += int(np.count_nonzero(at_end))
        other = np.flatnonzero(samples.count != last)
        if len(other):
            self._moved_s = float(samples.time_us[other[-1] + 1]) * 1e-6
        elif self._last is not None and self._last.count[-1] != last:
            self._moved_s = float(samples.time_us[0]) * 1e-6
        self._last, self._now = samples, None

    @property
    def _bits(self) -> int:
        return (self._board.adc_bits if self._board else None) or DEFAULT_ADC_BITS

    @property
    def now(self) -> Now | None:
        """Where the crank stands by the last block's raw counts; None before the first sample."""
        if self._now is None and self._last is not None and self._number is not None:
            self._now = self._moment(self._last, self._number)
        return self._now

    def _moment(self, samples: Samples, segment: int) -> Now:
        encoder = self._profile.encoder
        time_s = float(samples.time_us[-1]) * 1e-6
        elapsed_s = max(time_s - float(samples.time_us[0]) * 1e-6, 1e-6)
        way_deg = float(samples.count[-1] - samples.count[0]) * deg_per_count(encoder)
        standing = time_s - self._moved_s > STANDING_S
        channels = samples.readings.shape[1]
        return Now(
            time_s=time_s,
            angle_deg=float(angle_of_count(float(samples.count[-1]), encoder)),
            speed_deg_s=0.0 if standing or len(samples) < 2 else way_deg / elapsed_s,
            pressure_bar=tuple(
                self._pressure_bar(int(samples.readings[-1, sensor.channel]), sensor)
                for sensor in self._sensors
                if sensor.channel < channels
            ),
            segment=segment,
            standing=standing,
        )

    def _pressure_bar(self, reading: int, sensor: Sensor) -> float:
        bar, _ = pressure_of(np.array([float(reading)]), sensor, self._profile, self._bits)
        return float(bar[0])

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
        """Return the answer by now; ``closing`` also uses the last samples, those still in work."""
        if not (self._stale or closing) and self._verdict is not None:
            return self._verdict
        if not closing and not any(self._nodes):
            self._verdict = no_samples(NO_SAMPLES if self._last is None else FIRST_SAMPLES)
            return self._verdict
        before = self._verdict
        verdict = self._together(closing)
        self._stale = closing
        verdict = self._with_segments(replace(verdict, segment=self._number))
        if not closing and before is not None and before.segment == self._number:
            verdict = _withdrawn(before, verdict, self._profile.cycle_deg)
        self._verdict = verdict
        return verdict

    def adopt(self, judged: Tracker) -> None:
        """Take over what a copy of this tracker has found out, judged while this one was fed on.

        Nothing is taken from a copy of an earlier start of the board.
        """
        if judged._number == self._number:
            self._memories = judged._memories
            self._verdict, self._judgement = judged._verdict, judged._judgement

    def _together(self, closing: bool) -> Verdict:
        """Rule over every sensor that has shown anything, and over all of them together."""
        ruled = []
        for index, sensor in enumerate(self._sensors):
            judgement = self._judge(index, closing)
            if judgement is not None and sensor.place == "manifold":
                verdict = rule_manifold(
                    judgement.nodes, self._profile, sensor, tuple(self._presses)
                )
                ruled.append(Ruled(sensor, judgement, verdict))
            elif judgement is not None:
                verdict = rule(
                    judgement,
                    self._profile,
                    sensor,
                    events=_joined_events(self._events),
                    presses=tuple(self._presses),
                    method=self._method,
                    clipped=self._clipped[index] / max(self._samples, 1),
                )
                ruled.append(Ruled(sensor, judgement, verdict))
        if not ruled:
            return no_samples(
                "no samples: nothing was measured; check encoder and board, then record again"
            )
        first, verdict = together(tuple(ruled), self._profile)
        self._judgement = first.judgement
        fit = first.judgement.fit
        if closing and fit is not None and verdict.tdc is not None and verdict.tdc.method == "fit":
            told = diagnostics(fit, first.judgement.passes, self._profile, first.sensor)
            verdict = replace(verdict, diagnostics=told)
        return with_rocking(verdict, first.judgement.nodes, tuple(self._presses), self._profile)

    def _judge(self, index: int, closing: bool) -> Judgement | None:
        parts = list(self._nodes[index])
        rest = self._gatherers[index].rest() if closing else None
        if rest is not None and len(rest):
            parts.append(rest)
        if not parts:
            return None
        nodes = joined(tuple(parts))
        if self._sensors[index].place == "manifold":
            return pulses_only(nodes)
        return judge(
            nodes,
            self._profile,
            self._sensors[index],
            fitted=self._fitted,
            memory=None if closing else self._memories[index],
        )

    def _with_segments(self, verdict: Verdict) -> Verdict:
        """Fall back to an earlier start of the board where this one decides nothing, and say so."""
        if self._segments < 2:
            return verdict
        if verdict.decided or self._decided is None:
            text = f"the board started {self._segments} times; the answer is that of the last start"
            note = Notice("board-restarted", text)
            return replace(verdict, warnings=(*verdict.warnings, note))
        text = (
            f"the board started {self._segments} times and the last start decides nothing: the"
            f" angles"
            " are those of an earlier start and no longer hold at the encoder now"
        )
        note = Notice("board-restarted", text)
        return replace(self._decided, warnings=(*self._decided.warnings, note))


def _stands(nodes: Nodes) -> bool:
    return not len(nodes) or float(np.ptp(nodes.angle_deg)) < STANDING_DEG


def _withdrawn(before: Verdict, now: Verdict, cycle_deg: float) -> Verdict:
    """Say so when an answer that stood is taken back, or has moved by a stroke or more."""
    if not before.decided:
        # What was taken back once is said until there is an answer again.
        kept = tuple(w for w in before.warnings if w.code == WITHDRAWN and not now.decided)
        return replace(now, warnings=(*now.warnings, *kept))
    if now.decided and before.firing_deg and now.firing_deg:
        moved = nearest(now.firing_deg[1] - before.firing_deg[1], cycle_deg)
        if abs(moved) < MOVED_DEG:
            return now
        text = f"the answer has moved by {moved:+.0f}°: do not use what it was before"
    else:
        text = f"the answer given before is withdrawn: {now.reason}"
    return replace(now, warnings=(*now.warnings, Notice(WITHDRAWN, text)))


def _joined_events(parts: deque[Events]) -> Events:
    if not parts:
        return Events.empty()
    return Events(
        np.concatenate([p.time_us for p in parts]),
        np.concatenate([p.count for p in parts]),
        np.concatenate([p.input for p in parts]),
    )
