"""What did each passage through a TDC show? Rise and fall of pressure, smoothed against hum and
knocks."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.median import median
from strokewise.analysis.trace.nodes import HUM_S, Nodes
from strokewise.analysis.trace.passes import Pass, PassRun, pass_of, spans_about
from strokewise.analysis.trade import DEG_S_PER_RPM

REACH_DEG = 100.0
"""How far about a TDC a visit looks: within the closed part of any usual valve timing."""

NEAR_DEG = 60.0
"""A compression peaks within this of TDC, leaky and hand-turned ones included."""

FOOT_DEG = 65.0
"""What lies further than this from TDC shows the foot of a compression, not its top."""

WAY_DEG = 70.0
"""A visit must cover so much of the way through TDC, or it says nothing."""

BEFORE_SHARE, AFTER_SHARE = 0.5, 0.2
"""Of it, so much before TDC and so much after: a rise shows before its peak, a fall soon after."""

PASSAGE_BIN_DEG = 6.0
"""A visit is looked at in steps of this: fine against a compression, coarse against a knock."""

SMOOTH_MOST_BINS = 4
"""… but over no more than 24° of crank, which takes under a fifth off a compression's top."""

FELL_SHARE = 0.3
"""A compression has come down by so much of its rise before the visit ends."""

BESIDE_BAR = 0.5
"""Pressure at a foot over the highest near TDC by more is a compression beside where TDC is taken
to be; of a drift it would be ten seconds' worth."""

CLIPPED_SHARE = 0.8
"""A top that stands at the sensor's end for so much of the way hides how high it was."""

ROLLED_BACK_DEG, ROLLED_BACK_S = 45.0, 3.0
"""A charge half squeezed throws a crank back by less than this, and in less than this."""

LINGERED_S = 3.0
"""After so long near TDC a charge may have leaked away: no rise then proves nothing."""


@dataclass(frozen=True, slots=True)
class Visit:
    """What one passage through a TDC showed.

    Attributes
    ----------
    turn : int
        Which TDC, counted in whole turns from the nominal one.
    time_s : float
        When TDC was passed.
    rise_bar : float
        Highest pressure near TDC over the higher of the two feet seen.
    noise_bar : float
        Scatter of what the rise is made of.
    fell : bool
        The pressure came down again on the far side.
    clipped : bool
        The top stood at the end of the sensor's range: the rise was at least this.
    level_bar : float
        Median pressure within ``NEAR_DEG``.
    top_share : float
        Share of the way within ``NEAR_DEG`` on which the sensor stood at its end.
    lingered : bool
        The crank stood or crept near TDC for long.
    step_bar : float
        A step of the converter.
    top_bar : float
        Highest pressure near TDC.
    height_bar : float
        That over the lowest pressure within ``REACH_DEG``.
    from_flank : bool
        It begins within ``NEAR_DEG``: the crank stood there, and what was squeezed may have leaked.
    """

    turn: int
    time_s: float
    rise_bar: float
    noise_bar: float
    fell: bool
    clipped: bool
    level_bar: float
    top_share: float
    lingered: bool
    speed_rpm: float
    forward: bool
    step_bar: float = 0.0
    top_bar: float = 0.0
    height_bar: float = 0.0
    from_flank: bool = False


Seen = dict[tuple[float, float, float, int, int], Visit | None]
"""Visits by what they were made of: TDC within a turn, begin, end, nodes, and how many of them were
cut off."""

MOST_SEEN = 200

STEP_DEG = 2.0
"""TDC is rounded to this for visits: it does not matter to them, and they need not be made anew."""


def visits_of(
    nodes: Nodes, runs: tuple[PassRun, ...], tdc_deg: float, seen: Seen | None = None
) -> tuple[Visit, ...]:
    """Return every passage through a TDC that went far enough to say something, in time order.

    Parameters
    ----------
    seen : dict, optional
        Where visits are kept for the next call.
    """
    tdc_deg = STEP_DEG * round(tdc_deg / STEP_DEG)
    runs = across_back_rolls(nodes, runs)
    found = spans_about(nodes, runs, tdc_deg, before_deg=REACH_DEG, after_deg=REACH_DEG)
    seen = {} if seen is None else seen
    visits = []
    for span in found:
        start, stop = span.start, span.stop
        begin, end = float(nodes.time_s[start]), float(nodes.time_s[stop - 1])
        # Which of the TDCs a whole turn apart is called the first one moves nothing but the turn.
        clipped = int(np.count_nonzero(nodes.clipped[start:stop]))
        key = (tdc_deg % 360.0, begin, end, stop - start, clipped)
        visit = seen.pop(key) if key in seen else _visit(pass_of(nodes, span))
        if visit is not None and visit.turn != span.turn:
            visit = replace(visit, turn=span.turn)
        seen[key] = visit
        visits.append(visit)
    while len(seen) > MOST_SEEN:  # those used last come last
        del seen[next(iter(seen))]
    return tuple(sorted((v for v in visits if v is not None), key=lambda v: v.time_s))


def across_back_rolls(nodes: Nodes, runs: tuple[PassRun, ...]) -> tuple[PassRun, ...]:
    """Return the runs joined across stalls in which the crank rolled back a little and went on.

    A compression that throws a weak starter or a hand back is the same compression when it is got
    over a moment later.
    """
    joined: list[PassRun] = []
    for run in runs:
        joined.append(run)
        while len(joined) > 2 and _rolled_back(nodes, joined[-3], joined[-2], joined[-1]):
            first, last = joined[-3], joined[-1]
            joined[-3:] = [PassRun(first.start, last.stop, first.direction)]
    return tuple(joined)


