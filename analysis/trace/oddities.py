"""Is there something in the trace that no sound compression makes, and what is to be done about it?

Each of these would pass for a compression, or spoil one, if nobody said it: a non-return valve left
in the hose, a throttle left shut, liquid in the cylinder. They look at nodes alone, before and
without any fit.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from strokewise.analysis.crank.angle import FloatArray, way_turned
from strokewise.analysis.crank.kinematics import crank_of, stroke_ratio, travel
from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.remark import Notice, notice
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.plateau import ripple_bar
from strokewise.analysis.trade import AIR_GAMMA, USUAL_ROD_RATIO

HELD_BY_VALVE: Final = "non-return-valve"
SHUT: Final = "throttle-shut"
LIQUID: Final = "liquid-in-cylinder"
"""Codes of the warnings."""

HELD_RISE_BAR = 1.0
"""Less than this may be a zero that creeps."""

HELD_NOISES = 20.0
"""A rise of fewer times the noise is none."""

HELD_SHARE = 0.2
"""Of what it has risen, pressure behind a non-return valve falls by less. A cylinder gives back
nearly all within a turn, whatever its state."""

HELD_WAY_DEG = 400.0
"""So much turned after the rise: through the exhaust stroke, where every cylinder is open."""

TWO_TURNS_DEG = 720.0

THROTTLED_SHARE = 0.7
"""A quarter of the cycle under this share of the atmosphere is an engine that cannot breathe in.
With a throttle anything like open it is at 0.83 to 1.0 of it in 78 random engines turned round."""

THROTTLED_PART = 0.25

OPEN_BAR = 0.12
"""Within this of the atmosphere the exhaust valve is open, and the sensor's zero is sound."""

OPEN_PART = 0.08
"""Share of the turning that must be so: an exhaust stroke is a quarter of the cycle."""

STEEP_DEG = 8.0
"""Steepness is taken over so much crank angle."""

STEEP_FROM_BAR = 3.0
"""And from this pressure on, where a zero a little off matters little."""

NEXT_RISE_BAR = 2.0
"""Pressure under this parts one rise from the next."""

STEEP_SIGMAS = 3.0
"""Sigmas of noise by which steepness must exceed what air can do."""

STEEP_MARGIN = 1.08
"""Over the steepest that air of the stated compression ratio can do. Sound engines, whose adaptor
and losses flatten the rise, stayed under 0.94 of it in 166 random ones."""

STEEPEST_BEFORE_DEG, STEEP_GRID_DEG = 80.0, 0.25
"""Air rises steepest within this of TDC, whatever the ratio; looked for in such steps."""

ONE_WAY_SHARE = 0.9
"""Of the way must lie in one direction, else the crank was rocked and nothing rose so steeply."""

STEEPEST_RATIO = 25.0
"""Compression ratio taken where nobody said: no engine that is met has more."""


def oddities(
    nodes: Nodes, profile: Profile, sensor: Sensor, *, zero_sound: bool = True
) -> tuple[Notice, ...]:
    """Return every oddity of a trace from a plug hole, the dangerous first.

    Parameters
    ----------
    zero_sound : bool
        False where the sensor's zero is known to be off: absolute pressures then say nothing.
    """
    if not len(nodes) or not sensor.points or sensor.place != "plug hole":
        return ()
    found = [held_pressure(nodes)]
    if zero_sound and found[0] is None:
        found = [steep_rise(nodes, profile), shut_throttle(nodes, profile)]
    return tuple(notice for notice in found if notice is not None)


