"""The job sheet: what stands on it, that everything is escaped, and that it needs no Qt."""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, datetime
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile, even_intervals_deg
from strokewise.analysis.samples import Health
from strokewise.analysis.valves.clearances import Gap
from strokewise.analysis.verdict.find import FindAnswer
from strokewise.analysis.verdict.verdict import Candidate, Compression, Tdc, Verdict
from strokewise.gui import cli
from strokewise.gui.job.add import (
    add_answer,
    add_gaps,
    add_note,
    add_profile,
    add_recording,
    create_job,
    tick_task,
)
from strokewise.gui.job.job import read_job
from strokewise.gui.job.tasks import TASKS
from strokewise.gui.pages.find import find_page
from strokewise.gui.pages.page import Page
from strokewise.gui.sayings import as_said
from strokewise.gui.sheet.html import print_html, sheet_html
from strokewise.gui.sheet.sheet import Sheet, sheet_of

RECORDINGS = Path(__file__).parents[2] / "recordings"
NOW = datetime(2025, 3, 4, 10, 30, tzinfo=UTC)
NASTY = "<script>alert('x')</script>&\"'"
PROFILE = (
    'name = "Bench <four>"\ncylinders = 4\nfiring_order = [1, 3, 4, 2]\n'
    '[valves]\norder = "EIIEEIIE"\nclearance_inlet = "0.30 mm"\nclearance_exhaust = "0.35 mm"\n'
    '[sensor]\ncylinder = 1\npoints = [[0, "0 bar"], [4000, "20 bar"]]\n'
)


def found(**more: Any) -> dict[str, Any]:
    return {
        "decided": True,
        "reason": "compression seen 8 times",
        "warnings": [],
        "version": "0.1.0",
        "tdc": {
            "angle": 123.41,
            "low": 123.3,
            "high": 123.52,
            "after_index": 87.9,
            "cylinder": 1,
            "method": "fit",
            "passes": 9,
        },
        "firing": {"1": 123.41, "3": 303.41, "4": 483.41, "2": 663.41},
        "phase": {
            "probability": 0.99999,
            "candidates": [{"firing_1": 123.41, "probability": 0.99999}],
        },
        "compression": {"peak": "12.4 bar", "peak_gauge": "11.4 bar", "passes": 9},
        "health": {
            "samples": 24310,
            "frames": 1013,
            "lost_frames": 0,
            "bad_frames": 0,
            "clipped": 0.0,
            "segments": 1,
        },
    } | more


def angle(value: float) -> dict[str, float]:
    return {"value": value, "low": value - 0.2, "high": value + 0.2}


MARKS = {
    "decided": True,
    "reason": "one mark is late",
    "warnings": [{"code": "x", "text": "the pointer may be bent"}],
    "version": "0.1.0",
    "marks": [
        {
            "name": "pulley notch",
            "input": 1,
            "seen": 12,
            "after_tdc": angle(7.4),
            "late": angle(7.4),
            "turn": "both",
            "firing_cylinder": None,
        }
    ],
    "findings": [{"cause": "outer ring slipped", "probability": 0.9, "because": "late twice"}],
}
CAM = {
    "decided": True,
    "reason": "one tooth late",
    "warnings": [],
    "version": "0.1.0",
    "shift": angle(17.1),
    "shift_intake": angle(17.0),
    "shift_exhaust": None,
    "teeth": {"value": 1, "probability": 0.99},
    "events": {"intake_closes_abdc": angle(66.0)},
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "job"
    create_job(place, "Bench four", now=NOW, version="0.1.0", made_for="a club")
    (tmp_path / "bench.toml").write_text(PROFILE)
    add_profile(place, tmp_path / "bench.toml")
    return place


def page_of_find(content: dict[str, Any]) -> Page:
    """Return the page that ``find`` makes of the same figures."""
    tdc, firing = content["tdc"], content["firing"]
    candidates = [
        Candidate(each["firing_1"], each["probability"]) for each in content["phase"]["candidates"]
    ]
    verdict = Verdict(
        content["decided"],
        as_said(content["reason"]),
        tdc=Tdc(Interval(tdc["angle"], tdc["low"], tdc["high"]), tdc["cylinder"], "fit", 9, 87.9),
        firing_deg=firing and {int(cylinder): at for cylinder, at in firing.items()},
        probability=content["phase"]["probability"],
        candidates=tuple(candidates),
        compression=Compression(12.4, 11.4, 9),
        health=Health(samples=24310, frames=1013, segments=1),
    )
    four = Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720.0))
    return find_page(FindAnswer(verdict, four))


