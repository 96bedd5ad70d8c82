"""Since when has the encoder held still on the crank, and does its profile fit?

Compressions of one cylinder come at one angle of the crank. When they move from one to the next,
the clamp has slipped; when they move by the same every time, the profile's counts or drive ratio
are wrong, or counts are lost on the way. What lies before a slip is never mixed with what lies
after it.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.median import median
from strokewise.analysis.remark import Notice, Remark, notice
from strokewise.analysis.trace.chords import chords_of
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Hump
from strokewise.analysis.trace.plateau import cut_off, end_met_bar
from strokewise.analysis.trace.spacing import (
    FAST_RPM,
    RATIO_HUMPS,
    backwards_by_starter,
    one_each,
    wrong_ratio,
)
from strokewise.analysis.trade import DEG_S_PER_RPM

MOVED_FAST_DEG = (3.0, 6.0)
"""Compressions at starter speed that move by more have moved: the least, and the most where hum or
lost counts make them scatter anyhow."""

SCATTERS = 5.0
"""So many times what they usually move from one to the next is no scatter any more."""

MOVED_LAG_DEG_RPM = 2500.0
"""The lag of a leaky engine's peak goes like this over the speed: 15° at 170 rev/min with a burnt
valve."""

MOVED_SLOW_DEG = 60.0
"""Under a spanner the same peak was met 3° to 55° early, by speed and pauses."""

LONE_PEAK_DEG = 45.0
"""Moved by less, the last compression alone is no sign of a slip: a starter that gives up lets the
crank fall back from it. The next compression tells."""

FINISHED_SHARE = 0.75
"""The last compression counts for a slip when it has come down by so much of the one before."""

BOTH_SIDES_DEG = 8.0
"""Met from the two sides peaks lie apart by their lags; crossed over by more they have moved."""

SPEED_NODES = 25
"""Nodes on each side over which a compression's speed is the median: a slip on its way upsets
few."""

CUT_OFF_BAR = 1.5
"""A top cut off this low is cut off near its feet, and so wide that its middle wanders; then only
the turns are compared."""

BEFORE_PEAK_DEG = 110.0
"""A compression begins so much before its peak: what lies further back may be before the slip."""

HEATED_RISE, LIKE_SPEED = 1.12, 1.25
"""Compressions of one engine at speeds no further apart rise within some hundredths of each other;
a diesel that caught on its starter rose by a quarter more, and seemed to slip by 7°."""

HEATED_LEAN_DEG, HEATED_LEAN_SHARE = 0.8, 0.3
"""A clamp that slips leaves the flanks as they lean; what they lean by losses goes as these do, by
a share. A weak diesel that caught leaned later by 1.7° and 3.5°."""

WEAK_BAR = 0.6
"""Humps under this may be anything; that they move about is no sign of a slip."""

DRIFT_DEG = 0.25
"""Drift of TDC for each turn from which a person should know: some counts of 2,400."""

PEAK_SIGMA_DEG = 0.3
"""A compression's angle is no surer than this, however well few of them lie on a line."""

DRIFTS: Final = "tdc-drifts"
TDC_DRIFT_PASSES = 3
"""Where TDC drifts, only so many last compressions are of use for it."""


@dataclass(frozen=True, slots=True)
class Steady:
    """What the compressions' angles say of the encoder.

    Attributes
    ----------
    start : int
        First node that belongs to the encoder as it sits now.
    humps : tuple of Hump
        Those since then.
    changed : bool
        Something moved before ``start``.
    refusal : Remark or None
        Why nothing can be said at all; None when something can.
    drift_deg : float
        How far TDC moves for each turn of the crank, 0 where it does not.
    heated_deg : float
        How far compressions came later, in the encoder's frame, and a good deal higher or leaning
        otherwise as well: then heat has most likely moved them, and not a slip. 0 where they did
        not.
    """

    start: int
    humps: tuple[Hump, ...]
    changed: bool = False
    refusal: Remark | None = None
    drift_deg: float = 0.0
    warnings: tuple[Notice, ...] = ()
    heated_deg: float = 0.0


