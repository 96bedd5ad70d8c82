"""Roughly where is TDC, from the humps alone? Enough to tell the turns apart before anything is
fitted."""

from __future__ import annotations

import numpy as np

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.estimate import Interval
from strokewise.analysis.median import median, median_on_circle
from strokewise.analysis.tdc.coarse import SLOW_PEAK_RPM
from strokewise.analysis.tdc.cut_off import SHUT_DEG, squeezed_within_deg, tdc_while_shut
from strokewise.analysis.trace.at_end import stretches_at_end
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Hump, peaks_by_side
from strokewise.analysis.trace.plateau import cut_off, end_met_bar
from strokewise.analysis.trade import DEG_S_PER_RPM

LAG_FAST_DEG, LAG_FAST_SPREAD_DEG = 3.0, 30.0
"""At starter speed the peak comes so much before TDC; with a burnt valve up to 20° before."""

LAG_SLOW_DEG, LAG_SLOW_SPREAD_DEG = 18.0, 40.0
"""Turned by hand: 3° to 55°."""

BOTH_SIDES_SPREAD_DEG = 12.0
"""The middle of peaks met from the two sides needs no lag, only as much leaking each way."""

ROUGH_SCATTERS = 2.5
"""Tops cut off in noise scatter; the answer is no surer than so many times that."""

PLATEAU_SPREAD_DEG = 25.0
"""A top that is cut off tells by where it is, and no better than this."""

BURNING_LATE_DEG, BURNING_SPREAD_DEG = 10.0, 30.0
"""With the charge burning the middle of the flanks comes some 4° (a weak charge) to 16° late."""


def rough_tdc(nodes: Nodes, humps: tuple[Hump, ...], *, calibrated: bool = True) -> Interval:
    """Return TDC in [0, 360) from the peaks of the humps, with a wide honest interval.

    Parameters
    ----------
    calibrated : bool
        Whether the sensor's bar are bar: how far up its end lies then tells how far off TDC is.
    """
    if (bounds := _by_its_end(nodes, calibrated)) is not None:
        return bounds
    usable = [h for h in humps if h.moving] or list(humps)
    # Where compressions are cut off, what stays under the sensor's end is leaking back, say.
    usable = [h for h in usable if cut_off(nodes, h)] or usable
    sides = peaks_by_side(usable)
    scatter = max(
        _scatter_deg([h.angle_deg for h in usable if h.direction == way], peak)
        for way, peak in sides.items()
    )
    plateau = any(cut_off(nodes, h) for h in usable)
    if len(sides) == 2:
        centre = sides[1] + 0.5 * nearest(sides[-1] - sides[1], 360.0)
        spread = PLATEAU_SPREAD_DEG if plateau else BOTH_SIDES_SPREAD_DEG
    else:
        ((way, peak),) = sides.items()
        speeds = [abs(float(nodes.speed_deg_s[h.at])) / DEG_S_PER_RPM for h in usable]
        slow = median(speeds) < SLOW_PEAK_RPM
        lag, spread = (
            (LAG_SLOW_DEG, LAG_SLOW_SPREAD_DEG) if slow else (LAG_FAST_DEG, LAG_FAST_SPREAD_DEG)
        )
        centre = peak + way * lag
    value = float(centre % 360.0)
    if plateau:
        spread = max(spread, ROUGH_SCATTERS * scatter)
    return Interval(value, value - spread, value + spread)


def _by_its_end(nodes: Nodes, calibrated: bool) -> Interval | None:
    """Return TDC by where the sensor stood at its end; None where it did not, or hardly.

    The peaks of what it shows lie anywhere on its end. And by hand a charge leaks while it is
    squeezed: no peak is near TDC, or just after it.
    """
    end_bar = end_met_bar(nodes)
    if not np.isfinite(end_bar):
        return None
    within_deg = squeezed_within_deg(end_bar) if calibrated else SHUT_DEG
    bounds = tdc_while_shut(stretches_at_end(nodes), within_deg)
    if bounds is None:
        return None
    half = max(bounds.half_width, PLATEAU_SPREAD_DEG)
    return Interval(bounds.value, bounds.value - half, bounds.value + half)


def rough_tdc_burning(humps: tuple[Hump, ...]) -> Interval:
    """Return TDC in [0, 360) from the middles of compressions whose charges burned.

    Burning holds pressure up on the way down, and the middle of the flanks comes late.
    """
    way = 1 if sum(h.direction for h in humps) >= 0 else -1
    middle = median_on_circle([h.angle_deg for h in humps])
    value = float((middle - way * BURNING_LATE_DEG) % 360.0)
    return Interval(value, value - BURNING_SPREAD_DEG, value + BURNING_SPREAD_DEG)


def _scatter_deg(angles_deg: list[float], middle_deg: float) -> float:
    return median([abs(nearest(a - middle_deg, 360.0)) for a in angles_deg])
