"""Do sensor and encoder read what they should? Zero, counts for a turn, and which way is on."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace

import numpy as np

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile, Sensor
from strokewise.gui.models.run.snapshot import Reading

STILL_READINGS = 40
"""Readings that a zero is the mean of: enough against mains hum and noise, soon over."""
STEADY_STEPS = 12.0
"""Readings that wander further than this while the zero is taken are not the atmosphere."""
LEAST_TURN_COUNTS = 20
"""Fewer counts than this are no turn of any encoder worth clamping on."""


class SensorCheck:
    """Looks at the last readings of one sensor."""

    def __init__(self) -> None:
        self._raw: deque[int] = deque(maxlen=STILL_READINGS)
        self._time_us = -1
        self._channel: int | None = None

    def add(self, reading: Reading | None, channel: int) -> None:
        """Take a reading; the same one again is not counted twice, another channel begins anew."""
        if channel != self._channel:
            self._raw.clear()
            self._channel, self._time_us = channel, -1
        if reading is None or reading.time_us == self._time_us or channel >= len(reading.raw):
            return
        self._time_us = reading.time_us
        self._raw.append(reading.raw[channel])

    @property
    def steady(self) -> bool:
        """Enough readings, and near enough to each other."""
        return len(self._raw) == STILL_READINGS and float(np.std(self._raw)) <= STEADY_STEPS

    def zeroed(self, sensor: Sensor, atmosphere_bar: float) -> Sensor:
        """Return the sensor with its points shifted so that it reads the atmosphere now.

        Raises
        ------
        InputError
            When the sensor has no known points to shift, or does not stand still.
        """
        if not sensor.points:
            raise InputError(
                "the sensor has no known points to shift: put two into the profile, such as "
                'points = [[102, "0 bar"], [922, "20 bar"]]'
            )
        if not self.steady:
            raise InputError(
                "the reading does not stand still: open the sensor to the air, wait, press again"
            )
        now = float(np.mean(self._raw))
        meant_bar = 0.0 if sensor.reference == "gauge" else atmosphere_bar
        known = sorted(sensor.points)
        (low, low_bar), (high, high_bar) = known[0], known[-1]
        should_read = low + (meant_bar - low_bar) * (high - low) / (high_bar - low_bar)
        shift = now - should_read
        points = tuple((round(reading + shift, 2), bar) for reading, bar in sensor.points)
        return replace(sensor, points=points)


def sensor_choices(profile: Profile, reading: Reading | None) -> tuple[tuple[int, str], ...]:
    """Return every channel that can be looked at: number, and what sits there in a few words."""
    known = {sensor.channel: sensor for sensor in profile.sensors}
    seen = range(len(reading.raw)) if reading is not None else ()
    choices = []
    for channel in sorted({*known, *seen} or {0}):
        sensor = known.get(channel)
        if sensor is None:
            where = "not in the profile"
        elif sensor.cylinder is None:
            where = sensor.place
        else:
            where = f"{sensor.place}, cylinder {sensor.cylinder}"
        choices.append((channel, f"channel {channel}: {where}"))
    return tuple(choices)


def sensor_on(profile: Profile, channel: int) -> Sensor | None:
    """Return the sensor on a channel; None where the profile names none there."""
    return next((sensor for sensor in profile.sensors if sensor.channel == channel), None)


@dataclass(frozen=True, slots=True)
class TurnCheck:
    """Counts for one turn of the crank, between two presses of a key, turned the right way.

    Attributes
    ----------
    first_count : int or None
        Where the first press found the encoder.
    counts : int or None
        Counts from the first press to the second; negative when they fell.
    """

    first_count: int | None = None
    counts: int | None = None

    def press(self, reading: Reading) -> TurnCheck:
        """Return the check after the key was pressed: the first press, or the second."""
        if self.first_count is None or self.counts is not None:
            return TurnCheck(reading.count)
        return replace(self, counts=reading.count - self.first_count)

    @property
    def words(self) -> str:
        """What to do next, or what was found."""
        if self.first_count is None:
            return "Put a mark at its pointer and press K. Then turn one full turn the right way."
        if self.counts is None:
            return "Turn one full turn the right way until the mark is back, then press K again."
        if abs(self.counts) < LEAST_TURN_COUNTS:
            return f"Only {self.counts} counts: is the encoder clamped on? Press K to begin again."
        way = "rises" if self.counts > 0 else "falls"
        return (
            f"{abs(self.counts)} counts for one turn of the crank; the count {way} the right way: "
            f"direction = {1 if self.counts > 0 else -1}. Press K to begin again."
        )

    def applied(self, profile: Profile) -> Profile:
        """Return the profile with counts and direction as found.

        Raises
        ------
        InputError
            When no turn has been found yet.
        """
        if self.counts is None or abs(self.counts) < LEAST_TURN_COUNTS:
            raise InputError("no turn found yet: press K, turn one full turn, press K again")
        ratio = profile.encoder.drive_ratio
        encoder = replace(
            profile.encoder,
            counts_per_rev=round(abs(self.counts) / ratio),
            direction=1 if self.counts > 0 else -1,
        )
        return replace(profile, encoder=encoder)
