"""Compressions of several recordings compared."""

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from strokewise.analysis.compression.cylinder_compression import CylinderCompression
from strokewise.analysis.errors import InputError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Atmosphere
from strokewise.analysis.remark import Notice
from strokewise.analysis.verdict.find import find
from strokewise.analysis.verdict.found import Found
from strokewise.daq.recording.read import read_recording
from strokewise.gui import cli, compressions, found
from strokewise.gui.options import SaidOfEngine
from strokewise.gui.sayings import as_said
from strokewise.gui.steps import about_files

RECORDINGS = Path(__file__).parents[3] / "recordings"
Run = pytest.CaptureFixture[str]

PEAKS = {"a": 12.0, "b": 12.2, "c": 7.5, "d": 12.1}


@pytest.fixture
def files(tmp_path: Path) -> list[str]:
    """Names of four recordings; what is in them is said by ``measured``."""
    paths = [tmp_path / f"{name}.swr" for name in PEAKS]
    for path in paths:
        path.touch()
    return [str(path) for path in paths]


@pytest.fixture
def measured(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """Compressions by file name; a test may change peaks, speeds or notices."""
    box: dict[str, Any] = {"peaks": dict(PEAKS), "rpm": 200.0, "notices": ()}

    def measured_in(
        file: Path, said: Any, cylinder: int | None
    ) -> tuple[CylinderCompression | None, tuple[Notice, ...]]:
        peak = box["peaks"][file.stem]
        if peak is None:
            return None, (Notice("no-compression", as_said("turn on")),)
        number = cylinder or "abcd".index(file.stem) + 1
        return (
            CylinderCompression(
                number,
                Interval(peak, peak - 0.1, peak + 0.1),
                box["rpm"],
                Atmosphere(),
                6,
                passes_to_peak=2,
                leak_mm2=Interval(0.4, 0.2, 0.8),
            ),
            box["notices"],
        )

    monkeypatch.setattr(compressions, "measured_in", measured_in)
    return box


def asked(capsys: Run, *words: str, code: int = 0) -> dict[str, Any]:
    assert cli.main(["compare", *words, "--json"]) == code
    [line] = capsys.readouterr().out.splitlines()
    return json.loads(line)


def said(capsys: Run, *words: str, code: int = 0) -> str:
    assert cli.main(["compare", *words]) == code
    return " ".join(capsys.readouterr().out.split())


def complaint(capsys: Run, *words: str) -> str:
    assert cli.main(["compare", *words]) == 2
    told = capsys.readouterr()
    assert (told.out, told.err.count("\n")) == ("", 1)
    return told.err


def test_one_low_cylinder(files: list[str], measured: dict[str, Any], capsys: Run) -> None:
    answer = asked(capsys, *files, "--throttle-open", "yes")
    assert answer["decided"]
    assert answer["odd"]["cylinder"] == 3
    assert answer["odd"]["stands_out"]
    assert answer["odd"]["share"]["high"] < 0
    assert [finding["code"] for finding in answer["findings"]] == ["one-low"]
    assert answer["at"] == {"speed_rpm": 200.0, "atmosphere": "1.013 bar"}
    assert [c["cylinder"] for c in answer["cylinders"]] == [1, 2, 3, 4]
    asked_about = [w["text"] for w in answer["warnings"] if w["code"] == "condition-unknown"]
    assert len(asked_about) == 4
    words = said(capsys, *files)
    assert words.startswith("Cylinder 3: 38.0 % below the others (36.9 to 39.1): suggests")
    assert "To confirm: valve clearance first" in words
    assert "no diagnosis" in words
    assert "Disable ignition" in words
    assert "leaks like a hole of 0.4 (0.2 to 0.8) mm²" in words


def test_alike_cylinders(files: list[str], measured: dict[str, Any], capsys: Run) -> None:
    measured["peaks"]["c"] = 11.9
    words = said(capsys, *files)
    assert re.match(r"The cylinders agree within [1-3]\.\d %\.", words)
    assert "Alike is not the same as good" in words


def test_which_cylinder_and_which_are_neighbours(
    files: list[str], measured: dict[str, Any], capsys: Run
) -> None:
    measured["peaks"] |= {"b": 7.4}
    side_by_side = asked(capsys, *files, "--cylinders", "4,2,1,3")
    assert [c["cylinder"] for c in side_by_side["cylinders"]] == [4, 2, 1, 3]
    assert side_by_side["findings"][0]["code"] == "neighbours-low"
    apart = asked(capsys, *files, "--cylinders", "4,2,1,3", "--neighbours", "1-3,2-4")
    assert "neighbours-low" not in [finding["code"] for finding in apart["findings"]]
    assert "names 2 for 4 recordings" in complaint(capsys, *files, "--cylinders", "1,2")
    assert "each measured once" in complaint(capsys, *files, "--cylinders", "1,1,2,3")
    assert "must be pairs" in complaint(capsys, *files, "--neighbours", "1")


def test_wet_and_dry(
    files: list[str], measured: dict[str, Any], tmp_path: Path, capsys: Run
) -> None:
    wet = tmp_path / "oiled.swr"
    measured["peaks"]["oiled"] = 10.6
    answer = asked(capsys, *files, "--wet", str(wet), "--wet-cylinders", "3")
    [pair] = answer["oiled"]
    assert pair["gain"]["value"] == pytest.approx(10.6 / 7.5 - 1, abs=1e-3)
    assert pair["finding"]["code"] == "oil-raises"
    text = complaint(capsys, *files, "--wet", str(wet), "--wet-cylinders", "9")
    assert "--wet: cylinder 9 was not measured dry" in text
    text = complaint(capsys, *files, "--wet", str(wet), "--wet-cylinders", "3,4")
    assert "--wet-cylinders names 2 for 1 recordings" in text


def test_the_window_calls_the_fields_as_its_form_does(
    files: list[str], measured: dict[str, Any]
) -> None:
    typed = {"cylinders": "1,2"}
    with pytest.raises(InputError, match="“Cylinder of each file” names 2 for 4 recordings"):
        about_files("compare", files, typed, SaidOfEngine(), in_window=True)


def test_what_cannot_be_a_speed_is_one_line(
    files: list[str], measured: dict[str, Any], capsys: Run
) -> None:
    assert "must be above zero" in complaint(capsys, *files, "--speed", "0")


def test_turned_by_hand_is_not_compared(
    files: list[str], measured: dict[str, Any], capsys: Run
) -> None:
    measured["rpm"] = 40.0
    answer = asked(capsys, *files, code=3)
    assert not answer["decided"]
    assert "crank with the starter" in answer["reason"]


def test_a_recording_without_compression_is_named(
    files: list[str], measured: dict[str, Any], capsys: Run
) -> None:
    measured["peaks"]["b"] = None
    answer = asked(capsys, *files, code=3)
    assert "record that cylinder again" in answer["reason"]
    assert "b.swr: turn on" in [warning["text"] for warning in answer["warnings"]]
    measured["peaks"] |= {"a": None, "c": None}
    few = asked(capsys, *files, code=3)
    assert (few["cylinders"], few["spread"]) == ([], None)
    assert said(capsys, *files, code=3).startswith("NOT SURE. Two cylinders or more")


def test_a_real_recording_gives_peak_speed_and_leak() -> None:
    """The truth beside the shipped recording: 0.4 mm² past the rings, its peak and speed."""
    file = RECORDINGS / "cranked.swr"
    truth = json.loads((RECORDINGS / "cranked.truth.json").read_text())
    one, notices = compressions.measured_in(file, SaidOfEngine(), None)
    assert one is not None
    assert one.cylinder == truth["tdc"]["cylinder"]
    true_bar = float(truth["compression"]["peak"].split()[0])
    assert one.peak.value == pytest.approx(true_bar, rel=0.03)
    assert 150 < one.speed_rpm < 250
    assert one.passes_to_peak is not None
    assert one.leak_mm2 is not None
    assert one.leak_mm2.low <= truth["truth"]["ring_leak_mm2"][0] <= one.leak_mm2.high
    assert notices == ()


def test_the_recordings_own_header_says_which_cylinder(toy_file: Path, toy: Any) -> None:
    known = found.found_in(toy_file, SaidOfEngine(settings=("sensor.cylinder=1",)))
    assert compressions.recorded_cylinder(known) == toy.cylinder
    headless = replace(known, header={})
    assert compressions.recorded_cylinder(headless) == 1


def test_a_sensor_without_known_points_gives_no_compression(
    monkeypatch: pytest.MonkeyPatch, capsys: Run
) -> None:
    """Nothing says what its readings are in bar: there is nothing to compare."""
    file = RECORDINGS / "cranked.swr"
    found_in = found.found_in

    def bare(file: Path, said: Any, **_: Any) -> Found:
        whole = found_in(file, said)
        profile = whole.profile
        sensors = (replace(profile.sensors[0], points=()),)
        profile = replace(profile, sensors=sensors)
        verdict = find(read_recording(file), profile)
        return replace(whole, profile=profile, verdict=verdict)

    monkeypatch.setattr(found, "found_in", bare)
    assert cli.main(["compare", str(file), str(file), "--cylinders", "1,2", "--json"]) == 3
    said = capsys.readouterr()
    assert [w["code"] for w in json.loads(said.out)["warnings"]][:1] == ["uncalibrated"]
