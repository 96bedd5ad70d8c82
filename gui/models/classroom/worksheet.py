"""What does the class write on? A trace, what can be read from it, and what is so."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from strokewise.analysis.crank.strokes import nearest, stroke_at
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Atmosphere
from strokewise.gui.models.figures.chart import STROKE_DEG, WORDS
from strokewise.gui.models.figures.trail import FloatArray, Trail
from strokewise.gui.models.figures.units import BAR, PressureUnit
from strokewise.gui.pages.headline import decimals_of
from strokewise.gui.sayings.saying import signed

HALF_UP = 0.5
"""A hump reaches over this share of the trace's height: overlap and noise do not."""
TOPS_APART_DEG = 90.0
"""Two tops nearer than this are of one compression."""
AROUND_DEG = 60.0
"""What is drawn large, to either side of the highest point: compression and expansion as far as
they can be told from the air outside."""
ROUND_DEG = 10.0
"""The large drawing begins and ends on a round number."""
MOST_PRESSURES = 10
"""Labelled lines of pressure: more stand too near each other to be read."""
FLAT_SHARE, FLAT_DEG = 0.02, 20.0
"""A top at the end of what the sensor reads that falls by no more over so many degrees is cut off:
of a compression that near TDC's 9° or so do, by the slider-crank at a ratio of 9."""


def label_step(low: float, high: float) -> float:
    """Return from one labelled line of a pressure axis to the next: 1, 2 or 5 of its decade."""
    decade = 10.0 ** math.floor(math.log10((high - low) / MOST_PRESSURES))
    return next(
        step * decade for step in (1, 2, 5, 10) if (high - low) / (step * decade) <= MOST_PRESSURES
    )


@dataclass(frozen=True, slots=True)
class SheetTask:
    """One question of the sheet, the room for its answer in lines, and the answer."""

    words: str
    answer: str
    lines: int = 1