def answer(
    folder: Path,
    command: str,
    content: dict[str, Any],
    name: str = "a",
    page: Page | None = None,
) -> None:
    file = folder.parent / f"{name}.swr"
    file.write_bytes(name.encode())
    recording = add_recording(folder, file)
    profile = read_job(folder).profiles[-1]
    words = [command, recording.name, "--engine", profile, "--json"]
    add_answer(folder, words, content, recordings=[recording], profile=profile, now=NOW, page=page)


def sheet(folder: Path) -> Sheet:
    return sheet_of(read_job(folder), now=NOW, version="9.9.9")


def words(html: str) -> str:
    """Return what a reader of the page sees, spaces made one."""

    class Reader(HTMLParser):
        said: list[str] = []  # noqa: RUF012
        hidden = False

        def handle_starttag(self, tag: str, attrs: object) -> None:
            self.hidden = tag in ("style", "title")

        def handle_data(self, data: str) -> None:
            if not self.hidden:
                self.said.append(data)

    reader = Reader()
    reader.said = []
    reader.feed(html)
    return " ".join(" ".join(reader.said).split())


def test_an_empty_job_says_that_nothing_was_measured(tmp_path: Path):
    create_job(tmp_path / "job", "Nothing yet", now=NOW, version="0.1.0")
    said = words(sheet_html(sheet(tmp_path / "job")))
    assert "TDC HAS NOT BEEN MEASURED IN THIS JOB" in said
    assert "unknown: cylinders and firing order not stated" in said
    assert "Top dead centre: not measured" in said
    assert "Valve clearances: none measured" in said
    assert "Cylinders and firing order are not known" in said


def test_every_part_stands_on_the_sheet(folder: Path):
    answer(folder, "find", found(), page=page_of_find(found()))
    answer(folder, "marks", MARKS)  # kept without their pages, by a version that had none
    answer(folder, "cam", CAM)
    add_gaps(folder, [Gap("1E", 0.35, 0.4064, 0.36, 0.35)])
    add_note(folder, "throttle held open", now=NOW)
    tick_task(folder, "oil-rockers", initials="AB", on=date(2025, 3, 4))
    said = words(sheet_html(sheet(folder)))
    for part in (
        "Job sheet: Bench four",
        "For a club.",
        "strokewise 9.9.9",
        "TDC of cylinder 1 123.41°, 95 % sure to lie from 123.30° to 123.52°",
        "1-3-4-2, firing evenly",
        "plug hole 1, reference not stated, calibrated at 0 = 0 bar, 4000 = 20 bar",
        "cyl 1 cyl 3 cyl 4 cyl 2 123.41° 303.41° 483.41° 663.41°",
        "at least 99.99 % sure",
        "12.4 bar absolute, 11.4 bar gauge",
        "pulley notch 1 12 7.4 (7.2 to 7.6) 7.4 (7.2 to 7.6) both",
        "outer ring slipped 0.9 late twice",
        "The pointer may be bent.",
        "shift 17.1 (16.9 to 17.3)",
        "1E 1 exhaust 0.350 0.406 0.360 0.350 0.0138 Right",
        "2I 2 inlet Not measured.",
        "throttle held open",
        "2025-03-04 AB",
        "Measured and set by: name, date, signature",
        "From 002-recording-a.swr; 001-profile-bench.toml; version 0.1.0; 2025-03-04.",
        "Take the spanner off the crank",
        "engine maker's manual, local codes and licensed practice",
    ):
        assert part.replace(" :", ":") in said.replace(" :", ":"), part
    for task in TASKS:
        assert task.text in said
        assert task.why in said


