"""How does a figure go onto paper? The same curves as on the screen, as SVG, without a screen.

Only what both a browser and Qt's SVG reader understand: shapes and text with plain attributes.
"""

from __future__ import annotations

import math
from xml.etree import ElementTree as ET

import numpy as np

from strokewise.gui.models.figures.figure import Axis, Curve, Figure, FloatArray, Line
from strokewise.gui.models.palette import LIGHT, faded
from strokewise.gui.sayings.saying import signed

SVG_PAPER = "#FFFFFF"
SVG_GRID = "#DDDDDD"
DRAWING_WIDTH, FIGURE_HEIGHT = 680, 235
FIGURE_LEFT, FIGURE_RIGHT, FIGURE_TOP, FIGURE_BOTTOM = 62, 12, 14, 44
FONT = "Helvetica, Arial, 'DejaVu Sans', sans-serif"
FONT_SIZE = 12
MARGIN_SHARE = 0.04  # free space above and below the curves
DOT_RADIUS = 1.3
MOST_CURVE_POINTS = 2000  # of one curve; a page is not finer than that
TICKS = 7
DASHES = {"line": "", "dashes": "7 4", "dots": "1.5 3.5", "points": ""}


def figure_svg(figure: Figure, *, width: int = DRAWING_WIDTH, height: int = FIGURE_HEIGHT) -> str:
    """Return the figure as one SVG element; where there are no curves, the reason in its place.

    The lower figure, where there is one, is a figure of its own.
    """
    return as_text(figure_element(figure, width, height))


def figure_element(figure: Figure, width: int, height: int) -> ET.Element:
    """Return the figure as a drawing that words may be added to."""
    svg = new_svg(width, height)
    if figure.empty or not figure.curves:
        text(svg, width / 2, height / 2, figure.empty or "nothing to draw", "middle")
        return svg
    plot = _Plot(figure, width, height)
    plot.draw_axes(svg)
    for curve in figure.curves:
        plot.draw_curve(svg, curve)
    for number, line in enumerate(figure.lines):
        plot.draw_line(svg, line, number)
    return svg


def new_svg(width: float, height: float) -> ET.Element:
    """Return an empty drawing on white paper."""
    svg = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": number(width),
            "height": number(height),
            "viewBox": f"0 0 {number(width)} {number(height)}",
            "font-family": FONT,
            "font-size": str(FONT_SIZE),
        },
    )
    shape(svg, "rect", x=0, y=0, width=width, height=height, fill=SVG_PAPER)
    return svg


def shape(parent: ET.Element, kind: str, **attributes: float | str) -> ET.Element:
    """Add a shape; an underscore in a name stands for the dash."""
    plain = {
        name.replace("_", "-"): value if isinstance(value, str) else number(value)
        for name, value in attributes.items()
    }
    return ET.SubElement(parent, kind, plain)


def text(
    parent: ET.Element,
    x: float,
    y: float,
    words: str,
    anchor: str = "start",
    **attributes: float | str,
) -> ET.Element:
    """Add a line of text; ``anchor`` is start, middle or end."""
    element = shape(
        parent, "text", x=x, y=y, text_anchor=anchor, **({"fill": LIGHT.ink} | attributes)
    )
    element.text = words
    return element


def as_text(svg: ET.Element) -> str:
    """Return the drawing as text, everything in it escaped."""
    return ET.tostring(svg, encoding="unicode")


