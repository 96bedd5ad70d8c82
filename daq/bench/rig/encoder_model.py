"""What does a cheap, clamped-on encoder make of the crank's true angle, and when do marks go by?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicHermiteSpline

from strokewise.analysis.samples import IntArray
from strokewise.analysis.trade import DEG_S_PER_RPM
from strokewise.daq.bench.rig.rig import LONGEST_DELAY_S, EncoderRig, MarkPickup, Slip

FloatArray = NDArray[np.float64]

ENCODER_STEP_S = 0.0002  # a starter's speed dips bend the angle by under 0.001° within one step


@dataclass(frozen=True, slots=True)
class EncoderTrack:
    """What the encoder shows from ``begins_s`` on, and shortly before.

    Attributes
    ----------
    time_s, crank_deg : (n,) arrays
        Fine, even grid, and the true angle on it.
    lines : (n,) array
        Where the shaft stands, in counts from the encoder's own index, not yet cut to cells.
    edges : (counts_per_rev,) array
        Where each line really is within a turn.
    false_at_s, false_counts : (m,) and (m + 1,) arrays
        When a count was missed or came from nowhere, and the sum of them before and after each.
    """

    rig: EncoderRig
    begins_s: float
    time_s: FloatArray
    crank_deg: FloatArray
    lines: FloatArray
    edges: FloatArray
    false_at_s: FloatArray
    false_counts: IntArray

    def cell_at(self, time_s: ArrayLike) -> IntArray:
        """Return the count at each time, as a counter that was never cleared would show it."""
        when = np.asarray(time_s, float)
        lines = np.interp(when - self.rig.delay_s, self.time_s, self.lines)
        per_rev = self.rig.counts_per_rev
        turn = np.floor(lines / per_rev)
        within = np.searchsorted(self.edges, lines - turn * per_rev, side="right") - 1
        false = self.false_counts[np.searchsorted(self.false_at_s, when, side="right")]
        return np.asarray((turn * per_rev).astype(np.int64) + within + false)

    def index_times_s(self) -> FloatArray:
        """Return the moments at which the encoder's own index is seen to rise."""
        if not self.rig.index:
            return np.empty(0)
        period = float(self.rig.counts_per_rev)
        rises = rising_times(self.time_s, self.lines, 0.0, self.rig.index_width_counts, period)
        return self._seen(rises + self.rig.delay_s)

    def mark_times_s(self, mark: MarkPickup) -> FloatArray:
        """Return the moments at which a mark's input is seen to rise, missed ones included."""
        rises = rising_times(
            self.time_s, self.crank_deg, mark.at_deg, mark.width_deg, mark.period_deg
        )
        return self._seen(rises + mark.delay_s)

    def _seen(self, times_s: FloatArray) -> FloatArray:
        return np.asarray(times_s[(times_s > self.begins_s) & (times_s <= self.time_s[-1])])


