"""A mechanic puts a head back on: two turns by spanner, eight valves, drive gear, timing, sheet."""

import json
from pathlib import Path
from typing import Any

import pytest
from suite_engines import DRIVE

from strokewise.gui import cli

GAPS = {"I": ("0.38 mm", "0.28 mm", "0.30 mm"), "E": ("0.30 mm", "0.37 mm", "0.35 mm")}
"""As found, set, and measured again after the locknut was nipped up."""

Run = pytest.CaptureFixture[str]


def asked(capsys: Run, *words: str) -> dict[str, Any]:
    """Return the answer of a command that decides."""
    assert cli.main([*words, "--json"]) == 0
    [line] = capsys.readouterr().out.splitlines()
    return json.loads(line)


def test_from_two_turns_by_spanner_to_the_job_sheet(tmp_path: Path, capsys: Run) -> None:
    recording, profile = str(tmp_path / "two.swr"), tmp_path / "two.toml"
    turned = ["simulate", recording, "--scenario", "hand-turned"]
    for setting in ("turn=720 deg", "hand_speed=40 rpm", "pause=0.3..0.4 s"):
        turned += ["--set", setting]
    assert cli.main(turned) == 0
    profile.write_text(profile.read_text() + DRIVE)
    engine = ("--engine", str(profile))
    capsys.readouterr()
    truth = json.loads((tmp_path / "two.truth.json").read_text())

    job = str(tmp_path / "job")
    assert cli.main(["job", "new", job, *engine, "--name", "Bench four", "--for", "a club"]) == 0
    assert cli.main(["job", "add", job, recording]) == 0
    capsys.readouterr()
    [kept] = Path(job).glob("*-answer-find.json")
    found = json.loads(kept.read_text())
    found = found.get("answer", found)
    assert found["decided"]
    apart = (found["firing"]["1"] - truth["firing"]["1"] + 360) % 720 - 360
    assert abs(apart) < 1.0

    # Every valve once, with the fewest turns: the list is followed until nothing is left.
    done: list[str] = []
    at, turned_deg = None, 0.0
    for _ in range(8):
        marked = ("--done", ",".join(done)) if done else ()
        where = (recording,) if at is None else ("--after-tdc", str(at))
        valves = asked(capsys, "valves", *where, *engine, *marked)
        if not valves["stops"]:
            break
        stop = valves["stops"][0]
        at = stop["after_firing_1"]
        turned_deg += stop["turn"]
        assert set(stop["valves"]).isdisjoint(done)
        done += stop["valves"]
    assert sorted(done) == ["1E", "1I", "2E", "2I", "3E", "3I", "4E", "4I"]
    assert turned_deg <= 720

    gaps = [word for key in done for word in ("--gap", f"{key}={', '.join(GAPS[key[1]])}")]
    assert cli.main(["job", "add", job, *gaps]) == 0
    capsys.readouterr()

    # The gear screws into mesh: it ends at the rotor's place, having started earlier.
    drive = asked(capsys, "drive", *engine)
    assert drive["meshing"]["direction"] in ("clockwise", "anticlockwise", "counter-clockwise")
    assert drive["meshing"]["turn"] == pytest.approx(55.0, abs=0.1)  # 12 mm tan 45° on 25 mm
    assert [lead["cylinder"] for lead in drive["leads"]] == [1, 3, 4, 2]
    static = asked(capsys, "static", *engine)
    assert static["advance"]["rim_along"].startswith("8.168")  # 6° on 78 mm
    assert static["target"]["after_firing_1"] == pytest.approx(714.0)
    assert cli.main(["job", "add", job, "--ask", "drive"]) == 0
    assert cli.main(["job", "add", job, "--ask", "static"]) == 0

    for task in ("oil-rockers", "two-turns-by-hand", "drive-gear-seated"):
        assert cli.main(["job", "tick", job, task, "--initials", "AB"]) == 0
    capsys.readouterr()
    assert cli.main(["job", "show", job, "--check"]) == 3  # four things are still to do
    shown = capsys.readouterr().out
    assert "All 3 answers come out the same when computed again." in shown
    assert "Still to do: 4 of 7" in shown
    sheet = tmp_path / "handover"
    assert cli.main(["sheet", job, "--out", str(sheet), "--html-only"]) == 0
    page = sheet.with_suffix(".html").read_text(encoding="utf-8")
    for part in ("Bench four", "a club", "AB", "0.35", "START THE ROTOR", "Signature", "<svg"):
        assert part.lower() in page.lower()
    # nothing is called checked that was not
    assert "Cam timing" in page
    assert "Timing marks" in page or "timing marks" in page
