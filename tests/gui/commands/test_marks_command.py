"""Marks that lie, and marks that do not, from shipped recordings and their truth."""

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.mark_evidence import ON_TOOTH, POINTER, RING
from strokewise.analysis.remark import Notice
from strokewise.analysis.samples import Press
from strokewise.analysis.timing.timing import clamp_of
from strokewise.analysis.trace.marks_met import MarksRecorded
from strokewise.analysis.verdict.found import Found
from strokewise.gui import cli
from strokewise.gui.sayings import as_said

RECORDINGS = Path(__file__).parents[3] / "recordings"
RECORDING = str(RECORDINGS / "marks-that-lie.swr")
Run = pytest.CaptureFixture[str]


def asked(capsys: Run, *words: str, code: int = 0) -> dict[str, Any]:
    assert cli.main(["marks", RECORDING, *words, "--json"]) == code
    [line] = capsys.readouterr().out.splitlines()
    return json.loads(line)


def said(capsys: Run, *words: str, code: int = 0) -> str:
    assert cli.main(["marks", RECORDING, *words]) == code
    return " ".join(capsys.readouterr().out.split())


def test_marks_stand_where_the_truth_has_them(known: list[Found], capsys: Run) -> None:
    truth = json.loads((RECORDINGS / "marks-that-lie.truth.json").read_text())
    answer = asked(capsys)
    marks = {mark["name"]: mark for mark in answer["marks"]}
    for true in truth["truth"]["marks"]:
        found_at = marks[true["name"]]["after_tdc"]
        assert found_at["value"] == pytest.approx(true["after_tdc_deg"], abs=0.6)
        assert found_at["low"] <= found_at["value"] <= found_at["high"]
    notch, dot = marks["pulley notch"], marks["cam dot"]
    assert (notch["turn"], notch["firing_cylinder"], notch["seen"] > 4) == ("both", None, True)
    assert (dot["turn"], dot["firing_cylinder"]) == ("firing", 1)
    radius_mm = 78
    assert notch["late_rim_mm"]["value"] == pytest.approx(
        radius_mm * 3.14159265 / 180 * notch["late"]["value"], abs=0.01
    )


def test_two_causes_that_explain_it_stay_two(known: list[Found], capsys: Run) -> None:
    answer = asked(capsys)
    assert answer["decided"]
    assert not answer["cause_decided"]
    first, second = answer["findings"][:2]
    assert {first["cause"], second["cause"]} == {POINTER, RING}
    assert max(first["probability"], second["probability"]) < 0.7
    assert "hub and outer ring" in answer["next_look"]
    words = said(capsys)
    notch = next(m for m in answer["marks"] if m["name"] == "pulley notch")
    assert words.startswith(f"Pulley notch {notch['late']['value']:.1f}° late")
    assert "Causes, part by part, the most probable first" in words
    assert "What would tell: Paint a line" in words


def test_an_earlier_reading_settles_it(known: list[Found], capsys: Run) -> None:
    answer = asked(capsys, "--earlier", "pulley notch=3,2.6,3.4")
    assert answer["findings"][0]["cause"] == RING
    assert answer["cause_decided"]
    assert answer["next_look"] is None


def test_a_cam_shift_from_pressure_is_weighed_too(known: list[Found], capsys: Run) -> None:
    answer = asked(capsys, "--cam-shift", "17,15,19")
    leading = {}
    for finding in answer["findings"]:
        leading.setdefault(finding["part"], finding["cause"])
    assert leading["cam"] == "cam sprocket 1 tooth late"  # so it is stated
    assert leading["cam sprocket"] == "dot, pointer or sprocket for another engine"
    assert not answer["cause_decided"]  # but the cam's own mark stands right


