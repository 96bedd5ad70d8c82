"""Which marks tell half a turn of the cam, and how sure that is."""

from dataclasses import replace

import pytest

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.cam_evidence import chance_of
from strokewise.analysis.marks.half_turn import HalfTurn, half_turn_from
from strokewise.analysis.marks.mark_causes import NO_CAUSES, weigh_causes
from strokewise.analysis.marks.marks import MarkPlace
from strokewise.analysis.marks.rig_states import Sensed
from strokewise.analysis.profile import CamDrive, Mark, Profile, even_intervals_deg

FOUR = Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720), cam_drive=CamDrive(21, 42))
DOT = Mark("cam dot", 2, "cam sprocket", 0.0, "firing")
ROTOR = Mark("rotor", 3, "distributor", 0.0, "firing")
TOOTH = 720 / 42


def at(mark, late):
    late_360 = nearest(late, 360)
    interval = Interval(late_360, late_360 - 0.3, late_360 + 0.3)
    return MarkPlace(mark, 4, interval, interval, "firing", late_in_cycle_deg=nearest(late, 720))


def told(*places, shift=0.0, **more):
    seen = chance_of(Interval(shift, shift - 2.0, shift + 2.0))
    return half_turn_from(places, weigh_causes(places, FOUR, seen=seen, clamp="steady", **more))


@pytest.mark.parametrize(
    ("late", "shift", "out"),
    [
        (1.0, 0.0, False),
        (361.5, 0.0, True),
        (-358.0, 0.0, True),
        (2 * TOOTH, 2 * TOOTH, False),
        (360.0 - TOOTH, -TOOTH, True),
    ],
)
def test_a_mark_that_goes_with_the_cam_tells_its_turn(late, shift, out):
    """A cam two teeth out has a mark 34° out: no reason to call the half turn unknown."""
    found = told(at(DOT, late), shift=shift)
    assert found.out is out
    assert (found.away if out else found.near) == ("cam dot",)
    assert found.told_by == ("cam dot",)
    assert found.probability > 0.9


@pytest.mark.parametrize("late", [TOOTH, 40.0, 180.0, 320.0])
def test_a_dot_of_another_engine_tells_no_turn(late):
    found = told(at(DOT, late))
    assert (found.out, found.told_by, found.probability) == (None, (), 0.0)
    assert found.untold == ("cam dot",)


def test_it_is_unknown_without_a_mark_and_where_marks_disagree():
    assert half_turn_from((), NO_CAUSES) == HalfTurn()
    found = told(at(DOT, 1.0), at(ROTOR, 358.0))
    assert found.out is None
    assert (found.near, found.away, found.told_by) == (("cam dot",), ("rotor",), ())
    no_turn = replace(at(DOT, 1.0), late_in_cycle_deg=None)
    assert told(no_turn).out is None


def test_it_is_no_surer_than_the_sensor_sits_where_it_was_stated():
    alone, doubted = told(at(DOT, 360.0)), told(at(DOT, 360.0), sensed=Sensed(1))
    assert doubted.out is True
    assert doubted.probability < 0.9 < alone.probability