@dataclass(frozen=True, slots=True)
class Worksheet:
    """One trace of a worksheet.

    Attributes
    ----------
    answer : str
        What was said of it when it was put on the sheet.
    simulated : bool
        The trace comes from the bench engine and says so.
    tdc_deg : Interval or None
        TDC of the cylinder with the sensor, in the trace's own frame, where it was found.
    firing_deg : float or None
        One of its firing TDCs, where the strokes were told apart.
    humps : bool
        The sensor sits in a plug hole, where compressions are seen.
    wrong : str
        What is so with the engine, where anybody knows.
    gauge : bool
        Pressure is counted from the air outside, as a gauge does; else from a vacuum.
    reads_to_bar : float or None
        The highest pressure that the sensor's points know.
    """

    title: str
    trail: Trail
    answer: str
    simulated: bool = True
    unit: PressureUnit = BAR
    cycle_deg: float = 720.0
    tdc_deg: Interval | None = None
    firing_deg: float | None = None
    humps: bool = True
    wrong: str = ""
    cylinders: int = 4
    gauge: bool = False
    atmosphere: Atmosphere = field(default_factory=Atmosphere)
    reads_to_bar: float | None = None

    @property
    def drawable(self) -> bool:
        """Whether there is anything to draw."""
        return len(self.trail.angle_deg) > 1 and float(np.ptp(self.trail.angle_deg)) > 0

    @property
    def zero_deg(self) -> float:
        """Where the sheet begins to count, in the trace's own frame."""
        return float(self.trail.angle_deg.min())

    @property
    def angle_deg(self) -> FloatArray:
        """Crank angle from the start of the trace."""
        return self.trail.angle_deg - self.zero_deg

    @property
    def pressure(self) -> FloatArray:
        """Pressure in the unit of the sheet, counted from where the sheet does."""
        from_bar = self.atmosphere.pressure_bar if self.counts_from_air else 0.0
        return (self.trail.pressure_bar - from_bar) * self.unit.per_bar

    @property
    def counts_from_air(self) -> bool:
        """Whether 0 is the air outside; of a sensor without known points nobody can count so."""
        return self.gauge and self.unit.calibrated

    @property
    def tops(self) -> tuple[int, ...]:
        """Which points are the tops of compressions, as they came."""
        if not (self.humps and self.drawable):
            return ()
        return _tops(self.trail, self.atmosphere.pressure_bar if self.unit.calibrated else None)

    @property
    def flat_deg(self) -> tuple[float, float] | None:
        """From and to where the pressure went on rising and the sensor read no higher, if it did.

        In degrees of the sheet; around the highest point.
        """
        pressure, top = self.trail.pressure_bar, self.top
        if not self.humps or self.reads_to_bar is None or pressure[top] < self.reads_to_bar:
            return None
        fallen = pressure < pressure[top] - FLAT_SHARE * float(np.ptp(pressure))
        before, after = np.flatnonzero(fallen[:top]), np.flatnonzero(fallen[top:])
        first = int(before[-1]) if len(before) else 0
        last = top + int(after[0]) if len(after) else len(pressure) - 1
        low, high = sorted((float(self.angle_deg[first]), float(self.angle_deg[last])))
        return (low, high) if high - low > FLAT_DEG else None

    @property
    def top(self) -> int:
        """The highest point; of a whole compression where there is one."""
        pressure = self.trail.pressure_bar
        return max(self.tops, key=lambda i: float(pressure[i]), default=int(np.argmax(pressure)))

    @property
    def large_deg(self) -> tuple[float, float]:
        """What is drawn large: from and to, in degrees of the sheet."""
        at = float(self.angle_deg[self.top])
        first, last = self.flat_deg or (at, at)
        around = AROUND_DEG if self.flat_deg is None else AROUND_DEG / 2
        end = ROUND_DEG * np.ceil(float(np.ptp(self.trail.angle_deg)) / ROUND_DEG)
        low, high = ROUND_DEG * round(first / ROUND_DEG), ROUND_DEG * round(last / ROUND_DEG)
        return max(0.0, low - around), float(min(end, high + around))

    @property
    def tdcs_deg(self) -> tuple[float, ...]:
        """Every TDC over the trace, in degrees of the sheet."""
        if self.tdc_deg is None or not self.drawable:
            return ()
        turn, span = 2 * STROKE_DEG, float(np.ptp(self.trail.angle_deg))
        first = (self.tdc_deg.value - self.zero_deg) % turn
        return tuple(float(at) for at in np.arange(first, span, turn))

    @property
    def strokes(self) -> tuple[tuple[float, float, str], ...]:
        """The strokes under the trace: from, to, and the word; none where nobody knows them."""
        if self.firing_deg is None or not self.drawable:
            return ()
        span = float(np.ptp(self.trail.angle_deg))
        first = (self.firing_deg - self.zero_deg) % STROKE_DEG - STROKE_DEG
        found = []
        for start in np.arange(first, span, STROKE_DEG).tolist():
            after = self.zero_deg + start + STROKE_DEG / 2 - self.firing_deg
            stroke = stroke_at(after % self.cycle_deg, self.cycle_deg)
            found.append(
                (max(start, 0.0), min(start + STROKE_DEG, span), WORDS.get(stroke, stroke))
            )
        return tuple(found)

    def text(self, pressure: float) -> str:
        """Return a pressure as it can be read from the sheet."""
        kind = (" gauge" if self.gauge else " absolute") if self.unit.calibrated else ""
        return signed(f"{pressure:.{self.unit.decimals}f} {self.unit.name}{kind}")


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
    if sheet.humps and flat is None:
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


def _tops(trail: Trail, outside_bar: float | None) -> tuple[int, ...]:
    """Return the highest point of each compression that is on the trail with both its flanks.

    Parameters
    ----------
    outside_bar : float or None
        The air outside, where the trace is a pressure: no compression ends below it.
    """
    pressure, angle = trail.pressure_bar, trail.angle_deg
    floor, ceiling = float(pressure.min()), float(pressure.max())
    if outside_bar is not None and outside_bar < ceiling:
        floor = max(floor, outside_bar)
    up = pressure > floor + HALF_UP * (ceiling - floor)
    edges = np.flatnonzero(np.diff(up.astype(np.int8)))
    tops: list[int] = []
    for start, stop in zip(edges.tolist(), edges[1:].tolist(), strict=False):
        if not up[start + 1]:
            continue
        top = start + 1 + int(np.argmax(pressure[start + 1 : stop + 1]))
        if tops and abs(float(angle[top] - angle[tops[-1]])) < TOPS_APART_DEG:
            tops[-1] = max(tops[-1], top, key=lambda i: float(pressure[i]))
        else:
            tops.append(top)
    return tuple(tops)


def titles(sheets: Sequence[Worksheet]) -> str:
    """Return what is on the worksheet, in a line."""
    return "; ".join(f"{i}. {sheet.title}" for i, sheet in enumerate(sheets, start=1))
