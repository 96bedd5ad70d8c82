"""Valves, drive gear and static timing, asked for as a person would."""

import json
from pathlib import Path
from typing import Any

import pytest
from suite_engines import BENCH

from strokewise.analysis.verdict.found import Found
from strokewise.daq.profile.known import known_engine
from strokewise.gui import cli, found
from strokewise.gui.options import SaidOfEngine
from strokewise.gui.sayings import as_said

RECORDINGS = Path(__file__).parents[3] / "recordings"
CRANKED = str(RECORDINGS / "cranked.swr")
Run = pytest.CaptureFixture[str]


@pytest.fixture
def engine(tmp_path: Path) -> str:
    path = tmp_path / "bench.toml"
    path.write_text(BENCH)
    return str(path)


@pytest.fixture(scope="module")
def cranked() -> Found:
    """The shipped recording, found once."""
    return found.found_in(CRANKED, SaidOfEngine())


@pytest.fixture
def once(cranked: Found, engine: str, monkeypatch: pytest.MonkeyPatch) -> Found:
    """Spare every test the fit; the engine is that of ``BENCH``."""
    from dataclasses import replace

    known = replace(cranked, profile=known_engine(overrides=[], engine=engine).profile)
    monkeypatch.setattr(found, "found_in", lambda file, said, **how: known)
    return known


def asked(capsys: Run, *words: str, code: int = 0) -> dict[str, Any]:
    """Run a command with ``--json`` and return its one object."""
    assert cli.main([*words, "--json"]) == code
    [line] = capsys.readouterr().out.splitlines()
    return json.loads(line)


def said(capsys: Run, *words: str, code: int = 0) -> str:
    assert cli.main(list(words)) == code
    return " ".join(capsys.readouterr().out.split())


def complaint(capsys: Run, *words: str) -> str:
    assert cli.main(list(words)) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    return told.err


def test_a_recording_tells_where_the_crank_stands(cranked: Found) -> None:
    """The truth beside the recording gives cylinder 1; the last count gives the crank."""
    truth = json.loads((RECORDINGS / "cranked.truth.json").read_text())
    assert cranked.firing_1_deg == pytest.approx(truth["firing"]["1"], abs=1.0)
    assert cranked.tdc_1 is not None
    assert (cranked.tdc_1.value - truth["tdc"]["angle"] + 180) % 360 - 180 == pytest.approx(
        0, abs=1.0
    )
    assert cranked.angle_deg is not None
    assert cranked.after_firing_1_deg == cranked.angle_deg - cranked.firing_1_deg


def test_valves_to_set_now_and_the_stops(engine: str, capsys: Run) -> None:
    answer = asked(capsys, "valves", "--engine", engine)
    assert answer["decided"]
    ready = {v["valve"] for v in answer["valves"] if v["ready"]}
    assert ready == {"1E", "1I", "2I", "3E"}
    assert [stop["turn"] for stop in answer["stops"]] == [0, 360]
    assert answer["timing"] == "stated"
    assert [rule["agrees"] for rule in answer["rules"]] == [True, True]
    assert answer["wanted"] == {"inlet": "0.3 mm", "exhaust": "0.35 mm"}
    words = said(capsys, "valves", "--engine", engine)
    assert words.startswith("SET NOW: ")
    assert "must" not in words.split("Before the next step")[0]
    assert "The profile forbids turning this engine backwards" in words
    assert "engine maker's manual" in words


def test_valves_done_by_key_or_number(engine: str, capsys: Run) -> None:
    answer = asked(capsys, "valves", "--engine", engine, "--done", "1e,2", "--done", "3")
    assert [v["valve"] for v in answer["valves"] if v["done"]] == ["1E", "1I", "2I"]
    assert [sorted(stop["valves"]) for stop in answer["stops"]] == [["2E", "3E", "3I", "4E", "4I"]]
    everything = said(capsys, "valves", "--engine", engine, "--done", "1,2,3,4,5,6,7,8")
    assert everything.startswith("ALL VALVES ARE SET")


