"""The slider-crank held against textbook, symbolic derivation and plain geometry."""

import numpy as np
import pytest
import sympy

from strokewise.analysis.crank import kinematics
from strokewise.analysis.crank.kinematics import Crank

ANGLES_DEG = np.array([-140.0, -75.0, -20.0, -1.0, 0.0, 3.0, 10.0, 33.0, 90.0, 121.0, 179.0])


def test_position_and_volume_by_the_textbook():
    """Heywood, Internal Combustion Engine Fundamentals, ch. 2, eq. 2.4 to 2.6 (from memory):

    V/Vc = 1 + (rc - 1)/2 · [R + 1 - cos θ - √(R² - sin² θ)], R = l/a;
    s = a cos θ + √(l² - a² sin² θ).
    """
    rod_ratio, compression_ratio = 3.5, 9.8
    theta = np.radians(ANGLES_DEG)
    bracket = rod_ratio + 1 - np.cos(theta) - np.sqrt(rod_ratio**2 - np.sin(theta) ** 2)
    expected = 1 + (compression_ratio - 1) / 2 * bracket
    ours = kinematics.volume_ratio(ANGLES_DEG, compression_ratio, rod_ratio=rod_ratio)
    assert ours == pytest.approx(expected, rel=1e-12)
    assert kinematics.travel(ANGLES_DEG, rod_ratio=rod_ratio) == pytest.approx(bracket, abs=1e-12)


def test_speed_by_the_textbook():
    """Heywood, ch. 2, eq. 2.11 (from memory): Sp/mean Sp = π/2 sin θ [1 + cos θ/√(R² - sin² θ)]."""
    crank, speed_rpm = Crank.from_stroke(90, 157.5), 1200.0
    theta = np.radians(ANGLES_DEG)
    bracket = 1 + np.cos(theta) / np.sqrt(crank.rod_ratio**2 - np.sin(theta) ** 2)
    mean_m_s = 2 * 0.090 * speed_rpm / 60
    expected = mean_m_s * np.pi / 2 * np.sin(theta) * bracket
    assert crank.speed_m_s(ANGLES_DEG, speed_rpm) == pytest.approx(expected, rel=1e-12, abs=1e-12)


def test_position_and_velocity_derived_with_sympy():
    """The constraint |crank pin - piston pin| = l, solved and differentiated by sympy."""
    theta, y, a, rod, d = sympy.symbols("theta y a l d", real=True)
    constraint = (a * sympy.sin(theta) - d) ** 2 + (y - a * sympy.cos(theta)) ** 2 - rod**2
    upper = max(sympy.solve(constraint, y), key=lambda s: s.subs({theta: 0, a: 1, d: 0, rod: 3}))
    values = {a: 1, rod: sympy.Rational(32, 10), d: sympy.Rational(3, 100)}
    height = sympy.lambdify(theta, upper.subs(values))
    speed = sympy.lambdify(theta, sympy.diff(upper, theta).subs(values))
    geometry = {"rod_ratio": 3.2, "pin_offset_ratio": 0.03}
    top_deg = kinematics.tdc_from_line_up_deg(**geometry)
    at = np.radians(ANGLES_DEG + top_deg)
    ours = kinematics.travel(ANGLES_DEG, **geometry)
    assert ours == pytest.approx(height(np.radians(top_deg)) - height(at), abs=1e-12)
    per_radian = np.degrees(kinematics.travel_slope(ANGLES_DEG, **geometry))
    assert per_radian == pytest.approx(-speed(at), abs=1e-12)
    assert speed(np.radians(top_deg)) == pytest.approx(0, abs=1e-12)


def test_pin_offset_by_the_two_triangles():
    """Crank and rod lie in one line at TDC and BDC, so Pythagoras gives both, and the stroke.

    sin TDC = d/(l + a), sin (BDC - 180°) = d/(l - a), stroke √((l+a)² - d²) - √((l-a)² - d²):
    Euclid I.47, worked out in 30 digits by sympy.
    """
    a, rod, d = sympy.Rational(4335, 100), sympy.Rational(15268, 100), sympy.Rational(9, 10)
    crank = Crank(radius_mm=43.35, rod_length_mm=152.68, pin_offset_mm=-0.9)  # d = -pin offset
    top_deg = kinematics.tdc_from_line_up_deg(**crank.ratios)
    past_bottom_deg = top_deg + kinematics.bdc_atdc_deg(**crank.ratios) - 180.0
    stroke = sympy.sqrt((rod + a) ** 2 - d**2) - sympy.sqrt((rod - a) ** 2 - d**2)
    for ours, exact in (
        (top_deg, sympy.deg(sympy.asin(d / (rod + a)))),
        (past_bottom_deg, sympy.deg(sympy.asin(d / (rod - a)))),
        (crank.stroke_mm, stroke),
    ):
        assert ours == pytest.approx(float(exact.evalf(30)), rel=1e-10)
