"""The drive gear against textbook helix geometry and the screw's own equation."""

import numpy as np
import pytest
import sympy

from strokewise.analysis.ignition.drive_gear import mesh_turn_deg
from strokewise.analysis.profile import DriveGear

CASES = [(45.0, 25.0, 12.0), (30.0, 40.0, 8.0), (60.0, 18.5, 6.0), (7.5, 22.0, 30.0)]


@pytest.mark.parametrize(("helix", "diameter", "travel"), CASES)
def test_lead_of_a_helical_gear(helix, diameter, travel):
    """Lead = π d / tan ψ, one turn for each lead: any text on helical gears, e.g. Shigley's

    Mechanical Engineering Design, ch. 13 (from memory).
    """
    gear = DriveGear(10, helix, diameter, travel, "right")
    lead_mm = np.pi * diameter / np.tan(np.radians(helix))
    assert mesh_turn_deg(gear) == pytest.approx(360 * travel / lead_mm, rel=1e-12)
    assert mesh_turn_deg(gear, lead_mm) == pytest.approx(360)


def test_a_point_on_the_flank_stays_on_the_fixed_tooth():
    """A right-hand helix is (r cos t, r sin t, c t) with c = r / tan ψ.

    Lowered by s (the cap is on top, +z up) and turned so that its flank stays where it was, as the
    fixed tooth makes it. The turn is found by symbols, not by thumb.
    """
    t, s, turn = sympy.symbols("t s turn", real=True)
    radius, psi = sympy.Rational(25, 2), sympy.pi / 4
    c = radius / sympy.tan(psi)
    # The gear is turned by `turn` about z and slid by -s: its helix keeps its place when the point
    # with parameter t + s/c lands where t was.
    parameter = t + s / c
    moved = sympy.Matrix(
        [
            radius * sympy.cos(parameter + turn),
            radius * sympy.sin(parameter + turn),
            c * parameter - s,
        ]
    )
    fixed = sympy.Matrix([radius * sympy.cos(t), radius * sympy.sin(t), c * t])
    solution = -s / c
    assert sympy.simplify(moved.subs(turn, solution) - fixed) == sympy.zeros(3, 1)
    # About +z, counter-clockwise for an eye above is positive; that eye sees the cap.
    seen_on_cap_deg = -float(sympy.deg(solution.subs(s, 12)))
    gear = DriveGear(10, 45, 25, 12, "right")
    assert mesh_turn_deg(gear) == pytest.approx(seen_on_cap_deg)
    assert seen_on_cap_deg == pytest.approx(55.0, abs=0.01)