def test_what_was_not_checked_is_named(folder: Path):
    answer(folder, "find", found())
    add_gaps(folder, [Gap("1E", 0.35, 0.35)])
    lines = sheet(folder).unchecked
    said = "\n".join(lines)
    assert "The timing marks against true TDC: not measured" in lines
    assert "half a turn out cannot be seen in pressure" in said
    assert "Compression of cylinders 2, 3, 4" in lines
    assert "Valve clearances of 1I, 2I, 2E, 3E, 3I, 4I, 4E: not measured" in lines
    assert "Valve clearances after the first running: none measured" in lines
    assert "The atmosphere was not measured: 1.013 bar and 20 °C are assumed" in lines
    assert "Top dead centre: not measured" not in lines
    answer(folder, "marks", MARKS)
    answer(folder, "cam", CAM)
    for cylinder in (2, 3, 4):
        more = found(tdc=found()["tdc"] | {"cylinder": cylinder})
        answer(folder, "find", more, name=f"c{cylinder}")
    add_gaps(folder, [Gap(f"{c}{k}", 0.3, 0.3) for c in range(1, 5) for k in "EI"])
    add_gaps(folder, [Gap("1E", 0.35, 0.35)], stage="after first running")
    lines = sheet(folder).unchecked
    assert not any("timing marks" in line or "Cam timing" in line for line in lines)
    assert not any("Compression" in line for line in lines)
    clearances = [line for line in lines if "clearances" in line]
    assert len(clearances) == 1
    assert clearances[0].startswith("Valve clearances after the first running of 1I, 2I")


def test_an_undecided_answer_is_not_dressed_up(folder: Path):
    undecided = found(
        decided=False,
        reason="only two compressions: turn on",
        firing=None,
        phase={
            "probability": 0.93,
            "candidates": [
                {"firing_1": 123.4, "probability": 0.93},
                {"firing_1": 483.4, "probability": 0.07},
            ],
        },
    )
    answer(folder, "find", undecided, page=page_of_find(undecided))
    made = sheet(folder)
    said = words(sheet_html(made))
    assert "NOT DECIDED" in said
    assert "Only two compressions: turn on." in said
    assert "123.40°: 93.0 %" in said
    assert "Firing TDCs" not in said
    assert "Firing told from overlap" not in said
    assert any("measured, but not decided" in line for line in made.unchecked)


def test_the_sheet_begins_with_the_engine_and_not_with_an_angle_of_the_encoder(folder: Path):
    answer(folder, "find", found(), page=page_of_find(found()))
    answer(folder, "marks", MARKS)
    add_gaps(folder, [Gap("1E", 0.35, 0.4064, 0.36, 0.35), Gap("2I", 0.3, 0.4)])
    top = sheet(folder).summary
    assert (top.word, top.sure) == ("DECIDED, TDC ± 0.11°", True)
    assert top.lines == (
        "TDC of cylinder 1 is found to ± 0.11° of the crank, and its firing stroke told from"
        " overlap, at least 99.99 % sure. Compression seen 8 times.",
        "Timing marks: One mark is late.",
        "Valve clearances: 1 of the 2 that were measured are right; not right yet: 2I.",
    )
    said = words(sheet_html(sheet(folder)))
    assert "123.4" not in said[: said.index("Engine")]


@pytest.mark.parametrize(
    ("tdc", "word"),
    [
        ({"low": 119.4, "high": 127.4}, "STROKE SURE, TDC ± 4°"),
        ({"method": "peak"}, "STROKE SURE, ANGLE NOT"),
    ],
)
def test_a_rough_angle_is_not_called_decided(folder: Path, tdc: dict[str, Any], word: str):
    answer(folder, "find", found(tdc=found()["tdc"] | tdc))
    top = sheet(folder).summary
    assert (top.word, top.sure) == (word, False)


def test_an_answer_of_before_is_not_sure_on_the_sheet(folder: Path):
    page = replace(page_of_find(found()), headline="DECIDED, BUT FROM BEFORE: the board restarted.")
    answer(folder, "find", found(), page=page)
    top = sheet(folder).summary
    assert (top.word, top.sure) == ("DECIDED, BUT FROM BEFORE", False)