def steady_part(
    nodes: Nodes, humps: tuple[Hump, ...], middles: tuple[Hump, ...] | None = None
) -> Steady:
    """Return the part of the nodes since the encoder last moved on the crank.

    Parameters
    ----------
    humps : tuple of Hump
        Compressions of the sensed cylinder, in time order; at least one.
    middles : tuple of Hump, optional
        The same with better angles, where there are any.
    """
    peaks, humps = humps, one_each(middles or humps)
    speeds = [_speed_rpm(nodes, h) for h in humps]
    refusal = backwards_by_starter(humps, speeds) or wrong_ratio(humps, speeds)
    if refusal:
        return Steady(0, peaks, refusal=refusal)
    first = _first_steady(nodes, humps, speeds)
    kept = tuple(h for h in peaks if first == 0 or h.at > humps[first - 1].at)
    kept = tuple(h for h in kept if first == 0 or _near(h, humps[first]))
    drift = _drift_deg(humps[first:], speeds[first:])
    warnings = []
    if drift:
        warnings.append(notice(DRIFTS, by_deg=drift))
    if first == 0:
        return Steady(0, kept, drift_deg=drift, warnings=tuple(warnings))
    start = _begin_of(nodes, humps[first], humps[first - 1].at)
    kept = tuple(h for h in kept if h.at >= start)
    if max(h.rise_bar for h in humps) < WEAK_BAR and not any(cut_off(nodes, h) for h in humps):
        return Steady(start, kept, True, None, drift, tuple(warnings))
    jump = nearest(humps[first].angle_deg - _last_before(nodes, humps, speeds, first), 360.0)
    if jump * humps[first].direction > 0.0 and _heated(nodes, humps, speeds, first):
        return Steady(start, kept, True, None, drift, tuple(warnings), heated_deg=jump)
    at_s = nodes.time_s[humps[first].at] - nodes.time_s[0]
    warnings.append(slip_notice(jump, float(at_s)))
    return Steady(start, kept, True, None, drift, tuple(warnings))


def _last_before(nodes: Nodes, humps: tuple[Hump, ...], speeds: list[float], first: int) -> float:
    """Return where the compressions came before a slip.

    One in which the encoder slipped is bent by that, and tells half the way: the one before it
    tells, then.
    """
    last, before = first - 1, first - 2
    fast_deg = _fast_limit_deg(humps[:last], speeds[:last])
    bent = before >= 0 and _apart(
        nodes, humps[last], speeds[last], humps[before], speeds[before], fast_deg
    )
    return humps[before if bent else last].angle_deg


def _heated(nodes: Nodes, humps: tuple[Hump, ...], speeds: list[float], first: int) -> bool:
    """Return whether compressions at like speed peak much higher than before, or lean otherwise.

    No clamp does that. A charge that burns fast and short of TDC looks like air squeezed more, and
    what it is given holds pressure up on the way down.
    """
    before, after = slice(0, first), slice(first, None)
    slow, fast = sorted(median(speeds[part]) for part in (after, before))
    if fast >= LIKE_SPEED * slow:
        return False
    rise_bar, was_bar = (median([h.rise_bar for h in humps[part]]) for part in (after, before))
    if rise_bar > HEATED_RISE * was_bar:
        return True
    leans = [chords_of(nodes, hump).lean_deg for hump in humps]
    was, now = ([deg for deg in leans[part] if np.isfinite(deg)] for part in (before, after))
    if not was or not now:
        return False
    was_deg, lean_deg = median(was), median(now)
    return lean_deg - was_deg > HEATED_LEAN_DEG + HEATED_LEAN_SHARE * abs(was_deg)


def slip_notice(by_deg: float, at_s: float, half_width_deg: float | None = None) -> Notice:
    """Say that the encoder has slipped, by how much, and how well that is known.

    Parameters
    ----------
    half_width_deg : float, optional
        Half of the 95 % interval of the size; None where only peaks tell of it.
    """
    return notice("clamp-slip", by_deg=by_deg, at_s=at_s, half_width_deg=half_width_deg)


def _speed_rpm(nodes: Nodes, hump: Hump) -> float:
    part = np.abs(nodes.speed_deg_s[max(hump.at - SPEED_NODES, 0) : hump.at + SPEED_NODES + 1])
    return median(part) / DEG_S_PER_RPM


def _first_steady(nodes: Nodes, humps: tuple[Hump, ...], speeds: list[float]) -> int:
    """Return the first of the last humps that all came at one angle, seen from the end."""
    low_ends = [h.pressure_bar for h in humps if h.rise_bar < CUT_OFF_BAR and cut_off(nodes, h)]
    low_bar = min(low_ends, default=np.inf) - nodes.step_bar
    end_bar = end_met_bar(nodes) - nodes.step_bar
    usable = [
        (at, hump, speed)
        for at, (hump, speed) in enumerate(zip(humps, speeds, strict=True))
        if hump.moving
        # A pause may cut a top at the end short, too; and a slow one is wherever the crank paused.
        and hump.pressure_bar < (low_bar if speed > FAST_RPM else min(low_bar, end_bar))
        and not (at and at == len(humps) - 1 and _unfinished(hump, humps[at - 1]))
    ][::-1]
    fast_deg = _fast_limit_deg(humps, speeds)
    known: dict[int, tuple[Hump, float]] = {}

    def moved(hump: Hump, speed: float) -> bool:
        return any(_apart(nodes, hump, speed, *other, fast_deg) for other in known.values())

    for place, (_, hump, speed) in enumerate(usable):
        if not moved(hump, speed):
            known[hump.direction] = (hump, speed)
            continue
        before = usable[place + 1 : place + 2]
        if place == 1 and _lone(hump, usable[0][1]):
            known = {hump.direction: (hump, speed)}
            continue
        # Lost samples move a single one, and the one before it stands where those after it do.
        if not before or moved(before[0][1], before[0][2]):
            return usable[place - 1][0]
    return 0


