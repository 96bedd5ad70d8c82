from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest

from strokewise.analysis.errors import InputError
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.bench import take
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.bench.truth import truth
from strokewise.gui.drawings.worksheet_svg import answer_pages, worksheet_pages
from strokewise.gui.models.classroom.causes import ALL_WELL
from strokewise.gui.models.classroom.classroom import Classroom, bench_name, last_cycles
from strokewise.gui.models.classroom.questions import masked
from strokewise.gui.models.classroom.sheet_tasks import tasks_of_one
from strokewise.gui.models.figures.trail import Trail
from strokewise.gui.models.figures.units import BAR, KPA, PSI
from strokewise.gui.models.run.follower import Follower
from strokewise.gui.models.run.player import Deck
from strokewise.gui.models.run.snapshot import Link
from strokewise.gui.models.run.sources import profile_maker


class NoBench:
    """Takes the changes and delivers nothing."""

    header = {}  # noqa: RUF012

    def __init__(self, bench):
        self.benches = [bench]

    def change(self, bench):
        self.benches.append(bench)


@pytest.fixture
def room():
    made = []

    def make(bench):
        made.append(NoBench(bench))
        return made[-1]

    classroom = Classroom(make, now=lambda: datetime(2026, 1, 2, 3, 4, 5))
    classroom.made = made
    return classroom


@pytest.fixture
def moment(toy):
    follower = Follower(toy.profile(), toy.Tracker)
    for block in toy.blocks(toy.segment(np.linspace(-300, 950, 9000))):
        follower.feed(block)
    follower.judge()
    return follower.snapshot(1, Link(bench_name("cranked")))


def test_a_scenario_runs_as_if_live(room):
    run = room.choose("burnt-valve")
    assert run.live
    assert run.snapshot.profile.cylinders == 4
    assert "burnt-valve" in run.name
    with pytest.raises(InputError, match="burnt-valve"):
        room.choose("burnt-valv")


def test_what_is_wrong_is_marked(room):
    room.choose("cranked")
    assert not any(fault.changed for fault in room.faults)
    room.choose("burnt-valve")
    assert [fault.key for fault in room.faults if fault.changed] == ["burnt_valve"]


def test_a_fault_is_changed_while_it_runs(room):
    run = room.choose("cranked")
    run._open_source()
    room.change("burnt_valve", "6 mm2" if _unit(room, "burnt_valve") else "6")
    assert len(room.made[0].benches) == 2
    assert [fault.key for fault in room.faults if fault.changed] == ["burnt_valve"]
    with pytest.raises(InputError):
        room.change("burnt_valve", "many")
    assert len(room.made[0].benches) == 2


def _unit(room, key):
    return next(fault.unit for fault in room.faults if fault.key == key)


def test_the_class_answers_before_the_verdict_is_seen(room, moment):
    question = room.ask("firing", moment)
    assert question.choices == ("1", "2", "3", "4")
    assert question.truth == "1"
    hidden = masked(moment)
    assert hidden.verdict.firing_deg is None
    assert not hidden.chart().decided
    assert not hidden.chart().rows[0].blocks
    assert hidden.subject().tdc_deg is None
    answered = room.answer("3")
    assert not answered.right
    assert room.question is None
    room.ask("firing", moment)
    assert room.answer("1").right
    lines = room.answers_csv().splitlines()
    assert lines[1] == (
        "2026-01-02T03:04:05,cranked,Which cylinder is on its firing stroke?,3,1,no"
    )
    assert lines[2].endswith(",1,1,yes")


def test_nobody_asks_what_is_not_known(room, toy):
    snapshot = Follower(toy.profile(), toy.Tracker).snapshot(0, Link())
    with pytest.raises(InputError, match="nobody knows the answer"):
        room.ask("firing", snapshot)
    assert room.answer("1") is None


def test_a_fault_can_be_asked_for(room, moment):
    def of(name):
        return replace(moment, link=replace(moment.link, name=bench_name(name)))

    room.choose("cranked")
    assert room.ask("fault", of("cranked")).truth == ALL_WELL
    room.choose("worn-rings")
    question = room.ask("fault", of("worn-rings"))
    assert question.truth != ALL_WELL
    assert question.truth in question.choices


