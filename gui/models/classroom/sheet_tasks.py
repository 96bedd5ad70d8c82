"""What is asked of a trace on a worksheet, and what is right? Read from it as it is drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.estimate import Interval
from strokewise.gui.models.classroom.worksheet import HALF_UP, Worksheet, label_step
from strokewise.gui.models.figures.chart import STROKE_DEG
from strokewise.gui.models.figures.trail import FloatArray
from strokewise.gui.pages.headline import decimals_of


@dataclass(frozen=True, slots=True)
class SheetTask:
    """One question of the sheet, the room for its answer in lines, and the answer."""

    words: str
    answer: str
    lines: int = 1


def tasks_of_all(sheet: Worksheet) -> tuple[SheetTask, ...]:
    """Return what is asked of the whole trace."""
    if not sheet.drawable:
        return ()
    angle, pressure = sheet.angle_deg, sheet.pressure
    low = int(np.argmin(pressure))
    tasks = []
    if sheet.humps:
        tasks.append(
            SheetTask(
                "Mark every compression with a C. How many degrees of crank lie between two?",
                _between(sheet),
            )
        )
    tasks.append(
        SheetTask(
            "Read the lowest value, and where it stands"
            + (". Is it above or below the air outside?" if sheet.unit.calibrated else "."),
            f"{sheet.text(float(pressure[low]))} at {angle[low]:.0f}°"
            + (_against_air(sheet, float(sheet.trail.pressure_bar[low]))),
        )
    )
    if sheet.humps:
        band = "See the band above." if sheet.strokes else "They had not been told apart here."
        tasks.append(
            SheetTask(
                "Write the strokes of this cylinder into the empty band under the trace.", band, 0
            )
        )
    else:
        tasks.append(
            SheetTask(
                f"Count the dips in {sheet.cycle_deg:.0f}°. How many cylinders draw from here?",
                f"{sheet.cylinders} where all is well: each cylinder draws once, and all from here "
                "(the profile's number of cylinders).",
            )
        )
    return tuple(tasks)


def tasks_of_one(sheet: Worksheet) -> tuple[SheetTask, ...]:
    """Return what is asked of the compression that is drawn large."""
    if not sheet.drawable:
        return ()
    at, high = float(sheet.angle_deg[sheet.top]), float(sheet.pressure[sheet.top])
    if (flat := sheet.flat_deg) is not None:
        tasks = [
            SheetTask("Read the highest value.", sheet.text(high)),
            SheetTask(
                "Why is the top flat? Between which angles may TDC lie?",
                _flat_answer(sheet, flat),
                2,
            ),
        ]
    else:
        tasks = [
            SheetTask(
                "Read the highest value, and at which angle.", f"{sheet.text(high)} at {at:.1f}°"
            )
        ]
    if sheet.humps and flat is None and not sheet.level:
        chord = _chord(sheet)
        if chord is not None:
            level, left, right = chord
            tasks.append(
                SheetTask(
                    f"Draw a level line at {sheet.text(level)}. At which two angles does it cut "
                    "the trace, and where is their middle?",
                    f"{left:.1f}° and {right:.1f}°; the middle is {(left + right) / 2:.1f}°",
                )
            )
        tasks.append(
            SheetTask(
                "Draw an upright line where you put TDC. How far is it from the highest point, and "
                "why is it not the same?",
                _tdc_answer(sheet),
                2,
            )
        )
    tasks.append(
        SheetTask(
            "Is anything wrong with this engine? What would you measure next?",
            sheet.wrong or "Nobody has said it of this recording.",
            2,
        )
    )
    return tuple(tasks)


def _between(sheet: Worksheet) -> str:
    tops = sheet.angle_deg[list(sheet.tops)]
    said = f"This cylinder compresses once in {sheet.cycle_deg:.0f}°"
    if sheet.flat_deg is not None:
        return f"{said}; the tops are cut off, so read from flank to flank."
    if sheet.level:
        return f"{said}, but the pressure stays up here: no compression comes and goes."
    if len(tops) < 2:
        return f"{said}; no two whole compressions are on this sheet."
    apart = ", ".join(f"{gap:.0f}°" for gap in np.abs(np.diff(tops)).tolist())
    return f"{said}; read from top to top: {apart}."


ABOUT_OUTSIDE_BAR = 0.05
"""Within this of the air outside nobody can say: weather, and what a sensor's zero is out by."""


