"""How does a worksheet go onto paper? Pages to measure and write on, and the answers apart.

Each page is one SVG in millimetres, so that file and printer get the very same.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

import numpy as np

from strokewise.gui.drawings.figure_svg import as_text, new_svg, number, shape, text
from strokewise.gui.models.classroom.sheet_tasks import SheetTask, tasks_of_all, tasks_of_one
from strokewise.gui.models.classroom.worksheet import Worksheet, label_step
from strokewise.gui.sayings.saying import signed

PAGE_WIDE_MM, PAGE_HIGH_MM, EDGE_MM = 297.0, 210.0, 14.0
PLOT_LEFT_MM, PLOT_TOP_MM = 32.0, 34.0
PLOT_WIDE_MM = PAGE_WIDE_MM - PLOT_LEFT_MM - EDGE_MM
BAND_MM = 12.0
"""Height of the band for the strokes."""
TYPE_MM, SMALL_MM = 4.4, 3.6
LINE_TO_WRITE_MM, LINE_OF_TEXT_MM = 8.5, 5.6
LETTERS_A_LINE = 122
TDC_WIDE_MM = 9.0
"""What the word at a TDC takes beside its line."""
FINE, BOLD, TRACE = "#D6D6D6", "#8C8C8C", "#005A8C"
LEAST_FINE_MM = 1.2
"""Lines of the grid that stand nearer can no longer be counted."""
ANGLE_STEPS = ((10, 1), (20, 2), (30, 5), (60, 5), (90, 10), (180, 10), (360, 30))
MOST_ANGLES = 16


@dataclass(frozen=True, slots=True)
class RuledAxis:
    """An axis that begins and ends on a labelled line of its grid.

    Attributes
    ----------
    bold, fine : float
        From one labelled line to the next, and from one line of the grid to the next.
    start_mm, end_mm : float
        Where ``low`` and ``high`` stand on the page.
    """

    low: float
    high: float
    bold: float
    fine: float
    start_mm: float
    end_mm: float

    def place(self, value: float) -> float:
        """Return where a value stands on the page."""
        share = (value - self.low) / (self.high - self.low)
        return self.start_mm + share * (self.end_mm - self.start_mm)

    @property
    def labels(self) -> tuple[tuple[float, str], ...]:
        """Each labelled value with its label: the value itself, never one rounded to it."""
        decimals = max(0, -math.floor(math.log10(self.bold) + 1e-9))
        return tuple((each, signed(f"{each:.{decimals}f}")) for each in self._every(self.bold))

    @property
    def lines(self) -> tuple[float, ...]:
        """Each line of the grid."""
        return self._every(self.fine)

    def _every(self, step: float) -> tuple[float, ...]:
        count = math.floor((self.high - self.low) / step + 1e-9)
        return tuple(self.low + i * step for i in range(count + 1))


def pressure_axis(low: float, high: float, start_mm: float, end_mm: float) -> RuledAxis:
    """Return an axis of 1, 2 or 5 a labelled line around all values."""
    high = max(high, low + 1e-6)
    bold = label_step(low, high)
    first, last = math.floor(low / bold + 1e-9), math.ceil(high / bold - 1e-9)
    fine = bold / 10
    if abs(end_mm - start_mm) / ((last - first) * 10) < LEAST_FINE_MM:
        fine = bold / 5
    return RuledAxis(first * bold, last * bold, bold, fine, start_mm, end_mm)


def angle_axis(low: float, high: float, start_mm: float, end_mm: float) -> RuledAxis:
    """Return an axis of crank angle whose labelled lines are those of the trade."""
    bold, fine = next(
        (each for each in ANGLE_STEPS if (high - low) / each[0] <= MOST_ANGLES), ANGLE_STEPS[-1]
    )
    last = math.ceil((high - low) / fine - 1e-9)
    return RuledAxis(low, low + last * fine, bold, fine, start_mm, end_mm)


def worksheet_pages(sheets: Sequence[Worksheet]) -> tuple[str, ...]:
    """Return the pages that the class gets: two for each trace, none with an answer."""
    pages = []
    for i, sheet in enumerate(sheets, start=1):
        name = f"Trace {i} of {len(sheets)}"
        if not sheet.drawable:
            svg = _page(name, sheet)
            text(svg, EDGE_MM, PLOT_TOP_MM, "No trace: the engine has not been turned.")
            pages.append(as_text(svg))
            continue
        svg = _page(name, sheet)
        bottom = _draw_trace(svg, sheet, 0.0, float(np.ptp(sheet.trail.angle_deg)), 80.0)
        if sheet.humps:
            _draw_band(svg, bottom, ())
        _ask(svg, bottom + BAND_MM + 21, tasks_of_all(sheet), 1)
        pages.append(as_text(svg))
        svg = _page(name, sheet, "A part of it, drawn large.")
        bottom = _draw_trace(svg, sheet, *sheet.large_deg, 74.0, only_top=True)
        _ask(svg, bottom + 19, tasks_of_one(sheet), 1 + len(tasks_of_all(sheet)))
        pages.append(as_text(svg))
    return tuple(pages)


def answer_pages(sheets: Sequence[Worksheet]) -> tuple[str, ...]:
    """Return the pages that the trainer keeps: one for each trace."""
    pages = []
    for i, sheet in enumerate(sheets, start=1):
        svg = _page(f"Answers to trace {i} of {len(sheets)}", sheet, to_fill=False)
        y = PLOT_TOP_MM
        if sheet.drawable:
            bottom = _draw_trace(
                svg, sheet, 0.0, float(np.ptp(sheet.trail.angle_deg)), 55.0, tdcs=True
            )
            if sheet.humps:
                _draw_band(svg, bottom, sheet.strokes, _axis_of(sheet))
            y = bottom + BAND_MM + 20
        for number_, task in enumerate((*tasks_of_all(sheet), *tasks_of_one(sheet)), start=1):
            y = _write(svg, y, f"{number_}. {task.answer}")
        _write(svg, y, f"Said of it then: {sheet.answer}")
        pages.append(as_text(svg))
    return tuple(pages)


def _page(name: str, sheet: Worksheet, more: str = "", *, to_fill: bool = True) -> ET.Element:
    svg = new_svg(PAGE_WIDE_MM, PAGE_HIGH_MM)
    svg.set("width", f"{number(PAGE_WIDE_MM)}mm")
    svg.set("height", f"{number(PAGE_HIGH_MM)}mm")
    svg.set("font-size", number(TYPE_MM))
    text(svg, EDGE_MM, 18, name, font_size="7", font_weight="bold")
    below = f"{'A simulated engine. ' if sheet.simulated else ''}{more}"
    text(svg, EDGE_MM, 25, below, fill="#444444")
    if to_fill:
        for x, words, end in ((150, "Name", 224), (230, "Date", PAGE_WIDE_MM - EDGE_MM)):
            text(svg, x, 18, words)
            shape(svg, "line", x1=x + 13, y1=18, x2=end, y2=18, stroke=BOLD, stroke_width=0.25)
    return svg


def _axis_of(sheet: Worksheet) -> RuledAxis:
    span = float(np.ptp(sheet.trail.angle_deg))
    return angle_axis(0.0, span, PLOT_LEFT_MM, PLOT_LEFT_MM + PLOT_WIDE_MM)


def _draw_trace(
    svg: ET.Element,
    sheet: Worksheet,
    low_deg: float,
    high_deg: float,
    high_mm: float,
    *,
    tdcs: bool = False,
    only_top: bool = False,
) -> float:
    """Draw grid and trace; return where the grid ends below.

    ``only_top`` draws of a crank that was rocked the one way that holds the highest point.
    """
    top, bottom = PLOT_TOP_MM, PLOT_TOP_MM + high_mm
    left, right = PLOT_LEFT_MM, PLOT_LEFT_MM + PLOT_WIDE_MM
    x = angle_axis(low_deg, high_deg, left, right)
    angle, pressure = sheet.angle_deg, sheet.pressure
    runs = _runs((angle >= x.low) & (angle <= x.high))
    runs = [run for run in runs if not only_top or sheet.top in run]
    drawn = pressure[np.concatenate(runs)]
    # Compressions are read from nought, the small waves of a manifold are not.
    low = min(0.0, float(drawn.min())) if sheet.humps else float(drawn.min())
    y = pressure_axis(low, float(drawn.max()), bottom, top)
    bold = {round(x.place(value), 6) for value, _ in x.labels}
    for at in map(x.place, x.lines):
        _rule(svg, at, top, at, bottom, round(at, 6) in bold)
    bold = {round(y.place(value), 6) for value, _ in y.labels}
    for at in map(y.place, y.lines):
        _rule(svg, left, at, right, at, round(at, 6) in bold)
    for value, label in x.labels:
        text(svg, x.place(value), bottom + 5.2, label, "middle", font_size=number(SMALL_MM))
    for value, label in y.labels:
        at = y.place(value) + SMALL_MM * 0.36  # text stands on its line, the label astride it
        text(svg, left - 2, at, label, "end", font_size=number(SMALL_MM), **{"class": "pressure"})
    text(svg, left, top - 3, pressure_words(sheet))
    text(svg, right, top - 3, "crank degrees from the start of the trace", "end")
    for part in runs:
        points = " ".join(
            f"{number(x.place(a))},{number(y.place(p))}"
            for a, p in zip(angle[part].tolist(), pressure[part].tolist(), strict=True)
        )
        shape(svg, "polyline", points=points, fill="none", stroke=TRACE, stroke_width=0.4)
    if tdcs:
        for at in map(x.place, sheet.tdcs_deg):
            shape(svg, "line", x1=at, y1=top, x2=at, y2=bottom, stroke="#A84300", stroke_width=0.4)
            beside, side = (at + 1, "start") if at + TDC_WIDE_MM < right else (at - 1, "end")
            text(svg, beside, top + 4.5, "TDC", side, font_size=number(SMALL_MM))
    return bottom


def pressure_words(sheet: Worksheet) -> str:
    """Return what stands on the pressure axis: unit, and from where it counts."""
    unit = sheet.unit
    if not unit.calibrated:
        return f"{unit.name}: {unit.quantity} sensor, no pressure is stated"
    if not sheet.gauge:
        return f"absolute pressure ({unit.name}): counted from a vacuum, not from the air outside"
    outside = f"{unit.text(sheet.atmosphere.pressure_bar)} absolute"
    outside = outside if sheet.atmosphere.stated else f"taken as {outside}"
    return f"gauge pressure ({unit.name}): 0 is the air outside ({outside})"


def _rule(svg: ET.Element, x1: float, y1: float, x2: float, y2: float, bold: bool) -> None:
    stroke, wide = (BOLD, 0.25) if bold else (FINE, 0.13)
    shape(svg, "line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=stroke, stroke_width=wide)


def _runs(seen: np.ndarray) -> list[np.ndarray]:
    """Return what is seen, cut where the trace leaves the drawing and comes back."""
    at = np.flatnonzero(seen)
    return [run for run in np.split(at, np.flatnonzero(np.diff(at) > 1) + 1) if len(run) > 1]


def _draw_band(
    svg: ET.Element,
    bottom: float,
    strokes: Sequence[tuple[float, float, str]],
    axis: RuledAxis | None = None,
) -> None:
    """Draw the band for the strokes, empty or filled."""
    top, left = bottom + 8, PLOT_LEFT_MM
    shape(svg, "rect", x=left, y=top, width=PLOT_WIDE_MM, height=BAND_MM, fill="none",
          stroke=BOLD, stroke_width=0.3)  # fmt: skip
    text(svg, left - 2, top + BAND_MM * 0.62, "strokes", "end", font_size=number(SMALL_MM))
    for start, stop, words in strokes if axis is not None else ():
        assert axis is not None
        a, b = axis.place(start), axis.place(stop)
        shape(svg, "line", x1=a, y1=top, x2=a, y2=top + BAND_MM, stroke="#444444", stroke_width=0.3)
        if b - a > len(words) * SMALL_MM * 0.6:
            text(svg, (a + b) / 2, top + BAND_MM * 0.62, words, "middle",
                 font_size=number(SMALL_MM))  # fmt: skip


def _ask(svg: ET.Element, y: float, tasks: Sequence[SheetTask], first: int) -> None:
    for number_, task in enumerate(tasks, start=first):
        y = _write(svg, y, f"{number_}. {task.words}")
        for _ in range(task.lines):
            y += LINE_TO_WRITE_MM
            at = y - LINE_OF_TEXT_MM
            shape(svg, "line", x1=EDGE_MM, y1=at, x2=PAGE_WIDE_MM - EDGE_MM, y2=at, stroke=BOLD,
                  stroke_width=0.25)  # fmt: skip


def _write(svg: ET.Element, y: float, words: str) -> float:
    """Write words in as many lines as they need; return where the next begins."""
    for line in textwrap.wrap(words, LETTERS_A_LINE):
        text(svg, EDGE_MM, y, line)
        y += LINE_OF_TEXT_MM
    return y + 1.2
