"""Where is the piston, and how does the cylinder's volume follow the crank?

Slider-crank with pin offset, angles from the piston's highest place::

    s = a cos θ + √(l² − (a sin θ − d)²),  d = −pin offset,  TDC at θ = asin(d / (l + a))

with crank radius a and rod l. Positive pin offset is towards the major thrust side.
"""

from __future__ import annotations

from math import asin, cos, pi, sin, sqrt

from strokewise.daq.bench.engine.compiled import inlined


def crank_radius(stroke: float, rod: float, pin_offset: float) -> float:
    """Return the crank radius that gives ``stroke`` = √((l+a)²−d²) − √((l−a)²−d²).

    Any one unit of length. With s the stroke: a = s/2 · √((4l² − 4d² − s²) / (4l² − s²)).
    """
    four_l2 = 4.0 * rod**2
    return 0.5 * stroke * sqrt((four_l2 - 4.0 * pin_offset**2 - stroke**2) / (four_l2 - stroke**2))


def tdc_rad(radius: float, rod: float, pin_offset: float) -> float:
    """Return the crank angle of TDC from the place where crank pin and bore axis align, rad."""
    return asin(-pin_offset / (rod + radius))


def bdc_after_tdc_rad(radius: float, rod: float, pin_offset: float) -> float:
    """Return how far BDC comes after TDC, rad; not π with a pin offset."""
    bdc = pi + asin(-pin_offset / (rod - radius))
    return bdc - tdc_rad(radius, rod, pin_offset)


def piston(
    after_tdc_rad: float, radius: float, rod: float, pin_offset: float, tdc: float
) -> tuple[float, float, float]:
    """Return how far the piston is below TDC, and the first and second derivative per radian."""
    d = -pin_offset
    angle = after_tdc_rad + tdc
    sine, cosine = radius * sin(angle), radius * cos(angle)
    b = sine - d
    reach = sqrt(rod * rod - b * b)
    highest = sqrt((rod + radius) ** 2 - d * d)
    slope = b * cosine / reach
    return (
        highest - cosine - reach,
        sine + slope,
        cosine + (cosine * cosine - b * sine) / reach + slope * slope / reach,
    )


piston_inlined = inlined(piston)
"""For callers that are compiled; one that is not would compile it alone, most of a second."""
