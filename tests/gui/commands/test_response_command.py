"""``strokewise response``: a bound for the profile, or the reason why there is none."""

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from strokewise.analysis.samples import Board
from strokewise.daq.profile.known import check_table
from strokewise.daq.wire.frames import Hello, sample_blocks
from strokewise.gui import cli
from strokewise.gui.pages.response import milliseconds

Said = pytest.CaptureFixture[str]

PERIOD_US = 500
TAU_S = 0.0015
LET_GO_S = (1.0, 2.0003)


def falls(top_bar: float = 8.0) -> np.ndarray:
    """Readings of a hose let go twice: filled, held, then exp(-t/τ)."""
    time_s = np.arange(0.0, 3.0, PERIOD_US * 1e-6)
    bar = np.full(len(time_s), 1.013)
    for at_s in LET_GO_S:
        since = time_s - at_s
        fallen = np.where(since < 0, 1.0, np.exp(-np.maximum(since, 0.0) / TAU_S))
        bar += top_bar * fallen * np.clip((since + 0.5) / 0.2, 0.0, 1.0)
    noise = np.random.default_rng(2).normal(0.0, 0.5, len(bar))
    return np.round(100 + 200 * bar + noise).astype(int)


@pytest.fixture
def let_go(tmp_path: Path, toy: SimpleNamespace) -> Path:
    """A recording with the engine at rest."""
    readings = falls()
    board = Hello(Board("toy board", 2400, 12, ("pressure",), 7))
    blocks = sample_blocks(0, PERIOD_US, np.zeros(len(readings), int), readings)
    return toy.write(tmp_path / "let-go.swr", toy.sent([board, *blocks]))


def answered(capsys: Said, *argv: str) -> tuple[int, dict[str, Any]]:
    code = cli.main(["response", *argv, "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_the_bound_in_seconds_and_as_the_profile_takes_it(let_go: Path, capsys: Said) -> None:
    code, answer = answered(capsys, str(let_go))
    assert code == 0
    assert answer["decided"]
    assert answer["steps"] == 2
    found = answer["response_time"]
    assert found["low"] == 0.0
    assert found["value"] == pytest.approx(TAU_S, rel=0.03)
    assert TAU_S <= found["high"] < 1.1 * TAU_S
    profile = {"cylinders": 1, "firing_order": [1]}
    told = check_table({**profile, "sensor": {"response_time": answer["upper_bound"]}}).profile
    assert told.sensors[0].response_time_s == pytest.approx(found["high"], abs=1.1e-5)
    assert told.sensors[0].response_time_s >= found["high"] - 1e-7


def test_the_same_in_words(let_go: Path, capsys: Said) -> None:
    assert cli.main(["response", str(let_go)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("RESPONSE TIME AT MOST 1.5")
    assert 'response_time = "1.5' in said
    assert said.count("Step at") == 2


def test_an_engine_that_turns_is_no_step(toy_file: Path, capsys: Said) -> None:
    code, answer = answered(capsys, str(toy_file))
    assert code == 3
    assert not answer["decided"]
    assert "the crank turned" in answer["reason"]
    assert "let it go at once" in answer["reason"]
    assert (answer["response_time"], answer["upper_bound"], answer["steps"]) == (None, None, 0)


def test_no_step_in_words(toy_file: Path, capsys: Said) -> None:
    assert cli.main(["response", str(toy_file)]) == 3
    assert capsys.readouterr().out.startswith("NOT SURE. No step")


def test_a_channel_that_is_not_there(let_go: Path, capsys: Said) -> None:
    assert cli.main(["response", str(let_go), "--set", "sensor.channel=2"]) == 2
    assert "sensor.channel" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.0005, "0.5 ms"), (0.000501, "0.51 ms"), (0.012, "12 ms")]
)
def test_a_bound_is_rounded_up(seconds: float, text: str) -> None:
    assert milliseconds(seconds) == text
