"""Why every mark has its place, or which is missing: the judging behind what is said."""

from dataclasses import dataclass, fields, replace
from types import SimpleNamespace

import numpy as np
import pytest

from strokewise.analysis.errors import SaidError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.mark_evidence import POINTER, RING
from strokewise.analysis.marks.rig_states import Sensed
from strokewise.analysis.profile import Mark, Profile, Sensor, even_intervals_deg
from strokewise.analysis.remark import Notice
from strokewise.analysis.timing.cam_answer import CamQuestion, cam_answer
from strokewise.analysis.timing.marks_answer import MarksQuestion, marks_answer
from strokewise.analysis.timing.timing import clamp_of, places_of, sensed_in
from strokewise.analysis.trace.marks_met import MarkPass, MarkPress, MarkSeen
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.verdict.found import Found
from strokewise.analysis.verdict.verdict import Tdc, Verdict
from strokewise.gui.sayings import as_said

NOTCH = Mark("pulley notch", 1, "pulley", 0.0)
WHEEL = Mark("flywheel line", 2, "flywheel", 0.0)
DOT = Mark("cam dot", 3, "cam sprocket", 0.0, "firing")
FOUR = Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720), marks=(NOTCH, DOT))
VERDICT = Verdict(
    decided=True,
    reason=as_said("nine compressions"),
    tdc=Tdc(Interval(100.0, 99.8, 100.2), 1, "fit", 9),
    firing_deg={1: 100.0, 3: 280.0, 4: 460.0, 2: 640.0},
)


@dataclass(frozen=True)
class MetByHand:
    """Marks as a test says that they were met."""

    seen_by_name: dict[str, MarkSeen]
    names: tuple[str, ...] = ()

    def seen(self, mark):
        return self.seen_by_name.get(mark.name, MarkSeen(mark))


def edges(mark, *angles):
    return MarkSeen(mark, tuple(MarkPass(angle, True) for angle in angles), cell_deg=0.15)


def turning(mark, late, period=360.0, passes=4):
    return edges(mark, *(100.0 + late + period * n for n in range(passes)))


def found(*seen, pressed=(), verdict=VERDICT, profile=FOUR):
    met = MetByHand({one.mark.name: one for one in seen}, pressed)
    return Found(profile, verdict, marks=met)


def answer(about, **said):
    return marks_answer(MarksQuestion(**said), about)


RIGHT_ONES = (turning(NOTCH, 0.3), turning(DOT, 0.2, 720.0))


def test_marks_that_were_met_are_decided():
    told = answer(found(*RIGHT_ONES))
    assert told.decided
    assert [place.turn for place in told.places] == ["both", "firing"]
    assert (told.timing.clamp, told.timing.slipped_deg, told.why_open) == ("steady", None, None)
    assert told.causes.decided


def test_what_is_missing_has_its_code():
    no_tdc = replace(VERDICT, decided=False, tdc=None, firing_deg=None, reason=as_said("turn on"))
    told = answer(found(*RIGHT_ONES, verdict=no_tdc))
    assert (told.open, told.why_open, told.places) == ("no tdc", no_tdc.reason, ())
    phase_open = replace(VERDICT, decided=False, firing_deg=None, reason=as_said("once more"))
    told = answer(found(*RIGHT_ONES, verdict=phase_open))
    assert (told.open, told.why_open, told.decided) == ("turn open", phase_open.reason, False)
    assert answer(found(*RIGHT_ONES, profile=replace(FOUR, marks=()))).open == "no marks"
    assert answer(found()).open == "not met"


def test_without_a_start_of_the_board_no_mark_is_placed():
    assert places_of(Found(FOUR, VERDICT)) == ()
    assert answer(Found(FOUR, VERDICT)).open == "no marks"


def test_names_pressed_and_read_off_are_marks_too():
    paint = MarkSeen(Mark("paint"), presses=(MarkPress(130.0),))
    about = found(*RIGHT_ONES, paint, pressed=("paint",))
    said = (("chalk", 105.0), ("pulley notch", 100.2), ("chalk", 105.4))
    places = {place.mark.name: place for place in places_of(about, said)}
    assert list(places) == ["pulley notch", "cam dot", "paint", "chalk"]
    assert places["chalk"].after_tdc.value == pytest.approx(5.2, abs=0.01)
    assert places["chalk"].seen == 2
    assert places["pulley notch"].seen == 5
    assert places["chalk"].late is None


