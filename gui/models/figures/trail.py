"""What pressure was seen at which crank angle lately? A short memory for drawing.

Samples are thinned by crank angle as they come, so that the memory holds some cycles at any speed
and its size never grows. It serves the eye alone: answers come from the tracker.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.crank.angle import angle_of_count
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.samples import Segment
from strokewise.analysis.trace.trace import DEFAULT_ADC_BITS, pressure_of

FloatArray = NDArray[np.float64]

TRAIL_BIN_DEG = 0.5
"""Two points closer than this fall on one pixel of a 1,440 pixel wide cycle."""
CYCLES_KEPT = 4
MOST_TRAIL_POINTS = 16_384
"""Of rocking to and fro: as many as 11 cycles, after which the oldest are forgotten."""


@dataclass(frozen=True, slots=True)
class TrailStretch:
    """Points of one run over the axis, oldest first.

    Attributes
    ----------
    x_deg, pressure_bar : (n,) float64
    weight : float
        1 for the newest, towards 0 with age.
    """

    x_deg: FloatArray
    pressure_bar: FloatArray
    weight: float


@dataclass(frozen=True, slots=True, eq=False)
class Trail:
    """The points kept, oldest first: unwrapped crank angle and pressure.

    A trail equals only itself. It stays the very same one as long as the crank stands.
    """

    angle_deg: FloatArray
    pressure_bar: FloatArray

    def stretches(
        self, zero_deg: float, span_deg: float, most: int = CYCLES_KEPT
    ) -> tuple[TrailStretch, ...]:
        """Cut the trail where it runs over an end of an axis; oldest first.

        Parameters
        ----------
        zero_deg, span_deg : float
            The axis: where it starts in the encoder frame, and how long it is.
        """
        if len(self.angle_deg) == 0:
            return ()
        along = self.angle_deg - zero_deg
        lap = np.floor(along / span_deg)
        cuts = np.flatnonzero(np.diff(lap)) + 1
        edges = [0, *cuts.tolist(), len(lap)]
        newest = lap[-1]
        stretches = []
        for start, stop in itertools.pairwise(edges):
            age = abs(float(newest - lap[start]))
            if age < most and stop - start > 1:
                x = along[start:stop] - lap[start] * span_deg
                weight = 1.0 - age / most
                stretches.append(TrailStretch(x, self.pressure_bar[start:stop], weight))
        return tuple(stretches)


class TrailKeeper:
    """Takes blocks in, keeps the last points of one sensor."""

    def __init__(self, profile: Profile, sensor: Sensor | None = None) -> None:
        self._profile = profile
        self._sensor = sensor or (profile.sensors[0] if profile.sensors else Sensor())
        self._segment: int | None = None
        self._angle: list[FloatArray] = []
        self._pressure: list[FloatArray] = []
        self._last_bin: int | None = None
        self._points = 0
        self._trail: Trail | None = None

    def add(self, block: Segment) -> None:
        """Take a block in; another segment starts the memory anew."""
        if block.number != self._segment:
            self._segment = block.number
            self._angle, self._pressure, self._last_bin, self._points = [], [], None, 0
            self._trail = None
        samples = block.samples
        if len(samples) == 0 or self._sensor.channel >= samples.readings.shape[1]:
            return
        angle = angle_of_count(samples.count, self._profile.encoder)
        bins = np.floor(angle / TRAIL_BIN_DEG).astype(np.int64)
        before = bins[0] - 1 if self._last_bin is None else self._last_bin
        keep = np.flatnonzero(np.diff(bins, prepend=before))
        self._last_bin = int(bins[-1])
        if len(keep) == 0:
            return
        bits = (block.board.adc_bits if block.board else None) or DEFAULT_ADC_BITS
        reading = samples.readings[keep, self._sensor.channel].astype(np.float64)
        pressure, _ = pressure_of(reading, self._sensor, self._profile, bits)
        self._angle.append(angle[keep])
        self._pressure.append(pressure)
        self._points += len(keep)
        self._trail = None
        self._forget()

    def _forget(self) -> None:
        """Drop the oldest blocks once nobody asked for the trail for long."""
        while len(self._angle) > 1 and self._points > 2 * MOST_TRAIL_POINTS:
            self._points -= len(self._angle.pop(0))
            self._pressure.pop(0)

    def trail(self) -> Trail:
        """Return the points kept: the last cycles, and never more than ``MOST_TRAIL_POINTS``."""
        if self._trail is None:
            self._trail = self._put_together()
        return self._trail

    def _put_together(self) -> Trail:
        if not self._angle:
            return Trail(np.empty(0), np.empty(0))
        angle = np.concatenate(self._angle)[-MOST_TRAIL_POINTS:]
        pressure = np.concatenate(self._pressure)[-MOST_TRAIL_POINTS:]
        reach = CYCLES_KEPT * self._profile.cycle_deg
        far = np.flatnonzero(np.abs(angle - angle[-1]) > reach)
        start = int(far[-1]) + 1 if len(far) else 0
        self._angle, self._pressure = [angle[start:]], [pressure[start:]]
        self._points = len(self._angle[0])
        return Trail(self._angle[0], self._pressure[0])
