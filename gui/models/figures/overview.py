"""What does a whole recording look like at a glance? A thinned trace and its compressions."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.crank.angle import angle_of_count
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.samples import Segment
from strokewise.analysis.trace.trace import DEFAULT_ADC_BITS, pressure_of

FloatArray = NDArray[np.float64]

EVERY_S = 0.004
"""Kept so often at the most: a compression at starter speed still has twenty points."""
SELDOM_KEPT_S = 0.25
"""And so seldom while the crank stands."""
OVERVIEW_MOVED_DEG = 0.5
HUMP_SHARE = 0.35
"""A compression rises above the usual level by this share of the highest one of the recording."""
HUMP_LEAST_BAR = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Overview:
    """A thinned recording; one equals only itself.

    Attributes
    ----------
    position_s, angle_deg, pressure_bar : (n,) float64
        Place in the recording, unwrapped crank angle of its segment, pressure.
    segment : (n,) int64
    """

    position_s: FloatArray
    angle_deg: FloatArray
    pressure_bar: FloatArray
    segment: NDArray[np.int64]

    def passes_s(self) -> tuple[float, ...]:
        """Return where the pressure peaks of compressions stand, for the eye only."""
        if len(self.position_s) < 3:
            return ()
        pressure = self.pressure_bar
        usual = float(np.median(pressure))
        rise = max(HUMP_LEAST_BAR, HUMP_SHARE * (float(pressure.max()) - usual))
        above = pressure > usual + rise
        edges = np.flatnonzero(np.diff(above.astype(np.int8), prepend=0, append=0))
        found = []
        for start, stop in zip(edges[::2], edges[1::2], strict=True):
            found.append(start + int(np.argmax(pressure[start:stop])))
        return tuple(float(self.position_s[i]) for i in found)

    def envelope(self, columns: int, length_s: float) -> tuple[FloatArray, FloatArray]:
        """Return lowest and highest pressure for each column of a strip, NaN where none is."""
        low, high = np.full(columns, np.nan), np.full(columns, np.nan)
        if len(self.position_s) == 0 or columns < 1 or length_s <= 0:
            return low, high
        column = np.clip((self.position_s / length_s * columns).astype(np.int64), 0, columns - 1)
        starts = np.flatnonzero(np.diff(column, prepend=-1))
        low[column[starts]] = np.minimum.reduceat(self.pressure_bar, starts)
        high[column[starts]] = np.maximum.reduceat(self.pressure_bar, starts)
        # While the crank stands little is kept: what was seen last holds until the next point.
        hold = int(np.ceil(2 * SELDOM_KEPT_S / length_s * columns))
        for before, after in pairwise(column[starts].tolist()):
            if 1 < after - before <= hold:
                low[before + 1 : after] = high[before + 1 : after] = self.pressure_bar[
                    np.searchsorted(column, before, "right") - 1
                ]
        return low, high

    def next_crossing_s(self, after_s: float, angle_deg: float, period_deg: float) -> float | None:
        """Return where the crank next passes an angle, any turn of it; None when never."""
        start = int(np.searchsorted(self.position_s, after_s, "right"))
        turns = np.floor((self.angle_deg[start:] - angle_deg) / period_deg)
        same = self.segment[start + 1 :] == self.segment[start:-1]
        hits = np.flatnonzero((np.diff(turns) != 0) & same)
        if len(hits) == 0:
            return None
        i = start + int(hits[0])
        goal = angle_deg + period_deg * max(turns[hits[0]], turns[hits[0] + 1])
        a0, a1 = self.angle_deg[i], self.angle_deg[i + 1]
        share = (goal - a0) / (a1 - a0)
        at = self.position_s[i] + share * (self.position_s[i + 1] - self.position_s[i])
        return float(max(at, np.nextafter(after_s, np.inf)))

    def moved_back_s(self, before_s: float, by_deg: float) -> float:
        """Return where the crank last stood ``by_deg`` away from where it stands; 0 if never."""
        stop = int(np.searchsorted(self.position_s, before_s, "right"))
        if stop == 0:
            return 0.0
        here = self.angle_deg[stop - 1]
        same = self.segment[:stop] == self.segment[stop - 1]
        away = np.flatnonzero((np.abs(self.angle_deg[:stop] - here) >= by_deg) & same)
        return float(self.position_s[away[-1]]) if len(away) else 0.0


class OverviewMaker:
    """Takes blocks with their place in the recording, keeps a point for each bit of motion."""

    def __init__(self, profile: Profile) -> None:
        self._profile = profile
        self._sensor = profile.sensors[0] if profile.sensors else Sensor()
        self._rows: list[NDArray[np.float64]] = []
        self._last: tuple[float, float] | None = None

    def add(self, block: Segment, position_s: FloatArray) -> None:
        """Take a block in; ``position_s`` is the place of each sample."""
        samples = block.samples
        if len(samples) == 0 or self._sensor.channel >= samples.readings.shape[1]:
            return
        angle = angle_of_count(samples.count, self._profile.encoder)
        slot = np.floor(position_s / EVERY_S)
        keep = np.flatnonzero(np.diff(slot, prepend=-1 if self._last is None else self._last[0]))
        self._last = (float(slot[-1]), 0.0)
        if len(keep) == 0:
            return
        keep = _where_it_moves(keep, position_s, angle)
        bits = (block.board.adc_bits if block.board else None) or DEFAULT_ADC_BITS
        reading = samples.readings[keep, self._sensor.channel].astype(np.float64)
        pressure, _ = pressure_of(reading, self._sensor, self._profile, bits)
        number = np.full(len(keep), float(block.number))
        self._rows.append(np.stack([position_s[keep], angle[keep], pressure, number]))

    def overview(self) -> Overview:
        """Return what has been seen so far."""
        if not self._rows:
            nothing = np.empty(0)
            return Overview(nothing, nothing, nothing, np.empty(0, np.int64))
        rows = np.concatenate(self._rows, axis=1)
        self._rows = [rows]
        return Overview(rows[0], rows[1], rows[2], rows[3].astype(np.int64))


def _where_it_moves(
    keep: NDArray[np.intp], position_s: FloatArray, angle_deg: FloatArray
) -> NDArray[np.intp]:
    """Leave out of a long standstill what says nothing new."""
    chosen = [int(keep[0])]
    for i in keep[1:].tolist():
        moved = abs(angle_deg[i] - angle_deg[chosen[-1]]) >= OVERVIEW_MOVED_DEG
        if moved or position_s[i] - position_s[chosen[-1]] >= SELDOM_KEPT_S:
            chosen.append(i)
    return np.array(chosen, np.intp)
