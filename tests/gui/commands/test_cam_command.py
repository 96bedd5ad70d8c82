"""The cam's timing from shipped recordings, whose truth lies beside them."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.verdict.found import Found
from strokewise.gui import cli
from strokewise.gui.pages.cam import cam_page, tells_nothing
from strokewise.gui.pages.page import Facts, Page, Table
from strokewise.gui.sayings import as_said
from strokewise.gui.steps import ask

RECORDINGS = Path(__file__).parents[3] / "recordings"
RECORDING = str(RECORDINGS / "cranked.swr")
Run = pytest.CaptureFixture[str]


def asked(capsys: Run, *words: str, code: int = 0) -> dict[str, Any]:
    assert cli.main(["cam", RECORDING, *words, "--json"]) == code
    [line] = capsys.readouterr().out.splitlines()
    return json.loads(line)


def said(capsys: Run, *words: str, code: int = 0) -> str:
    assert cli.main(["cam", RECORDING, *words]) == code
    return " ".join(capsys.readouterr().out.split())


def test_a_sound_cam_stands_where_the_profile_has_it(known: list[Found], capsys: Run) -> None:
    answer = asked(capsys)
    truth = json.loads((RECORDINGS / "cranked.truth.json").read_text())["truth"]["cam"]
    shift = answer["shift"]
    assert shift["low"] <= truth["shift_intake_deg"] <= shift["high"]
    assert abs(shift["value"] - truth["shift_intake_deg"]) < 2.0
    assert answer["teeth"]["value"] == 0
    assert answer["teeth"]["probability"] > 0.95
    timing = known[0].profile.valve_timing
    assert timing is not None
    events = answer["events"]
    assert events["intake_closes_abdc"]["value"] == pytest.approx(
        timing.intake_closes_abdc_deg, abs=4.0
    )
    assert events["exhaust_opens_bbdc"]["value"] == pytest.approx(
        timing.exhaust_opens_bbdc_deg, abs=4.0
    )
    # the gas feels the inlet shut before it seats
    assert answer["effective_events"]["intake_closes_abdc"] < timing.intake_closes_abdc_deg
    assert answer["half_turn"]["value"] is False
    first, *others = answer["corrections"]
    assert (first["teeth_earlier"], first["keyway"], len(others)) == (0, 1, 2)


def test_it_is_said_with_its_cautions(known: list[Found], capsys: Run) -> None:
    words = said(capsys)
    assert words.startswith("DECIDED: Cam ")
    for part in (
        "on its tooth",
        "To put it right, the nearest first",
        "leave it as it is",
        "two full turns by hand",
        "stop at any resistance",
        '%): "cam dot" comes on its stated turn',
    ):
        assert part in words


def test_a_late_cam_is_a_shifted_profile(known: list[Found], capsys: Run) -> None:
    """The same trace against timing that is one tooth earlier: the cam is a tooth late."""
    profile = known[0].profile
    timing, drive = profile.valve_timing, profile.cam_drive
    assert timing is not None
    assert drive is not None
    tooth = 720 / drive.cam_teeth
    early = replace(
        timing,
        intake_opens_btdc_deg=timing.intake_opens_btdc_deg + tooth,
        intake_closes_abdc_deg=timing.intake_closes_abdc_deg - tooth,
        exhaust_opens_bbdc_deg=timing.exhaust_opens_bbdc_deg + tooth,
        exhaust_closes_atdc_deg=timing.exhaust_closes_atdc_deg - tooth,
    )
    known[0] = replace(known[0], profile=replace(profile, valve_timing=early))
    answer = asked(capsys)
    assert answer["teeth"]["value"] == 1
    assert answer["corrections"][0]["teeth_earlier"] == 1
    assert "late" in answer["reason"]


def test_separate_cams_are_answered_apart(known: list[Found], capsys: Run) -> None:
    answer = asked(capsys, "--separate-cams")
    assert answer["shift"] is None
    assert answer["teeth"] is None
    assert answer["teeth_intake"]["value"] == answer["teeth_exhaust"]["value"] == 0
    assert {each["of"] for each in answer["corrections"]} == {"intake", "exhaust"}


def test_set_clearances_make_it_surer(known: list[Found], capsys: Run) -> None:
    loose, tight = asked(capsys), asked(capsys, "--clearances-set")
    width = [each["shift"]["high"] - each["shift"]["low"] for each in (loose, tight)]
    assert width[1] < 0.7 * width[0]


def test_no_timing_gives_events_and_no_shift(known: list[Found], capsys: Run) -> None:
    known[0] = replace(known[0], profile=replace(known[0].profile, valve_timing=None))
    answer = asked(capsys, code=3)
    assert not answer["decided"]
    assert "states no valve timing" in answer["reason"]
    assert answer["shift"] is None
    assert 30 < answer["events"]["intake_closes_abdc"]["value"] < 70
    assert answer["corrections"] == []


def test_what_stands_in_the_way_is_named(known: list[Found], capsys: Run) -> None:
    whole = known[0]
    sensor = whole.profile.sensors[0]
    cases = {
        "a two-stroke has ports": replace(whole.profile, cycle="two-stroke"),
        "no known points": replace(whole.profile, sensors=(replace(sensor, points=()),)),
        "no sensor in a plug hole": replace(
            whole.profile, sensors=(replace(sensor, place="manifold"),)
        ),
    }
    for words, profile in cases.items():
        known[0] = replace(whole, profile=profile)
        answer = asked(capsys, code=3)
        assert words in answer["reason"]
        assert answer["shift"] is None
    judgement = whole.judgement
    assert judgement is not None
    coarse = replace(judgement, nodes=replace(judgement.nodes, step_bar=0.3))
    known[0] = replace(whole, judgement=coarse)
    assert "resolves 0.30 bar" in asked(capsys, code=3)["reason"]
    known[0] = replace(whole, verdict=replace(whole.verdict, tdc=None, reason=as_said("too few")))
    assert "TDC is not found: too few" in asked(capsys, code=3)["reason"]


def test_a_keyway_that_is_not_there_is_bad_input(known: list[Found], capsys: Run) -> None:
    assert cli.main(["cam", RECORDING, "--keyway", "3"]) == 2
    assert "cam_drive.keyway_offsets" in capsys.readouterr().err


def test_rocking_about_tdc_shows_no_valve(capsys: Run) -> None:
    rocked = str(RECORDINGS / "rocked.swr")
    assert cli.main(["cam", rocked, "--json"]) == 3
    assert "no valve event seen" in json.loads(capsys.readouterr().out)["reason"]


def facts(page: Page) -> dict[str, str]:
    """What stands under each label of a page."""
    return {
        row.label: row.text for part in page.parts if isinstance(part, Facts) for row in part.rows
    }


def test_the_page_has_facts_and_ways_to_put_it_right(known: list[Found]) -> None:
    page = ask("cam", known[0]).page
    words = facts(page)
    assert "; on its tooth (" in words["Cam"]
    assert "°" in words["Inlet closes"]
    assert words["Exhaust closes"].startswith("not shown: ")
    assert words["Half a turn"].startswith("no (99")
    [ways] = [part for part in page.parts if isinstance(part, Table)]
    assert "leave it as it is" in ways.rows[0][1]


def test_the_overlap_is_said_to_show_nothing(known: list[Found], capsys: Run) -> None:
    answer = asked(capsys)
    assert set(answer["not_shown"]) == {"exhaust_closes_atdc", "intake_opens_btdc"}
    assert not set(answer["not_shown"]) & set(answer["events"])
    assert all("across the overlap" in why for why in answer["not_shown"].values())
    words = said(capsys)
    assert "Exhaust closes not shown: the pressure moves by " in words
    assert "Inlet opens not shown, for the same reason" in words


def test_with_the_throttle_shut_the_inlet_is_not_read(known: list[Found], capsys: Run) -> None:
    """The same trace with the inlet's port 0.1 bar lower from the overlap to the inlet's BDC."""
    judgement = known[0].judgement
    assert judgement is not None
    nodes, tdc = judgement.nodes, judgement.passes[-1].tdc_deg
    away = (nodes.angle_deg - tdc) % 720.0
    drawing_in = (away > 380.0) & (away < 560.0)
    lower = replace(nodes, pressure_bar=nodes.pressure_bar - 0.1 * drawing_in)
    known[0] = replace(known[0], judgement=replace(judgement, nodes=lower))
    answer = asked(capsys)
    assert set(answer["events"]) == {"exhaust_opens_bbdc"}
    assert "both valves move the pressure together" in answer["not_shown"]["intake_opens_btdc"]
    [notice] = [each for each in answer["warnings"] if each["code"] == "inlet-not-read"]
    assert "record again with the throttle wide open" in notice["text"]
    assert "by the inlet" not in said(capsys)


def test_one_valve_that_tells_nothing_alone_gets_no_figures(
    known: list[Found], capsys: Run
) -> None:
    """Turned by hand the inlet's event is another one time in five: its interval is no figure."""
    assert "tells nothing alone" not in said(capsys)
    answer = ask("cam", known[0]).answer
    vague = replace(answer, shift=replace(answer.shift, intake=Interval(-0.8, -67.5, 67.5)))
    rows = facts(cam_page(vague))
    assert rows["by the inlet"].startswith("tells nothing alone")
    assert "°" in rows["by the exhaust"]
    assert tells_nothing(Interval(-0.8, -67.5, 67.5))
    assert not tells_nothing(Interval(-0.8, -7.5, 7.5))
