"""Where on the rim is it? The pulley's rim at its pointer, with both marks to scale."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any
from xml.etree import ElementTree as ET

from strokewise.gui.drawings.figure_svg import as_text, new_svg, shape, text
from strokewise.gui.models.palette import LIGHT

RIM_WIDTH, RIM_HEIGHT = 440, 190
RIM_X, RIM_TOP, RIM_SEEN_PX = 220.0, 76.0, 170.0
"""The pointer's place, the rim's highest point, and how much of it is seen either way."""
SEEN_TIMES, LEAST_SEEN_MM = 2.4, 10.0
"""So many times the way between the marks is seen either way of the pointer, and never less."""
MOST_SEEN_DEG = 40.0
"""Marks further apart than this are not seen at one pointer."""
TICK_LONG, RIM_STEPS = 22.0, 60


def rim_svg(figures: Mapping[str, Any], rotation: str | None) -> str | None:
    """Return the drawing from the answer of ``strokewise static``; None where it has none.

    The crank stands where it is to be stopped: the timing mark at the pointer, the TDC mark still
    to come. Turning clockwise the rim moves to the right past the pointer above it, so what is
    still to come stands to the left.
    """
    advance = figures.get("advance")
    if advance is None or advance["rim_along"] is None:
        return None
    before_deg, apart_mm = float(advance["before_tdc"]), float(advance["rim_along"].split()[0])
    if not 0 < abs(before_deg) <= MOST_SEEN_DEG or not apart_mm:
        return None
    radius_mm = abs(apart_mm / math.radians(before_deg))
    px_mm = RIM_SEEN_PX / max(SEEN_TIMES * abs(apart_mm), LEAST_SEEN_MM)
    way = -1 if rotation == "counter-clockwise" else 1
    tdc_deg = -way * before_deg
    svg = new_svg(RIM_WIDTH, RIM_HEIGHT)
    seen_deg = math.degrees(min(RIM_SEEN_PX / px_mm / radius_mm, math.pi / 3))
    steps = [seen_deg * (2 * i / RIM_STEPS - 1) for i in range(RIM_STEPS + 1)]
    points = [_at(angle, radius_mm, px_mm) for angle in steps]
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    shape(svg, "polyline", points=path, fill="none", stroke=LIGHT.ink, stroke_width=2.0)
    _pointer(svg)
    _mark(svg, 0.0, radius_mm, px_mm, LIGHT.target)
    _mark(svg, tdc_deg, radius_mm, px_mm, LIGHT.ink)
    side = "before" if before_deg > 0 else "after"
    text(svg, RIM_X, RIM_TOP + 44, f"{abs(before_deg):g}° {side}", "middle", fill=LIGHT.target)
    x, y = _at(tdc_deg, radius_mm, px_mm)
    text(svg, x, y + 44, "TDC", "middle", fill=LIGHT.ink)
    text(svg, (x + RIM_X) / 2, 18, f"{abs(apart_mm):.1f} mm along the rim", "middle")
    known = {"clockwise": "turning clockwise", "counter-clockwise": "turning counter-clockwise"}
    turning = known.get(rotation or "", "mirrored where it turns counter-clockwise")
    words = f"To scale, facing the pulley, {turning}."
    text(svg, RIM_X, RIM_HEIGHT - 12, words, "middle", fill=LIGHT.faint)
    return as_text(svg)


def _at(
    angle_deg: float, radius_mm: float, px_mm: float, out_px: float = 0.0
) -> tuple[float, float]:
    """Return a place on the rim, clockwise from the pointer."""
    angle, radius = math.radians(angle_deg), radius_mm * px_mm
    reach = radius + out_px
    return RIM_X + reach * math.sin(angle), RIM_TOP + radius - reach * math.cos(angle)


def _mark(svg: ET.Element, angle_deg: float, radius_mm: float, px_mm: float, colour: str) -> None:
    (x1, y1), (x2, y2) = (_at(angle_deg, radius_mm, px_mm, out) for out in (0.0, -TICK_LONG))
    shape(svg, "line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=colour, stroke_width=4.0)


def _pointer(svg: ET.Element) -> None:
    tip = RIM_TOP - 4
    corners = ((RIM_X, tip), (RIM_X - 8, tip - 26), (RIM_X + 8, tip - 26))
    shape(svg, "polygon", points=" ".join(f"{x:.1f},{y:.1f}" for x, y in corners), fill=LIGHT.ink)
