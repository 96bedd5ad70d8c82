"""Thousands of frames at once: the same comes out as of one after the other, whatever the bytes."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_array_equal

from strokewise.analysis.samples import Board, Segment
from strokewise.daq.recording.container import Chunk, Hole, Item, Reopened
from strokewise.daq.wire.binary import BinaryReader
from strokewise.daq.wire.crc_rows import proven
from strokewise.daq.wire.decoder import Decoder
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Event, Frame, Hello, SampleBlock
from strokewise.daq.wire.framing import MAX_FRAME, crc16, wrap
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.runs import LEAST_ROWS, WORTH_IT, FrameRun, runs_and_rest

BLOCKS = 400
PERIOD_US = 500
CHANGES = (
    "event", "late event", "far event", "hello", "new boot", "lost", "sent again", "old again",
    "clock back", "clock on", "count away", "other shape", "other period", "still", "bad reading",
    "steps that no shaft turns", "no samples", "first step",
)  # fmt: skip
DAMAGES = ("gone", "turned", "doubled", "made up", "zeros", "long noise", "full")


def board_sends(changes: list[tuple[str, int]], start_us: int, seed: int) -> bytes:
    """Return what a board sends that does all kinds of things at a place each."""
    rng = np.random.default_rng(seed)
    due: dict[int, list[str]] = {}
    for what, at in changes:
        due.setdefault(at, []).append(what)
    encoder = FrameEncoder(int(rng.integers(0, 256)))
    board = Board("bench", 2400, 12, ("p",), 1)
    sent = [encoder.encode(Hello(board))]
    blocks: list[bytes] = []
    time_us, count, size, period_us = start_us, int(rng.integers(-(2**31), 2**31)), 16, PERIOD_US
    backwards = -1 if rng.random() < 0.3 else 1
    for number in range(BLOCKS):
        steps = backwards * rng.integers(0, 9, size)
        readings = rng.integers(256, 4096, size)
        for what in due.get(number, ()):
            match what:
                case "event" | "late event" | "far event":
                    off = {"event": 0, "late event": -900_000, "far event": -3_000_000}[what]
                    sent.append(encoder.encode(Event(time_us + off, count, int(rng.integers(3)))))
                case "hello":
                    sent.append(encoder.encode(Hello(board)))
                case "new boot":
                    board = replace(board, boot=number + 2)
                    time_us, count = 1000, 0
                    sent.append(encoder.encode(Hello(board)))
                case "lost":
                    for _ in range(int(rng.integers(1, 600))):
                        encoder.encode(Hello(board))
                        time_us += size * period_us
                case "sent again" if blocks:
                    sent.append(blocks[-1])
                case "old again" if blocks:
                    sent += blocks[-20:]
                case "clock back":
                    time_us -= int(rng.integers(1, 5_000_000))
                case "clock on":
                    time_us += int(rng.integers(1, 90_000_000))
                case "count away":
                    count += 1_000_000
                case "other shape":
                    size = int(rng.choice([1, 8, 16, 64]))
                case "other period":
                    period_us = int(rng.choice([0, 200, 500, 65_535]))
                case "still":
                    steps[:] = 0
                case "bad reading":
                    readings[0] = 65_535
                case "steps that no shaft turns":
                    steps[-1] = 20_000
                case "no samples":
                    sent.append(wrap(b"S" + bytes(13)))
                case "first step":
                    payload = SampleBlock.pack(time_us, period_us, np.cumsum(steps), readings)[0]
                    sent.append(wrap(payload[:14] + b"\1" + payload[15:]))
        size = min(size, len(steps)) if len(steps) != size else size
        counts = count + np.cumsum(steps) - steps[0]
        block = SampleBlock.pack(time_us, period_us, counts, readings)
        blocks.append(encoder.encode(block))
        sent.append(blocks[-1])
        time_us, count = time_us + len(steps) * period_us, int(counts[-1])
    return b"".join(sent)


def damaged(stream: bytes, damages: list[tuple[str, float, int]]) -> bytes:
    """Return the bytes with damages at shares of their length."""
    bent = bytearray(stream)
    for what, share, size in damages:
        at = int(share * len(bent))
        rng = np.random.default_rng(size)
        match what:
            case "gone":
                del bent[at : at + size]
            case "turned":
                bent[at] ^= 1 << size % 8
            case "doubled":
                bent[at:at] = bent[at : at + size]
            case "made up":
                bent[at:at] = rng.bytes(size)
            case "zeros":
                bent[at:at] = bytes(size)
            case "long noise":
                bent[at:at] = rng.integers(1, 256, MAX_FRAME + size, np.uint8).tobytes()
            case "full":  # a code of 255 stands for no zero
                bent[at:at] = b"\0" + wrap(b"Q" + b"\1" * (253 + size % 4))
    return bytes(bent)


class Spoilt(NamedTuple):
    """What a board does, and what becomes of its bytes on the way."""

    changes: list[tuple[str, int]]
    start_us: int
    seed: int
    damages: list[tuple[str, float, int]]

    def stream(self) -> bytes:
        """Return the bytes that arrive."""
        return damaged(board_sends(self.changes, self.start_us, self.seed), self.damages)


spoilt = st.builds(
    Spoilt,
    st.lists(st.tuples(st.sampled_from(CHANGES), st.integers(0, BLOCKS - 1)), max_size=12),
    st.sampled_from([0, 1_000_000, 2**32 - 1_000_000, 2**31 - 500_000]),
    st.integers(0, 50),
    st.lists(
        st.tuples(st.sampled_from(DAMAGES), st.floats(0, 1, exclude_max=True), st.integers(1, 300)),
        max_size=6,
    ),
)


def came_of(items: list[Item], monkeypatch: pytest.MonkeyPatch, *, many: bool) -> object:
    """Return everything that comes of the items, in runs or one frame after the other."""
    with monkeypatch.context() as patch:
        patch.setattr("strokewise.daq.wire.binary.WORTH_IT", WORTH_IT if many else 1 << 40)
        intake = Intake()
        blocks = intake.feed(items) + intake.finish()
    return intake.health, [told(block) for block in blocks]


def told(segment: Segment) -> tuple[object, ...]:
    """Return a segment as what can be compared."""
    samples, events = segment.samples, segment.events
    arrays = (samples.time_us, samples.count, samples.readings, samples.after_gap)
    arrays += (events.time_us, events.count, events.input)
    return (segment.number, segment.board, *(a.tolist() for a in arrays), samples.readings.dtype)


@given(spoilt=spoilt, hole=st.integers(0, 3), where=st.floats(0, 1))
@settings(deadline=None, max_examples=60)
def test_many_at_once_come_to_the_same_as_one_by_one(
    spoilt: Spoilt, hole: int, where: float
) -> None:
    stream = spoilt.stream()
    at = int(where * len(stream))
    between: list[Item] = [[], [Hole(7)], [Reopened(5, "away")], []][hole]  # type: ignore[list-item]
    items: list[Item] = [Chunk(0, stream[:at]), *between, Chunk(9, stream[at:])]
    with pytest.MonkeyPatch.context() as patch:
        at_once = came_of(items, patch, many=True)
        one_by_one = came_of(items, patch, many=False)
    assert at_once == one_by_one


@given(spoilt=spoilt, at=st.floats(0, 1))
@settings(deadline=None, max_examples=25)
def test_the_frames_of_runs_are_those_of_the_slow_way(spoilt: Spoilt, at: float) -> None:
    stream = spoilt.stream()
    cut = int(at * len(stream))
    slow, quick = Decoder(), Decoder()
    expected: list[Frame] = slow.feed(stream)
    found: list[Frame] = []
    for part in quick.feed_many(stream[:cut]) + quick.feed_many(stream[cut:]):
        found += part.frames(0, len(part)) if isinstance(part, FrameRun) else [part]
    assert found == expected
    assert (quick.tally, quick.waiting) == (slow.tally, slow.waiting)


def test_a_board_that_is_well_comes_in_runs_from_hello_to_hello() -> None:
    stream = board_sends([("hello", 100), ("event", 130), ("event", 300)], 0, 1)
    found = BinaryReader().feed_many(stream)
    assert [type(part).__name__ for part in found] == ["Hello", "FrameRun", "Hello", "FrameRun"]
    assert [len(part) for part in found if isinstance(part, FrameRun)] == [100, BLOCKS - 100 + 2]


def test_one_damaged_frame_parts_a_run_and_no_more() -> None:
    stream = bytearray(board_sends([], 0, 1))
    stream[len(stream) // 2] ^= 4
    reader = BinaryReader()
    found = reader.feed_many(bytes(stream))
    sizes = [len(part) for part in found if isinstance(part, FrameRun)]
    assert len(sizes) == 2
    assert BLOCKS - 3 <= sum(sizes) < BLOCKS
    assert 1 <= reader.bad <= 2


def test_fewer_than_a_run_needs_stay_single_pieces() -> None:
    blocks = [wrap(SampleBlock.pack(k, 1, [0], [0])[0]) for k in range(LEAST_ROWS - 1)]
    assert list(runs_and_rest(b"".join(blocks))) == [block[:-1] for block in blocks]


@pytest.mark.parametrize("size", [1, 2, 11, 78, 79, 654])
def test_the_crc_of_rows_is_that_of_each(size: int) -> None:
    rng = np.random.default_rng(size)
    payloads = [rng.bytes(size) for _ in range(40)]
    rows = [payload + crc16(payload).to_bytes(2, "little") for payload in payloads]
    whole = np.frombuffer(b"".join(rows), np.uint8).reshape(40, -1)
    assert proven(whole).all()
    for bit in range(0, 8 * (size + 2), 7):
        bent = whole.copy()
        bent[:, bit // 8] ^= 1 << bit % 8
        assert not proven(bent).any()
    assert_array_equal(proven(whole[::-1]), np.ones(40, np.bool_))