def test_presses_and_readings_make_marks_of_their_own(known: list[Found], capsys: Run) -> None:
    marks = known[0].marks
    assert isinstance(marks, MarksRecorded)
    segment = marks.segment
    at_us = int(segment.samples.time_us[len(segment.samples) // 2])
    pressed = replace(segment, presses=(Press("paint", at_us),))
    known[0] = replace(known[0], marks=replace(marks, segment=pressed))
    tdc = known[0].tdc_1
    assert tdc is not None
    answer = asked(capsys, "--stated", f"chalk={tdc.value + 5:.3f}")
    placed = {mark["name"]: mark for mark in answer["marks"]}
    assert placed["chalk"]["after_tdc"]["value"] == pytest.approx(5.0, abs=0.01)
    assert placed["chalk"]["late"] is None
    assert placed["paint"]["seen"] == 1
    assert {"press-few"} <= {warning["code"] for warning in answer["warnings"]}


def test_without_tdc_no_mark_is_placed(known: list[Found], capsys: Run) -> None:
    verdict = replace(
        known[0].verdict, decided=False, tdc=None, firing_deg=None, reason=as_said("turn on")
    )
    known[0] = replace(known[0], verdict=verdict)
    answer = asked(capsys, code=3)
    assert answer["marks"] == []
    assert answer["reason"] == "TDC is not found: turn on"
    assert said(capsys, code=3).startswith("NOT SURE. TDC is not found")


def test_with_the_stroke_open_a_cam_mark_has_no_turn(known: list[Found], capsys: Run) -> None:
    verdict = replace(known[0].verdict, decided=False, firing_deg=None, reason=as_said("turn on"))
    known[0] = replace(known[0], verdict=verdict)
    answer = asked(capsys, code=3)
    marks = {mark["name"]: mark for mark in answer["marks"]}
    assert marks["cam dot"]["turn"] is None
    assert marks["pulley notch"]["after_tdc"]["value"] == pytest.approx(17.0, abs=0.6)
    assert "turn is open" in answer["reason"]


def test_no_marks_at_all_says_how_to_get_some(known: list[Found], capsys: Run) -> None:
    known[0] = replace(known[0], profile=replace(known[0].profile, marks=()))
    assert "[[marks]]" in asked(capsys, code=3)["reason"]


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (("--earlier", "pully notch=3"), 'no mark is named "pully notch"'),
        (("--earlier", "pulley notch"), "must be written like"),
        (("--stated", "paint=here"), "is not a number"),
        (("--cam-shift", "17,19,15"), "VALUE,LOW,HIGH"),
    ],
)
def test_what_cannot_be_is_one_line(
    words: tuple[str, ...], text: str, known: list[Found], capsys: Run
) -> None:
    assert cli.main(["marks", RECORDING, *words]) == 2
    told = capsys.readouterr()
    assert (told.out, told.err.count("\n")) == ("", 1)
    assert text in told.err


def test_what_the_recording_says_of_the_clamp(recorded: Found) -> None:
    assert clamp_of(recorded) == "steady"
    slipped = replace(recorded.verdict, warnings=(Notice("clamp-slip", as_said("slipped")),))
    assert clamp_of(replace(recorded, verdict=slipped)) == "held since"
    assert clamp_of(replace(recorded, verdict=slipped, judgement=None)) == "slipped"
    assert recorded.verdict.tdc is not None
    thin = replace(recorded.verdict, tdc=replace(recorded.verdict.tdc, passes=2))
    assert clamp_of(replace(recorded, verdict=thin)) == "unknown"


def test_tdc_of_cylinder_one_from_another_cylinder(recorded: Found) -> None:
    assert recorded.verdict.tdc is not None
    third = replace(recorded.verdict.tdc, cylinder=3, angle_deg=Interval(331.0, 330.0, 332.0))
    moved = replace(recorded, verdict=replace(recorded.verdict, tdc=third))
    assert moved.tdc_1 is not None
    assert moved.tdc_1.value % 360 == pytest.approx(151.0)


def test_every_offset_is_said_with_its_interval(known: list[Found], capsys: Run) -> None:
    words = said(capsys)
    number = r"\d+\.\d+"
    for unit in ("mm", "flywheel teeth", "sprocket teeth"):
        # both ends on one side, or each with its own
        ends = rf"{number} to {number}|{number} early to {number} late"
        with_sides = rf"{number} {unit} (late|early) \(({ends})\)"
        assert re.search(rf"{with_sides}|right within {number} {unit}", words), unit
    assert not re.search(r"[+-]\d", words)  # sides in words, never signs


def test_what_is_said_of_the_cams_tells_the_teeth_as_it_tells_the_shift(
    known: list[Found], capsys: Run
) -> None:
    """Clearances set: pressure tells teeth better. A cam each: pressure tells less of either."""
    on_tooth = [
        next(
            each["probability"]
            for each in asked(capsys, *words)["findings"]
            if each["cause"] == ON_TOOTH
        )
        for words in (("--separate-cams",), (), ("--clearances-set",))
    ]
    assert on_tooth[0] < on_tooth[1] < on_tooth[2]