def _lone(before: Hump, last: Hump) -> bool:
    """Return whether the last compression alone moved a little: a slip still to be confirmed."""
    apart = nearest(last.angle_deg - before.angle_deg, 360.0)
    return last.direction == before.direction and abs(apart) < LONE_PEAK_DEG


def _unfinished(last: Hump, before: Hump) -> bool:
    """Return whether the recording ends on the far flank, which takes the middle with it."""
    return last.rise_bar < FINISHED_SHARE * before.rise_bar


def _apart(
    nodes: Nodes, hump: Hump, speed: float, other: Hump, other_speed: float, fast_deg: float
) -> bool:
    """Return whether two compressions stand further apart than their speeds explain."""
    apart = nearest(hump.angle_deg - other.angle_deg, 360.0)
    if hump.direction != other.direction:
        late = apart * other.direction  # met from the two sides, a peak comes before TDC each way
        return not -BOTH_SIDES_DEG < late < 2.0 * MOVED_SLOW_DEG
    fast = min(speed, other_speed) > FAST_RPM and not cut_off(nodes, hump)
    lag = MOVED_LAG_DEG_RPM * abs(1.0 / max(speed, 1.0) - 1.0 / max(other_speed, 1.0))
    return abs(apart) > (min(fast_deg + lag, MOVED_SLOW_DEG) if fast else MOVED_SLOW_DEG)


def _near(hump: Hump, first: Hump) -> bool:
    """Return whether a peak belongs to the first compression after a slip, or to a later one."""
    return hump.at >= first.at or abs(hump.angle_deg - first.angle_deg) < BEFORE_PEAK_DEG


def _fast_limit_deg(humps: tuple[Hump, ...], speeds: list[float]) -> float:
    fast = [h for h, rpm in zip(humps, speeds, strict=True) if h.moving and rpm > FAST_RPM]
    steps = [
        abs(nearest(b.angle_deg - a.angle_deg, 360.0))
        for a, b in pairwise(fast)
        if a.direction == b.direction
    ]
    least, most = MOVED_FAST_DEG
    return min(max(SCATTERS * median(steps), least), most) if len(steps) > 1 else most


def _begin_of(nodes: Nodes, hump: Hump, earliest: int) -> int:
    """Return the node at which the compression that peaks at ``hump`` begins."""
    away = np.abs(nodes.angle_deg[earliest : hump.at] - hump.angle_deg) > BEFORE_PEAK_DEG
    outside = np.flatnonzero(away)
    return earliest + (int(outside[-1]) + 1 if len(outside) else 1)


def _drift_deg(humps: tuple[Hump, ...], speeds: list[float]) -> float:
    """Return the trend of the peaks for each turn, 0 where it is none."""
    pairs = zip(humps, speeds, strict=True)
    fast = [(h, rpm) for h, rpm in pairs if h.moving and rpm > FAST_RPM]
    if len(fast) < RATIO_HUMPS or len({h.direction for h, _ in fast}) > 1:
        return 0.0
    angle: FloatArray = np.array([h.angle_deg for h, _ in fast], np.float64)
    speed: FloatArray = np.array([rpm for _, rpm in fast], np.float64)
    turn: FloatArray = np.asarray(np.round((angle - angle[0]) / 360.0), np.float64)
    if np.ptp(turn) < 2.0:
        return 0.0
    # The peak's lag goes like 1/speed, and a starter that speeds up would look like a drift.
    columns: FloatArray = np.column_stack([np.ones_like(turn), turn, 1.0 / speed])
    moved: FloatArray = angle - 360.0 * turn
    inverse: FloatArray = np.asarray(np.linalg.pinv(columns), np.float64)
    shape = np.dot(inverse, moved)
    left = moved - np.dot(columns, shape)
    power = max(float(np.sum(left**2)) / max(len(fast) - 3, 1), PEAK_SIGMA_DEG**2)
    sigma = float(np.sqrt(power * np.sum(inverse[1] ** 2)))
    slope = float(shape[1])
    return slope if abs(slope) > max(DRIFT_DEG, 4.0 * sigma) else 0.0
