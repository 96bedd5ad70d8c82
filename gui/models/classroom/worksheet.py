"""What does the class write on? A trace, where its compressions are, and its strokes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from strokewise.analysis.crank.strokes import stroke_at
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Atmosphere
from strokewise.gui.models.figures.chart import STROKE_DEG, WORDS
from strokewise.gui.models.figures.trail import FloatArray, Trail
from strokewise.gui.models.figures.units import BAR, PressureUnit
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
LEVEL_SHARE = 0.1
"""A pressure over the air outside that changes by no more of itself in two cycles is held in."""
MOST_PRESSURES = 10
"""Labelled lines of pressure: more stand too near each other to be read."""
FLAT_SHARE, FLAT_DEG = 0.05, 25.0
"""A top at the end of what the sensor reads that falls by no more over so many degrees is cut off:
a compression's does over 14° or so, by the slider-crank at a ratio of 9. Less is a sensor's noise.
"""


def label_step(low: float, high: float) -> float:
    """Return from one labelled line of a pressure axis to the next: 1, 2 or 5 of its decade."""
    decade = 10.0 ** math.floor(math.log10((high - low) / MOST_PRESSURES))
    return next(
        step * decade for step in (1, 2, 5, 10) if (high - low) / (step * decade) <= MOST_PRESSURES
    )


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
        if not (self.humps and self.drawable) or self.level:
            return ()
        return _tops(self.trail, self.atmosphere.pressure_bar if self.unit.calibrated else None)

    @property
    def level(self) -> bool:
        """Whether the pressure stays up, so that no compression comes and goes on the trace."""
        pressure = self.trail.pressure_bar
        if not self.unit.calibrated:
            return False
        over_bar = float(pressure.max()) - self.atmosphere.pressure_bar
        return float(np.ptp(pressure)) < LEVEL_SHARE * over_bar

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