def test_gaps_in_inches_and_the_locknut(engine: str, capsys: Run) -> None:
    answer = asked(
        capsys,
        *("valves", "--engine", engine, "--gap", "1E=0.40 mm, 0.36 mm, 0.35 mm"),
        *("--gap", "1I=0.010 in", "--gap", "2I=-, 0.30 mm", "--fitted", "1I=2.45 mm"),
    )
    found_gaps = {gap["valve"]: gap for gap in answer["gaps"]}
    assert found_gaps["1E"]["status"] == "good"
    assert found_gaps["1E"]["locknut_moved"] == "-0.01 mm"
    assert found_gaps["1I"]["found"] == "0.254 mm"
    assert found_gaps["1I"]["status"] == "to set"
    assert found_gaps["2I"]["status"] == "remeasure"
    assert answer["shims"]["1I"][0] == {"shim": "2.4 mm", "gap": "0.304 mm"}
    assert answer["feelers"]["inlet"][0]["blades"] == ["0.3 mm"]


def test_valves_follow_the_recording(once: found.Found, capsys: Run) -> None:
    answer = asked(capsys, "valves", CRANKED)
    assert answer["crank"]["after_firing_1"] == pytest.approx(
        once.after_firing_1_deg % 720, abs=0.1
    )
    typed = asked(capsys, "valves", CRANKED, "--after-tdc", "90")
    assert typed["crank"]["after_firing_1"] == 90


def test_an_undecided_recording_leaves_the_crank_open(
    once: found.Found, monkeypatch: pytest.MonkeyPatch, capsys: Run
) -> None:
    from dataclasses import replace

    open_verdict = replace(once.verdict, decided=False, firing_deg=None, reason=as_said("turn on"))
    known = replace(once, verdict=open_verdict)
    monkeypatch.setattr(found, "found_in", lambda file, said, **how: known)
    answer = asked(capsys, "valves", CRANKED, code=3)
    assert (answer["decided"], answer["crank"], answer["valves"]) == (False, None, None)
    assert answer["reason"] == "turn on"
    assert len(answer["stops"]) == 2
    assert said(capsys, "valves", CRANKED, code=3).startswith("NOT SURE WHERE THE CRANK STANDS")
    assert asked(capsys, "static", CRANKED, code=3)["moves"] is None
    assert asked(capsys, "drive", CRANKED, code=3)["meshing"] is None
    restarted = replace(once, angle_deg=None)
    monkeypatch.setattr(found, "found_in", lambda file, said, **how: restarted)
    assert "started again" in asked(capsys, "drive", CRANKED, code=3)["reason"]


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (("valves", "--done", "5E"), 'there is no valve "5E"'),
        (("valves", "--gap", "1E=12 mm"), "cannot be a valve gap"),
        (("valves", "--gap", "1E=0.3"), "needs a unit"),
        (("valves", "--gap", "1E"), "must be written like"),
        # one valve both right and not: good and still to be set, on one page
        (
            ("valves", "--gap", "2E=0.35 mm", "--gap", "4=0.25 mm"),
            "--gap of 2E is said more than once",
        ),
        (("valves", "--gap", "1E=.2 mm", *("--fitted", "1E=2 mm") * 2), "--fitted of 1E is said"),
        (("valves", "--fitted", "1E=2.4 mm"), "needs the gap as found"),
        (("valves", "--after-tdc", "soon"), "is not a number"),
        (("static", "--advance", "6 deg"), "before or after TDC"),
        (("static", "--cylinder", "9"), "no cylinder 9"),
        (("static", "--travel", "99 mm"), "within the stroke"),
        (("static", "--curve", "800=0"), "go with --strobe"),
        (("static", "--strobe", "fast"), "must be written like"),
        (("static", "--strobe", "700=9", "--mark-late", "7,9,8"), "VALUE,LOW,HIGH"),
        (("drive", "--found", "up"), "is not a number"),
        (("drive", "--set", "drive_gear.helix_angle=95 deg"), "helix"),
    ],
)
def test_what_cannot_be_is_one_line(
    words: tuple[str, ...], text: str, engine: str, capsys: Run
) -> None:
    command, *rest = words
    assert text in complaint(capsys, command, "--engine", engine, *rest)


def test_drive_gear_start_end_and_leads(engine: str, capsys: Run) -> None:
    answer = asked(capsys, "drive", "--engine", engine, "--lead-1", "20")
    assert answer["meshing"]["turn"] == pytest.approx(55.0, abs=0.01)
    assert answer["meshing"]["start"] == pytest.approx(325.0, abs=0.01)
    assert answer["meshing"]["end"] == 20
    assert answer["meshing"]["tooth_crank"] == 72
    assert [lead["at"] for lead in answer["leads"]] == [20, 110, 200, 290]
    assert answer["drawing"]["rotor"][-1] == 20
    words = said(capsys, "drive", "--engine", engine, "--lead-1", "20")
    assert words.startswith("START THE ROTOR AT 325°: going in it turns 55° clockwise")
    assert "oil pump" in words


