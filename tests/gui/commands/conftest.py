"""Made-up verdicts, and the recording of a toy engine whose answer is known."""

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from strokewise.analysis.crank.kinematics import volume_ratio
from strokewise.analysis.crank.strokes import firing_tdcs
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile, even_intervals_deg
from strokewise.analysis.remark import Notice
from strokewise.analysis.samples import Board, Health
from strokewise.analysis.verdict.found import Found
from strokewise.analysis.verdict.verdict import Candidate, Compression, Tdc, Verdict
from strokewise.daq.recording.container import Chunk, Jotting, encode_header, encode_item
from strokewise.daq.wire.encoder import FrameEncoder, Sendable
from strokewise.daq.wire.frames import Event, Hello, sample_blocks
from strokewise.gui import found
from strokewise.gui.options import SaidOfEngine
from strokewise.gui.sayings import as_said

FOUR_STROKE_DEG = 720.0
COUNTS_PER_REV = 2400
FIRING_1_DEG = 100.0
CYLINDER = 3  # where the sensor is: fires 180 degrees after cylinder 1
SPEED_DEG_S = 1200.0  # 200 rev/min
PERIOD_US = 500
ADC_ZERO, ADC_PER_BAR = 100, 200
CR, ROD_RATIO, EXPONENT, ATMOSPHERE_BAR = 9.0, 3.5, 1.33, 1.013
CHUNK_BYTES = 200

ENGINE: dict[str, Any] = {
    "name": "Toy four",
    "cylinders": 4,
    "firing_order": [1, 3, 4, 2],
    "compression_ratio": CR,
    "bore": "80 mm",
    "stroke": "80 mm",
    "rod_length": "140 mm",
    "turning_back": "allowed",
    "sensor": {
        "cylinder": CYLINDER,
        "reference": "absolute",
        "points": [[ADC_ZERO, "0 bar"], [ADC_ZERO + 10 * ADC_PER_BAR, "10 bar"]],
    },
}


def toy_frames(turns: float = 12.0) -> list[Sendable]:
    """Return the frames of a board on an engine without losses, cranked at one speed.

    The gas is squeezed and let out along one polytropic line between the bottom dead centres, and
    is at the atmosphere everywhere else.
    """
    time_s = np.arange(0, turns * 360 / SPEED_DEG_S, PERIOD_US * 1e-6)
    angle_deg = SPEED_DEG_S * time_s
    count = np.floor(angle_deg * COUNTS_PER_REV / 360).astype(int)
    after_deg = (angle_deg - FIRING_1_DEG - 180 + 360) % 720 - 360
    volume = volume_ratio(after_deg, rod_ratio=ROD_RATIO, compression_ratio=CR)
    closed = np.abs(after_deg) < 180
    bar = ATMOSPHERE_BAR * np.where(closed, (volume.max() / volume) ** EXPONENT, 1.0)
    reading = np.clip(np.round(ADC_ZERO + bar * ADC_PER_BAR), 0, 4095).astype(int)
    frames: list[Sendable] = [Hello(Board("toy board", COUNTS_PER_REV, 12, ("pressure",), 7))]
    for number, block in enumerate(sample_blocks(0, PERIOD_US, count, reading)):
        frames.append(block)
        at = number * 16
        if at and count[at] // COUNTS_PER_REV > count[at - 16] // COUNTS_PER_REV:
            turn = int(count[at]) // COUNTS_PER_REV
            index_us = round(turn * 360 / SPEED_DEG_S * 1e6)
            frames.append(Event(index_us, turn * COUNTS_PER_REV, 0))
    return frames


def port_bytes(frames: list[Sendable]) -> bytes:
    """Return what the board sends."""
    encoder = FrameEncoder()
    return b"".join(encoder.encode(frame) for frame in frames)


def write_recording(
    path: Path,
    sent: bytes,
    engine: dict[str, Any] | None = ENGINE,
    items: tuple[Jotting, ...] = (),
    **header: Any,
) -> Path:
    """Write a recording of a port's bytes, and of what a person did, after them."""
    known = {"started": "2025-01-01T00:00:00Z", **header}
    if engine is not None:
        known["engine"] = engine
    parts = [encode_header(known)]
    for start in range(0, len(sent), CHUNK_BYTES):
        parts.append(encode_item(Chunk(start * 10, sent[start : start + CHUNK_BYTES])))
    parts += [encode_item(item) for item in items]
    path.write_bytes(b"".join(parts))
    return path


@pytest.fixture
def four() -> Profile:
    """Four cylinders, 1-3-4-2, nothing else known."""
    return Profile(4, (1, 3, 4, 2), even_intervals_deg(4, FOUR_STROKE_DEG))


@pytest.fixture
def decided(four: Profile) -> Verdict:
    """Cylinder 1 fires at 123.41 degrees, nine compressions."""
    return Verdict(
        decided=True,
        reason=as_said("Nine compressions on one turn, none on the other."),
        warnings=(Notice("rod-assumed", as_said("The rod length is not stated.")),),
        tdc=Tdc(Interval(123.41, 123.3, 123.52), 1, "fit", 9, after_index_deg=87.9),
        firing_deg=firing_tdcs(four, 123.41),
        probability=0.99999,
        candidates=(Candidate(123.41, 0.99999), Candidate(483.41, 0.00001)),
        compression=Compression(12.4, 11.387, 9),
        health=Health(samples=24310, frames=1013, segments=1),
        segment=0,
    )


@pytest.fixture
def undecided() -> Verdict:
    """TDC is found, the stroke is not, and the recording was cut."""
    return Verdict(
        decided=False,
        reason=as_said("Only two compressions: turn the engine two more turns."),
        tdc=Tdc(Interval(123.41, 121.3, 125.52), 1, "fit", 2),
        probability=0.93,
        candidates=(Candidate(123.41, 0.93), Candidate(483.41, 0.07)),
        health=Health(samples=500, frames=21, lost_frames=3, missing_bytes=1234, segments=1),
    )


@pytest.fixture(scope="session")
def toy() -> SimpleNamespace:
    """Return the toy engine: its answer, its frames, and a way to write a recording of them."""
    return SimpleNamespace(
        firing_1_deg=FIRING_1_DEG,
        cylinder=CYLINDER,
        engine=ENGINE,
        frames=toy_frames,
        sent=port_bytes,
        write=write_recording,
    )


@pytest.fixture
def toy_file(tmp_path: Path, toy: SimpleNamespace) -> Path:
    """Return a recording of the toy engine, cranked for twelve turns."""
    return toy.write(tmp_path / "toy.swr", toy.sent(toy.frames()))


@pytest.fixture(scope="module")
def recorded(request: pytest.FixtureRequest) -> Found:
    """Return the shipped recording that a test module names as RECORDING, found once."""
    file = request.module.RECORDING
    return found.found_in(file, SaidOfEngine())


@pytest.fixture
def known(recorded: Found, monkeypatch: pytest.MonkeyPatch) -> list[Found]:
    """What a command finds in that recording; a test may put another in its place."""
    box = [recorded]
    monkeypatch.setattr(found, "found_in", lambda file, said, **_: box[0])
    return box
