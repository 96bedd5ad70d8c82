"""Where did the sensor stand at its upper end? A top that stands still while the crank moves.

Most sensors leave room below the converter's end, so their own end shows not as a full reading but
as a pressure that stays the same to within its noise while the crank turns on.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from strokewise.analysis.crank.angle import FloatArray, way_turned
from strokewise.analysis.estimate import SIGMA_OF_MEDIAN_SIZE
from strokewise.analysis.median import median, percentile
from strokewise.analysis.samples import IntArray
from strokewise.analysis.trace.nodes import HUM_S, Nodes
from strokewise.analysis.trace.passes import Hump
from strokewise.analysis.trace.settled import Settled

BAND_STEPS = 1.0
"""A standing output wanders by no more than this many converter steps …"""

BAND_NOISES = 3.0
"""… and as many times the noise of a node's mean."""

PLATEAU_DEG = 24.0
"""Crank angle over which a top must stand still: a real peak leaves a coarse converter's step
within 20°."""

HUM_MOST_DEG = 24.0
"""But averaged over no more of the crank: at 1,750 rev/min a wave of the mains is 210° long, and
the mean over it is as flat at any peak as at a sensor's end."""

FAST_DEG_S, FAST_DEG = 1800.0, 5.0
"""Faster than this (300 rev/min) a wave of the mains is longer than any top: averaging over it
would take away a short plateau and not the hum, so only so much of the crank is averaged."""

RIPPLE_DEG = 60.0
"""What hum does to flanks is told from means over so much of the crank: a wave at 500 rev/min."""

QUIET_QUARTER, SIGMAS_OF_QUARTER = 25.0, 1.82
"""A cylinder is open for six tenths of the way or more. Of normal scatter there, what a quarter of
all stays within times this is a sigma (the normal distribution's quantile of 25 in 60)."""

FAST_PLATEAU_DEG = 8.0
"""At such speed a sensor driven past its end stands there for little of the crank …"""

DROP, DROP_DEG, DROP_BANDS = 0.02, 7.0, 4.0
"""… and a real peak tells itself by falling: at so many degrees from the top by this share, at a
compression ratio of 4 (calculated), as the square of the angle. A top counts as flat that stands
where a real one would have fallen by so many times the band."""

LOOSE_SHARE = 0.3
"""Share of a plateau's readings that may stand further off its level than ripple and noise take
them: a peak rounded by the averaging has most of its own there."""

RIPPLE_LEFT = 0.5
"""Share of the hum and the unevenness of lines that averaging over a wave may leave."""

ABOVE_BANDS, ABOVE_BANDS_AT_END = 8.0, 3.0
"""A plateau stands so many times its band over the usual pressure: the top of a low and wide hump
(a dead cylinder's) is as flat by itself. Less where the sensor's points say that it ends there, as
one for vacuum does some hundredths of a bar above the atmosphere."""

MOST_OF_WAY = 0.5
"""A sensor cut off by compressions stands at its end for under half of the way; more is another
fault."""

BRIDGED = 4
"""So few nodes off the level do not end a plateau."""

BESIDE_DEG = 60.0
"""A peak as high as the sensor's end, and no further from it, is on the same top."""

PLATEAU_HALF = 0.5
FLANK_DEG = 115.0
"""A compression's flanks lie within this of its top."""


FLANK_NODES = 600
"""Nor further away in nodes: 15 s of standing in a compression leave no flank."""


