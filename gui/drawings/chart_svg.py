"""How does the stroke chart go onto paper? Rows of strokes, hatched so that grey still reads."""

from __future__ import annotations

from xml.etree import ElementTree as ET

from strokewise.gui.drawings.figure_svg import DRAWING_WIDTH, as_text, new_svg, shape, text
from strokewise.gui.models.figures.chart import Block, Chart, StrokeRow
from strokewise.gui.models.palette import LIGHT, Fill

ROW_HEIGHT, ROW_GAP = 34, 8
CHART_LEFT, CHART_RIGHT, CHART_TOP, CHART_BOTTOM = 44, 20, 26, 44
PAPER_HATCH_STEP = 7.0
BAR_HEIGHT = 4
LETTER_WIDTH = 6.2  # of the figures' font, on average


def chart_svg(chart: Chart, *, width: int = DRAWING_WIDTH) -> str:
    """Return the chart as one SVG element."""
    height = CHART_TOP + len(chart.rows) * (ROW_HEIGHT + ROW_GAP) + CHART_BOTTOM
    svg = new_svg(width, height)
    per_deg = (width - CHART_LEFT - CHART_RIGHT) / chart.span_deg
    for number, row in enumerate(chart.rows):
        _draw_row(svg, row, CHART_TOP + number * (ROW_HEIGHT + ROW_GAP), per_deg)
    bottom = height - CHART_BOTTOM
    for angle_deg, label in chart.ticks:
        at = CHART_LEFT + angle_deg * per_deg
        shape(
            svg,
            "line",
            x1=at,
            y1=CHART_TOP - 4,
            x2=at,
            y2=bottom,
            stroke="#999999",
            stroke_width=0.6,
        )
        text(svg, at, bottom + 14, label, "middle")
    for angle_deg, label in _marks(chart).items():
        at = CHART_LEFT + angle_deg * per_deg
        shape(svg, "line", x1=at, y1=CHART_TOP - 8, x2=at, y2=bottom, stroke=LIGHT.target)
        anchor = "end" if at > width / 2 else "start"
        text(
            svg, at + (-3 if anchor == "end" else 3), CHART_TOP - 12, label, anchor, font_size="10"
        )
    text(svg, (CHART_LEFT + width - CHART_RIGHT) / 2, bottom + 32, chart.note, "middle")
    return as_text(svg)


def _marks(chart: Chart) -> dict[float, str]:
    """Return one label for each place that has marks."""
    labels: dict[float, str] = {}
    for flag in chart.marks:
        labels[flag.angle_deg] = ", ".join(
            part for part in (labels.get(flag.angle_deg), flag.label) if part
        )
    return labels


def _draw_row(svg: ET.Element, row: StrokeRow, top: float, per_deg: float) -> None:
    label = f"{row.label}*" if row.sensed else row.label
    text(svg, CHART_LEFT - 12, top + 23, label, "end", font_size="17", font_weight="bold")
    for block in row.blocks:
        _draw_block(svg, block, top, per_deg)
    for bar in row.bars:
        shape(
            svg,
            "rect",
            x=CHART_LEFT + bar.start_deg * per_deg,
            y=top + ROW_HEIGHT - (BAR_HEIGHT + 1) * (1 if bar.valve == "inlet" else 2),
            width=(bar.end_deg - bar.start_deg) * per_deg,
            height=BAR_HEIGHT,
            fill=LIGHT.inlet if bar.valve == "inlet" else LIGHT.exhaust,
        )
    for flag in row.flags:
        if flag.kind == "firing":
            at = CHART_LEFT + flag.angle_deg * per_deg
            points = f"{at - 6:.1f},{top - 7:.1f} {at + 6:.1f},{top - 7:.1f} {at:.1f},{top + 3:.1f}"
            shape(svg, "polygon", points=points, fill=LIGHT.ink)


def _draw_block(svg: ET.Element, block: Block, top: float, per_deg: float) -> None:
    fill = LIGHT.strokes[block.kind]
    left, width = (
        CHART_LEFT + block.start_deg * per_deg,
        (block.end_deg - block.start_deg) * per_deg,
    )
    shape(
        svg,
        "rect",
        x=left,
        y=top,
        width=width,
        height=ROW_HEIGHT,
        fill=fill.colour,
        stroke="#FFFFFF",
    )
    _draw_hatch(svg, fill, left, top, width)
    if len(block.label) * LETTER_WIDTH < width:
        text(svg, left + width / 2, top + 15, block.label, "middle", fill=fill.ink)


def _draw_hatch(svg: ET.Element, fill: Fill, left: float, top: float, width: float) -> None:
    """Draw the hatching as plain lines: not every reader of SVG knows patterns."""
    if fill.hatch in ("rising", "falling"):
        group = shape(svg, "g", stroke="#000000", stroke_opacity=0.22, stroke_width=0.8)
        at = PAPER_HATCH_STEP - ROW_HEIGHT
        while at < width:
            start, end = max(at, 0.0), min(at + ROW_HEIGHT, width)
            y1, y2 = top + ROW_HEIGHT - (start - at), top + ROW_HEIGHT - (end - at)
            if fill.hatch == "falling":
                y1, y2 = 2 * top + ROW_HEIGHT - y1, 2 * top + ROW_HEIGHT - y2
            shape(group, "line", x1=left + start, y1=y1, x2=left + end, y2=y2)
            at += PAPER_HATCH_STEP
    elif fill.hatch == "dots":
        group = shape(svg, "g", fill="#000000", fill_opacity=0.25)
        for column in range(int(width / PAPER_HATCH_STEP)):
            for line in range(int(ROW_HEIGHT / PAPER_HATCH_STEP)):
                shift = PAPER_HATCH_STEP / 2 * (line % 2)
                x, y = (column + 0.25) * PAPER_HATCH_STEP + shift, (line + 0.6) * PAPER_HATCH_STEP
                if x < width - 1:
                    shape(group, "circle", cx=left + x, cy=top + y, r=0.8)