def _against_air(sheet: Worksheet, pressure_bar: float) -> str:
    if not sheet.unit.calibrated:
        return ""
    over_bar = pressure_bar - sheet.atmosphere.pressure_bar
    side = "below" if over_bar < 0 else "above"
    place = "about that of" if abs(over_bar) <= ABOUT_OUTSIDE_BAR else side
    air = f"{sheet.unit.text(sheet.atmosphere.pressure_bar)} absolute"
    if not sheet.atmosphere.stated:
        air = f"{air} at sea level; less up a mountain"
    return f": {place} the air outside ({air})"


def _flat_answer(sheet: Worksheet, flat_deg: tuple[float, float]) -> str:
    low, high = flat_deg
    found = "not found here" if sheet.tdc_deg is None else f"found at {_tdc_words(sheet)}"
    return (
        f"The sensor reads no higher: the pressure rose on beyond its range. TDC lies under the "
        f"flat part, {low:.0f}° to {high:.0f}°; it was {found}."
    )


def _tdc_words(sheet: Worksheet) -> str:
    assert sheet.tdc_deg is not None
    found = _tdc_there(sheet, sheet.tdc_deg)
    to = decimals_of(found)
    return f"{found.value:.{to}f}° (95 %: {found.low:.{to}f} to {found.high:.{to}f}°)"


def _tdc_there(sheet: Worksheet, tdc_deg: Interval) -> Interval:
    """Return the TDC that is nearest to the highest point, in degrees of the sheet."""
    at = float(sheet.angle_deg[sheet.top])
    interval = tdc_deg.shifted(-sheet.zero_deg)
    away = nearest(interval.value - at, 2 * STROKE_DEG)
    return interval.shifted(at + away - interval.value)


def _tdc_answer(sheet: Worksheet) -> str:
    why = "gas leaks past the rings and cools, so pressure falls before the piston turns"
    if sheet.tdc_deg is None:
        return f"TDC was not found here. It lies a little after the highest point: {why}."
    away = _tdc_there(sheet, sheet.tdc_deg).value - float(sheet.angle_deg[sheet.top])
    return (
        f"TDC at {_tdc_words(sheet)}; the highest point is {abs(away):.1f}° "
        f"{'before' if away >= 0 else 'after'} it: {why}."
    )


def _chord(sheet: Worksheet) -> tuple[float, float, float] | None:
    """Return a level through the large drawing and where the trace crosses it, nearest its top."""
    angle, pressure, top = sheet.angle_deg, sheet.pressure, sheet.top
    low, high = sheet.large_deg
    seen = (angle >= low) & (angle <= high)
    floor = float(pressure[seen].min())
    step = label_step(min(0.0, floor), float(pressure[seen].max()))
    half = floor + HALF_UP * (float(pressure[top]) - floor)
    if not floor < step * round(half / step) < pressure[top]:
        step /= 5  # still on a line of the grid
    level = step * round(half / step)
    before = np.flatnonzero(pressure[:top] < level)
    after = np.flatnonzero(pressure[top:] < level)
    if not len(before) or not len(after):
        return None
    i, j = int(before[-1]), top + int(after[0])
    one = _crossing(angle, pressure, i, level)
    other = _crossing(angle, pressure, j - 1, level)
    if min(one, other) < low or max(one, other) > high:
        return None
    return level, min(one, other), max(one, other)


def _crossing(angle: FloatArray, pressure: FloatArray, i: int, level: float) -> float:
    share = (level - pressure[i]) / (pressure[i + 1] - pressure[i])
    return float(angle[i] + share * (angle[i + 1] - angle[i]))