class EncoderModel:
    """An encoder that follows the crank, stretch by stretch.

    Parameters
    ----------
    rig : EncoderRig
        ``counts_per_rev``, ``direction``, ``drive_ratio`` and ``clamp_deg`` hold for good; the
        faults may be changed by setting :attr:`rig` between two stretches.
    rng : numpy.random.Generator
        Where uneven lines and false counts come from.
    """

    def __init__(self, rig: EncoderRig, rng: np.random.Generator) -> None:
        self.rig = rig
        self._rng = rng
        uneven = np.clip(rng.normal(0.0, 1.0, rig.counts_per_rev), -3.0, 3.0)
        self._uneven = uneven
        self._tail: tuple[FloatArray, FloatArray, FloatArray] | None = None
        self._shown_deg: float | None = None
        self._origin: tuple[float, float] | None = None
        self._begun: dict[Slip, float] = {}
        self._false_at_s: FloatArray = np.empty(0)
        self._false_counts: IntArray = np.zeros(1, np.int64)

    def follow(
        self, time_s: FloatArray, crank_deg: FloatArray, speed_rpm: FloatArray
    ) -> EncoderTrack:
        """Return what the encoder shows while the crank turns as given.

        Parameters
        ----------
        time_s, crank_deg, speed_rpm : (n,) arrays
            The true motion; 0 is firing TDC of cylinder 1.
        """
        rig = self.rig
        fine_s = even_grid(time_s[0], time_s[-1], ENCODER_STEP_S)
        crank = CubicHermiteSpline(time_s, crank_deg, speed_rpm * DEG_S_PER_RPM)(fine_s)
        if self._origin is None:
            self._origin = float(fine_s[0]), float(crank[0])
        shown = take_up_play(crank, rig.play_deg, self._shown_deg)
        self._shown_deg = float(shown[-1])
        driven = shown - self.slipped_deg(fine_s, crank)
        lines = rig.direction * shaft_deg(driven, rig) * rig.counts_per_rev / 360.0
        begins_s = float(fine_s[0])
        if self._tail is not None:
            begins_s = float(self._tail[0][-1])
            fine_s, crank, lines = (
                np.concatenate([old, new])
                for old, new in zip(self._tail, (fine_s, crank, lines), strict=True)
            )
        self._add_false_counts(begins_s, fine_s, lines)
        keep = int(np.searchsorted(fine_s, fine_s[-1] - LONGEST_DELAY_S))
        self._tail = fine_s[keep:], crank[keep:], lines[keep:]
        edges = np.sort(np.arange(rig.counts_per_rev) + self._uneven * rig.line_error)
        return EncoderTrack(
            rig, begins_s, fine_s, crank, lines, edges, self._false_at_s, self._false_counts
        )

    def slipped_deg(self, time_s: FloatArray, crank_deg: FloatArray) -> FloatArray:
        """Return by how many crank degrees the clamp has slipped at each time."""
        assert self._origin is not None  # set by follow
        total = np.zeros_like(time_s)
        for slip in self.rig.slips:
            if slip not in self._begun:
                begins_s = _slip_begins_s(time_s, crank_deg, slip, self._origin)
                if begins_s is None:
                    continue
                self._begun[slip] = begins_s
            total += slip.by_deg * np.clip((time_s - self._begun[slip]) / slip.lasts_s, 0.0, 1.0)
        return total

    @property
    def slips_begun(self) -> tuple[tuple[Slip, float], ...]:
        """The slips that happened so far, and when."""
        return tuple(self._begun.items())

    @property
    def false_counts_now(self) -> int:
        """How many counts too many the counter has gathered."""
        return int(self._false_counts[-1])

    def _add_false_counts(self, begins_s: float, time_s: FloatArray, lines: FloatArray) -> None:
        """Draw the counts that were missed or came from nowhere, and forget those long past."""
        new = time_s > begins_s if self._tail is not None else np.ones(len(time_s), bool)
        when, by = draw_false_counts(time_s[new], lines[new], self.rig, self._rng)
        keep = int(np.searchsorted(self._false_at_s, begins_s - LONGEST_DELAY_S))
        base = self._false_counts[keep:]
        self._false_at_s = np.concatenate([self._false_at_s[keep:], when])
        self._false_counts = np.concatenate([base, base[-1] + np.cumsum(by, dtype=np.int64)])


def even_grid(begin_s: float, end_s: float, step_s: float) -> FloatArray:
    """Return the multiples of a step after ``begin_s`` up to ``end_s``; 0 belongs to a start at 0.

    So the grids of stretches that follow each other never repeat a time and leave none out.
    """
    slack = 1e-9  # of a step: a boundary computed twice belongs to the same side both times
    first = int(np.floor(begin_s / step_s + slack)) + 1 if begin_s > 0 else 0
    last = int(np.floor(end_s / step_s + slack))
    return np.asarray(np.arange(first, last + 1) * step_s, float)


