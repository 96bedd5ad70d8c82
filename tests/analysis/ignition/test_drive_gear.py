"""The drive gear going in, the leads on the cap, and a drive found out of place."""

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.errors import InputError
from strokewise.analysis.ignition.drive_gear import (
    crank_per_turn,
    drawing,
    found_at,
    gear_of,
    leads,
    mesh_turn_deg,
    meshing,
    rotor_deg,
)
from strokewise.analysis.profile import DriveGear, Profile, even_intervals_deg
from strokewise.analysis.remark import remark
from strokewise.gui.sayings import say

GEAR = DriveGear(teeth=10, helix_angle_deg=45, pitch_diameter_mm=25, engagement_mm=12, hand="right")
TURN_DEG = 360 * 12 / (np.pi * 25)


def engine(order=(1, 3, 4, 2), rotation="clockwise", gear=GEAR, cycle="four-stroke"):
    cycle_deg = 720 if cycle == "four-stroke" else 360
    return Profile(
        len(order),
        order,
        even_intervals_deg(len(order), cycle_deg),
        cycle=cycle,
        drive_gear=gear,
        distributor_rotation=rotation,
    )


def caps(profile, lead_1_deg=0.0):
    return {lead.cylinder: lead.cap_deg for lead in leads(profile, lead_1_deg)}


def test_the_hand_alone_gives_the_direction():
    assert mesh_turn_deg(GEAR) == pytest.approx(TURN_DEG)
    assert mesh_turn_deg(replace(GEAR, hand="left")) == pytest.approx(-TURN_DEG)
    assert meshing(GEAR, 0).direction == "clockwise"
    assert meshing(replace(GEAR, hand="left"), 0).direction == "counter-clockwise"


def test_coming_out_it_turns_back():
    assert mesh_turn_deg(GEAR, -12) == -mesh_turn_deg(GEAR, 12)
    assert mesh_turn_deg(replace(GEAR, helix_angle_deg=0)) == 0


@pytest.mark.parametrize("hand", ["right", "left"])
def test_started_there_it_ends_where_wanted(hand):
    gear = replace(GEAR, hand=hand)
    entry = meshing(gear, 20)
    assert (entry.start_deg + mesh_turn_deg(gear)) % 360 == pytest.approx(20)
    assert abs(entry.turn_teeth) == pytest.approx(TURN_DEG / 36)
    assert entry.end_deg == 20


def test_one_tooth_wrong_in_crank_degrees():
    assert meshing(GEAR, 0).tooth_crank_deg == 72
    assert meshing(GEAR, 0, crank_per_turn=1).tooth_crank_deg == 36
    assert crank_per_turn(engine()) == 2
    assert crank_per_turn(engine((1, 2), cycle="two-stroke")) == 1


def test_leads_follow_the_rotor():
    assert caps(engine()) == {1: 0, 3: 90, 4: 180, 2: 270}
    assert caps(engine(rotation="counter-clockwise")) == {1: 0, 3: 270, 4: 180, 2: 90}
    assert caps(engine(), lead_1_deg=300)[3] == 30
    with pytest.raises(InputError, match=r"distributor.rotation is missing"):
        leads(engine(rotation=None))


@pytest.mark.parametrize("rotation", ["clockwise", "counter-clockwise"])
def test_rotor_points_at_the_lead_of_the_cylinder_that_fires(rotation):
    profile = engine((1, 5, 3, 6, 2, 4), rotation)
    for number, cylinder in enumerate(profile.firing_order):
        assert rotor_deg(profile, 120 * number, 40) == pytest.approx(caps(profile, 40)[cylinder])
    with pytest.raises(InputError, match=r"distributor.rotation is missing"):
        rotor_deg(engine(rotation=None), 0)


def test_drawing_ends_where_wanted_and_turns_as_it_goes_in():
    picture = drawing(engine(), 20, points=5)
    assert picture.depth_mm == pytest.approx([0, 3, 6, 9, 12])
    assert picture.rotor_deg[-1] == 20
    assert picture.rotor_deg[0] == pytest.approx(20 - TURN_DEG)
    assert np.diff(picture.rotor_deg) == pytest.approx(TURN_DEG / 4)
    assert picture.teeth_deg[:2] == pytest.approx([20, 56])
    assert len(picture.teeth_deg) == 10
    assert [lead.cylinder for lead in picture.leads] == [1, 3, 4, 2]
    assert drawing(engine(rotation=None), 0).leads == ()


def test_a_drive_one_tooth_out():
    error = found_at(engine(), 38, 0)
    assert error.teeth == 1
    assert error.rest_deg == pytest.approx(2)
    assert error.crank_deg == pytest.approx(-76)  # ahead in its own rotation: it sparks early
    assert not error.half_turn
    assert "1 tooth counter-clockwise" in say(error.ways[0])
    backwards = found_at(engine(rotation="counter-clockwise"), 38, 0)
    assert backwards.crank_deg == pytest.approx(76)
    assert found_at(engine(rotation=None), 38, 0).crank_deg is None


def test_a_drive_where_it_belongs():
    assert found_at(engine(), 0.4, 0).ways == (remark("drive-in-place"),)
    assert "body by the remaining 8°" in say(found_at(engine(), 8, 0).ways[0])
    assert "more than a clamp commonly allows" in say(found_at(engine(), 17, 0).ways[0])


def test_half_a_turn_out_the_leads_can_move_instead():
    error = found_at(engine(), 181, 0)
    assert error.half_turn
    assert error.lead_moves == {1: 4, 2: 3, 3: 2, 4: 1}
    assert "firing TDC, not on the overlap TDC" in say(error.ways[0])
    assert "every plug lead" in say(error.ways[1])
    assert "5 teeth" in say(error.ways[2])


def test_half_a_turn_with_no_tower_opposite():
    error = found_at(engine((1, 3, 2)), 180, 0)
    assert error.half_turn
    assert error.lead_moves == {}
    assert not any("plug lead" in say(way) for way in error.ways)


def test_an_odd_number_of_teeth_has_no_half_turn():
    error = found_at(engine(gear=replace(GEAR, teeth=11)), 180, 0)
    assert error.half_turn
    assert "11 teeth half a turn is no whole number" in say(error.ways[-1])


def test_two_stroke_twin_half_a_turn():
    error = found_at(engine((1, 2), cycle="two-stroke"), 180, 0)
    assert error.lead_moves == {1: 2, 2: 1}
    assert error.crank_deg == -180


def test_what_is_missing_or_impossible():
    with pytest.raises(InputError, match="drive_gear is missing"):
        gear_of(engine(gear=None))
    with pytest.raises(InputError, match="helix_angle must lie"):
        mesh_turn_deg(replace(GEAR, helix_angle_deg=90))
    with pytest.raises(InputError, match="above 0"):
        mesh_turn_deg(replace(GEAR, teeth=0))


@pytest.mark.parametrize(
    "wrong", [{"teeth": 0}, {"pitch_diameter_mm": 0.0}, {"engagement_mm": -0.1}, {"teeth": -3}]
)
def test_a_gear_that_cannot_be_is_refused_at_its_very_bound(wrong):
    with pytest.raises(InputError, match="above 0"):
        mesh_turn_deg(replace(GEAR, **wrong))


def test_a_gear_at_its_bounds_is_taken():
    assert mesh_turn_deg(replace(GEAR, engagement_mm=0.0)) == 0.0
    assert mesh_turn_deg(replace(GEAR, teeth=1)) == pytest.approx(TURN_DEG)
    assert mesh_turn_deg(replace(GEAR, helix_angle_deg=89.0)) > mesh_turn_deg(GEAR)
