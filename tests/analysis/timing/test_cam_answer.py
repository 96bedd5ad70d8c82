"""When is a cam's shift known well enough to act on? The judging behind what is said."""

from dataclasses import dataclass, replace
from typing import Any

import pytest

from strokewise.analysis.cam import cam_seen as module
from strokewise.analysis.cam.cam import NO_SHIFT, CamShift
from strokewise.analysis.cam.cam_seen import COARSE_BAR
from strokewise.analysis.cam.valve_events import ValveEvent
from strokewise.analysis.errors import SaidError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import (
    CamDrive,
    Profile,
    Sensor,
    Valves,
    ValveTiming,
    even_intervals_deg,
)
from strokewise.analysis.timing.cam_answer import CamQuestion, cam_answer, shifts_of
from strokewise.analysis.verdict.found import Found
from strokewise.analysis.verdict.verdict import Tdc, Verdict
from strokewise.gui.sayings import as_said

SENSOR = Sensor(cylinder=1, points=((100.0, 0.0), (4000.0, 20.0)))
ENGINE = Profile(
    4,
    (1, 3, 4, 2),
    even_intervals_deg(4, 720.0),
    bore_mm=84.0,
    stroke_mm=88.0,
    sensors=(SENSOR,),
    valve_timing=ValveTiming(12.0, 48.0, 46.0, 14.0),
    valves=Valves(clearance_inlet_mm=0.30, clearance_exhaust_mm=0.35),
    cam_drive=CamDrive(21, 42, (0.0, 2.0)),
)
VERDICT = Verdict(
    decided=True,
    reason=as_said("nine compressions"),
    tdc=Tdc(Interval(100.0, 99.8, 100.2), 1, "fit", 9),
    firing_deg={1: 100.0, 3: 280.0, 4: 460.0, 2: 640.0},
)
TOOTH_DEG = 720 / 42


@dataclass(frozen=True)
class Nodes:
    step_bar: float = 0.02
    time_s: tuple[float, ...] = ()

    def __len__(self) -> int:
        return len(self.time_s)


@dataclass(frozen=True)
class Judged:
    """What a verdict rests on, as far as it is looked at before the valves are."""

    fit: Any = "a fit"
    nodes: Nodes = Nodes()


JUDGED = Judged()


def found(profile=ENGINE, verdict=VERDICT, judgement=JUDGED):
    return Found(profile, verdict, judgement=judgement)


@pytest.fixture
def seen(monkeypatch):
    """What the valves show; a test may put other events, or another fall, in its place."""
    box = {"events": (closing(0.0), opening(0.0)), "fall": 0.001}
    monkeypatch.setattr(module, "valve_events", lambda *about: box["events"])
    monkeypatch.setattr(module, "overlap_fall_bar", lambda judgement: box["fall"])
    return box


def event(name, seat_deg, sigma):
    return ValveEvent(name, Interval.from_sigma(seat_deg, sigma), sigma, None, 8, 1.0)


def closing(late, sigma=0.8):
    return event("intake closes", -180.0 + 48.0 + late, sigma)


def opening(late, sigma=0.8):
    return event("exhaust opens", 180.0 - 46.0 + late, sigma)


def asked(about=None, **said):
    return cam_answer(CamQuestion(**said), about or found())


def test_a_cam_on_its_tooth_is_decided(seen):
    told = asked()
    assert (told.decided, told.open, list(told.shifts)) == (True, "", ["cam"])
    assert told.shift.teeth.value == 0
    first = told.corrections["cam"][0]
    assert (first.teeth_earlier, first.keyway) == (0, 1)
    assert (told.half_turn.out, told.overlap_fall_bar, told.is_throttled) == (None, 0.001, False)


def test_a_tooth_late_is_put_right_by_a_tooth(seen):
    seen["events"] = (closing(TOOTH_DEG), opening(TOOTH_DEG))
    told = asked()
    assert told.decided
    assert told.shift.teeth.value == 1
    assert told.corrections["cam"][0].teeth_earlier == 1


