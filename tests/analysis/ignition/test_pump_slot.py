"""The oil pump's slot under the drive gear: where it must stand, what a tooth does, the seat."""

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.ignition.drive_gear import mesh_turn_deg
from strokewise.analysis.ignition.pump_slot import SLOT_PLAY_DEG, seating
from strokewise.analysis.profile import DriveGear

GEAR = DriveGear(10, 45.0, 25.0, 12.0, "right", slot_angle_deg=90.0, slot_depth_mm=4.0)
PER_MM = 360 / (np.pi * 25)  # the lead of 45° is the circumference


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize("depth_mm", [0.5, 4.0, 11.0, 30.0])
def test_the_slot_is_taken_along_to_where_it_belongs(hand, depth_mm):
    gear = replace(GEAR, hand=hand, slot_depth_mm=depth_mm)
    seat = seating(gear, 20.0)
    # Followed step by step: tongue and slot in line from the moment they meet to the seat.
    travels = np.linspace(min(depth_mm, 12.0), 0.0, 50)
    tongue = 20.0 + 90.0 - np.array([mesh_turn_deg(gear, left) for left in travels])
    assert nearest(seat.before_deg - tongue[0], 180) == pytest.approx(0, abs=1e-9)
    assert nearest(seat.home_deg - tongue[-1], 180) == pytest.approx(0, abs=1e-9)
    assert 0 <= seat.before_deg < 180


def test_a_gear_that_rides_on_the_slots_edge_is_seen_by_height_and_rotor():
    seat = seating(GEAR, 0.0)
    assert seat.high_mm == 4.0
    assert seat.short_deg_per_mm == pytest.approx(-PER_MM)
    assert seat.riding_deg == pytest.approx(360 - 4 * PER_MM)
    left = seating(replace(GEAR, hand="left"), 0.0)
    assert left.riding_deg == pytest.approx(4 * PER_MM)


def test_each_tooth_moves_mesh_rotor_ignition_and_slot_together():
    seat = seating(GEAR, 0.0, way=1)
    assert [each.teeth for each in seat.choices] == [-2, -1, 0, 1, 2]
    wanted = seat.choices[2]
    for each in seat.choices:
        assert nearest(each.start_deg - wanted.start_deg - 36 * each.teeth, 360) == pytest.approx(0)
        assert nearest(each.end_deg - 36 * each.teeth, 360) == pytest.approx(0, abs=1e-9)
        assert nearest(each.slot_deg - wanted.slot_deg - 36 * each.teeth, 180) == pytest.approx(0)
        # Clockwise of its place a rotor that turns clockwise is early.
        assert each.crank_deg == pytest.approx(-72 * each.teeth)
    other_way = seating(GEAR, 0.0, way=-1)
    assert [each.crank_deg for each in other_way.choices] == [-144, -72, 0, 72, 144]
    assert [each.crank_deg for each in seating(GEAR, 0.0).choices] == [None, None, 0, None, None]


def test_a_slot_that_stands_right_or_wrong():
    wanted = seating(GEAR, 0.0).before_deg
    for off in (-60.0, -SLOT_PLAY_DEG - 0.1, -SLOT_PLAY_DEG + 0.1, 0.0, 4.0, 40.0):
        seat = seating(GEAR, 0.0, slot_deg=wanted + off)
        assert seat.off_deg == pytest.approx(off)
        assert seat.off == (abs(off) > SLOT_PLAY_DEG)
        turned = seating(GEAR, 0.0, slot_deg=wanted + off + 180.0)
        assert turned.off_deg == pytest.approx(off)
    a_tooth = seating(GEAR, 0.0, slot_deg=wanted + 36.0)
    assert [each.teeth for each in a_tooth.choices if each.seats] == [1]


def test_what_nobody_said_is_not_made_up():
    bare = seating(replace(GEAR, slot_angle_deg=None, slot_depth_mm=None), 0.0, slot_deg=10.0)
    assert (bare.home_deg, bare.before_deg, bare.riding_deg, bare.off_deg) == (None,) * 4
    assert not bare.off
    assert bare.short_deg_per_mm == pytest.approx(-PER_MM)
    no_depth = seating(replace(GEAR, slot_depth_mm=None), 0.0, slot_deg=10.0)
    assert no_depth.home_deg == 90.0
    assert no_depth.before_deg is None
    assert [each.seats for each in no_depth.choices] == [None] * 5
    few = seating(replace(GEAR, teeth=4), 0.0)
    assert [each.teeth for each in few.choices] == [-1, 0, 1]  # two of four would be twice the same