def number(value: float) -> str:
    """Return a coordinate to a hundredth."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def ticks(low: float, high: float, most: int = TICKS) -> list[float]:
    """Return round numbers between two ends, no more than ``most``."""
    span = high - low
    if not (math.isfinite(span) and span > 0):
        return [low]
    step = 10.0 ** math.floor(math.log10(span / most))
    step *= next(factor for factor in (1, 2, 2.5, 5, 10, 20) if span / (step * factor) <= most)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [i * step + 0.0 for i in range(first, last + 1)]


def log_ticks(low: float, high: float) -> list[float]:
    """Return 1, 2 and 5 of every decade between two ends."""
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    found = [factor * 10.0**decade for decade in decades for factor in (1, 2, 5)]
    return [value for value in found if low <= value <= high]


class _Scale:
    """Turns the values of one axis into places on the paper."""

    def __init__(self, axis: Axis, low: float, high: float, start: float, end: float) -> None:
        self.axis, self.low, self.high = axis, low, high
        self._start, self._end = start, end

    def places(self, values: FloatArray) -> FloatArray:
        low, high = self.low, self.high
        if self.axis.log:
            values = np.log(np.where(values > 0, values, np.nan))
            low, high = math.log(low), math.log(high)
        return np.asarray(self._start + (values - low) / (high - low) * (self._end - self._start))

    def place(self, value: float) -> float:
        return float(self.places(np.array([value]))[0])

    @property
    def ticks(self) -> list[float]:
        if self.axis.log:
            return log_ticks(self.low, self.high)
        return ticks(self.low, self.high)


class _Plot:
    """The field that the curves lie in."""

    def __init__(self, figure: Figure, width: float, height: float) -> None:
        xs = np.concatenate([curve.x for curve in figure.curves])
        ys = np.concatenate([curve.y for curve in figure.curves])
        good = np.isfinite(xs) & np.isfinite(ys)
        self.right, self.bottom = width - FIGURE_RIGHT, height - FIGURE_BOTTOM
        self.x = _Scale(
            figure.x_axis, *_range(xs[good], figure.x_axis, 0.0), FIGURE_LEFT, self.right
        )
        y_low, y_high = _range(ys[good], figure.y_axis, MARGIN_SHARE)
        self.y = _Scale(figure.y_axis, y_low, y_high, self.bottom, FIGURE_TOP)

    def draw_axes(self, svg: ET.Element) -> None:
        for value in self.x.ticks:
            at = self.x.place(value)
            shape(svg, "line", x1=at, y1=FIGURE_TOP, x2=at, y2=self.bottom, stroke=SVG_GRID)
            text(svg, at, self.bottom + 15, signed(f"{value:g}"), "middle")
        for value in self.y.ticks:
            at = self.y.place(value)
            shape(svg, "line", x1=FIGURE_LEFT, y1=at, x2=self.right, y2=at, stroke=SVG_GRID)
            text(svg, FIGURE_LEFT - 6, at + 4, signed(f"{value:g}"), "end")
        shape(
            svg,
            "rect",
            x=FIGURE_LEFT,
            y=FIGURE_TOP,
            width=self.right - FIGURE_LEFT,
            height=self.bottom - FIGURE_TOP,
            fill="none",
            stroke=LIGHT.ink,
        )
        text(svg, (FIGURE_LEFT + self.right) / 2, self.bottom + 34, self.x.axis.title, "middle")
        middle = (FIGURE_TOP + self.bottom) / 2
        turned = f"rotate(-90 14 {number(middle)})"
        text(svg, 14, middle, self.y.axis.title, "middle", transform=turned)

    def draw_curve(self, svg: ET.Element, curve: Curve) -> None:
        step = max(1, math.ceil(len(curve.x) / MOST_CURVE_POINTS))
        x = self.x.places(curve.x[::step])
        y = self.y.places(curve.y[::step])
        colour = faded(LIGHT.curves[curve.colour % len(LIGHT.curves)], SVG_PAPER, curve.weight)
        good = np.isfinite(x) & np.isfinite(y)
        if curve.dash == "points":
            group = shape(svg, "g", fill=colour)
            for cx, cy in zip(x[good].tolist(), y[good].tolist(), strict=True):
                shape(group, "circle", cx=cx, cy=cy, r=DOT_RADIUS)
            return
        for run in np.split(np.arange(len(x)), np.flatnonzero(~good)):
            run = run[good[run]]
            if len(run) > 1:
                pairs = zip(x[run].tolist(), y[run].tolist(), strict=True)
                points = " ".join(f"{number(px)},{number(py)}" for px, py in pairs)
                attributes = {"stroke-dasharray": DASHES[curve.dash]} if DASHES[curve.dash] else {}
                shape(
                    svg,
                    "polyline",
                    points=points,
                    fill="none",
                    stroke=colour,
                    stroke_width=1.2,
                    **attributes,
                )

    def draw_line(self, svg: ET.Element, line: Line, count: int) -> None:
        at = self.x.place(line.x)
        if not FIGURE_LEFT - 0.5 <= at <= self.right + 0.5:
            return
        shape(
            svg,
            "line",
            x1=at,
            y1=FIGURE_TOP,
            x2=at,
            y2=self.bottom,
            stroke=LIGHT.ink,
            stroke_width=1,
            stroke_dasharray="4 3",
        )
        near_right = at > self.right - 70
        # One below the other, so that three lines close together can still be read.
        text(
            svg,
            at - 4 if near_right else at + 4,
            FIGURE_TOP + 13 + 14 * (count % 4),
            line.label,
            "end" if near_right else "start",
        )


def _range(values: FloatArray, axis: Axis, margin: float) -> tuple[float, float]:
    """Return the ends of an axis around the values."""
    if axis.log:
        values = values[values > 0]
    if not len(values):
        return (0.5, 2.0) if axis.log else (0.0, 1.0)
    low, high = float(values.min()), float(values.max())
    if axis.log:
        factor = (high / low) ** margin if high > low else 1.1
        return low / factor, high * factor
    room = (high - low) * margin if high > low else max(abs(high), 1.0) * 0.05
    return low - room, high + room
