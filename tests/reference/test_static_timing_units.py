"""Static timing against plain geometry, the textbook and pint."""

import numpy as np
import pint
import pytest

from strokewise.analysis.ignition.static_timing import timing_point
from strokewise.analysis.profile import Profile

UNITS = pint.UnitRegistry()
BENCH = Profile(
    4,
    (1, 3, 4, 2),
    (180.0,) * 4,
    stroke_mm=94,
    rod_length_mm=168,
    pulley_radius_mm=80,
    flywheel_teeth=120,
)


def test_rim_by_pint():
    """Arc = angle in radians times radius; pint knows the degree."""
    arc = UNITS.Quantity(6, "degree").to("radian").magnitude * UNITS.Quantity(80, "mm")
    assert timing_point(BENCH, 6).rim_arc_mm == pytest.approx(arc.to("mm").magnitude)
    assert timing_point(BENCH, 6).rim_arc_mm == pytest.approx(2 * np.pi * 80 / 60)


def test_a_sixty_degree_chord_is_the_radius():
    """Euclid IV.15: the side of a hexagon is the radius of its circle."""
    assert timing_point(BENCH, 60).rim_chord_mm == pytest.approx(80)


def test_flywheel_teeth():
    """Arithmetic: 120 teeth to the turn are 3 degrees each."""
    assert timing_point(BENCH, 6).flywheel_teeth == pytest.approx(2)


@pytest.mark.parametrize("btdc", [2.0, 6.0, 12.0, 35.0])
def test_piston_travel_by_the_textbook(btdc):
    """Heywood, Internal Combustion Engine Fundamentals, ch. 2 (from memory):

    travel from TDC = l + a - a cos θ - √(l² - a² sin² θ).
    """
    theta = np.radians(btdc)
    expected = 168 + 47 - 47 * np.cos(theta) - np.sqrt(168**2 - (47 * np.sin(theta)) ** 2)
    assert timing_point(BENCH, btdc).piston_travel_mm == pytest.approx(expected)