def held_pressure(nodes: Nodes) -> Notice | None:
    """Return a warning where pressure rises with the compressions and never falls again."""
    pressure, clipped = nodes.pressure_bar, nodes.clipped
    if clipped.any():
        if clipped.mean() > 0.5:
            return None
        pressure = np.where(clipped, pressure[~clipped].max(), pressure)
    base = median(pressure[: max(3, len(pressure) // 50)])
    top = int(pressure.argmax())
    rise = float(pressure[top]) - base
    if rise < max(HELD_RISE_BAR, HELD_NOISES * nodes.noise_bar):
        return None
    if float(pressure[top] - pressure[top:].min()) / rise > HELD_SHARE:
        return None  # as every cylinder that is open now and then
    highest = np.maximum.accumulate(pressure)
    risen = int(np.argmax(highest >= base + 0.5 * rise))
    fallen = float(np.max((highest - pressure)[risen:])) / rise
    if fallen > HELD_SHARE:
        return None
    way = float(np.sum(np.abs(np.diff(nodes.angle_deg[risen:]))))
    if way < HELD_WAY_DEG:
        return None
    return notice(HELD_BY_VALVE, held_bar=float(highest[-1]), way_deg=way)


def shut_throttle(nodes: Nodes, profile: Profile) -> Notice | None:
    """Return a warning where the cylinder draws against a throttle that is all but shut."""
    turned = abs(float(nodes.angle_deg[-1] - nodes.angle_deg[0]))
    if profile.cycle != "four-stroke" or turned < TWO_TURNS_DEG:
        return None
    outside = profile.atmosphere.pressure_bar
    throttled = nodes.pressure_bar <= THROTTLED_SHARE * outside
    if not throttled.any():
        return None
    weight = np.abs(np.gradient(nodes.angle_deg))
    breathing = np.abs(nodes.pressure_bar - outside) < OPEN_BAR
    if float(weight[breathing].sum()) < OPEN_PART * float(weight.sum()):
        return None
    if float(weight[throttled].sum()) < THROTTLED_PART * float(weight.sum()):
        return None
    low = _weighted_quantile(nodes.pressure_bar, weight, THROTTLED_PART)
    return notice(SHUT, drawn_bar=low)


def steep_rise(nodes: Nodes, profile: Profile) -> Notice | None:
    """Return a warning where pressure rises more steeply than air in this engine can make it.

    Of all paths air can take the adiabatic one through TDC is the steepest in ln p over the crank
    angle; losses, a leak or an adaptor's volume flatten it. Liquid takes up the space at TDC.
    """
    limit = STEEP_MARGIN * steepest_of_air(profile)
    steepness = _steepness(nodes)
    if not len(steepness) or median(steepness) <= limit:
        return None
    steep = median(_steepness(nodes, ripple_bar(nodes)))  # hum bends a flank as well
    return notice(LIQUID, times=steep / limit * STEEP_MARGIN) if steep > limit else None


def steepest_of_air(profile: Profile) -> float:
    """Return the steepest rise of ln p, for each degree, that adiabatic air can show."""
    crank = crank_of(profile)
    rod_ratio = crank.rod_ratio if crank else USUAL_ROD_RATIO
    return _steepest(rod_ratio, profile.compression_ratio or STEEPEST_RATIO)


@lru_cache(maxsize=64)
def _steepest(rod_ratio: float, compression_ratio: float) -> float:
    shape = {"rod_ratio": rod_ratio}
    before = np.arange(-STEEPEST_BEFORE_DEG, 0.0, STEEP_GRID_DEG)
    down = travel(before, **shape) / stroke_ratio(**shape)
    log_volume = np.log(down + 1.0 / (compression_ratio - 1.0))
    step = round(STEEP_DEG / STEEP_GRID_DEG)
    return float(AIR_GAMMA * np.max(log_volume[:-step] - log_volume[step:]) / STEEP_DEG)


def _steepness(nodes: Nodes, ripple: float = 0.0) -> FloatArray:
    """Return, for each rise of pressure, its steepest d ln p / d angle, less what noise may add.

    ``ripple`` is what hum moves pressure by, as a sigma, bar.
    """
    way = way_turned(nodes.angle_deg)
    start = np.flatnonzero(nodes.pressure_bar > STEEP_FROM_BAR)
    end = np.searchsorted(way, way[start] + STEEP_DEG)
    start, end = start[end < len(way)], end[end < len(way)]
    turned = np.abs(nodes.angle_deg[end] - nodes.angle_deg[start])
    one_way = turned > ONE_WAY_SHARE * (way[end] - way[start])
    start, end, turned = start[one_way], end[one_way], turned[one_way]
    if not len(start):
        return np.empty(0)
    low, high = nodes.pressure_bar[start], np.maximum(nodes.pressure_bar[end], 0.1)
    white = [np.hypot(nodes.noise_bar / np.sqrt(nodes.count[at]), ripple) for at in (start, end)]
    noise = np.hypot(white[0] / low, white[1] / high)
    steep = (np.log(high / low) - STEEP_SIGMAS * noise) / turned
    # ``start`` rises, and from the last of one rise to the first of the next pressure was low.
    lowest = np.minimum.reduceat(nodes.pressure_bar, start)[:-1]
    first = np.concatenate([[0], np.flatnonzero(lowest < NEXT_RISE_BAR) + 1])
    return np.asarray(np.maximum.reduceat(steep, first), np.float64)


def _weighted_quantile(values: FloatArray, weight: FloatArray, share: float) -> float:
    order = np.argsort(values)
    sums = np.cumsum(weight[order])
    return float(values[order][int(np.searchsorted(sums, share * sums[-1]))])
