"""Where would a published method put TDC? The simple ones, pass by pass, for comparison.

All of them were made for an engine that is motored its own way, so passes the other way are left
out where there are any the engine's own way. Each method gives one angle a pass; their spread gives
the interval, so what all passes have wrong alike (loss angle, sensor lag) is *not* in it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.estimate import TAILS_95, WIDTH_OVER_SIGMA, Interval
from strokewise.analysis.tails import student_at
from strokewise.analysis.trace.nodes import NODE_DEG
from strokewise.analysis.trace.passes import Pass

PEAK_WINDOW_DEG = 24.0
"""The Fourier fit spans so much on both sides of the highest node."""

PEAK_PERIOD_DEG = 90.0
"""Fundamental of that fit: longer than the window, so that its ends need not meet."""

PEAK_ORDER = 3
"""Harmonics, as Tunestål has it."""

PEAK_NODES = 9
"""Fewer nodes in the window than this do not carry seven coefficients."""

FIXED_LOSS_DEG = 0.7
"""Customary loss angle: the published range at running speed is 0.4° to 1.3°, by engine and
condition (a thesis with a microwave probe, KAIST); workshops take one figure for all."""

CHORD_LEVELS = np.linspace(0.5, 0.9, 15)
"""Share of the rise at which chords are laid: below, valves may be open; above, the top is flat."""

ONE_PASS_DEG = NODE_DEG
"""Half width of a single pass, which has no spread: a node's width."""


@dataclass(frozen=True, slots=True)
class Swing:
    """One pass as it would look turned the engine's own way.

    Attributes
    ----------
    after_deg : (k,) float64
        Degrees after the nominal TDC in the direction of turning, from low to high.
    time_s, pressure_bar, weight : (k,) float64
        ``weight`` is the number of samples of the node, 0 where one was clipped.
    way : int
        +1 or -1: ``way`` times an angle of the swing is degrees after the nominal TDC.
    """

    after_deg: FloatArray
    time_s: FloatArray
    pressure_bar: FloatArray
    weight: FloatArray
    way: int


def swing_of(item: Pass) -> Swing:
    """Return a pass in its direction of turning."""
    way = 1 if item.forward else -1
    nodes = item.nodes
    return Swing(
        way * (nodes.angle_deg - item.tdc_deg),
        nodes.time_s,
        nodes.pressure_bar,
        np.where(nodes.clipped, 0.0, nodes.count),
        way,
    )


def peak(passes: tuple[Pass, ...]) -> Interval | None:
    """Return the angle of the highest pressure, from a third-order Fourier fit around it.

    The peak stands before TDC by the loss angle, and after it by the sensor's lag: neither is
    taken out. Third-order Fourier fit: P. Tunestål, "TDC Offset Estimation from Motored Cylinder
    Pressure Data based on Heat Release Shaping" (0.005° for the peak itself).

    Returns
    -------
    Interval or None
        In the encoder frame beside the passes' nominal TDC; None where no pass has a peak inside.
    """
    return over_passes(passes, peak_after_deg)


def fixed_loss(passes: tuple[Pass, ...]) -> Interval | None:
    """Return the peak moved on by ``FIXED_LOSS_DEG`` in the direction of turning.

    Common practice with a motored engine; see ``FIXED_LOSS_DEG`` for the source of the figure.
    """

    def moved(swing: Swing) -> float | None:
        after = peak_after_deg(swing)
        return None if after is None else after + FIXED_LOSS_DEG

    return over_passes(passes, moved)


def chords(passes: tuple[Pass, ...]) -> Interval | None:
    """Return where the midpoints of chords of equal pressure lead to at the top.

    Without losses compression and expansion mirror each other, so every midpoint is TDC; with
    them the midpoints drift early as the level falls, and a straight line through them is followed
    up to the peak's level. In the spirit of Y. Nilsson and L. Eriksson, "Determining TDC Position
    Using Symmetry and Other Methods", SAE 2004-01-1458, which found symmetry the least sensitive to
    noise, offset and gain.
    """
    return over_passes(passes, chords_after_deg)