def test_the_drive_is_drawn_into_a_new_file(engine: str, tmp_path: Path, capsys: Run) -> None:
    out = tmp_path / "drive.svg"
    ask = ("drive", "--engine", engine, "--picture", str(out))
    assert cli.main(list(ask)) == 0
    assert "Start the rotor at 305° (dashed)" in out.read_text(encoding="utf-8")
    assert cli.main(list(ask)) == 2
    assert f"{out} is there already" in capsys.readouterr().err


def test_drive_with_the_crank_away_from_tdc(once: found.Found, engine: str, capsys: Run) -> None:
    away = asked(capsys, "drive", "--engine", engine, "--after-tdc", "-6")
    assert away["meshing"]["end"] == 357
    typed = asked(capsys, "drive", "--engine", engine, "--after-tdc", "-6", "--end", "90")
    assert typed["meshing"]["end"] == 90
    recorded = asked(capsys, "drive", CRANKED)
    assert once.after_firing_1_deg is not None
    assert recorded["meshing"]["end"] == pytest.approx(once.after_firing_1_deg / 2 % 360, abs=0.01)


def test_a_drive_found_half_a_turn_out(engine: str, capsys: Run) -> None:
    answer = asked(capsys, "drive", "--engine", engine, "--found", "181")
    assert answer["found"]["half_turn"]
    assert answer["found"]["lead_moves"] == {"1": 4, "2": 3, "3": 2, "4": 1}
    words = said(capsys, "drive", "--engine", engine, "--found", "181")
    assert words.startswith("THE DRIVE IS HALF A TURN OUT")
    assert "every plug lead to the tower opposite" in words
    tooth = said(capsys, "drive", "--engine", engine, "--found", "36")
    assert tooth.startswith("Lift the drive, turn it 1 tooth counter-clockwise")


def test_a_rotor_of_unknown_rotation(tmp_path: Path, capsys: Run) -> None:
    path = tmp_path / "bench.toml"
    path.write_text(BENCH.replace('[distributor]\nrotation = "clockwise"\n', ""))
    at_tdc = asked(capsys, "drive", "--engine", str(path))
    assert at_tdc["decided"]
    assert at_tdc["leads"] == []
    away = asked(capsys, "drive", "--engine", str(path), "--after-tdc", "30", code=3)
    assert "distributor.rotation" in away["reason"]
    assert "in the order in which the rotor passes them" in said(
        capsys, "drive", "--engine", str(path)
    )


def test_static_timing_in_everything_that_can_be_measured(engine: str, capsys: Run) -> None:
    answer = asked(capsys, "static", "--engine", engine)
    assert answer["advance"]["before_tdc"] == 6
    assert answer["advance"]["rim_along"] == "8.378 mm"
    assert answer["advance"]["flywheel_teeth"] == 2
    assert answer["target"]["after_firing_1"] == 714
    assert answer["moves"] is None
    for option, value in (
        ("--rim", "8.378 mm"),
        ("--chord", "8.374 mm"),
        ("--teeth", "2"),
        ("--travel", answer["advance"]["piston_travel"]),
    ):
        back = asked(capsys, "static", "--engine", engine, option, value)
        assert back["advance"]["before_tdc"] == pytest.approx(6, abs=0.02)
    other = asked(capsys, "static", "--engine", engine, "--cylinder", "4", "--advance", "TDC")
    assert other["target"]["after_firing_1"] == 360


def test_static_timing_guides_from_the_recording(once: found.Found, capsys: Run) -> None:
    answer = asked(capsys, "static", CRANKED)
    [move] = answer["moves"]
    assert once.after_firing_1_deg is not None
    assert (once.after_firing_1_deg + move["turn"]) % 720 == pytest.approx(714, abs=0.01)
    assert "stop on the mark" in said(capsys, "static", CRANKED)