def test_who_said_what_of_the_engine_stands_beside_it(tmp_path: Path):
    """The profile given states no pin offset; what was merged from the recording is named so."""
    place = tmp_path / "job"
    create_job(place, "Bench", now=NOW, version="0.1.0")
    (tmp_path / "bench.toml").write_text("cylinders = 4\nfiring_order = [1, 3, 4, 2]\n")
    profile = add_profile(place, tmp_path / "bench.toml")
    recording = add_recording(place, RECORDINGS / "cranked.swr")
    words_ = ["find", recording.name, "--engine", profile, "--set", "rod_length=150 mm", "--json"]
    add_answer(place, words_, found(), recordings=[recording], profile=profile, now=NOW)
    made = sheet(place)
    engine = {row.label: row for row in (*made.engine, *made.rig)}
    assert engine["Firing order"].text == "1-3-4-2, firing evenly (profile)"
    assert engine["Pin offset"].text == "0.6 mm (recording)"
    assert engine["Rod length"].text == "150 mm (said for this answer)"
    assert engine["Atmosphere"].text == "1.013 bar, 20 °C (assumed)"
    assert (engine["Pin offset"].known, engine["Atmosphere"].known) == (True, False)


def test_the_later_of_two_answers_counts_and_a_decided_one_leads(folder: Path):
    answer(folder, "find", found(reason="old"))
    answer(folder, "find", found(reason="undecided one", decided=False), name="b")
    answer(folder, "find", found(reason="new"))
    made = sheet(folder)
    assert [each.reason for each in made.findings] == ["New.", "Undecided one."]
    assert made.lead is made.findings[0]


def test_the_last_decided_answer_about_cylinder_1_leads(folder: Path):
    answer(folder, "find", found(reason="by hand"))
    answer(folder, "find", found(reason="cranked"), name="b")
    answer(folder, "find", found(reason="third", tdc=found()["tdc"] | {"cylinder": 3}), name="c")
    answer(folder, "find", found(reason="thin", decided=False), name="d")
    made = sheet(folder)
    assert [each.reason for each in made.findings] == ["Cranked.", "By hand.", "Third.", "Thin."]
    assert made.lead is made.findings[0]


def test_compressions_are_listed_by_cylinder(folder: Path):
    second = found(tdc=found()["tdc"] | {"cylinder": 2})
    answer(folder, "find", second, name="b")
    answer(folder, "find", found())
    table = sheet(folder).compressions
    assert table is not None
    assert [row[:2] for row in table.rows] == [("1", "12.4 bar"), ("2", "12.4 bar")]


@pytest.mark.parametrize(
    "content",
    [
        {"tdc": "x"},
        {"tdc": {}},
        {"phase": None},
        {"health": []},
        {"compression": 4},
        {"tdc": {"angle": 3, "low": 4, "high": 5}},
        {"warnings": ["plain"]},
        {"firing": {"x": "y"}},
        {"new": {"value": 1.23456789, "low": 1, "high": 2}, "list": [{"a": 1}, {"b": [1, 2]}]},
    ],
)
def test_an_answer_of_another_version_is_still_shown(folder: Path, content: dict[str, Any]):
    answer(folder, "find", found(**content))
    answer(folder, "marks", MARKS | {"marks": [{"label": "other"}]})
    answer(folder, "unheard-of", found(**content))
    assert "Compression seen 8 times." in words(sheet_html(sheet(folder)))


def test_everything_is_escaped(tmp_path: Path):
    place = tmp_path / "job"
    create_job(place, NASTY, now=NOW, version="0.1.0", made_for=NASTY)
    (tmp_path / "bench.toml").write_text(
        PROFILE.replace("Bench <four>", "<script>alert(1)</script>")
        + '[[marks]]\nname = "<script>m</script>"\nstated = "0 deg ATDC"\n'
    )
    add_profile(place, tmp_path / "bench.toml")
    answer(place, "find", found(reason=NASTY, warnings=[{"code": "x", "text": NASTY}]))
    answer(place, "marks", MARKS | {"findings": [{"cause": NASTY} | MARKS["findings"][0]]})
    answer(place, "<script>", {"decided": True, "version": NASTY, NASTY: NASTY, "l": [{NASTY: 1}]})
    add_gaps(place, [Gap("<script>", 0.3, 0.3)], stage=NASTY)
    add_note(place, NASTY, now=NOW)
    tick_task(place, "oil-rockers", initials="<b>A</b>", on=NOW.date(), note=NASTY)
    (place / "099-note.toml").write_text("<script>")
    made = sheet(place)
    for html in (sheet_html(made), print_html(made)):
        assert "<script" not in html.lower()
        assert "<b>A</b>" not in html
        assert NASTY in words(html)