def peak_after_deg(swing: Swing) -> float | None:
    """Return where a swing peaks; None at its end, or with readings cut off."""
    top = int(np.argmax(swing.pressure_bar))
    x = swing.after_deg - swing.after_deg[top]
    near = np.abs(x) <= PEAK_WINDOW_DEG
    if not swing.weight[near].all() or near.sum() < PEAK_NODES:
        return None
    if x.min() > -PEAK_WINDOW_DEG / 2 or x.max() < PEAK_WINDOW_DEG / 2:
        return None
    weight = np.sqrt(swing.weight[near])
    waves = _fourier(x[near]) * weight[:, None]
    fitted = np.linalg.lstsq(waves, swing.pressure_bar[near] * weight, rcond=None)[0]
    fine = np.linspace(-PEAK_WINDOW_DEG / 3, PEAK_WINDOW_DEG / 3, 401)
    curve = _fourier(fine) @ fitted
    best = int(np.argmax(curve))
    if best in (0, len(fine) - 1):
        return None
    below, at, above = curve[best - 1 : best + 2]
    step = 0.5 * (below - above) / (below - 2.0 * at + above)
    return float(swing.after_deg[top] + fine[best] + step * (fine[1] - fine[0]))


def _fourier(x_deg: FloatArray) -> FloatArray:
    phase = 2.0 * np.pi / PEAK_PERIOD_DEG * x_deg
    waves = [f(k * phase) for k in range(1, PEAK_ORDER + 1) for f in (np.cos, np.sin)]
    return np.stack([np.ones_like(phase), *waves], axis=1)


def chords_after_deg(swing: Swing) -> float | None:
    """Return where a swing's chords lead to; None where one side does not reach down to them."""
    pressure = swing.pressure_bar
    top = int(np.argmax(pressure))
    before, after = pressure[: top + 1], pressure[top:]
    foot = max(float(before.min()), float(after.min()))
    rise = float(pressure[top]) - foot
    if min(len(before), len(after)) < PEAK_NODES // 2 or not swing.weight.all() or rise <= 0.0:
        return None
    level = foot + rise * CHORD_LEVELS
    up = np.interp(level, np.maximum.accumulate(before), swing.after_deg[: top + 1])
    falling = np.maximum.accumulate(after[::-1])
    down = np.interp(level, falling, swing.after_deg[top:][::-1])
    line = np.polyfit(CHORD_LEVELS - 1.0, 0.5 * (up + down), 1)
    return float(line[1])


def own_way(passes: tuple[Pass, ...]) -> tuple[Pass, ...]:
    """Return the passes the engine's own way, as motoring makes them; all where there are none."""
    forward = tuple(p for p in passes if p.forward)
    return forward or passes


def over_passes(
    passes: tuple[Pass, ...], after_deg: Callable[[Swing], float | None]
) -> Interval | None:
    """Return the mean over the passes of what ``after_deg`` finds, its 95 % interval by spread.

    Parameters
    ----------
    after_deg : callable
        Gives TDC on a swing's own scale, or None where the swing does not tell.
    """
    found, first = [], None
    for item in own_way(passes):
        swing = swing_of(item)
        after = after_deg(swing)
        if after is not None:
            first = first or item
            found.append(swing.way * after)
    if first is None:
        return None
    value = first.tdc_deg + float(np.mean(found))
    if len(found) == 1:
        return Interval(value, value - ONE_PASS_DEG, value + ONE_PASS_DEG)
    # Passes that agree by chance are no surer than the width of a count allows.
    scatter = np.hypot(np.std(found, ddof=1), first.nodes.cell_deg / WIDTH_OVER_SIGMA)
    half = student_at(len(found) - 1, TAILS_95[1]) * float(scatter) / math.sqrt(len(found))
    return Interval(value, value - half, value + half)
