"""The last lift of a valve, and what clearance takes off both ends."""

import numpy as np
import pytest

from strokewise.analysis.cam.valve_ramp import ramp_of
from strokewise.analysis.profile import Profile, Valves, ValveTiming, even_intervals_deg

ENGINE = Profile(
    4,
    (1, 3, 4, 2),
    even_intervals_deg(4, 720.0),
    bore_mm=84.0,
    stroke_mm=88.0,
    valve_timing=ValveTiming(12.0, 48.0, 46.0, 14.0),
    valves=Valves(clearance_inlet_mm=0.30, clearance_exhaust_mm=0.35),
)
RAMP = ramp_of(ENGINE, "inlet")


def test_lift_and_angle_off_the_seat_undo_each_other():
    off = RAMP.off_seat_deg(0.8)
    lift = RAMP.speed_mm * (off + RAMP.bend * off**2)
    assert lift == pytest.approx(0.8)
    assert RAMP.off_seat_deg(0.0) == 0.0
    assert RAMP.off_seat_sigma_deg(0.8) > 1.0


def test_a_wider_gap_takes_off_what_the_speed_at_the_seat_says():
    small = 0.001
    assert float(RAMP.shorter_deg(small)) == pytest.approx(small / RAMP.speed_mm, rel=0.01)
    assert float(RAMP.shorter_deg(-0.1)) < 0 < float(RAMP.shorter_deg(0.1))
    assert np.isfinite(RAMP.shorter_deg(-1.0))


def test_a_versine_lobe_lies_within_the_spread():
    """A cam that lifts by a versine meets a gap of 0.3 mm at the speed that geometry gives."""
    lift, half = 8.4 + 0.3, 135.0
    x = np.arccos(2 * 0.3 / lift - 1) / np.pi  # where lift (1 + cos πx) / 2 is the gap
    speed = lift * np.pi / 2 * np.sin(np.pi * x) / half
    assert abs(np.log(RAMP.speed_mm / speed)) < 0.35


def test_the_unknown_is_wider():
    unknown = Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720.0))
    ramp = ramp_of(unknown, "exhaust")
    assert ramp.flow_sigma > RAMP.flow_sigma
    assert ramp.clearance_mm > 0


def test_each_valve_has_its_own_clearance():
    """By the inlet's, a wide exhaust would be taken for a late one."""
    assert (RAMP.clearance_mm, ramp_of(ENGINE, "exhaust").clearance_mm) == (0.30, 0.35)
