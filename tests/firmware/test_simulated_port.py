"""Do the commands read the firmware's port like any other? In real time, by a pseudo terminal."""

import json
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from strokewise.daq.bench.bench import Bench, turn
from strokewise.daq.bench.keep import write_profile
from strokewise.daq.bench.pins import (
    EDGE,
    PIN_INDEX,
    VOLT_STEP_S,
    PinDrive,
    pin_drive,
    quadrature_edges,
)
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.recording.read import read_recording
from strokewise.gui import cli
from strokewise.gui.found import found_in
from strokewise.gui.models.run.sources import open_live

FAST = ("BAUD=500000", "RATE=2000")
SECONDS = 4.0
PATIENCE_S = 60.0  # a busy machine is slower than real time

Said = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def cranked() -> tuple[Bench, PinDrive]:
    """An engine cranked for a moment, with the starter."""
    bench = scenario("cranked").build(
        {"seconds": SECONDS, "run_down": 0.0, "bits": 10, "rate": 2000}
    )
    return bench, pin_drive(bench, turn(bench))


@pytest.fixture
def port(
    cranked: tuple[Bench, PinDrive],
    board_port: Callable[..., str],
    avr: Callable[..., Path],
    tmp_path: Path,
) -> str:
    """Return a port with the firmware behind it, and leave the profile in ``bench.toml``."""
    bench, drive = cranked
    write_profile(bench, tmp_path / "bench.toml")
    return board_port(avr(*FAST), drive)


def said(tmp_path: Path) -> list[str]:
    return ["--baud", "500000", "--engine", str(tmp_path / "bench.toml")]


def true_firing_1_deg(bench: Bench, drive: PinDrive) -> float:
    """Return where cylinder 1 fires, in the frame of a board that began to count with the drive."""
    lines = bench.rig.encoder.clamp_deg / 360.0 * 2400 - drive.first_cell
    return lines * 360.0 / 2400 % 720.0


def test_record_and_find(port: str, cranked: tuple[Bench, PinDrive], tmp_path: Path) -> None:
    out = tmp_path / "bench.swr"
    assert cli.main(["record", port, str(out), "--seconds", "8", *said(tmp_path)]) == 0
    recording = read_recording(out)
    assert (recording.health.lost_frames, recording.health.bad_frames) == (0, 0)
    assert len(recording.segments) == 1
    assert len(recording.segments[0].samples) > 2000 * SECONDS
    answer = found_in(str(out), cli.build_parser().parse_args(["find", str(out)])).verdict
    assert answer.decided
    assert answer.firing_deg is not None
    assert answer.firing_deg[1] == pytest.approx(true_firing_1_deg(*cranked), abs=0.5)


def test_watch(port: str, tmp_path: Path) -> None:
    """It stops when its time is up, decided or, on a busy machine, not yet."""
    done = subprocess.run(
        [sys.executable, "-m", "strokewise.gui", "watch", port, "--seconds", "8", *said(tmp_path)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode in (0, 3), done.stderr
    assert "No TDC found yet" not in done.stdout.splitlines()[-1], done.stdout


def test_live(port: str, cranked: tuple[Bench, PinDrive], tmp_path: Path) -> None:
    """What `strokewise live` opens, without its window."""
    watched = open_live(port, baud=500_000, engine=str(tmp_path / "bench.toml"), at_once=True)
    watched.start()
    try:
        ends_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < ends_s:
            verdict = watched.snapshot.verdict
            if verdict is not None and verdict.decided:
                break
            time.sleep(0.1)
    finally:
        watched.stop()
    assert verdict is not None
    assert verdict.firing_deg is not None
    assert verdict.firing_deg[1] == pytest.approx(true_firing_1_deg(*cranked), abs=0.5)
    assert watched.snapshot.link.lost_frames == 0


def tried_by_hand() -> PinDrive:
    """Return a rig left alone, squeezed at 2.5 s, and turned once from 3.5 s to 5 s."""
    hertz, steps = 16e6, 2400
    number = np.arange(1, steps + 1)
    when_s = 3.5 + 1.5 * np.arccos(1 - 2 * (number - 0.5) / steps) / np.pi
    cycle = np.round(when_s * hertz).astype(np.int64)
    index = np.zeros(2, EDGE)
    index["cycle"], index["pin"], index["level"] = cycle[[700, 704]], PIN_INDEX, (1, 0)
    edges = np.concatenate([quadrature_edges(cycle, number, 0), index])
    edges = edges[np.argsort(edges["cycle"], kind="stable")]
    time_s = np.arange(0.0, 6.0, VOLT_STEP_S)
    share = 0.14 + 0.1 * ((time_s > 2.5) & (time_s < 3.0))
    return PinDrive(hertz, edges, np.column_stack([share, share]), cycle, number)


def test_check_tries_the_rig(
    board_port: Callable[..., str], avr: Callable[..., Path], capsys: Said
) -> None:
    port = board_port(avr(), tried_by_hand())
    code = cli.main(["check", port, "--seconds", "8", "--json"])
    found = {a["check"]: a for a in map(json.loads, capsys.readouterr().out.splitlines())}
    checks = ["board", "line", "pace", "rest", "noise", "squeeze", "counts", "direction", "index"]
    assert {check: answer["state"] for check, answer in found.items()} == dict.fromkeys(
        checks, "good"
    )
    assert code == 0
    assert found["counts"]["figures"] == {"counts": 2400, "expected": 2400}