def shaft_deg(crank_deg: ArrayLike, rig: EncoderRig) -> FloatArray:
    """Return where the encoder's shaft stands, in its own degrees from its index."""
    shaft = np.asarray(crank_deg, float) * rig.drive_ratio + rig.clamp_deg
    error = rig.eccentric_deg * np.cos(np.radians(shaft - rig.eccentric_at_deg))
    return np.asarray(shaft + error)


def take_up_play(
    crank_deg: FloatArray, play_deg: float, shown_deg: float | None = None
) -> FloatArray:
    """Return the angle behind a coupling with backlash, true while turned the engine's own way.

    The follower stays put until the crank has crossed the play; it is never more than
    ``play_deg`` ahead of the crank.

    Parameters
    ----------
    crank_deg : (n,) array
    shown_deg : float or None
        Where the follower stood before; None when the play is taken up.
    """
    if play_deg == 0 or len(crank_deg) == 0:
        return crank_deg
    path = np.concatenate([crank_deg[:1], crank_deg])
    step = np.sign(np.diff(path))
    turning = np.flatnonzero(step)
    reversals = turning[1:][step[turning[1:]] != step[turning[:-1]]].tolist()
    out = np.empty_like(path)
    out[0] = path[0] if shown_deg is None else shown_deg
    for begin, end in zip([0, *reversals], [*reversals, len(path) - 1], strict=True):
        part = slice(begin, end + 1)
        out[part] = np.minimum(np.maximum(out[begin], path[part]), path[part] + play_deg)
    return out[1:]


def rising_times(
    time_s: FloatArray, position: FloatArray, at: float, width: float, period: float
) -> FloatArray:
    """Return when a pulse that stands from ``at`` to ``at + width`` once a ``period`` rises.

    Going up it rises at its near side, going down at its far side. The position must move by less
    than a period between two times.
    """
    up = np.floor((position - at) / period)
    down = np.floor((position - at - width) / period)
    forward = np.flatnonzero(np.diff(up) > 0)
    backward = np.flatnonzero(np.diff(down) < 0)
    near = up[forward + 1] * period + at
    far = down[backward] * period + at + width
    index = np.concatenate([forward, backward])
    edge = np.concatenate([near, far])
    before, after = position[index], position[index + 1]
    share = (edge - before) / (after - before)
    return np.sort(time_s[index] + share * (time_s[index + 1] - time_s[index]))


def draw_false_counts(
    time_s: FloatArray, lines: FloatArray, rig: EncoderRig, rng: np.random.Generator
) -> tuple[FloatArray, IntArray]:
    """Draw the counts that are missed or come from nowhere: when, and by how much each is off."""
    if len(time_s) < 2 or (rig.stray_per_s == 0 and rig.lost_per_turn == 0):
        return np.empty(0), np.empty(0, np.int64)
    stray_s = rng.uniform(time_s[0], time_s[-1], rng.poisson(rig.stray_per_s * np.ptp(time_s)))
    stray = rng.choice(np.array([-1, 1]), len(stray_s))
    turned = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(lines)))]) / rig.counts_per_rev
    lost_turn = rng.uniform(0.0, turned[-1], rng.poisson(rig.lost_per_turn * turned[-1]))
    lost_at = np.clip(np.searchsorted(turned, lost_turn), 1, len(turned) - 1)
    lost = -np.sign(lines[lost_at] - lines[lost_at - 1]).astype(np.int64)
    when = np.concatenate([stray_s, time_s[lost_at]])
    order = np.argsort(when, kind="stable")
    return when[order], np.concatenate([stray, lost])[order].astype(np.int64)


def _slip_begins_s(
    time_s: FloatArray, crank_deg: FloatArray, slip: Slip, origin: tuple[float, float]
) -> float | None:
    if slip.at_time_s is not None:
        begins = origin[0] + slip.at_time_s
        return float(begins) if begins <= time_s[-1] else None
    assert slip.after_turning_deg is not None  # one of the two is set
    reached = np.flatnonzero(crank_deg - origin[1] >= slip.after_turning_deg)
    return float(time_s[reached[0]]) if len(reached) else None
