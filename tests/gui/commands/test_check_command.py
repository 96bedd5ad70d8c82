"""The health of a recording: figures that are right, and oddities that are named."""

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from strokewise.analysis.profile import Encoder
from strokewise.analysis.samples import Events, Samples, Segment
from strokewise.analysis.trace.recorded import segment_facts
from strokewise.daq.wire.frames import Hello
from strokewise.gui import cli

Said = pytest.CaptureFixture[str]


def checked(capsys: Said, *argv: str) -> dict[str, Any]:
    """Return the JSON answer of ``check``."""
    cli.main(["check", *argv, "--json"])
    return json.loads(capsys.readouterr().out)


def test_a_sound_recording_has_its_figures_and_no_warning(toy_file: Path, capsys: Said) -> None:
    answer = checked(capsys, str(toy_file))
    assert (answer["decided"], answer["warnings"]) == (True, [])
    [run] = answer["runs"]
    # Twelve turns at 200 rev/min, two samples a millisecond, an index pulse each turn but the first
    assert run["samples"] == 7200
    assert run["rate_hz"] == 2000
    assert run["seconds"] == pytest.approx(3.6, abs=0.001)
    assert run["turns_forward"] == pytest.approx(12, abs=0.01)
    assert (run["turns_back"], run["gaps"]) == (0, 0)
    assert (run["index_edges"], run["index_counts"]) == (11, [2400, 2400])
    assert run["channels"][0]["low"] == 303  # 1.013 bar above a zero at 100, 200 a bar
    assert answer["started"] == "2025-01-01T00:00:00Z"


def test_the_same_in_words(toy_file: Path, capsys: Said) -> None:
    assert cli.main(["check", str(toy_file)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "7,200 samples, and nothing is missing." in said
    assert '"Toy four", four-stroke, 4 cylinders, 1-3-4-2, sensor in cylinder 3' in said
    assert "3.6 s at 2,000 samples a second; crank 12.0 turns forward and 0.0 back" in said
    assert "Warnings" not in said


def test_lost_and_damaged_frames_are_counted(
    toy: SimpleNamespace, tmp_path: Path, capsys: Said
) -> None:
    frames = toy.sent(toy.frames()).split(b"\0")
    frames[100] = b""  # lost without a trace but for its number
    damaged = bytearray(frames[200])
    damaged[10] ^= 1
    frames[200] = bytes(damaged)
    sent = b"\0".join(frame for frame in frames if frame) + b"\0"
    answer = checked(capsys, str(toy.write(tmp_path / "a.swr", sent)))
    assert answer["health"]["lost_frames"] == 2
    assert answer["health"]["bad_frames"] == 1
    assert answer["runs"][0]["gaps"] == 2
    assert "missing: 3 frames" in answer["reason"]


def test_wrong_counts_per_turn_are_seen_by_the_index(toy_file: Path, capsys: Said) -> None:
    answer = checked(capsys, str(toy_file), "--set", "encoder.counts_per_rev=2000")
    texts = {warning["code"]: warning["text"] for warning in answer["warnings"]}
    assert "every 2400 to 2400 counts, not every 2000" in texts["index-counts"]


def test_a_wrong_direction_is_seen(toy_file: Path, capsys: Said) -> None:
    answer = checked(capsys, str(toy_file), "--set", "encoder.direction=-1")
    assert [warning["code"] for warning in answer["warnings"]] == ["turned-back"]


def test_skipped_states_that_the_board_told_of_are_said(
    toy: SimpleNamespace, tmp_path: Path, capsys: Said
) -> None:
    first, *rest = toy.frames()
    later = Hello(replace(first.board, skipped=3))
    told = [Hello(replace(first.board, skipped=0)), *rest[:50], later, *rest[50:]]
    answer = checked(capsys, str(toy.write(tmp_path / "a.swr", toy.sent(told))))
    [warning] = answer["warnings"]
    assert warning["code"] == "counts-skipped"
    assert "3 skipped states" in warning["text"]
    assert answer["health"]["segments"] == 1


def test_a_cut_header_is_said(toy_file: Path, tmp_path: Path, capsys: Said) -> None:
    cut = tmp_path / "cut.swr"
    cut.write_bytes(toy_file.read_bytes()[20:])
    answer = checked(capsys, str(cut))
    assert "no-header" in [warning["code"] for warning in answer["warnings"]]
    assert answer["health"]["missing_bytes"] > 0


def test_nothing_in_it_is_code_3(toy: SimpleNamespace, tmp_path: Path, capsys: Said) -> None:
    file = toy.write(tmp_path / "empty.swr", b"")
    assert cli.main(["check", str(file)]) == 3
    assert "nothing can be found" in " ".join(capsys.readouterr().out.split())


def test_a_crank_rocked_over_its_index_counts_no_turn_between() -> None:
    counts = np.array([0, 30, 0, -2400])
    segment = Segment(events=Events(np.arange(4), counts, np.zeros(4, np.int64)))
    assert segment_facts(segment, Encoder()).index_counts == (2400, 2400)


def test_the_way_back_is_counted_apart_and_clipping_too() -> None:
    count = np.array([0, 2400, 1200, 1200])
    readings = np.array([[0], [5], [4095], [7]], np.uint16)
    segment = Segment(samples=Samples(np.arange(4) * 500, count, readings, np.zeros(4, bool)))
    facts = segment_facts(segment, Encoder(2400))
    assert (facts.turns_forward, facts.turns_back) == (1, 0.5)
    assert facts.channels[0].clipped == 0.5


def test_no_samples_are_zeros() -> None:
    facts = segment_facts(Segment(), Encoder())
    assert (facts.samples, facts.seconds, facts.rate_hz, facts.channels) == (0, 0, 0, ())