def with_plateaus(nodes: Nodes, end_bar: float | None = None) -> Nodes:
    """Return the nodes with those marked ``clipped`` at which the output stood at its upper end.

    Parameters
    ----------
    end_bar : float, optional
        The highest pressure that the sensor's points know, absolute: mostly its end.
    """
    if len(nodes) < 8:
        return nodes
    fast = np.abs(nodes.speed_deg_s) > FAST_DEG_S
    smooth, count = _over_hum(nodes, np.where(fast, FAST_DEG, HUM_MOST_DEG))
    ripple = SIGMA_OF_MEDIAN_SIZE * median(np.abs(nodes.pressure_bar - smooth))
    # Nodes of a standing crank sample the hum too seldom to average it: their scatter tells.
    left = SIGMA_OF_MEDIAN_SIZE * median(np.abs(np.diff(smooth, 2))) / np.sqrt(6.0)
    noise = np.maximum(nodes.noise_bar / np.sqrt(count), left)
    band = BAND_STEPS * nodes.step_bar + BAND_NOISES * noise + RIPPLE_LEFT * ripple
    top = float(np.max(smooth - BAND_NOISES * noise))
    # One outlying node must not lift the level above the plateau: take the middle of those near it.
    level = median(smooth[smooth + band >= top])
    usual_band = median(band)
    at_end = end_bar is not None and abs(level - end_bar) < usual_band
    above = ABOVE_BANDS_AT_END if at_end else ABOVE_BANDS
    if level - median(nodes.pressure_bar) < above * usual_band:
        return nodes
    standing = np.abs(smooth - level) <= band
    # A single node may stand out by chance.
    edged = np.concatenate([[False], standing, [False]])
    standing = (standing & (edged[:-2] | edged[2:])) | (edged[:-2] & edged[2:])
    edged[1:-1] = standing
    edges = np.flatnonzero(edged[1:] != edged[:-1])
    clipped = nodes.clipped.copy()
    for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        part, within = nodes.part(start, stop), band[start:stop]
        if _wide(part, within, level) and not _loose(part, within, level, ripple):
            clipped[start:stop] = True
    if np.array_equal(clipped, nodes.clipped):
        return nodes
    way = np.abs(np.gradient(nodes.angle_deg))
    if float(way[clipped].sum()) > MOST_OF_WAY * float(way.sum()):
        return nodes
    return replace(nodes, clipped=clipped)


def ripple_bar(nodes: Nodes) -> float:
    """Return what hum and the like move pressure by within a wave of the mains, as a sigma, bar.

    Over noise. The quarter of all nodes at which pressure moves least tells: there the cylinder is
    open.
    """
    smooth, _ = _over_hum(nodes, np.full(len(nodes), RIPPLE_DEG))
    both = SIGMAS_OF_QUARTER * percentile(np.abs(nodes.pressure_bar - smooth), QUIET_QUARTER)
    noise = nodes.noise_bar / math.sqrt(median(nodes.count))
    return math.sqrt(max(both * both - noise * noise, 0.0))


def _wide(top: Nodes, band: FloatArray, level: float) -> bool:
    """Return whether a top stands still for longer than a real one would."""
    fast = np.abs(top.speed_deg_s) > FAST_DEG_S
    told_deg = 2.0 * DROP_DEG * np.sqrt(DROP_BANDS * band / max(DROP * level, 1e-9))
    needed_deg = np.where(fast, np.clip(told_deg, FAST_PLATEAU_DEG, PLATEAU_DEG), PLATEAU_DEG)
    return bool(np.ptp(top.angle_deg) >= float(needed_deg.max()))


def _loose(top: Nodes, band: FloatArray, level: float, ripple: float) -> bool:
    """Return whether the readings of a top scatter by more than ripple and noise take them."""
    own = np.hypot(top.noise_bar / np.sqrt(top.count), ripple)
    off = np.abs(top.pressure_bar - level) > band + BAND_NOISES * own
    return float(off.mean()) >= LOOSE_SHARE