def test_the_page_needs_nothing_else(folder: Path):
    answer(folder, "find", found())
    html = sheet_html(sheet(folder))
    addresses = set(re.findall(r"(?:https?:)?//[^\s\"'<>]+", html))
    assert addresses <= {"http://www.w3.org/2000/svg"}
    assert not re.search(r"\b(src|href|onload|onclick)\s*=", html)
    assert "<svg" in html
    assert "default-src 'none'" in html


def test_a_changed_recording_and_a_damaged_file_are_said(folder: Path):
    answer(folder, "find", found())
    (folder / "002-recording-a.swr").write_bytes(b"other")
    (folder / "050-note.toml").write_text("half")
    said = words(sheet_html(sheet(folder)))
    assert "! 002-recording-a.swr: gone or changed since it was added" in said
    assert "! 050-note.toml: damaged" in said


def test_a_foreign_job_cannot_reach_out_of_its_folder(
    folder: Path, monkeypatch: pytest.MonkeyPatch
):
    outside = folder.parent / "outside.swr"
    outside.write_bytes(b"secret")
    answer(folder, "find", found())
    file = next(folder.glob("*-answer-find.json"))
    text = file.read_text().replace('"file": "002-recording', '"file": "002-/../../outside.swr')
    file.write_text(text.replace('"profile": "001', '"profile": "../001'))
    opened = []
    monkeypatch.setattr("strokewise.gui.sheet.engine.read_recording", opened.append)
    monkeypatch.setattr("strokewise.gui.sheet.pictures.read_recording", opened.append)
    made = sheet(folder)
    assert opened == []
    assert any("gone or changed" in warning for warning in made.warnings)


def test_the_sheet_needs_no_qt(folder: Path):
    answer(folder, "find", found())
    code = (
        "import sys; from datetime import datetime, UTC\n"
        "from strokewise.gui.job.job import read_job\n"
        "from strokewise.gui.sheet.sheet import sheet_of\n"
        "from strokewise.gui.sheet.html import sheet_html\n"
        "sheet_html(sheet_of(read_job(sys.argv[1]), now=datetime.now(UTC), version='1'))\n"
        "assert not [name for name in sys.modules if name.startswith('PySide6')]\n"
    )
    subprocess.run([sys.executable, "-c", code, str(folder)], check=True, timeout=120)


def test_the_other_commands_answers_are_put_in_words(folder: Path):
    """The very answers of the commands, so that a renamed key shows here."""
    profile = folder.parent / "full.toml"
    profile.write_text(
        PROFILE + '[static_timing]\nadvance = "6 deg BTDC"\n[pulley]\nradius = "80 mm"\n'
        '[distributor]\nrotation = "clockwise"\n[drive_gear]\nteeth = 10\nhand = "right"\n'
        'helix_angle = "45 deg"\npitch_diameter = "25 mm"\nengagement = "12 mm"\n'
    )
    place = str(folder)
    assert cli.main(["job", "add", place, "--engine", str(profile)]) == 0
    strobe = "static --curve 800=0,3000=20 --strobe 700=13 --strobe 3200=33"
    asked = [word for ask in (strobe, "drive", "valves") for word in ("--ask", ask)]
    assert cli.main(["job", "add", place, *asked]) in (0, 3)
    made = sheet(folder)
    said = words(sheet_html(made))
    # 80 mm × 6° in radians
    assert "On the rim 8.38 mm along it, 8.37 mm across" in said
    assert "700 13 7" in said
    # 12 mm · tan 45° / 12.5 mm in degrees is 55.0°
    assert "Going in turns 55.0° clockwise" in said
    assert "36.0° of the rotor, 72.0 crank degrees" in said
    assert "1 at 0°, 3 at 90°, 4 at 180°, 2 at 270°" in said
    assert "Drive gear 10 teeth, right-hand helix of 45°, pitch diameter 25 mm" in said
    assert "rotor turns clockwise, seen on the cap" in said
    assert "To spare on either side" in said
    assert not any("drive gear" in line or "engine running" in line for line in made.unchecked)
