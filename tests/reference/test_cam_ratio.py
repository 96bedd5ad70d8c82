"""The cam at half crank speed (arithmetic; common practice, no source)."""

from fractions import Fraction

import pytest

from strokewise.analysis.cam.cam_correction import corrections, tooth_crank_deg
from strokewise.analysis.estimate import Interval
from strokewise.analysis.ignition.drive_gear import crank_per_turn, leads, meshing
from strokewise.analysis.profile import CamDrive, DriveGear, Profile, even_intervals_deg


def test_one_tooth_of_a_42_tooth_cam_sprocket_is_17_14_crank_degrees():
    """The cam turns once for two of the crank: 720/42."""
    assert tooth_crank_deg(CamDrive(21, 42)) == pytest.approx(17.14, abs=0.005)
    assert tooth_crank_deg(CamDrive(21, 42)) == pytest.approx(float(Fraction(720, 42)))


def test_one_tooth_of_the_crank_sprocket_is_the_same():
    """The chain runs at one speed: 360/21 crank degrees."""
    assert tooth_crank_deg(CamDrive(21, 42)) == pytest.approx(float(Fraction(360, 21)))


def test_a_keyway_counts_twice_at_the_crank():
    drive = CamDrive(21, 42, (0.0, 4.0))
    best = corrections(drive, Interval(-8, -8.5, -7.5))[0]
    assert (best.teeth_earlier, best.keyway) == (0, 2)
    assert best.residual.value == pytest.approx(0)


@pytest.mark.parametrize("count", [3, 4, 5, 6, 8])
def test_the_distributor_turns_once_while_every_cylinder_fires_once(count):
    profile = Profile(
        count,
        tuple(range(1, count + 1)),
        even_intervals_deg(count, 720),
        distributor_rotation="clockwise",
    )
    assert crank_per_turn(profile) == 2
    steps = [lead.cap_deg for lead in leads(profile)]
    assert steps == pytest.approx([360 / count * n for n in range(count)])


def test_a_tooth_of_a_ten_tooth_drive_is_72_crank_degrees():
    """36° of the distributor, twice that at the crank."""
    gear = DriveGear(10, 45, 25, 12, "right")
    assert meshing(gear, 0).tooth_crank_deg == pytest.approx(72)
