"""Does ``strokewise simulate`` make what it says, and say clearly what it cannot?"""

import json
import shlex
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from strokewise.daq.profile.known import known_engine
from strokewise.daq.recording.read import read_recording
from strokewise.gui.cli import main

SHIPPED = Path(__file__).parents[3] / "recordings"
COMMANDS = [
    shlex.split(line)
    for line in (SHIPPED / "README.md").read_text(encoding="utf-8").splitlines()
    if line.startswith("    strokewise simulate")
]
SMALL_BYTES = 64_000  # they are cloned with the project


def test_three_files_side_by_side(tmp_path, capsys):
    out = tmp_path / "bench.swr"
    assert main(["simulate", str(out), "--set", "seconds=1s", "--seed", "5"]) == 0
    said = capsys.readouterr().out
    assert f"strokewise find {out}" in said
    recording = read_recording(out)
    assert recording.header["simulated"] is True
    assert recording.header["scenario"] == "cranked"
    assert recording.header["engine"]["cylinders"] == 4
    assert "--set seconds=1s --seed 5" in recording.header["operator_note"]
    assert recording.health.samples == pytest.approx(1000, abs=3)
    assert known_engine(overrides=[], engine=tmp_path / "bench.toml").profile.cylinders == 4
    true = json.loads((tmp_path / "bench.truth.json").read_text(encoding="utf-8"))
    assert true["tdc"]["cylinder"] == 1
    assert set(true["firing"]) == {"1", "2", "3", "4"}
    assert true["truth"]["scenario"] == "cranked"


def test_nothing_is_written_over(tmp_path, capsys):
    out = tmp_path / "bench"
    (tmp_path / "bench.toml").write_text("mine", encoding="utf-8")
    assert main(["simulate", str(out), "--set", "seconds=1s"]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert "bench.toml is there already and is not written over" in error
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bench.toml"]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([], "name the recording to make"),
        (["x.swr", "--scenario", "crankd"], "did you mean cranked"),
        (["x.swr", "--set", "noise"], "write it as key=value"),
        (["x.swr", "--set", "lag=2"], "needs a unit"),
        (["x.swr", "--live"], "--live writes no file"),
        (["nowhere/x.swr"], "no such folder"),
        (["--list", "--scenario", "six-pack"], "there is no scenario 'six-pack'"),
    ],
)
def test_bad_usage_is_one_clear_line(words, message, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["simulate", *words]) == 2
    error = capsys.readouterr().err
    assert message in error
    assert error.count("\n") == 1


def test_lists_of_scenarios_and_of_keys(capsys):
    assert main(["simulate", "--list"]) == 0
    said = capsys.readouterr().out
    assert "hand-turned" in said
    assert "Engine fault" in said
    assert main(["simulate", "--list", "--scenario", "burnt-valve"]) == 0
    said = capsys.readouterr().out
    assert "burnt_valve=8 mm2" in said
    assert "what this scenario is about" in said
    assert "(in, out)" in said


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C is sent otherwise there")
@pytest.mark.usefixtures("heeds_ctrl_c")
def test_live_prints_a_port_that_other_commands_take_and_ends_at_ctrl_c(tmp_path):
    profile = tmp_path / "bench.toml"
    board = subprocess.Popen(
        [sys.executable, "-m", "strokewise.gui", "simulate", "--live", "--socket",
         "--scenario", "cranked-plugs-out", "--profile", str(profile)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    try:
        port = board.stdout.readline().strip()
        assert port.startswith("socket://127.0.0.1:")
        out = tmp_path / "live.swr"
        assert main(["record", port, str(out), "--seconds", "2", "--engine", str(profile)]) == 0
        board.send_signal(signal.SIGINT)
        said, error = board.communicate(timeout=60)
    finally:
        board.kill()
        board.communicate()
    assert board.returncode == 0, error
    assert said == ""
    assert f"watch {port} --engine {profile}" in error
    recording = read_recording(out)
    assert recording.health.samples > 1000
    assert recording.header["engine"]["cylinders"] == 4


@pytest.mark.parametrize("words", COMMANDS, ids=lambda words: words[2])
def test_the_shipped_recordings_are_what_their_commands_make(words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(words[1:]) == 0
    name = words[2]
    shipped, again = read_recording(SHIPPED / name), read_recording(tmp_path / name)
    assert shipped.header["simulated"] is True
    assert shipped.header == again.header
    assert shipped.health == again.health
    for old, new in zip(shipped.segments, again.segments, strict=True):
        np.testing.assert_array_equal(old.samples.time_us, new.samples.time_us)
        # Another machine may round the last digit of the physics otherwise.
        assert np.abs(old.samples.count - new.samples.count).max() <= 1
        assert np.abs(old.samples.readings.astype(int) - new.samples.readings).max() <= 3
    for suffix in (".toml", ".truth.json"):
        beside = Path(name).with_suffix(suffix)
        assert (SHIPPED / beside).read_text() == (tmp_path / beside).read_text()


def test_every_shipped_recording_is_small_and_in_the_list():
    files = sorted(path.name for path in SHIPPED.glob("*.swr"))
    assert files == sorted(words[2] for words in COMMANDS)
    assert {"cranked.swr", "hand-turned.swr", "rocked.swr"} <= set(files)
    for name in files:
        assert (SHIPPED / name).stat().st_size <= SMALL_BYTES
        assert (SHIPPED / name).with_suffix(".toml").exists()
        assert (SHIPPED / name).with_suffix(".truth.json").exists()
