"""How is a recording damaged on purpose? Bytes lost, changed, repeated; frames that lie with a CRC
that holds. What is made of a damaged one goes the whole way to a verdict."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
from suite_imports import ROOT

from strokewise.analysis.samples import Health
from strokewise.analysis.verdict.find import closing_verdict
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.daq.profile.known import known_engine
from strokewise.daq.recording.container import Chunk
from strokewise.daq.recording.read import open_recording
from strokewise.daq.wire.decoder import Decoder
from strokewise.daq.wire.encoder import encode_lines
from strokewise.daq.wire.frames import Loss
from strokewise.daq.wire.framing import unwrap, wrap
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join

NAMES = (
    "cranked", "hand-turned", "rocked", "manifold", "marks-that-lie", "clamp-slipped",
    "stop-both-sides",
)  # fmt: skip
"""The shipped recordings."""

MOST_DAMAGES, LONGEST_DAMAGE = 30, 400


@cache
def sent(name: str) -> tuple[dict[str, Any], bytes]:
    """Return a shipped recording's header and the bytes of its port."""
    contents = open_recording(ROOT / "recordings" / f"{name}.swr")
    return contents.header, b"".join(i.data for i in contents.items if isinstance(i, Chunk))


@cache
def sent_as_lines(name: str) -> bytes:
    """Return the same as plain lines without checksums."""
    frames = Decoder().feed(sent(name)[1])
    return b"".join(encode_lines(f, checked=False) for f in frames if not isinstance(f, Loss))


def bytes_lost(data: bytes, share: float, rng: np.random.Generator) -> bytes:
    """Return the bytes with so many of them gone, each by itself."""
    every = np.frombuffer(data, np.uint8)
    return every[rng.random(len(every)) >= share].tobytes()


def mutated(data: bytes, rng: np.random.Generator) -> bytes:
    """Return the bytes with bits turned over, stretches gone, doubled, made up or overwritten."""
    bent = bytearray(data)
    for _ in range(int(rng.integers(1, MOST_DAMAGES))):
        at, size = int(rng.integers(0, len(bent))), int(rng.integers(1, LONGEST_DAMAGE))
        match int(rng.integers(0, 5)):
            case 0:
                bent[at] ^= 1 << int(rng.integers(0, 8))
            case 1:
                del bent[at : at + size]
            case 2:
                bent[at:at] = bent[at : at + size]
            case 3:
                bent[at:at] = rng.bytes(size)
            case _:
                bent[at : at + size] = rng.bytes(len(bent[at : at + size]))
    return bytes(bent)


def lying(data: bytes, share: float, rng: np.random.Generator) -> bytes:
    """Return the frames with bytes of some bodies changed, each with a CRC that holds."""
    pieces = data.split(b"\0")
    for number, piece in enumerate(pieces):
        payload = unwrap(piece) if piece else None
        if payload is not None and rng.random() < share:
            body = bytearray(payload)
            for _ in range(int(rng.integers(1, 4))):
                body[int(rng.integers(2, len(body)))] = int(rng.integers(0, 256))
            pieces[number] = wrap(bytes(body))[:-1]
    return b"\0".join(pieces)


def verdict_on(name: str, data: bytes) -> tuple[Verdict, Health]:
    """Return what is made of bytes that came in place of a shipped recording's."""
    intake = Intake()
    segments = join(intake.feed([Chunk(0, data)]) + intake.finish())
    boards = [segment.board for segment in segments if segment.board is not None]
    known = known_engine(header=sent(name)[0], board=boards[-1] if boards else None)
    tracker = Tracker(known.profile)
    for segment in segments:
        tracker.feed(segment)
    return closing_verdict(tracker, intake.health), intake.health
