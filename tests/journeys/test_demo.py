"""What `make demo` promises: the shipped recording, answered within a degree of its truth."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from strokewise.gui import cli

ROOT = Path(__file__).resolve().parents[2]
RECORDINGS = ROOT / "recordings"
PROMISED_DEG = 1.0


def truth_of(recording: Path) -> dict[str, Any]:
    """Return the truth that lies beside a simulated recording."""
    truth: dict[str, Any] = json.loads(recording.with_suffix(".truth.json").read_text())
    return truth


def apart_deg(one: float, other: float) -> float:
    """Return how far two angles of a cycle of 720 degrees lie apart, the short way round."""
    return abs((one - other + 360) % 720 - 360)


def test_the_demo_prints_the_truth_and_the_cylinder_on_its_firing_stroke(
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = re.search(r"^DEMO_RECORDING = (\S+)$", (ROOT / "Makefile").read_text(), re.MULTILINE)
    assert found is not None
    recording = ROOT / found[1]
    firing = truth_of(recording)["firing"]
    assert cli.main(["find", str(recording)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    headline = re.match(r"DECIDED, TDC ± \d\.\d+°: cylinder 1 fires at (\d+\.\d+)°", said)
    assert headline is not None
    assert apart_deg(float(headline[1]), firing["1"]) <= PROMISED_DEG
    standing = re.search(r"cylinder (\d) on its firing stroke, (\d+)° past firing TDC", said)
    assert standing is not None
    # The cylinder named has fired less than half a turn ago, by the truth and the printed angle.
    end_deg = firing[standing[1]] + float(standing[2])
    truly_on = [
        cylinder for cylinder, tdc_deg in firing.items() if 0 <= (end_deg - tdc_deg) % 720 < 180
    ]
    assert truly_on == [standing[1]]


@pytest.mark.parametrize("name", ["cranked", "hand-turned", "rocked"])
def test_every_way_of_turning_finds_every_firing_tdc(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    recording = RECORDINGS / f"{name}.swr"
    truth = truth_of(recording)
    assert cli.main(["find", str(recording), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["tdc"]["cylinder"] == truth["tdc"]["cylinder"]
    assert set(answer["firing"]) == set(truth["firing"])
    for cylinder, angle_deg in answer["firing"].items():
        assert apart_deg(angle_deg, truth["firing"][cylinder]) <= PROMISED_DEG


@pytest.mark.parametrize("part", [0.1, 0.5, 0.9])
def test_the_demo_cut_anywhere_says_how_much_is_missing(
    part: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = (RECORDINGS / "cranked.swr").read_bytes()
    kept = whole[: int(len(whole) * part)]
    assert not kept.endswith(b"\0")
    cut = tmp_path / "cut.swr"
    cut.write_bytes(kept)
    code = cli.main(["find", str(cut), "--json"])
    answer = json.loads(capsys.readouterr().out)
    assert code == (0 if answer["decided"] else 3)
    [said] = [warning["text"] for warning in answer["warnings"] if warning["code"] == "cut"]
    assert str(len(kept) - kept.rfind(b"\0") - 1) in said
    if answer["decided"]:
        firing = truth_of(RECORDINGS / "cranked.swr")["firing"]
        assert apart_deg(answer["firing"]["1"], firing["1"]) <= PROMISED_DEG
