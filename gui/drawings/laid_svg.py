"""How do two compressions differ? Laid over each other about their own TDC, each with its name."""

from __future__ import annotations

from collections.abc import Sequence

from strokewise.analysis.compression.compression_curve import CompressionCurve
from strokewise.gui.drawings.figure_svg import (
    DASHES,
    FIGURE_LEFT,
    as_text,
    figure_element,
    number,
    shape,
    text,
)
from strokewise.gui.models.figures.figure import Axis, Curve, Dash, Figure, Line
from strokewise.gui.models.palette import LIGHT

LAID_WIDTH, LAID_HEIGHT = 440, 270
"""Narrower than other figures: its words are read beside the engine."""
NAME_LINE, SAMPLE_LONG, SAMPLE_UP = 18.0, 34.0, 4.0
"""Room for a name below the figure, and the piece of its line before it."""
DASHED: tuple[Dash, Dash] = ("line", "dashes")


def laid_svg(laid: Sequence[CompressionCurve]) -> str | None:
    """Return the drawing of two compressions; None where there are no two."""
    if len(laid) != len(DASHED):
        return None
    curves = tuple(
        Curve(name_of(one), one.after_tdc_deg, one.pressure_bar, colour=place, dash=DASHED[place])
        for place, one in enumerate(laid)
    )
    figure = Figure(
        "",
        Axis("crank angle after TDC", "°"),
        Axis("absolute pressure", "bar", decimals=2),
        curves,
        (Line(0.0, "TDC"),),
    )
    svg = figure_element(figure, LAID_WIDTH, LAID_HEIGHT)
    high = LAID_HEIGHT + NAME_LINE * len(laid) + SAMPLE_UP
    svg.set("height", number(high))
    svg.set("viewBox", f"0 0 {LAID_WIDTH} {number(high)}")
    svg[0].set("height", number(high))  # the paper
    for place, one in enumerate(laid):
        y, colour = LAID_HEIGHT + NAME_LINE * (place + 0.6), LIGHT.curves[place]
        dash = {"stroke_dasharray": DASHES[DASHED[place]]} if DASHES[DASHED[place]] else {}
        ends = {"x1": FIGURE_LEFT, "y1": y - SAMPLE_UP, "x2": FIGURE_LEFT + SAMPLE_LONG}
        shape(svg, "line", **ends, y2=y - SAMPLE_UP, stroke=colour, stroke_width=2.5, **dash)
        text(svg, FIGURE_LEFT + SAMPLE_LONG + 8, y, name_of(one), fill=colour)
    return as_text(svg)


def name_of(one: CompressionCurve) -> str:
    """Return what a compression is called, with its peak and speed."""
    return (
        f"Cylinder {one.cylinder}, compression {one.number}:"
        f" {one.peak_bar:.1f} bar at {one.speed_rpm:.0f} rev/min"
    )