def test_an_earlier_reading_and_the_cams_shift_are_weighed():
    about = found(turning(NOTCH, 25.0), turning(DOT, 0.2, 720.0))
    plain = answer(about)
    assert not plain.causes.decided
    assert {f.cause for f in plain.causes.findings[:2]} == {POINTER, RING}
    moved = answer(about, earlier=(("pulley notch", Interval(12.0, 11.7, 12.3)),))
    assert moved.causes.findings[0].cause == RING
    shift = Interval(17.0, 15.0, 19.0)
    assert answer(about, cam_shift=shift).timing.cam_shift == shift


def test_an_earlier_reading_of_no_mark_is_refused():
    with pytest.raises(SaidError, match=r'no mark is named "pully".*"pulley notch", "cam dot"'):
        answer(found(*RIGHT_ONES), earlier=(("pully", Interval(1.0, 0.0, 2.0)),))


def test_marks_that_jump_together_are_a_clamp_that_slipped():
    profile = replace(FOUR, marks=(NOTCH, WHEEL))
    jump = [*(100.0 + 360.0 * n for n in range(4)), *(112.0 + 360.0 * n for n in range(4, 8))]
    told = answer(found(edges(NOTCH, *jump), edges(WHEEL, *jump), profile=profile))
    assert told.timing.slipped_deg == pytest.approx(12.0, abs=0.01)
    assert told.timing.clamp == "slipped"
    assert [place.drift for place in told.places] == [None, None]
    assert {notice.code for notice in told.warnings} == {"mark-stepped"}


def test_what_the_verdict_says_of_the_clamp():
    assert clamp_of(found()) == "steady"
    slipped = replace(VERDICT, warnings=(Notice("clamp-slip", as_said("slipped")),))
    assert clamp_of(found(verdict=slipped)) == "slipped"
    thin = replace(VERDICT, tdc=replace(VERDICT.tdc, passes=2))
    assert clamp_of(found(verdict=thin)) == "unknown"


def test_warnings_are_those_of_the_verdict_and_then_of_the_marks():
    warned = replace(VERDICT, warnings=(Notice("rod-assumed", as_said("no rod")),))
    codes = [notice.code for notice in answer(found(*RIGHT_ONES[:1], verdict=warned)).warnings]
    assert codes == ["rod-assumed", "mark-not-seen"]


def stands_since(seconds):
    """A judgement of which only the beginning of its nodes is looked at."""
    nodes = Nodes(
        *(np.full(2, seconds) if f.name == "time_s" else np.zeros(2) for f in fields(Nodes))
    )
    return SimpleNamespace(nodes=nodes, fit=None)


def test_marks_met_before_the_clamp_slipped_do_not_count():
    """Four edges in the frame before, four in that of TDC, 4° on: no mean of the two is either."""
    before = [MarkPass(104.0 + 360.0 * n, True, 1.0 + n) for n in range(4)]
    after = [MarkPass(100.0 + 360.0 * n, True, 5.0 + n) for n in range(4, 8)]
    notch = MarkSeen(NOTCH, (*before, *after), cell_deg=0.15)
    slipped = replace(VERDICT, warnings=(Notice("clamp-slip", as_said("slipped")),))
    about = replace(found(notch, verdict=slipped), judgement=stands_since(8.0))
    [place, _] = places_of(about)
    assert (place.seen, place.late.value) == (4, pytest.approx(0.0, abs=0.01))
    assert clamp_of(about) == "held since"
    late = replace(about, judgement=stands_since(20.0))
    assert places_of(late)[0].seen == 0  # rather none than those of another frame
    held = replace(late, verdict=VERDICT)
    assert places_of(held)[0].seen == 8  # forgotten compressions are no slip


def test_who_said_where_the_sensor_sits():
    sensor = Sensor(cylinder=1)
    engine = replace(FOUR, sensors=(sensor,))
    assert sensed_in(found(profile=engine)) == Sensed(1, "stated")
    assumed = replace(VERDICT, warnings=(Notice("cylinder-assumed", as_said("1 is taken")),))
    assert sensed_in(found(profile=engine, verdict=assumed)) == Sensed(1, "assumed")
    agreed = replace(VERDICT, warnings=(Notice("second-agrees", as_said("so does 3")),))
    assert sensed_in(found(profile=engine, verdict=agreed)) == Sensed(1, "agreed")
    manifold = replace(engine, sensors=(replace(sensor, place="manifold"),))
    assert sensed_in(found(profile=manifold)) is None
    assert sensed_in(found(profile=engine, verdict=replace(VERDICT, tdc=None))) is None


def test_both_steps_answer_from_one_inference():
    about = found(turning(NOTCH, 0.3), turning(DOT, 360.2, 720.0))
    marks, cam = marks_answer(MarksQuestion(), about), cam_answer(CamQuestion(), about)
    assert marks.timing == cam.timing
    assert cam.half_turn.out is True
