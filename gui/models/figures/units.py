"""In which unit is pressure shown? bar, kPa or psi, by choice; none from a sensor nobody knows."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from strokewise.analysis.profile import Profile
from strokewise.analysis.trace.trace import UNCALIBRATED_SPAN_BAR


@dataclass(frozen=True, slots=True)
class PressureUnit:
    """A unit of pressure: ``value = bar · per_bar``.

    Attributes
    ----------
    calibrated : bool
        False for what a sensor without known points shows: then it is no pressure at all.
    """

    name: str
    per_bar: float
    decimals: int
    calibrated: bool = True

    @property
    def quantity(self) -> str:
        """What the figures in this unit are, for an axis."""
        return "absolute pressure" if self.calibrated else "uncalibrated"

    def text(self, pressure_bar: float) -> str:
        """Return a pressure with its unit, ``"12.4 bar"``."""
        return f"{pressure_bar * self.per_bar:.{self.decimals}f} {self.name}"


BAR = PressureUnit("bar", 1.0, 2)
KPA = PressureUnit("kPa", 100.0, 0)
PSI = PressureUnit("psi", 1e5 / 6894.757293168361, 1)
"""Pascals for one psi: NIST SP 811, appendix B."""

PRESSURE_UNITS = (BAR, KPA, PSI)

SENSOR_RANGE = PressureUnit("% of range", 100.0 / UNCALIBRATED_SPAN_BAR, 1, calibrated=False)
"""Share of the converter's range: all that a reading without known points says."""

ROUND_STEPS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
"""Numbers that an axis may end with, in its decade."""
NOT_CALIBRATED = "not calibrated: the sensor has no known points in the profile, so no pressure"


def counted_words(*, gauge: bool) -> str:
    """Return from where pressure is counted."""
    return "gauge pressure, 0 is the air outside" if gauge else "absolute pressure, 0 is a vacuum"


_IN_BAR = re.compile(r"(\d+(?:\.\d+)?)((?: ± | to |, )?)(?:(\d+(?:\.\d+)?))? bar\b")


def in_unit(words: str, unit: PressureUnit) -> str:
    """Return words with every pressure in them, which are said in bar, in the unit chosen."""
    if unit is BAR or not unit.calibrated:
        return words

    def other(found: re.Match[str]) -> str:
        first, between, second = found.groups()
        # As finely as it was said: a rounded ± would be surer than what is known.
        coarser = math.floor(math.log10(unit.per_bar))
        told = [
            f"{float(one) * unit.per_bar:.{max(0, len(one.partition('.')[2]) - coarser)}f}"
            for one in (first, second)
            if one
        ]
        return f"{between.join(told)} {unit.name}"

    return _IN_BAR.sub(other, words)


def round_end(value: float) -> float:
    """Return the round number at or above a value, to end an axis with."""
    if value <= 0:
        return 0.0
    decade = 10.0 ** math.floor(math.log10(value))
    return next(step * decade for step in ROUND_STEPS if step * decade >= value * (1 - 1e-9))


def is_calibrated(profile: Profile) -> bool:
    """Tell whether the profile's first sensor, the one that is drawn, has known points."""
    return bool(profile.sensors and profile.sensors[0].points)


def unit_for(profile: Profile, chosen: PressureUnit) -> PressureUnit:
    """Return the chosen unit, or the sensor's own range where it cannot be converted."""
    return chosen if is_calibrated(profile) else SENSOR_RANGE


def unit_named(name: str) -> PressureUnit:
    """Return the unit of that name; bar for a name that is none."""
    return next((unit for unit in PRESSURE_UNITS if unit.name == name), BAR)


def next_unit(unit: PressureUnit) -> PressureUnit:
    """Return the unit that follows in the round."""
    return PRESSURE_UNITS[(PRESSURE_UNITS.index(unit) + 1) % len(PRESSURE_UNITS)]
