"""What does a cheap, clamped-on encoder make of the crank's true angle, and when do marks go by?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicHermiteSpline

from strokewise.analysis.samples import IntArray
from strokewise.daq.bench.rig import EncoderRig, MarkPickup, Slip

FloatArray = NDArray[np.float64]

FINE_STEP_S = 0.0002  # a starter's speed dips bend the angle by under 0.001° within one step
DEG_PER_S_AT_1_RPM = 6.0


@dataclass(frozen=True, slots=True)
class EncoderTrack:
    """What the encoder shows over a whole run.

    Attributes
    ----------
    rig : EncoderRig
    time_s : (n,) array
        Fine, even grid.
    crank_deg : (n,) array
        The true angle on it.
    lines : (n,) array
        Where the shaft stands, in counts from the encoder's own line 0, not yet cut to cells.
    edges : (counts_per_rev,) array
        Where each line really is within a turn.
    false_at_s, false_counts : (m,) arrays
        When a count was missed or came from nowhere, and the sum of them from then on.
    """

    rig: EncoderRig
    time_s: FloatArray
    crank_deg: FloatArray
    lines: FloatArray
    edges: FloatArray
    false_at_s: FloatArray
    false_counts: IntArray

    def cell_at(self, time_s: ArrayLike) -> IntArray:
        """Return the count at each time, as a counter that was never cleared would show it."""
        when = np.asarray(time_s, float)
        return self._cell(np.interp(when - self.rig.delay_s, self.time_s, self.lines)) + self.false(
            when
        )

    def false(self, time_s: ArrayLike) -> IntArray:
        """Return how many counts too many the counter has gathered by each time."""
        at = np.searchsorted(self.false_at_s, np.asarray(time_s, float), side="right")
        return np.concatenate([np.zeros(1, np.int64), self.false_counts])[at]

    def _cell(self, lines: FloatArray) -> IntArray:
        per_rev = self.rig.counts_per_rev
        turn = np.floor(lines / per_rev)
        within = np.searchsorted(self.edges, lines - turn * per_rev, side="right") - 1
        return (turn * per_rev).astype(np.int64) + within

    def cleared_at(self, time_s: float) -> int:
        """Return what a counter that starts at ``time_s`` shows less than :meth:`cell_at`."""
        if self.rig.start_count is None:
            return 0
        return int(self.cell_at(time_s)) - self.rig.start_count

    def index_times_s(self) -> FloatArray:
        """Return the moments at which the encoder's own index rises."""
        if not self.rig.index:
            return np.empty(0)
        period = float(self.rig.counts_per_rev)
        rises = rising_times(self.time_s, self.lines, 0.0, self.rig.index_width_counts, period)
        return rises + self.rig.delay_s


def encode(
    time_s: FloatArray,
    crank_deg: FloatArray,
    speed_rpm: FloatArray,
    rig: EncoderRig,
    rng: np.random.Generator,
) -> EncoderTrack:
    """Return what the encoder shows while the crank turns as given.

    Parameters
    ----------
    time_s, crank_deg, speed_rpm : (n,) arrays
        The true motion; 0 is firing TDC of cylinder 1.
    rng : numpy.random.Generator
        Where uneven lines and false counts come from.
    """
    fine_s = np.arange(time_s[0], time_s[-1] + FINE_STEP_S / 2, FINE_STEP_S)
    crank = CubicHermiteSpline(time_s, crank_deg, speed_rpm * DEG_PER_S_AT_1_RPM)(fine_s)
    driven = take_up_play(crank, rig.play_deg) - slipped_deg(fine_s, crank, rig.slips)
    shaft = shaft_deg(driven, rig)
    lines = rig.direction * shaft * rig.counts_per_rev / 360.0
    uneven = rng.normal(0.0, 1.0, rig.counts_per_rev) * rig.line_error
    edges = np.sort(np.arange(rig.counts_per_rev) + np.clip(uneven, -0.9, 0.9))
    false_at_s, false_counts = _false_counts(fine_s, lines, rig, rng)
    return EncoderTrack(rig, fine_s, crank, lines, edges, false_at_s, false_counts)


