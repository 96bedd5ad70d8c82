"""The slider-crank: travel, slope, volume and back, with the sign of the pin offset."""

import numpy as np
import pytest

from strokewise.analysis.crank import kinematics
from strokewise.analysis.crank.kinematics import Crank, crank_of
from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile

OFFSET = {"rod_ratio": 3.52, "pin_offset_ratio": 0.0208}
ANGLES_DEG = np.linspace(-360, 720, 1081)


def test_tdc_is_the_highest_piston_whatever_the_offset():
    near = np.linspace(-2, 2, 4001)
    for d_over_a in (-0.05, 0.0, 0.0208):
        down = kinematics.travel(near, rod_ratio=3.3, pin_offset_ratio=d_over_a)
        assert down.min() == pytest.approx(0, abs=1e-12)
        assert near[down.argmin()] == pytest.approx(0, abs=2e-3)


def test_bdc_is_the_lowest_piston():
    bottom = kinematics.bdc_atdc_deg(**OFFSET)
    near = np.linspace(178, 182, 40001)
    down = kinematics.travel(near, **OFFSET)
    assert near[down.argmax()] == pytest.approx(bottom, abs=2e-3)
    assert down.max() == pytest.approx(kinematics.stroke_ratio(**OFFSET), abs=1e-9)


def test_without_offset_both_sides_are_alike():
    down = kinematics.travel(ANGLES_DEG, rod_ratio=3.4)
    assert down == pytest.approx(kinematics.travel(-ANGLES_DEG, rod_ratio=3.4), abs=1e-12)
    assert kinematics.bdc_atdc_deg(rod_ratio=3.4) == pytest.approx(180)


def test_pin_towards_the_major_thrust_side_shortens_the_way_down():
    """The rod pushes the piston away from the crank pin going down, so that side has d below 0."""
    thrust = Crank(radius_mm=45, rod_length_mm=150, pin_offset_mm=1.0)
    assert thrust.pin_offset_ratio == pytest.approx(-1 / 45)
    assert kinematics.bdc_atdc_deg(**thrust.ratios) < 180


def test_slopes_are_the_derivatives():
    step = 1e-4
    for function, args in (
        (kinematics.travel, ()),
        (kinematics.volume_ratio, (9.2,)),
    ):
        slope = (kinematics.travel_slope, kinematics.volume_slope)[bool(args)]
        up = function(ANGLES_DEG + step, *args, **OFFSET)
        down = function(ANGLES_DEG - step, *args, **OFFSET)
        assert slope(ANGLES_DEG, *args, **OFFSET) == pytest.approx((up - down) / 2e-4, abs=1e-8)


def test_volume_runs_from_one_to_the_compression_ratio():
    volume = kinematics.volume_ratio([0, kinematics.bdc_atdc_deg(**OFFSET)], 9.2, **OFFSET)
    assert volume == pytest.approx([1.0, 9.2], abs=1e-12)


@pytest.mark.parametrize("side", ["after", "before"])
def test_travel_back_to_angle(side):
    angles = np.linspace(0.5, 179, 200) * (1 if side == "after" else -1)
    down = kinematics.travel(angles, **OFFSET)
    assert kinematics.angle_of_travel(down, side=side, **OFFSET) == pytest.approx(angles, abs=1e-9)


def test_travel_outside_the_stroke_is_refused():
    with pytest.raises(InputError, match="between 0 and the stroke"):
        kinematics.angle_of_travel(2.2, rod_ratio=3.5)
    with pytest.raises(InputError, match="between 0 and the stroke"):
        kinematics.angle_of_travel(-0.1, rod_ratio=3.5)


def test_a_rod_too_short_is_refused():
    with pytest.raises(InputError, match="rod is too short"):
        kinematics.travel(0, rod_ratio=1.0)
    with pytest.raises(InputError, match="rod is too short"):
        kinematics.travel(0, rod_ratio=1.2, pin_offset_ratio=-0.3)
    with pytest.raises(InputError, match="compression ratio must be above 1"):
        kinematics.volume_ratio(0, 1.0, rod_ratio=3)


def test_crank_in_millimetres():
    crank = Crank.from_stroke(94, 168)
    assert crank.radius_mm == pytest.approx(47)
    assert crank.travel_mm(180) == pytest.approx(94)
    down = crank.travel_mm([12.0, 60.0])
    assert crank.angle_of_travel_deg(down) == pytest.approx([12.0, 60.0])
    # at mid-stroke and 1000 rev/min the piston does roughly the crank pin's own speed
    assert crank.speed_m_s(90, 1000) == pytest.approx(0.047 * 1000 * 2 * np.pi / 60, rel=1e-9)


def test_stroke_with_offset_gives_the_radius_back():
    crank = Crank(radius_mm=43.35, rod_length_mm=152.68, pin_offset_mm=0.9)
    again = Crank.from_stroke(crank.stroke_mm, 152.68, 0.9)
    assert again.radius_mm == pytest.approx(43.35, abs=1e-12)


def test_impossible_cranks_are_refused():
    with pytest.raises(InputError, match="cannot turn a stroke"):
        Crank.from_stroke(94, 40)
    with pytest.raises(InputError, match="cannot turn a stroke"):
        Crank.from_stroke(0, 40)
    with pytest.raises(InputError, match="above 0 mm"):
        Crank(radius_mm=-1, rod_length_mm=100)


def test_crank_of_a_profile_needs_stroke_and_rod():
    bare = Profile(1, (1,), (720.0,))
    assert crank_of(bare) is None
    full = Profile(1, (1,), (720.0,), stroke_mm=90, rod_length_mm=150, pin_offset_mm=0.5)
    assert crank_of(full) == Crank.from_stroke(90, 150, 0.5)
