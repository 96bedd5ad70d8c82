"""The profile's units against the factors that NIST SP 811 prints.

NIST Special Publication 811 (2008 edition), Guide for the Use of the International System of
Units, appendix B, factors for conversion to SI: the pressures read second hand, lengths, angles and
temperatures from memory. Each is held against the path that a profile's text takes, through pint.
"""

from __future__ import annotations

import pytest

from strokewise.daq.profile.known import known_engine
from strokewise.daq.profile.quantity import (
    ANGLE,
    LENGTH,
    PRESSURE,
    TEMPERATURE,
    Dimension,
    read_quantity,
)

PASCAL_PER_BAR = 1e5  # SP 811 B.8: bar, exactly 1.0 E+05 Pa

# SP 811 prints seven digits, so half a unit of the last one is the tolerance.
SEVEN_DIGITS = 5e-7


@pytest.mark.parametrize(
    ("unit", "pascal"),
    [
        ("psi", 6894.757),  # SP 811 B.8: pound-force per square inch
        ("lbf/in**2", 6894.757),
        ("inHg", 3386.389),  # SP 811 B.8: inch of mercury, conventional
        ("mmHg", 133.3224),  # SP 811 B.8: millimeter of mercury, conventional
        ("torr", 133.3224),  # SP 811 B.8: torr
        ("kgf/cm**2", 98066.5),  # SP 811 B.8: kilogram-force per square centimeter, exact
        ("kgf/cm²", 98066.5),
        ("atm", 101325),  # SP 811 B.8: atmosphere, standard, exact
        ("mbar", 100),  # SP 811 B.8: millibar, exact
    ],
)
def test_pressures(unit: str, pascal: float):
    assert read_quantity(f"1 {unit}", PRESSURE) * PASCAL_PER_BAR == pytest.approx(
        pascal, rel=SEVEN_DIGITS
    )


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("1 in", LENGTH, 25.4),  # SP 811 B.8: inch, exactly 2.54 E-02 m
        ("1 ft", LENGTH, 304.8),  # SP 811 B.8: foot, exactly 3.048 E-01 m
        ("0.010 in", LENGTH, 0.254),  # arithmetic on the exact inch
        ("10 thou", LENGTH, 0.254),  # a thousandth of an inch (SP 811: mil, 2.54 E-05 m)
        ("1 rad", ANGLE, 57.29578),  # SP 811 B.8: degree is 1.745329 E-02 rad
        ("32 degF", TEMPERATURE, 0.0),  # SP 811 B.8: t/°C = (t/°F - 32)/1.8
        ("212 degF", TEMPERATURE, 100.0),
        ("273.15 K", TEMPERATURE, 0.0),  # SP 811 B.8: t/°C = T/K - 273.15
    ],
)
def test_lengths_angles_and_temperatures(text: str, dimension: Dimension, value: float):
    assert read_quantity(text, dimension) == pytest.approx(value, rel=SEVEN_DIGITS, abs=1e-9)


def test_a_whole_profile_takes_the_same_path():
    profile = known_engine(
        overrides=[
            "atmosphere.pressure=29.92 inHg",
            "valves.clearance_inlet=0.010 in",
            'sensor.points=[[0, "0 psi"], [1000, "300 psi"]]',
        ]
    ).profile
    assert profile.atmosphere.pressure_bar == pytest.approx(29.92 * 0.03386389, rel=SEVEN_DIGITS)
    assert profile.valves is not None
    assert profile.valves.clearance_inlet_mm == pytest.approx(0.254, rel=1e-12)
    assert profile.sensors[0].points[1][1] == pytest.approx(300 * 0.06894757, rel=SEVEN_DIGITS)
