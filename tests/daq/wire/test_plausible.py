"""What a converter cannot give and no shaft can do is left out; what is sent twice is no start."""

from pathlib import Path

import numpy as np
import pytest

from strokewise.analysis.samples import Board, Segment
from strokewise.daq.recording.container import Chunk
from strokewise.daq.recording.read import read_recording
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.daq.wire.assemble import Assembler
from strokewise.daq.wire.decoder import Decoder
from strokewise.daq.wire.encoder import Sendable, encode_frame, encode_lines
from strokewise.daq.wire.frames import Event, Hello, SampleBlock, sample_blocks
from strokewise.daq.wire.join import join

BOARD = Board("bench board", 2400, 12, ("pressure",), 7)


def run_of(blocks: int = 40, per_block: int = 16) -> list[Sendable]:
    counts = np.arange(blocks * per_block) * 5
    readings = 100 + counts % 50
    return [Hello(BOARD), *sample_blocks(1000, 500, counts, readings, per_block=per_block)]


def assembled(
    frames: list[Sendable], numbers: list[int] | None = None
) -> tuple[tuple[Segment, ...], Assembler]:
    decoder, assembler = Decoder(), Assembler()
    numbers = list(range(len(frames))) if numbers is None else numbers
    data = b"".join(encode_frame(f, n % 256) for f, n in zip(frames, numbers, strict=True))
    blocks = assembler.feed(decoder.feed(data)) + assembler.finish()
    return join(blocks), assembler


def bent(block: Sendable, **changes: list[int]) -> SampleBlock:
    assert isinstance(block, SampleBlock)
    counts, readings = block.counts.copy(), block.readings.astype(np.int64)
    for name, (at, value) in changes.items():
        (counts if name == "count" else readings)[at] = value
    return SampleBlock.pack(block.start_us, block.period_us, counts, readings)


def test_a_reading_beyond_the_converter_is_left_out() -> None:
    frames = run_of()
    frames[10] = bent(frames[10], reading=[3, 65_535])
    (segment,), assembler = assembled(frames)
    assert segment.samples.readings.max() < 4096
    assert (assembler.samples, assembler.left_out, assembler.segments) == (639, 1, 1)


def test_a_count_that_no_shaft_can_come_to_is_left_out_within_a_block_and_as_a_whole() -> None:
    frames = run_of()
    frames[10] = bent(frames[10], count=[3, 20_000])
    block = frames[20]
    frames[20] = SampleBlock.pack(block.start_us, 500, block.counts + 2_000_000_000, block.readings)
    (segment,), assembler = assembled(frames)
    assert np.all(np.diff(segment.samples.count) <= 5 * 17)
    assert (assembler.left_out, assembler.segments, assembler.lost_frames) == (17, 1, 0)


def test_a_count_that_stays_elsewhere_is_a_board_that_counts_anew() -> None:
    frames = run_of()
    for at in range(20, len(frames)):
        block = frames[at]
        frames[at] = SampleBlock.pack(block.start_us, 500, block.counts + 10**9, block.readings)
    segments, assembler = assembled(frames)
    assert [len(s.samples) for s in segments] == [19 * 16, 19 * 16]
    assert assembler.left_out == 2 * 16


def test_a_count_at_the_highest_speed_of_any_shaft_is_believed() -> None:
    counts = np.arange(320) * round(0.9 * 500 * 2400 * 500e-6)
    frames = [Hello(BOARD), *sample_blocks(0, 500, counts, counts % 4096)]
    _, assembler = assembled(frames)
    assert (assembler.samples, assembler.left_out) == (320, 0)


def test_frames_and_lines_sent_again_are_no_new_start() -> None:
    frames = run_of()
    order = [*range(21), *range(10, 21), *range(21, len(frames))]
    segments, assembler = assembled([frames[at] for at in order], order)
    assert [len(s.samples) for s in segments] == [640]
    assert (assembler.lost_frames, assembler.left_out) == (0, 11 * 16)

    decoder, assembler = Decoder(), Assembler()
    lines = b"".join(encode_lines(f, checked=False) for f in frames).splitlines(keepends=True)
    data = b"".join([*lines[:200], *lines[150:200], *lines[200:]])
    blocks = assembler.feed(decoder.feed(data) + decoder.finish()) + assembler.finish()
    assert [len(s.samples) for s in join(blocks)] == [640]
    assert assembler.segments == 1


@pytest.mark.parametrize("lost", [1, 35, 255, 256, 300, 511, 512, 1826, 10_000])
def test_lost_frames_are_counted_to_the_frame(lost: int) -> None:
    """A board that sends a hello every 2 s and an index each turn loses a run of its frames."""
    numbered: list[Sendable] = []
    for number, block in enumerate(run_of(blocks=lost + 600)[1:]):
        numbered += [Hello(BOARD)] if number % 250 == 0 else []
        numbered += [Event(block.start_us, int(block.counts[0]), 0)] if number % 30 == 0 else []
        numbered.append(block)
    kept = [*range(400), *range(400 + lost, len(numbered))]
    (segment,), assembler = assembled([numbered[at] for at in kept], kept)
    assert assembler.lost_frames == lost
    assert segment.samples.after_gap.sum() == 1
    assert assembler.lost.about == (lost > 2_000)


def test_what_came_before_the_first_hello_is_held_against_it_too(tmp_path: Path) -> None:
    hello, *blocks = run_of()
    frames = [*blocks[:20], hello, *blocks[20:]]
    frames[10] = bent(frames[10], reading=[3, 65_535])
    path = tmp_path / "late.swr"
    with RecordingWriter(path, {}) as writer:
        data = b"".join(encode_frame(f, n % 256) for n, f in enumerate(frames))
        writer.append(Chunk(0, data))
    recording = read_recording(path)
    assert (recording.health.samples, recording.health.left_out) == (639, 1)
    assert recording.segments[0].samples.readings.max() < 4096