def test_separate_cams_have_a_shift_and_a_correction_each(seen):
    told = asked(separate_cams=True, clearances_set=True)
    assert list(told.shifts) == list(told.corrections) == ["intake", "exhaust"]
    assert told.shift.shift is None


def test_what_stands_in_the_way_has_its_code(seen):
    def open_of(**about):
        told = asked(found(**about))
        assert (told.decided, told.events, told.shift) == (False, (), NO_SHIFT)
        return told.open

    assert open_of(profile=replace(ENGINE, cycle="two-stroke")) == "two-stroke"
    manifold = replace(SENSOR, place="manifold")
    assert open_of(profile=replace(ENGINE, sensors=(manifold,))) == "no sensor"
    bare = replace(SENSOR, points=())
    assert open_of(profile=replace(ENGINE, sensors=(bare,))) == "no points"
    assert open_of(verdict=replace(VERDICT, tdc=None)) == "no tdc"
    assert open_of(judgement=None) == "earlier start"
    assert open_of(judgement=replace(JUDGED, fit=None)) == "earlier start"
    assert open_of(judgement=replace(JUDGED, nodes=Nodes(COARSE_BAR + 0.2))) == "coarse"


def test_what_is_behind_the_obstacle_is_kept(seen):
    no_tdc = replace(VERDICT, tdc=None, reason=as_said("too few"))
    assert asked(found(verdict=no_tdc)).why_no_tdc == no_tdc.reason
    assert asked().why_no_tdc is None
    assert asked(found(judgement=replace(JUDGED, nodes=Nodes(0.3)))).step_bar == 0.3


def test_the_sensor_is_that_of_the_verdict(seen):
    other = Sensor(cylinder=2)  # without points
    assert asked(found(profile=replace(ENGINE, sensors=(other, SENSOR)))).decided
    third = replace(VERDICT, tdc=replace(VERDICT.tdc, cylinder=2))
    both = replace(ENGINE, sensors=(SENSOR, other))
    assert asked(found(profile=both, verdict=third)).open == "no points"


def test_nothing_seen_or_nothing_to_hold_it_against_is_open(seen):
    untimed = asked(found(profile=replace(ENGINE, valve_timing=None)))
    assert (untimed.open, len(untimed.events), untimed.corrections) == ("no timing", 2, {})
    seen["events"] = ()
    assert asked().open == "no events"


def test_a_shift_too_wide_to_act_on_is_open(seen):
    seen["events"] = (closing(0.0, sigma=8.0), opening(0.0, sigma=8.0))
    told = asked()
    assert (told.open, list(told.wide)) == ("wide", ["cam"])
    assert told.wide["cam"].half_width > told.wanted_half_width_deg == pytest.approx(TOOTH_DEG / 3)


def test_between_two_teeth_it_is_open(seen):
    seen["events"] = (closing(TOOTH_DEG / 2, 0.5), opening(TOOTH_DEG / 2, 0.5))
    told = asked(clearances_set=True)
    assert (told.open, told.wide) == ("between teeth", {})
    assert told.shift.teeth.probability < 0.95


def test_a_shut_throttle_is_a_fact_of_the_answer(seen):
    seen["events"], seen["fall"] = (opening(0.0),), 0.2
    told = asked(clearances_set=True)
    assert told.is_throttled
    assert told.overlap_fall_bar == 0.2


def test_a_keyway_that_is_not_there_is_refused(seen):
    assert asked(keyway=2).keyway == 2
    with pytest.raises(SaidError, match="keyway 3: the profile knows keyways 1 to 2"):
        asked(keyway=3)
    with pytest.raises(SaidError, match="keyways 1 to 1"):
        asked(found(profile=replace(ENGINE, cam_drive=None)), keyway=2)


def test_the_one_cam_goes_before_its_two_valves():
    one, two = Interval(1.0, 0.0, 2.0), Interval(3.0, 2.0, 4.0)
    assert shifts_of(CamShift(one, two, two, None)) == {"cam": one}
    assert shifts_of(CamShift(None, None, two, None)) == {"exhaust": two}
    assert shifts_of(NO_SHIFT) == {}
