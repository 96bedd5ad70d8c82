"""The firmware, built for this machine, for the simulator and for qemu, once for each test run."""

import json
import os
import shutil
import struct
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from strokewise.daq.bench.pins import PinDrive

ROOT = Path(__file__).resolve().parents[2]
NOTES = ROOT / "firmware_notes"

Build = Callable[..., Path]


def needs(*programs: str) -> None:
    """Skip where a program is missing; where the tests must run everything, fail instead."""
    missing = [program for program in programs if shutil.which(program) is None]
    if missing:
        absent(" ".join(missing))


def absent(what: str) -> None:
    """Say what is missing."""
    text = f"missing here: {what}; sh .ci/system-packages sees to it"
    if os.environ.get("CI"):
        pytest.fail(text)
    pytest.skip(text)


def make(*words: str) -> str:
    """Run make in the firmware's folder and return what it printed."""
    done = subprocess.run(
        ["make", "-C", str(NOTES), "--no-print-directory", *words],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="session")
def require() -> Callable[..., None]:
    """Return what skips or fails a test whose programs are missing."""
    return needs


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Build:
    """Return a builder: what make's goal and variables make, in a folder of its own."""

    def build(goal: str, file: str, *words: str) -> Path:
        out = tmp_path_factory.mktemp("firmware")
        make(goal, f"OUT={out}", *words)
        return out / file

    return build


@dataclass(frozen=True)
class Simulated:
    """What the 8-bit board did in the simulator.

    Attributes
    ----------
    sent : bytes
        Down its line.
    conversions : (n,) uint64
        Processor cycle at which each conversion began.
    report : dict
        What the harness says of interrupts and memory.
    """

    drive: PinDrive
    sent: bytes
    conversions: np.ndarray
    report: dict[str, Any]


@pytest.fixture(scope="session")
def harness(built: Build) -> Path:
    """Return the simulator with everything that is done to the board's pins."""
    needs("make", "gcc", "pkg-config", "avr-gcc")
    if subprocess.run(["pkg-config", "--exists", "simavr"], check=False).returncode:
        absent("libsimavr-dev")
    return built("harness", "harness")


@pytest.fixture(scope="session")
def avr(built: Build) -> Callable[..., Path]:
    """Return a maker of the 8-bit board's firmware: BAUD, RATE and so on; each is made once."""
    needs("make", "avr-gcc", "avr-objcopy")
    known: dict[tuple[str, ...], Path] = {}

    def make_avr(*words: str) -> Path:
        if words not in known:
            folder = built("avr", "", *words)
            [known[words]] = folder.glob("*.elf")
        return known[words]

    return make_avr


@pytest.fixture
def simulate(harness: Path, tmp_path: Path) -> Callable[..., Simulated]:
    """Return how the firmware is run, with a drive on its pins, as fast as it goes."""

    def run(firmware: Path, drive: PinDrive, seconds: float, *options: str) -> Simulated:
        file, out, log = (tmp_path / name for name in ("drive", "sent", "log"))
        file.write_bytes(drive.to_bytes())
        done = subprocess.run(
            [harness, firmware, file, "--seconds", str(seconds), "--out", out, "--log", log,
             *options],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
        report = json.loads(done.stdout.splitlines()[-1])
        return Simulated(drive, out.read_bytes(), np.fromfile(log, "<u8"), report)

    return run


@pytest.fixture
def board_port(harness: Path, tmp_path: Path) -> Iterator[Callable[..., str]]:
    """Return how the firmware is put on a port in real time; the engine stands still afterwards."""
    boards: list[subprocess.Popen[str]] = []

    def open_port(firmware: Path, drive: PinDrive) -> str:
        file = tmp_path / f"drive-{len(boards)}"
        file.write_bytes(drive.to_bytes())
        options = ["--pty", "--paced", "--seconds", "600"]
        board = subprocess.Popen(
            [harness, firmware, file, *options], stdout=subprocess.PIPE, text=True
        )
        boards.append(board)
        assert board.stdout is not None
        return board.stdout.readline().strip()

    yield open_port
    for board in boards:
        board.terminate()
        board.communicate()


class Core:
    """The core on this machine, with the address and undefined-behaviour sanitizers."""

    def __init__(self, program: Path) -> None:
        # There is no heap to leak, and a leak checker cannot run in every container.
        environment = {**os.environ, "ASAN_OPTIONS": "detect_leaks=0"}
        self._process = subprocess.Popen(
            [program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=environment
        )

    def __call__(self, script: bytes) -> bytes:
        """Return what it sends for a script; a sanitizer's complaint ends it and fails the test."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(struct.pack("<I", len(script)) + script)
        self._process.stdin.flush()
        size = self._process.stdout.read(4)
        assert len(size) == 4, "the core stopped: see what the sanitizer says"
        return self._process.stdout.read(struct.unpack("<I", size)[0])

    def close(self) -> None:
        """End it; it must end well."""
        self._process.communicate()
        assert self._process.returncode == 0


@pytest.fixture(scope="module")
def core_of(built: Build) -> Iterator[Callable[[str], Core]]:
    """Return a maker of cores of any sizes."""
    needs("make", "gcc")
    cores: dict[str, Core] = {}

    def make_core(sizes: str = "") -> Core:
        if sizes not in cores:
            cores[sizes] = Core(built("core-host", "core-host", f"HOST_SIZES={sizes}"))
        return cores[sizes]

    yield make_core
    for core in cores.values():
        core.close()


@pytest.fixture(scope="module")
def core(core_of: Callable[[str], Core]) -> Core:
    """Return the core with two channels."""
    return core_of("-DSW_CHANNELS=2")


@pytest.fixture(scope="module")
def tight_core(core_of: Callable[[str], Core]) -> Core:
    """Return a core with hardly any room, so that its queues run over."""
    return core_of("-DSW_SAMPLES=8 -DSW_BLOCK=4 -DSW_EDGES=4")


@pytest.fixture(scope="module")
def wide_core(core_of: Callable[[str], Core]) -> Core:
    """Return a core whose blocks are the largest that the wire format knows."""
    return core_of("-DSW_SAMPLES=128 -DSW_BLOCK=64 -DSW_CHANNELS=4")
