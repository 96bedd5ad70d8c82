"""What pressure does a sensor in one intake runner see?

The physics knows the plenum and the cylinder. Between them the runner and the intake valve are two
openings in a row; for slow flow, ṁ² = 2 ρ A² Δp in each, so with the runner's area R and the
valve's V the pressure between them is (R² p_plenum + V² p_cylinder) / (R² + V²). Waves in the
runner are left out: at starter speed they are over in a few degrees.
"""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray

from strokewise.daq.bench.engine.constants import constants_of
from strokewise.daq.bench.engine.stretch import Stretch

RUNNER_SHARE = 0.6  # effective runner area over that of the whole valve head: ports are narrower


def runner_bar(stretch: Stretch, cylinder: int) -> NDArray[np.float64]:
    """Return the absolute pressure in the runner of a cylinder, (n,) bar."""
    valve = intake_area_m2(stretch, cylinder)
    runner = RUNNER_SHARE * pi / 4 * constants_of(stretch.engine).intake_diameter_m ** 2
    share = valve**2 / (valve**2 + runner**2)
    inside = stretch.pressure_bar[:, cylinder - 1]
    return np.asarray(stretch.manifold_bar + share * (inside - stretch.manifold_bar))


def intake_area_m2(stretch: Stretch, cylinder: int) -> NDArray[np.float64]:
    """Return the effective opening of an intake valve, leak included, (n,) m²."""
    k, c = constants_of(stretch.engine), cylinder - 1
    own_deg = stretch.crank_deg - np.degrees(k.firing_rad[c])
    from_middle = (own_deg - k.intake_middle_deg + 360.0) % 720.0 - 360.0
    x = np.clip(from_middle / k.intake_half_deg, -1.0, 1.0)
    lift = np.maximum(k.intake_cam_lift_m * (1.0 - x**2) ** 2 - k.intake_clearance_m[c], 0.0)
    curtain = np.minimum(lift, 0.25 * k.intake_diameter_m)
    opening = k.intake_discharge * pi * k.intake_diameter_m * curtain
    return np.asarray(opening + k.intake_leak_m2[c])