def _over_hum(nodes: Nodes, most_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return each node's mean with its neighbours over a wave of the mains, and their samples.

    Never over more than ``most_deg`` of the crank, (n,).
    """
    way = way_turned(nodes.angle_deg)
    weight = np.concatenate([[0.0], np.cumsum(nodes.count)])
    total = np.concatenate([[0.0], np.cumsum(nodes.count * nodes.pressure_bar)])
    here = np.arange(len(nodes))
    before, after = _as_near(nodes.time_s, way, 0.5 * HUM_S, 0.5 * most_deg)
    first, last = here - before, here + 1 + after
    count = weight[last] - weight[first]
    return (total[last] - total[first]) / count, count


def _as_near(
    time_s: FloatArray, way: FloatArray, most_s: float, most_deg: FloatArray
) -> tuple[IntArray, IntArray]:
    """Return how many nodes before and after each, (n,), lie within some time and way.

    Both only rise. Counted step by step: a wave of the mains holds a few nodes, whatever the speed.
    """
    since_s, since_deg = time_s - most_s, way - most_deg
    until_s, until_deg = time_s + most_s, way + most_deg
    before, after = np.zeros(len(way), np.int64), np.zeros(len(way), np.int64)
    for step in range(1, len(way)):
        behind = (time_s[:-step] >= since_s[step:]) & (way[:-step] >= since_deg[step:])
        ahead = (time_s[step:] <= until_s[:-step]) & (way[step:] <= until_deg[:-step])
        if not (behind.any() or ahead.any()):
            break
        before[step:] += behind
        after[:-step] += ahead
    return before, after


def end_met_bar(nodes: Nodes) -> float:
    """Return the pressure at which the sensor stood at its upper end; infinite where it never
    did."""
    return median(nodes.pressure_bar[nodes.clipped]) if nodes.clipped.any() else float("inf")


def cut_off(nodes: Nodes, hump: Hump) -> bool:
    """Return whether the sensor stood at its end at the top of a hump."""
    return _at_end(nodes, hump) is not None


def _at_end(nodes: Nodes, hump: Hump) -> int | None:
    """Return the node at the sensor's end that belongs to a hump's top; None where there is none.

    Noise may put the peak beside the stretch at the end, where that was come to, say.
    """
    near = nodes.clipped[max(hump.at - BRIDGED, 0) : hump.at + BRIDGED + 1]
    if any(near.tolist()):
        return hump.at
    ends = np.flatnonzero(nodes.clipped)
    if not len(ends):
        return None
    nearest = int(ends[np.abs(ends - hump.at).argmin()])
    apart_deg = abs(float(nodes.angle_deg[nearest] - nodes.angle_deg[hump.at]))
    as_high = hump.pressure_bar >= float(nodes.pressure_bar[nearest]) - nodes.step_bar
    return nearest if as_high and apart_deg < BESIDE_DEG else None


def centred(
    nodes: Nodes, humps: tuple[Hump, ...], known: Settled[float] | None = None
) -> tuple[Hump, ...]:
    """Return the humps with their angle in the middle between the two flanks at half height.

    Hum and noise move a flat top about, and the sensor's end has no top at all; the flanks stand.
    A hump at which the crank stood or turned round keeps the angle of its peak.

    Parameters
    ----------
    known : Settled, optional
        Where the middles are kept for the next call.
    """
    known = Settled() if known is None else known
    return tuple(
        replace(h, angle_deg=_middle_deg(nodes, h, known)) if h.moving else h for h in humps
    )


def _middle_deg(nodes: Nodes, hump: Hump, known: Settled[float]) -> float:
    if (end := _at_end(nodes, hump)) is not None:
        return _plateau_middle_deg(nodes, end)
    middle_deg = known.of(nodes, hump)
    if middle_deg is not None:
        return middle_deg
    half = hump.pressure_bar - PLATEAU_HALF * hump.rise_bar
    way = hump.direction
    near = slice(max(hump.at - FLANK_NODES, 0), hump.at + FLANK_NODES + 1)
    angle, pressure = nodes.angle_deg[near] * way, nodes.pressure_bar[near]
    at = hump.at - near.start
    reach = np.abs(angle - angle[at]) < FLANK_DEG
    low = (pressure < half) & reach
    first, last = at - 1 - int(low[:at][::-1].argmax()) if at else 0, at + int(low[at:].argmax())
    if not low[first] or not low[last]:
        return hump.angle_deg
    both = _cross(angle, pressure, first, half) + _cross(angle, pressure, last - 1, half)
    middle_deg = way * 0.5 * float(both)
    known.settle(nodes, hump, near.start + first, middle_deg)
    return middle_deg


def _cross(angle: FloatArray, pressure: FloatArray, at: int, level: float) -> float:
    step = pressure[at + 1] - pressure[at]
    share = float(np.clip((level - pressure[at]) / step, 0.0, 1.0)) if step else 0.5
    return float(angle[at] + share * (angle[at + 1] - angle[at]))


def _plateau_middle_deg(nodes: Nodes, at: int) -> float:
    first = last = at
    clipped = nodes.clipped
    while first > 0 and clipped[max(first - BRIDGED, 0) : first].any():
        first -= 1
    while last < len(nodes) - 1 and clipped[last + 1 : last + 1 + BRIDGED].any():
        last += 1
    return 0.5 * float(nodes.angle_deg[first] + nodes.angle_deg[last])