def shaft_deg(crank_deg: ArrayLike, rig: EncoderRig) -> FloatArray:
    """Return where the encoder's shaft stands, in its own degrees from its index."""
    shaft = np.asarray(crank_deg, float) * rig.drive_ratio + rig.clamp_deg
    error = rig.eccentric_deg * np.cos(np.radians(shaft - rig.eccentric_at_deg))
    return np.asarray(shaft + error)


def take_up_play(crank_deg: FloatArray, play_deg: float) -> FloatArray:
    """Return the angle behind a coupling with backlash, true while turned the engine's own way.

    The follower stays put until the crank has crossed the play; it is never more than
    ``play_deg`` ahead of the crank.
    """
    if play_deg == 0 or len(crank_deg) < 2:
        return crank_deg
    step = np.sign(np.diff(crank_deg))
    turning = np.flatnonzero(step)
    reversals = turning[1:][step[turning[1:]] != step[turning[:-1]]]
    out = np.empty_like(crank_deg)
    out[0] = crank_deg[0]
    for begin, end in zip(
        [0, *reversals.tolist()], [*reversals.tolist(), len(crank_deg) - 1], strict=True
    ):
        part = slice(begin, end + 1)
        low = np.maximum(out[begin], crank_deg[part])
        out[part] = np.minimum(low, crank_deg[part] + play_deg)
    return out


def slipped_deg(time_s: FloatArray, crank_deg: FloatArray, slips: tuple[Slip, ...]) -> FloatArray:
    """Return by how many crank degrees the clamp has slipped at each time."""
    total = np.zeros_like(time_s)
    for slip in slips:
        begins_s = slip_begins_s(time_s, crank_deg, slip)
        if begins_s is not None:
            total += slip.by_deg * np.clip((time_s - begins_s) / slip.lasts_s, 0.0, 1.0)
    return total


def slip_begins_s(time_s: FloatArray, crank_deg: FloatArray, slip: Slip) -> float | None:
    """Return when a slip begins, or None when the run ends before."""
    if slip.at_time_s is not None:
        begins = time_s[0] + slip.at_time_s
        return float(begins) if begins <= time_s[-1] else None
    assert slip.after_turning_deg is not None  # one of the two is set
    reached = np.flatnonzero(crank_deg - crank_deg[0] >= slip.after_turning_deg)
    return float(time_s[reached[0]]) if len(reached) else None


def mark_times_s(track: EncoderTrack, mark: MarkPickup, rng: np.random.Generator) -> FloatArray:
    """Return the moments at which a mark's input rises, in order."""
    rises = rising_times(
        track.time_s, track.crank_deg, mark.at_deg, mark.width_deg, mark.period_deg
    )
    seen = rng.random(len(rises)) >= mark.missed
    return rises[seen] + mark.delay_s


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


def _false_counts(
    time_s: FloatArray, lines: FloatArray, rig: EncoderRig, rng: np.random.Generator
) -> tuple[FloatArray, IntArray]:
    """Draw the counts that were missed or came from nowhere."""
    stray_s = rng.uniform(time_s[0], time_s[-1], rng.poisson(rig.stray_per_s * np.ptp(time_s)))
    stray = rng.choice(np.array([-1, 1]), len(stray_s))
    turned = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(lines)))]) / rig.counts_per_rev
    lost_turn = rng.uniform(0.0, turned[-1], rng.poisson(rig.lost_per_turn * turned[-1]))
    lost_at = np.clip(np.searchsorted(turned, lost_turn), 1, len(turned) - 1)
    lost = -np.sign(lines[lost_at] - lines[lost_at - 1]).astype(np.int64)
    when = np.concatenate([stray_s, time_s[lost_at]])
    order = np.argsort(when, kind="stable")
    return when[order], np.cumsum(np.concatenate([stray, lost])[order], dtype=np.int64)
