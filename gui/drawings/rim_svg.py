"""Where on the rim is it? The pulley's rim at its pointer, with both marks to scale."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
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
ARROW_SHARES, ARROW_OUT_PX, ARROW_HEAD_PX = (0.5, 0.85), 14.0, 12.0
"""The arrow of turning: from where to where of what is seen, how far outside, and its head."""


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
    svg = new_svg(RIM_WIDTH, RIM_HEIGHT)
    rim = Rim(svg, radius_mm, px_mm)
    tdc_deg = -way_of(rotation) * before_deg
    rim.draw()
    rim.draw_turning(rotation)
    rim.draw_mark(0.0, stroke=LIGHT.target)
    rim.draw_mark(tdc_deg, stroke=LIGHT.ink)
    side = "before" if before_deg > 0 else "after"
    text(svg, RIM_X, RIM_TOP + 44, f"{abs(before_deg):g}° {side}", "middle", fill=LIGHT.target)
    x, y = rim.at(tdc_deg)
    text(svg, x, y + 44, "TDC", "middle", fill=LIGHT.ink)
    text(svg, (x + RIM_X) / 2, 18, f"{abs(apart_mm):.1f} mm along the rim", "middle")
    text(svg, RIM_X, RIM_HEIGHT - 12, to_scale_words(rotation), "middle", fill=LIGHT.faint)
    return as_text(svg)


def way_of(rotation: str | None) -> int:
    """Return 1 where the rim turns clockwise, and where nobody said; -1 the other way."""
    return -1 if rotation == "counter-clockwise" else 1


def to_scale_words(rotation: str | None) -> str:
    """Return from where a rim is seen, and which way it turns."""
    known = {"clockwise": "turning clockwise", "counter-clockwise": "turning counter-clockwise"}
    turning = known.get(rotation or "", "mirrored where it turns counter-clockwise")
    return f"To scale, facing the pulley, {turning}."


@dataclass(frozen=True, slots=True)
class Rim:
    """The piece of a rim under its pointer; angles are clockwise from the pointer."""

    svg: ET.Element
    radius_mm: float
    px_mm: float

    def at(self, angle_deg: float, out_px: float = 0.0) -> tuple[float, float]:
        """Return a place on the rim, or so far outside it."""
        angle, radius = math.radians(angle_deg), self.radius_mm * self.px_mm
        reach = radius + out_px
        return RIM_X + reach * math.sin(angle), RIM_TOP + radius - reach * math.cos(angle)

    def draw(self) -> None:
        """Draw the rim and the pointer above it."""
        seen_deg = math.degrees(min(RIM_SEEN_PX / self.px_mm / self.radius_mm, math.pi / 3))
        self.draw_along(-seen_deg, seen_deg, stroke=LIGHT.ink, stroke_width=2.0)
        tip = RIM_TOP - 4
        corners = ((RIM_X, tip), (RIM_X - 8, tip - 26), (RIM_X + 8, tip - 26))
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
        shape(self.svg, "polygon", points=points, fill=LIGHT.ink)

    def draw_turning(self, rotation: str | None) -> None:
        """Draw an arrow outside the rim that goes the way it turns, where that is known."""
        if rotation is None:
            return
        per_deg = math.radians(self.radius_mm * self.px_mm)
        way = way_of(rotation)
        start, end = (way * share * RIM_SEEN_PX / per_deg for share in ARROW_SHARES)
        self.draw_along(start, end, ARROW_OUT_PX, stroke=LIGHT.faint, stroke_width=1.5)
        tip = end + way * ARROW_HEAD_PX / per_deg
        corners = (self.at(tip, ARROW_OUT_PX), *(self.at(end, ARROW_OUT_PX + k) for k in (-5, 5)))
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
        shape(self.svg, "polygon", points=points, fill=LIGHT.faint)

    def draw_along(
        self, from_deg: float, to_deg: float, out_px: float = 0.0, **style: float | str
    ) -> None:
        """Draw along the rim from one angle to another."""
        steps = [from_deg + (to_deg - from_deg) * i / RIM_STEPS for i in range(RIM_STEPS + 1)]
        points = [self.at(angle, out_px) for angle in steps]
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        shape(self.svg, "polyline", points=path, fill="none", **style)

    def draw_mark(self, angle_deg: float, **style: float | str) -> None:
        """Draw a mark, inwards from the rim."""
        (x1, y1), (x2, y2) = (self.at(angle_deg, out) for out in (0.0, -TICK_LONG))
        shape(self.svg, "line", x1=x1, y1=y1, x2=x2, y2=y2, **{"stroke_width": 4.0} | style)
