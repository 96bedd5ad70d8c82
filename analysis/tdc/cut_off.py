"""Where must TDC lie if the sensor stood at its end there? Compressions cut off near their feet.

A sensor that ends just above the atmosphere shows no peak, but every stretch at its end was passed
with the cylinder shut and the charge above that pressure. The charge only gets less meanwhile, and
comes back to the end's pressure in no more space than it had on its way up: TDC lies no earlier
than a stretch's middle, whatever has leaked. How much later, the valves bound, and how far air can
be squeezed so early.
"""

from __future__ import annotations

import numpy as np

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.estimate import Interval
from strokewise.analysis.median import median_on_circle
from strokewise.analysis.trace.at_end import AtEnd
from strokewise.analysis.trace.oddities import STEEPEST_RATIO
from strokewise.analysis.trace.plateau import PLATEAU_DEG
from strokewise.analysis.trade import AIR_GAMMA

SHUT_DEG = 140.0
"""A cylinder is shut for no more than this before and after TDC (common practice, no source)."""

DRAWN_IN_BAR = 1.1
"""No cylinder draws in more than the air outside; a sensor's zero may be some hundredths
off."""

WARMED_DEG = 8.0
"""Taking heat from a hot wall, a charge meets the end's pressure again so much later, near its
feet, and the middle comes half as much late; noise has the rest."""


def squeezed_within_deg(end_bar: float) -> float:
    """Return how far from TDC air drawn in can be squeezed to a pressure, at the most.

    Without loss of heat or mass it takes the least way, most of all in an engine of the highest
    ratio and with an endless rod.
    """
    smallest = 1.0 / STEEPEST_RATIO
    space = (DRAWN_IN_BAR / max(end_bar, DRAWN_IN_BAR)) ** (1.0 / AIR_GAMMA)
    stroke = (space - smallest) / (1.0 - smallest)
    return min(float(np.degrees(np.arccos(1.0 - 2.0 * max(stroke, 0.0)))), SHUT_DEG)


def tdc_while_shut(stretches: tuple[AtEnd, ...], within_deg: float = SHUT_DEG) -> Interval | None:
    """Return TDC in [0, 360) as all stretches allow it; None where there are none.

    Stretches that contradict each other are not weighed: the interval then holds what each of them
    allows last.

    Parameters
    ----------
    within_deg : float
        The sensor's end is met no further than this from TDC, see :func:`squeezed_within_deg`.
    """
    long = [s for s in stretches if s.high_deg - s.low_deg >= PLATEAU_DEG]
    if not long:
        return None
    about = median_on_circle([0.5 * (s.low_deg + s.high_deg) for s in long])
    low, high = about - 180.0, about + 180.0
    for stretch in long:
        least, most = _allowed(stretch, within_deg)
        turn = nearest(0.5 * (least + most) - about, 360.0) + about - 0.5 * (least + most)
        low, high = max(low, least + turn), min(high, most + turn)
    low, high = min(low, high), max(low, high)
    value = 0.5 * (low + high)
    return Interval(value, low, high).shifted(value % 360.0 - value)


def _allowed(stretch: AtEnd, within_deg: float) -> tuple[float, float]:
    """Return the first and last angle at which TDC may lie by one stretch."""
    least, most = stretch.high_deg - within_deg, stretch.low_deg + within_deg
    if stretch.came and abs(stretch.until_deg - stretch.begin_deg) >= PLATEAU_DEG:
        middle = 0.5 * (stretch.begin_deg + stretch.until_deg)
        if stretch.until_deg > stretch.begin_deg:
            least = max(least, middle - WARMED_DEG)
        else:
            most = min(most, middle + WARMED_DEG)
    return least, most