def test_strobe_tells_mark_from_advance(engine: str, capsys: Run) -> None:
    curve = ("--curve", "800=0,3000=20")
    readings = ("--strobe", "700=13", "--strobe", "3200=33")
    open_one = asked(capsys, "static", "--engine", engine, *curve, *readings)
    assert open_one["strobe"]["culprits"] == ["mark or static setting"]
    known = asked(
        capsys, "static", "--engine", engine, *curve, *readings, "--mark-late", "7,6.7,7.3"
    )
    assert known["strobe"]["culprits"] == ["mark"]
    stuck = ("--strobe", "700=6", "--strobe", "3200=6")
    assert asked(capsys, "static", "--engine", engine, *curve, *stuck)["strobe"]["culprits"] == [
        "advance"
    ]
    alone = asked(capsys, "static", "--engine", engine, *curve, "--strobe", "3200=33", code=3)
    assert alone["strobe"]["culprits"] == ["unknown"]
    words = said(capsys, "static", "--engine", engine, *curve, *readings)
    assert "Moving parts look still under the lamp" in words
    assert "Advance 100 % (86 to 114) of its curve" in words


def test_without_any_advance_it_asks(tmp_path: Path, capsys: Run) -> None:
    path = tmp_path / "bare.toml"
    path.write_text("cylinders = 1\nfiring_order = [1]\n")
    assert "no static timing known" in complaint(capsys, "static", "--engine", str(path))
    assert "drive_gear is missing" in complaint(capsys, "drive", "--engine", str(path))


@pytest.mark.parametrize("command", ["valves", "drive", "static"])
def test_without_any_engine_it_asks_for_one_and_makes_none_up(command: str, capsys: Run) -> None:
    assert cli.main([command]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "--engine PROFILE" in told.err
    assert len(told.err.splitlines()) == 1


SLOT = (
    *("--set", "drive_gear.slot_angle=90 deg", "--set", "drive_gear.slot_depth=4 mm"),
    *("--set", "drive_gear.slot=turns"),
)


def test_the_pumps_slot_is_set_before_the_gear_goes_in(engine: str, capsys: Run) -> None:
    drive = ("drive", "--engine", engine, *SLOT)
    seat = asked(capsys, *drive)["seating"]
    assert seat["before"] == pytest.approx(90 - 4 * 360 / (3.14159 * 25), abs=0.02)
    assert seat["home"] == 90
    assert [each["end"] for each in seat["teeth"]] == [288, 324, 0, 36, 72]
    assert said(capsys, *drive, "--slot", "73").startswith("START THE ROTOR AT 305°")
    wrong = said(capsys, *drive, "--slot", "40")
    assert wrong.startswith("FIRST TURN THE PUMP'S SLOT 32° clockwise, to 72°. START THE ROTOR")
    fixed = said(capsys, *drive, "--slot", "40", "--set", "drive_gear.slot=fixed")
    assert fixed.startswith("THE GEAR CANNOT GO HOME THERE")
    assert "START THE ROTOR" not in fixed
    assert "only 1 tooth counter-clockwise (72° late) goes in" in " ".join(fixed.split())
    none = said(capsys, *drive, "--slot", "55", "--set", "drive_gear.slot=fixed")
    assert "no tooth near it goes in" in " ".join(none.split())


def test_the_pumps_slot_is_drawn_below_the_cap(engine: str, tmp_path: Path, capsys: Run) -> None:
    out = tmp_path / "slot.svg"
    drive = ("drive", "--engine", engine, "--picture", str(out))
    assert cli.main([*drive, *SLOT, "--slot", "40"]) == 0
    drawn = out.read_text(encoding="utf-8")
    assert "Before: at 71.7° (dashed)" in drawn
    assert "Now at 40° (dotted)" in drawn


def test_what_has_nothing_to_draw_is_not_passed_over_in_silence(
    tmp_path: Path, capsys: Run
) -> None:
    out = tmp_path / "rim.svg"
    four = ("--set", "cylinders=4", "--set", "firing_order=1-3-4-2")
    cli.main(["static", *four, "--advance", "6 deg BTDC", "--picture", str(out)])
    assert not out.exists()
    assert f"{out} not written: this answer has nothing to draw" in capsys.readouterr().err
    lies = str(RECORDINGS / "marks-that-lie.swr")
    assert cli.main(["marks", lies, "--picture", str(out)]) == 0
    assert capsys.readouterr().err == ""
    assert "pulley notch: 17.1° late" in out.read_text(encoding="utf-8")