def test_a_worksheet_gathers_traces_of_several_scenarios(room, moment):
    def of(name):
        return replace(moment, link=replace(moment.link, name=bench_name(name), simulated=True))

    room.choose("cranked")
    room.keep_trace(of("cranked"), "bench: cranked", BAR)
    room.choose("worn-rings")
    room.keep_trace(of("worn-rings"), "bench: worn-rings", PSI)
    room.keep_trace(moment, "our-van.swr", KPA)
    sheets = room.worksheet(moment, "not this", BAR)
    front, back = "".join(worksheet_pages(sheets)), "".join(answer_pages(sheets))
    assert len(worksheet_pages(sheets)) == 2 * 3
    assert len(answer_pages(sheets)) == 3
    assert [f"Trace {n} of 3" in front for n in (1, 2, 3)] == [True] * 3
    assert all(f"({unit})" in front for unit in ("bar", "psi", "kPa"))
    assert front.count("simulated engine") == 2 * 2
    assert "Rings worn" not in front
    assert "Rings worn in every cylinder" in back
    assert "lower the slower it turns" in back  # and why
    assert sheets[0].wrong == "Starter, four compressions or more in cylinder 1, all well"
    assert "Nobody has said it of this recording" in back
    assert [sheet.title for sheet in sheets][2] == "our-van.swr"


@pytest.mark.parametrize("name", ["cranked", "marks-by-key", "clamp-slipped"])
def test_every_fault_takes_the_number_that_stands_in_the_list(room, name):
    room.choose(name)
    before = room.faults
    for fault in before:
        if ".." not in fault.value:
            room.change(fault.key, fault.value)
    assert [fault.value for fault in room.faults] == [fault.value for fault in before]
    room.change("slip", "12 deg")
    room.change("slip", " -6 ")
    assert next(fault for fault in room.faults if fault.key == "slip").value == "-6"
    with pytest.raises(InputError, match="slip=six"):
        room.change("slip", "six")


def test_a_fault_set_while_it_runs_is_on_the_answers_in_a_class_s_words(room, moment):
    room.choose("cranked")
    room.change("burnt_valve", "8")  # mm2, as the list says beside it
    of = replace(moment, link=replace(moment.link, name=bench_name("cranked")))
    sheet = room.keep_trace(of, "bench: cranked", BAR)
    assert sheet.title == "A valve of cylinder 1 leaks"
    assert sheet.wrong.startswith("A valve of cylinder 1 leaks. The compressions of cylinder 1 are")


def test_what_was_done_to_the_worksheet_is_undone(room, moment):
    moment = replace(moment, link=Link("a recording"))
    assert not room.undo_worksheet()
    room.keep_trace(moment, "one.swr", BAR)
    room.keep_trace(moment, "two.swr", BAR)
    room.empty_worksheet()
    assert not room.traces
    assert room.undo_worksheet()
    assert [sheet.title for sheet in room.traces] == ["one.swr", "two.swr"]
    assert room.undo_worksheet()
    assert [sheet.title for sheet in room.traces] == ["one.swr"]


def test_a_worksheet_on_which_nothing_was_put_holds_the_present_trace(room, moment, toy):
    sheets = room.worksheet(replace(moment, link=Link("this.swr")), "this.swr", BAR)
    assert [sheet.title for sheet in sheets] == ["this.swr"]
    assert sheets[0].tdc_deg == moment.verdict.tdc.angle_deg
    empty = Follower(toy.profile(), toy.Tracker).snapshot(0, Link())
    with pytest.raises(InputError, match="no trace yet"):
        room.keep_trace(empty, "nothing", BAR)
    assert not room.traces
    assert "not been turned" in worksheet_pages(room.worksheet(empty, "nothing", BAR))[0]


def test_a_trace_without_known_points_has_no_pressure_on_the_worksheet(room, moment):
    bare = replace(moment.profile.sensors[0], points=())
    moment = replace(moment, profile=replace(moment.profile, sensors=(bare,)))
    sheets = room.worksheet(moment, "bare.swr", BAR)
    front = "".join(worksheet_pages(sheets))
    assert "uncalibrated sensor, no pressure is stated" in front
    assert " bar" not in front
    assert "air outside" not in front


def test_the_tops_that_a_vacuum_sensor_cuts_off_hold_tdc(room):
    taken = take(scenario("vacuum-sensor").build(seed=3))
    profile = profile_maker(header={"engine": stated_profile(taken.bench)})
    deck = Deck(taken.items, profile, Tracker, name="van.swr")
    deck.seek(float("inf"))
    deck.follower.judge()
    (sheet,) = room.worksheet(deck.snapshot(), "van.swr", KPA, gauge=True)
    low, high = sheet.flat_deg
    assert high - low > 150.0
    fires = truth(taken)["firing"]["1"] - sheet.zero_deg
    assert any(low < fires % 720.0 + 720.0 * turn < high for turn in (0, 1))
    (said,) = (task.answer for task in tasks_of_one(sheet) if "flat" in task.words)
    found = float(said.partition("found at ")[2].partition("°")[0])
    assert low < found < high


def test_an_empty_trail_has_no_last_cycles():
    assert len(last_cycles(Trail(np.empty(0), np.empty(0)), 720.0).angle_deg) == 0
