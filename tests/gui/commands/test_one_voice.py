"""`marks` and `cam` on one recording: the right cause, the worst first, and never two voices.

Each recording is a scenario of the bench with a lie, asked as a person would, whose truth is known.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from strokewise.gui import cli
from strokewise.gui.found import found_in
from strokewise.gui.options import SaidOfEngine
from strokewise.gui.steps import Said, ask

DOT, NOTCH = "cam dot", "pulley notch"
FOREIGN = "dot, pointer or sprocket for another engine"


def asked(
    folder: Path, *words: str, said: tuple[str, ...] = (), set_now: bool = False
) -> tuple[Said, Said]:
    """Simulate a recording and ask both steps."""
    recording = folder / "voice.swr"
    assert cli.main(["simulate", str(recording), *words]) == 0
    found = found_in(recording, SaidOfEngine(settings=list(said)))
    return ask("marks", found), ask("cam", found, {"clearances_set": "yes"} if set_now else {})


def first(said: Said) -> dict[str, str]:
    """Return the most probable cause of every part."""
    causes: dict[str, str] = {}
    for finding in said.json["findings"]:
        causes.setdefault(finding["part"], finding["cause"])
    return causes


def late(said: Said, name: str) -> dict[str, Any]:
    return next(mark["late"] for mark in said.json["marks"] if mark["name"] == name)


def test_a_cam_dot_of_another_engine_is_no_late_cam(tmp_path: Path) -> None:
    marks, cam = asked(
        tmp_path, "--scenario", "cranked", "--set", "cam_mark=17.14deg", "--seed", "115"
    )
    assert first(marks)["cam sprocket"] == FOREIGN
    assert first(marks)["cam"] == "cam on its tooth"
    assert not any(
        each["cause"].startswith("cam sprocket 1 tooth") and each["probability"] > 0.01
        for each in marks.json["findings"]
    )
    assert cam.json["teeth"]["value"] == 0
    assert cam.json["half_turn"] == {"value": None, "probability": None, "from": None}
    for said in (marks, cam):
        assert said.page.headline.startswith("Cam dot does not go with the cam that pressure shows")


def test_with_the_same_dot_an_early_cam_is_early(tmp_path: Path) -> None:
    marks, cam = asked(
        tmp_path, "--scenario", "cam-tooth-early", "--set", "cam_mark=17.14deg", "--seed", "105"
    )
    assert first(marks)["cam"] == "cam sprocket 1 tooth early"
    assert first(marks)["cam sprocket"] == FOREIGN
    assert cam.json["teeth"]["value"] == -1
    assert cam.json["corrections"][0]["teeth_earlier"] == -1
    assert marks.page.headline.startswith("Cam sprocket 1 tooth early")


def test_half_a_turn_is_the_headline_of_both(tmp_path: Path) -> None:
    marks, cam = asked(
        tmp_path, "--scenario", "cam-half-turn", "--set", "pulley_mark=-9deg", "--seed", "102"
    )
    for said in (marks, cam):
        assert said.page.headline.startswith("HALF A TURN OF THE CAM: cam dot comes a whole")
    half = cam.json["half_turn"]
    assert (half["value"], half["from"]) == (True, DOT)
    assert half["probability"] == pytest.approx(
        next(
            each["probability"]
            for each in marks.json["findings"]
            if each["cause"] == "mark set at the overlap TDC"
        ),
        abs=1e-6,
    )
    assert half["probability"] < 0.95  # a sensor counted from the wrong end looks the same


@pytest.mark.parametrize(
    ("words", "notch"),
    [(("--seed", "301"), 0.0), (("--set", "pulley_mark=17deg", "--seed", "111"), 17.0)],
)
def test_marks_met_before_the_clamp_slipped_do_not_count(
    words: tuple[str, ...], notch: float, tmp_path: Path
) -> None:
    marks, _ = asked(tmp_path, "--scenario", "clamp-slipped", "--set", "slip=4deg", *words)
    for name, true in ((NOTCH, notch), (DOT, 0.0)):
        shown = late(marks, name)
        assert shown["low"] <= true <= shown["high"], name
        assert shown["high"] - shown["low"] < 1.7  # twice TDC's ± by starter, little more
    assert first(marks)["encoder"] == "encoder clamp slipped and held since"
    assert [each["code"] for each in marks.json["warnings"]].count("clamp-slip") == 1


def test_turned_backwards_the_interval_is_as_wide_as_teeth_are(tmp_path: Path) -> None:
    marks, cam = asked(tmp_path, "--scenario", "turned-backwards", "--seed", "120")
    for name in (NOTCH, DOT):
        shown = late(marks, name)
        assert shown["low"] <= 0.0 <= shown["high"], name
    words = " ".join(str(marks.page).split())
    assert "offset itself is sure" not in words
    assert first(marks)["encoder"] == "encoder clamp held"
    assert cam.json["half_turn"]["value"] is False


def test_a_sensor_in_another_cylinder_than_stated_is_on_the_list(tmp_path: Path) -> None:
    marks, cam = asked(
        tmp_path,
        "--scenario", "cranked", "--set", "cylinder=3", "--seed", "103",
        said=("sensor.cylinder=1",),
    )  # fmt: skip
    assert first(marks)["sensor"] == "sensor in cylinder 3, not in 1"
    assert first(marks)["pulley"] == first(marks)["cam sprocket"] == "mark right"
    for said in (marks, cam):
        assert said.page.headline.startswith("Sensor in cylinder 3, not in 1")


def test_no_list_adds_up_to_more_than_one(tmp_path: Path) -> None:
    marks, _ = asked(tmp_path, "--scenario", "pulley-ring-slipped", "--seed", "101")
    sums: dict[str, float] = {}
    for each in marks.json["findings"]:
        sums[each["part"]] = sums.get(each["part"], 0.0) + each["probability"]
    assert set(sums) == {"pulley", "cam sprocket", "cam", "sensor", "encoder"}
    assert sums == {part: pytest.approx(1.0, abs=1e-5) for part in sums}


def test_with_one_sensor_only_its_cylinder_was_measured(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The stated order of this six is wrong, and no sensor in cylinder 1 alone can show it."""
    recording = str(tmp_path / "six.swr")
    wrong = ("--scenario", "six", "--set", "stated_order=1-2-3-4-5-6", "--seed", "114")
    assert cli.main(["simulate", recording, *wrong]) == 0
    capsys.readouterr()
    assert cli.main(["find", recording]) == 0
    words = " ".join(capsys.readouterr().out.split())
    assert "only cylinder 1 was measured, the rest is as the firing order stated has it" in words
    assert "further on; by the firing order as stated" in words