def _rolled_back(nodes: Nodes, before: PassRun, back: PassRun, after: PassRun) -> bool:
    angle, time_s = nodes.angle_deg, nodes.time_s
    way = {r: abs(float(angle[r.stop - 1] - angle[r.start])) for r in (before, back, after)}
    lost_s = float(time_s[after.start] - time_s[before.stop - 1])
    return (
        before.direction == after.direction
        and way[back] < ROLLED_BACK_DEG
        and way[back] < min(way[before], way[after])
        and lost_s < ROLLED_BACK_S
    )


def _visit(item: Pass) -> Visit | None:
    where = item.angle_deg - item.tdc_deg
    if not item.forward:
        where = -where
    if (
        where[0] > -BEFORE_SHARE * WAY_DEG
        or where[-1] < AFTER_SHARE * WAY_DEG
        or where[-1] - where[0] < WAY_DEG
    ):
        return None
    centre, pressure = _binned(where, item.nodes)
    speed = item.speed_rpm
    smooth = _smoothed(pressure, speed)
    near = np.abs(centre) < NEAR_DEG
    if not near.any():
        return None
    before, after = _feet(centre, pressure)
    foot_before, foot_after = _mean(before), _mean(after)
    top = float(smooth[near].max())
    if max(before.max(), after.max()) - top > BESIDE_BAR:
        return None
    seen_after = centre[-1] >= FOOT_DEG
    higher = max(foot_before, foot_after) if seen_after else foot_before
    away = np.abs(where)
    inside = away < NEAR_DEG
    top_share = _share(where, item.nodes.clipped & inside)
    crossing = int(away.argmin())
    time_s = item.time_s[inside]
    spent_s = float(time_s[-1] - time_s[0]) if len(time_s) else 0.0
    return Visit(
        turn=item.turn,
        time_s=float(item.time_s[crossing]),
        rise_bar=max(top - higher, 0.0),
        # The foot of a compression bends, which is no noise: the straighter of the two tells.
        noise_bar=min(_scatter(before), _scatter(after)) if seen_after else _scatter(before),
        fell=top - float(pressure[-1]) > FELL_SHARE * (top - foot_before),
        clipped=bool(item.nodes.clipped[inside][item.pressure_bar[inside].argmax()]),
        level_bar=median(pressure[near]),
        top_share=top_share,
        lingered=spent_s > LINGERED_S + 2.0 * NEAR_DEG / max(DEG_S_PER_RPM * speed, 1.0),
        speed_rpm=speed,
        forward=item.forward,
        step_bar=item.nodes.step_bar,
        top_bar=top,
        height_bar=top - float(smooth.min()),
        from_flank=bool(where[0] > -NEAR_DEG),
    )


def _binned(where: FloatArray, nodes: Nodes) -> tuple[FloatArray, FloatArray]:
    """Return bin centres and mean pressures, only of bins that were passed."""
    place = np.floor((where - where.min()) / PASSAGE_BIN_DEG).astype(np.int64)
    weight = np.bincount(place, nodes.count)
    kept = weight > 0
    pressure = np.bincount(place, nodes.count * nodes.pressure_bar)[kept] / weight[kept]
    centre = np.bincount(place, nodes.count * where)[kept] / weight[kept]
    return centre, pressure


def _smoothed(pressure: FloatArray, speed_rpm: float) -> FloatArray:
    bins = round(HUM_S * DEG_S_PER_RPM * speed_rpm / PASSAGE_BIN_DEG)
    wide = min(max(bins, 1), SMOOTH_MOST_BINS)
    if wide == 1 or len(pressure) <= wide:
        return pressure
    before, after = wide // 2, wide - 1 - wide // 2
    edged = np.concatenate([pressure[:1]] * before + [pressure] + [pressure[-1:]] * after)
    return np.convolve(edged, np.ones(wide) / wide, mode="valid")


def _feet(centre: FloatArray, pressure: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the pressures of the two feet; the outermost bins where a foot was not reached."""
    before, after = pressure[centre < -FOOT_DEG], pressure[centre > FOOT_DEG]
    return (before if len(before) else pressure[:2]), (after if len(after) else pressure[-2:])


def _scatter(foot: FloatArray) -> float:
    """Return the scatter of a foot about a straight line."""
    if len(foot) < 4:
        return 0.0
    steps = np.arange(len(foot)) - 0.5 * (len(foot) - 1)
    level = foot - _mean(foot)
    left = level - steps * (float(steps @ level) / float(steps @ steps))
    return math.sqrt(float((left**2).sum()) / (len(foot) - 2))


def _mean(values: FloatArray) -> float:
    """Return what ``values.mean()`` does of a few values, in a third of the time."""
    return float(values.sum()) / len(values)


def _share(where: FloatArray, at_end: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> float:
    """Return the share of the way within ``NEAR_DEG`` that was passed with the sensor at its
    end."""
    if not at_end.any():
        return 0.0
    way = np.abs(np.gradient(where))
    inside = np.abs(where) < NEAR_DEG
    whole = float(way[inside].sum())
    return float(way[at_end].sum()) / whole if whole > 0 else 0.0
