"""What does the class write on? A sheet of traces with room to write, and the answers apart."""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from strokewise.gui.models.figures.trail import Trail
from strokewise.gui.models.figures.units import BAR, PressureUnit

SHEET_WIDTH, SHEET_HEIGHT, SHEET_MARGIN = 1000, 300, 60
LINES_TO_WRITE_ON = 3

WORKSHEET_TASKS = (
    "Mark every compression. In which cylinder does the sensor sit?",
    "Draw a line where you put TDC, and say why it is not simply the peak.",
    "Write the strokes of this cylinder under the trace.",
    "Is anything wrong with this engine? What would you measure next?",
)

STYLE = """
@page { margin: 15mm }
body { font-family: sans-serif; color: #14202b; max-width: 19cm; margin: auto }
section { break-inside: avoid; margin-bottom: 1.2em }
.next { break-before: page }
.answers { break-before: page }
svg { width: 100%; height: auto; border: 1px solid #888 }
.write { border-bottom: 1px solid #888; height: 2.1em }
.simulated { color: #555 }
"""


@dataclass(frozen=True, slots=True)
class Worksheet:
    """One trace of a worksheet.

    Attributes
    ----------
    answer : str
        What stands on the page of answers.
    simulated : bool
        The trace comes from the bench engine and says so.
    """

    title: str
    trail: Trail
    answer: str
    simulated: bool = True
    unit: PressureUnit = BAR


def worksheet_html(sheets: Sequence[Worksheet], tasks: Sequence[str] = WORKSHEET_TASKS) -> str:
    """Return a self-contained page that prints: traces with room to write, then the answers.

    Each trace begins a page of its own, with the tasks under it.
    """
    parts = [
        "<!doctype html><html lang='en'><meta charset='utf-8'>"
        f"<title>Worksheet</title><style>{STYLE}</style><h1>Worksheet</h1>"
        "<p>Name ____________________ &nbsp; Date ____________</p>"
    ]
    for number, sheet in enumerate(sheets, start=1):
        head = f"<h2>Trace {number} of {len(sheets)}</h2>"
        place = "next" if number > 1 else "first"
        parts.append(f"<section class='{place}'>{head}{_simulated(sheet)}")
        parts.append(trace_svg(sheet.trail, sheet.unit) + "</section>")
        for task in tasks:
            room = "<div class='write'></div>" * LINES_TO_WRITE_ON
            parts.append(f"<section><p>{html.escape(task)}</p>{room}</section>")
    parts.append("<div class='answers'><h1>Answers</h1>")
    for number, sheet in enumerate(sheets, start=1):
        parts.append(
            f"<h2>Trace {number}: {html.escape(sheet.title)}</h2><p>{html.escape(sheet.answer)}</p>"
        )
    return "".join(parts) + "</div></html>"


def _simulated(sheet: Worksheet) -> str:
    return "<p class='simulated'>A simulated engine.</p>" if sheet.simulated else ""


def _uncalibrated(unit: PressureUnit) -> str:
    return "" if unit.calibrated else f" ({unit.quantity} sensor: no pressure is stated)"


def trace_svg(trail: Trail, unit: PressureUnit = BAR) -> str:
    """Return pressure over crank angle as a drawing, its zero at the trace's own start."""
    if len(trail.angle_deg) < 2:
        return "<p>No trace: the engine has not been turned.</p>"
    angle = trail.angle_deg - trail.angle_deg[0]
    pressure = trail.pressure_bar * unit.per_bar
    width, height = SHEET_WIDTH - 2 * SHEET_MARGIN, SHEET_HEIGHT - 2 * SHEET_MARGIN
    span = max(float(np.ptp(angle)), 1.0)
    low, high = min(0.0, float(pressure.min())), float(pressure.max()) * 1.05 + 1e-9
    x = SHEET_MARGIN + (angle - angle.min()) / span * width
    y = SHEET_MARGIN + height - (pressure - low) / (high - low) * height
    points = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x.tolist(), y.tolist(), strict=True))
    ticks = []
    for degrees in range(0, int(span) + 1, 180):
        at = SHEET_MARGIN + degrees / span * width
        ticks.append(
            f"<line x1='{at:.1f}' x2='{at:.1f}' y1='{SHEET_MARGIN}' y2='{SHEET_MARGIN + height}'"
            " stroke='#ccc'/>"
            f"<text x='{at:.1f}' y='{SHEET_HEIGHT - 25}' text-anchor='middle'>{degrees}°</text>"
        )
    return (
        f"<svg viewBox='0 0 {SHEET_WIDTH} {SHEET_HEIGHT}' font-size='18'"
        " xmlns='http://www.w3.org/2000/svg'>"
        + "".join(ticks)
        + f"<text x='8' y='{SHEET_MARGIN - 12}'>{high:.0f} {unit.name}{_uncalibrated(unit)}</text>"
        + f"<text x='8' y='{SHEET_MARGIN + height}'>{low:.0f}</text>"
        + f"<text x='{SHEET_WIDTH - SHEET_MARGIN}' y='{SHEET_HEIGHT - 4}' text-anchor='end'>"
        "crank degrees from the start of the trace</text>"
        + f"<polyline points='{points}' fill='none' stroke='#0072B2' stroke-width='2'/></svg>"
    )
