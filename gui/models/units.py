"""In which unit is pressure shown? bar, kPa or psi, by choice."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PressureUnit:
    """A unit of pressure: ``value = bar · per_bar``."""

    name: str
    per_bar: float
    decimals: int

    def text(self, pressure_bar: float) -> str:
        """Return a pressure with its unit, ``"12.4 bar"``."""
        return f"{pressure_bar * self.per_bar:.{self.decimals}f} {self.name}"


BAR = PressureUnit("bar", 1.0, 2)
KPA = PressureUnit("kPa", 100.0, 0)
PSI = PressureUnit("psi", 1e5 / 6894.757293168361, 1)
"""Pascals for one psi: NIST SP 811, appendix B."""

PRESSURE_UNITS = (BAR, KPA, PSI)


def unit_named(name: str) -> PressureUnit:
    """Return the unit of that name; bar for a name that is none."""
    return next((unit for unit in PRESSURE_UNITS if unit.name == name), BAR)


def next_unit(unit: PressureUnit) -> PressureUnit:
    """Return the unit that follows in the round."""
    return PRESSURE_UNITS[(PRESSURE_UNITS.index(unit) + 1) % len(PRESSURE_UNITS)]
