"""Where does the crank stand at the last sample? By its raw count, with nothing smoothed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strokewise.analysis.crank.angle import angle_of_count, deg_per_count
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.samples import Samples
from strokewise.analysis.trace.trace import pressure_of

STANDING_S = 0.3
"""No count for so long, and the crank is standing."""


@dataclass(frozen=True, slots=True)
class Now:
    """Where everything stands at the last sample.

    Attributes
    ----------
    angle_deg : float
        Unwrapped crank angle in the encoder frame.
    pressure_bar : tuple of float
        One for each sensor of the profile.
    """

    time_s: float
    angle_deg: float
    speed_deg_s: float
    pressure_bar: tuple[float, ...]
    segment: int
    standing: bool


def moment_of(
    samples: Samples,
    segment: int,
    profile: Profile,
    sensors: tuple[Sensor, ...],
    adc_bits: int,
    moved_s: float,
) -> Now:
    """Return where everything stands at the end of a block; ``moved_s`` is of its last count."""
    time_s = float(samples.time_us[-1]) * 1e-6
    elapsed_s = max(time_s - float(samples.time_us[0]) * 1e-6, 1e-6)
    way_deg = float(samples.count[-1] - samples.count[0]) * deg_per_count(profile.encoder)
    standing = time_s - moved_s > STANDING_S

    def pressure_bar(sensor: Sensor) -> float:
        reading = np.array([float(samples.readings[-1, sensor.channel])])
        return float(pressure_of(reading, sensor, profile, adc_bits)[0][0])

    return Now(
        time_s=time_s,
        angle_deg=float(angle_of_count(float(samples.count[-1]), profile.encoder)),
        speed_deg_s=0.0 if standing or len(samples) < 2 else way_deg / elapsed_s,
        pressure_bar=tuple(
            pressure_bar(sensor) for sensor in sensors if sensor.channel < samples.readings.shape[1]
        ),
        segment=segment,
        standing=standing,
    )
