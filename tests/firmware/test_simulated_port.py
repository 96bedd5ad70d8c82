"""Do the commands read the firmware's port like any other? In real time, through a pseudo terminal."""

import time
from collections.abc import Callable
from pathlib import Path

import pytest

from strokewise.daq.bench.bench import Bench, turn
from strokewise.daq.bench.keep import write_profile
from strokewise.daq.bench.pins import PinDrive, pin_drive
from strokewise.daq.bench.scenarios import scenario
from strokewise.daq.read import read_recording
from strokewise.gui import cli
from strokewise.gui.found import found_in
from strokewise.gui.models.sources import open_live

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


def test_watch(port: str, tmp_path: Path, capsys: Said) -> None:
    code = cli.main(["watch", port, "--seconds", "8", *said(tmp_path)])
    shown = capsys.readouterr().out
    assert code == 0, shown
    assert "cylinder" in shown


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
