"""Where does a mark stand with the engine at its true TDC? On the rim at its pointer, to scale."""

from __future__ import annotations

from dataclasses import dataclass
from math import radians

from strokewise.analysis.estimate import Interval
from strokewise.gui.drawings.figure_svg import as_text, new_svg, shape, text
from strokewise.gui.drawings.rim_svg import (
    LEAST_SEEN_MM,
    MOST_SEEN_DEG,
    RIM_SEEN_PX,
    RIM_WIDTH,
    RIM_X,
    TICK_LONG,
    Rim,
    to_scale_words,
    way_of,
)
from strokewise.gui.models.palette import LIGHT

MARK_FIRST_HEIGHT = 198
"""Without the names below it."""
MARK_SEEN_TIMES = 1.3
"""So many times the way of the mark further off is seen either way of the pointer."""
NOMINAL_RADIUS_MM = 80.0
"""Of a pulley whose diameter nobody said: the angles are to scale all the same."""
SURE_BAND_PX, SURE_WIDE = -TICK_LONG - 6.0, 4.0
"""Where the band of 95 % runs below the mark, and its width."""
NAMES_X, NAMES_Y, NAMES_LINE, NAME_SAMPLE, NAME_DROP = 14.0, 172.0, 19.0, 22.0, 4.0
MOST_NAME = 28
"""Letters of a mark's name that have room."""


@dataclass(frozen=True, slots=True)
class MarkOnRim:
    """A mark of the pulley, measured.

    Attributes
    ----------
    after_tdc : Interval
        Crank degrees after TDC at which it meets its pointer.
    stated_deg : float
        The same as its figure says.
    radius_mm : float or None
        Of the pulley.
    late, on_rim : str
        How far it is off in words, as an angle and along the rim; the latter empty without a
        radius.
    """

    name: str
    after_tdc: Interval
    stated_deg: float
    radius_mm: float | None
    rotation: str | None
    late: str
    on_rim: str

    @property
    def seen(self) -> bool:
        """Whether mark and pointer can be seen at once."""
        return max(abs(self.after_tdc.value), abs(self.stated_deg)) <= MOST_SEEN_DEG


def mark_svg(mark: MarkOnRim) -> str | None:
    """Return the drawing; None where mark and pointer are too far apart to be seen at once.

    The crank stands at true TDC, so the place of TDC on the rim is at the pointer. A mark that is
    late is still to come: turning clockwise the rim moves to the right, so it stands to the left.
    """
    if not mark.seen:
        return None
    radius_mm = mark.radius_mm or NOMINAL_RADIUS_MM
    furthest = max(map(abs, (mark.after_tdc.low, mark.after_tdc.high, mark.stated_deg)))
    px_mm = RIM_SEEN_PX / max(MARK_SEEN_TIMES * radians(furthest) * radius_mm, LEAST_SEEN_MM)
    names, way = _names(mark), way_of(mark.rotation)
    high = MARK_FIRST_HEIGHT + len(names) * NAMES_LINE
    svg = new_svg(RIM_WIDTH, high)
    rim = Rim(svg, radius_mm, px_mm)
    rim.draw()
    rim.draw_turning(mark.rotation)
    rim.draw_mark(0.0, stroke=LIGHT.ink)
    if mark.stated_deg:
        rim.draw_mark(-way * mark.stated_deg, stroke=LIGHT.warning, stroke_dasharray="4 3")
    there = -way * mark.after_tdc.value
    rim.draw_mark(there, stroke=LIGHT.target)
    ends = (-way * mark.after_tdc.low, -way * mark.after_tdc.high)
    rim.draw_along(*ends, SURE_BAND_PX, stroke=LIGHT.target, stroke_width=SURE_WIDE)
    text(svg, RIM_X, 26, "The engine stands at true TDC", "middle")
    for place, (colour, words) in enumerate(names):
        y = NAMES_Y + place * NAMES_LINE
        text(svg, NAMES_X + NAME_SAMPLE + 8, y, words, fill=colour)
        if words == mark.on_rim:
            continue
        dash = {"stroke_dasharray": "4 3"} if colour == LIGHT.warning else {}
        line = {"x1": NAMES_X, "x2": NAMES_X + NAME_SAMPLE, "y1": y - NAME_DROP}
        shape(svg, "line", **line, y2=y - NAME_DROP, stroke=colour, stroke_width=4.0, **dash)
    text(svg, NAMES_X, high - 10, to_scale_words(mark.rotation), fill=LIGHT.faint)
    return as_text(svg)


def _names(mark: MarkOnRim) -> list[tuple[str, str]]:
    name = mark.name if len(mark.name) <= MOST_NAME else f"{mark.name[: MOST_NAME - 1]}…"
    named = [(LIGHT.target, f"{name}: {mark.late}")]
    if mark.on_rim:
        named.append((LIGHT.target, mark.on_rim))
    if mark.stated_deg:
        side = "after" if mark.stated_deg > 0 else "before"
        stated = f"where it would stand if right: {abs(mark.stated_deg):g}° {side} TDC"
        return [*named, (LIGHT.warning, stated)]
    return [*named, (LIGHT.ink, "where it would stand if right: at TDC")]
