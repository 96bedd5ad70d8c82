"""Recordings: read back whole, damaged anywhere, cut anywhere; live and batch agree."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strokewise.analysis.errors import RecordingError
from strokewise.analysis.samples import Recording, Segment
from strokewise.daq.recording.container import (
    MAX_CHUNK,
    Chunk,
    Contents,
    Hole,
    Item,
    Jotting,
    encode_header,
    encode_item,
    open_contents,
)
from strokewise.daq.recording.read import read_recording
from strokewise.daq.wire.encoder import FrameEncoder, encode_lines
from strokewise.daq.wire.frames import Frame
from strokewise.daq.wire.framing import wrap
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join

BoardRun = Callable[..., list[Frame]]

HEADER = {"format": 1, "started": "2026-01-02T03:04:05Z", "engine": {"cylinders": 4}}


def port_bytes(frames: list[Frame]) -> bytes:
    encoder = FrameEncoder()
    return b"".join(encoder.encode(frame) for frame in frames)


def chunked(stream: bytes, size: int, every_us: int = 20_000) -> list[Item]:
    starts = range(0, len(stream), size)
    return [Chunk(every_us * (k + 1), stream[i : i + size]) for k, i in enumerate(starts)]


def recording_pieces(items: list[Item]) -> list[bytes]:
    return [encode_header(HEADER), *(encode_item(item) for item in items)]


def decoded(contents: Contents | None) -> Recording:
    assert contents is not None
    intake = Intake()
    blocks = intake.feed(contents.items) + intake.finish()
    return Recording(join(blocks), intake.health, contents.header, tuple(intake.notes))


def assert_same(one: tuple[Segment, ...], other: tuple[Segment, ...]) -> None:
    assert len(one) == len(other)
    for a, b in zip(one, other, strict=True):
        assert (a.number, a.board, a.presses) == (b.number, b.board, b.presses)
        for column in ("time_us", "count", "readings", "after_gap"):
            np.testing.assert_array_equal(getattr(a.samples, column), getattr(b.samples, column))
        for column in ("time_us", "count", "input"):
            np.testing.assert_array_equal(getattr(a.events, column), getattr(b.events, column))


def counts_of(recording: Recording) -> list[int]:
    return [c for segment in recording.segments for c in segment.samples.count.tolist()]


def test_comes_back_whole(tmp_path: Path, board_run: BoardRun) -> None:
    frames = board_run(blocks=20, channels=2)
    items = chunked(port_bytes(frames), 100)
    items.insert(5, Jotting(110_000, note="clamp checked, 6 o’clock"))
    path = tmp_path / "whole.swr"
    path.write_bytes(b"".join(recording_pieces(items)))
    recording = read_recording(path)
    assert recording.header == HEADER
    assert recording.notes == ("clamp checked, 6 o’clock",)
    health = recording.health
    assert (health.samples, health.frames, health.segments) == (160, len(frames), 1)
    assert (health.lost_frames, health.bad_frames, health.missing_bytes) == (0, 0, 0)


def test_the_frames_are_those_of_the_format() -> None:
    assert encode_header({"started": "x"}) == wrap(b'R{"format":1,"started":"x"}')
    assert encode_item(Chunk(258, b"ab")) == wrap(b"C\2\1\0\0\0\0\0\0ab")
    assert encode_item(Jotting(1, note="é")) == wrap(b'N\1\0\0\0\0\0\0\0{"note":"\xc3\xa9"}')
    assert encode_item(Jotting(1, mark="notch")) == wrap(b'N\1\0\0\0\0\0\0\0{"mark":"notch"}')
    assert encode_item(Chunk(0, b"")) == b""
    with pytest.raises(ValueError, match="before the start"):
        encode_item(Chunk(-1, b"a"))


def test_a_long_chunk_becomes_several() -> None:
    data = bytes(range(256)) * 40
    contents = open_contents(encode_item(Chunk(7, data)))
    assert contents is not None
    assert [len(item.data) for item in contents.items] == [MAX_CHUNK, MAX_CHUNK, 2048]
    assert b"".join(item.data for item in contents.items) == data
    assert {item.host_us for item in contents.items} == {7}


# Damage


def test_one_damaged_byte_costs_at_most_two_chunks(board_run: BoardRun) -> None:
    pieces = recording_pieces(chunked(port_bytes(board_run(blocks=6)), 40))
    whole = b"".join(pieces)
    sent = open_contents(whole)
    assert sent is not None
    owner = [k for k, piece in enumerate(pieces) for _ in piece]
    for where in range(len(whole)):
        for value in {whole[where] ^ 1, whole[where] ^ 0x80, 0, 0xFF} - {whole[where]}:
            damaged = bytearray(whole)
            damaged[where] = value
            found = open_contents(bytes(damaged))
            assert found is not None
            touched = {owner[where]}
            if whole[where] == 0:
                touched.add(owner[where] + 1)
            kept = [item for k, item in enumerate(sent.items, 1) if k not in touched]
            assert [item for item in found.items if isinstance(item, Chunk)] == kept
            lost = sum(len(pieces[k]) for k in touched if k < len(pieces))
            if where < len(whole) - 1:
                holes = [item.size for item in found.items if isinstance(item, Hole)]
                assert sum(holes) == lost


def test_no_frame_is_pieced_together_across_a_lost_chunk(board_run: BoardRun) -> None:
    frames = board_run(blocks=40)
    pieces = recording_pieces(chunked(port_bytes(frames), 55))
    sent = counts_of(decoded(open_contents(b"".join(pieces))))
    for k in range(1, len(pieces)):
        left = [*pieces[:k], b"\x05gone\0", *pieces[k + 1 :]]
        recording = decoded(open_contents(b"".join(left)))
        found = counts_of(recording)
        # 55 bytes touch at most three blocks of 8 samples, and no other is changed
        assert len(sent) - 24 <= len(found) <= len(sent)
        (segment,) = recording.segments
        gaps = np.flatnonzero(segment.samples.after_gap).tolist()
        at = gaps[0] if gaps else len(found)
        assert len(gaps) <= 1
        assert found[:at] == sent[:at]
        assert found[at:] == sent[len(sent) - (len(found) - at) :]
        assert recording.health.missing_bytes == 6
        assert recording.health.bad_frames == 0


def test_is_read_when_cut_at_every_byte(tmp_path: Path, board_run: BoardRun) -> None:
    pieces = recording_pieces(chunked(port_bytes(board_run(blocks=6)), 60))
    whole = b"".join(pieces)
    everything = counts_of(decoded(open_contents(whole)))
    path = tmp_path / "cut.swr"
    ends = set(np.cumsum([len(piece) for piece in pieces]).tolist())
    before = 0
    for size in range(1, len(whole) + 1):
        path.write_bytes(whole[:size])
        recording = read_recording(path)
        found = counts_of(recording)
        assert found == everything[: len(found)]
        assert len(found) >= before
        before = len(found)
        begun = size - max((end for end in ends if end <= size), default=0)
        complete = size + 1 in ends  # only the delimiter is cut off: the CRC proves the rest
        assert recording.health.missing_bytes == (0 if complete else begun)
        assert recording.health.bad_frames == 0
    assert before == len(everything)


def test_is_read_when_the_beginning_is_gone(board_run: BoardRun) -> None:
    whole = b"".join(recording_pieces(chunked(port_bytes(board_run()), 60)))
    everything = counts_of(decoded(open_contents(whole)))
    for start in range(1, len(whole) - 200, 7):
        recording = decoded(open_contents(whole[start:]))
        found = counts_of(recording)
        assert found == everything[len(everything) - len(found) :]
        assert recording.header == {}


@settings(deadline=None, max_examples=200)
@given(st.binary(max_size=300), st.binary(max_size=60).map(wrap), st.booleans())
def test_any_bytes_in_a_file_are_read_or_refused(
    noise: bytes, frame: bytes, in_front: bool
) -> None:
    chunk = encode_item(Chunk(1, noise or b"x"))
    data = frame + b"\0" + chunk + noise if in_front else noise + b"\0" + chunk
    contents = open_contents(data)
    assert contents is not None
    assert Chunk(1, noise or b"x") in contents.items
    decoded(contents)
    open_contents(noise)


def test_a_zero_filled_tail_is_missing(board_run: BoardRun) -> None:
    whole = b"".join(recording_pieces(chunked(port_bytes(board_run()), 60)))
    recording = decoded(open_contents(whole + bytes(4096)))
    assert recording.health.missing_bytes == 4096
    assert recording.health.samples == 96


def test_two_recordings_in_one_file_do_not_run_together(board_run: BoardRun) -> None:
    stream = port_bytes(board_run(blocks=6))
    first = b"".join(recording_pieces(chunked(stream[:-20], 60)))
    second = encode_header({"started": "later"}) + encode_item(Chunk(5, stream[-20:] + stream))
    recording = decoded(open_contents(first + second))
    assert recording.header == HEADER
    assert len(recording.segments) == 2
    assert recording.health.missing_bytes == 0


@pytest.mark.parametrize(
    "frame",
    [
        wrap(b"C\1\2\3"),  # no whole host time
        wrap(b"N" + bytes(8) + b"no json"),
        wrap(b"N" + bytes(8) + b"[1]"),
        wrap(b"R{"),
        wrap(b"R" + b'{"a":' * 2000),
        wrap(b"X" + bytes(20)),
    ],
)
def test_a_frame_that_makes_no_sense_is_missing(frame: bytes, board_run: BoardRun) -> None:
    pieces = recording_pieces(chunked(port_bytes(board_run()), 60))
    recording = decoded(open_contents(b"".join([*pieces, frame])))
    assert recording.health.missing_bytes == len(frame)
    assert recording.health.samples == 96


def test_a_remark_of_another_kind_says_nothing(board_run: BoardRun) -> None:
    pieces = recording_pieces(chunked(port_bytes(board_run()), 60))
    extra = wrap(b"N" + bytes(8) + b'{"note":5,"mark":null,"colour":"red"}')
    recording = decoded(open_contents(b"".join([*pieces, extra])))
    assert recording.notes == ()
    assert recording.health.missing_bytes == 0


# Live and batch


@settings(deadline=None, max_examples=50)
@given(size=st.integers(1, 300), holes=st.sets(st.integers(0, 40)), binary=st.booleans())
def test_live_ends_where_batch_ends(
    board_run: BoardRun, size: int, holes: set[int], binary: bool
) -> None:
    frames = board_run(boot=1) + board_run(boot=2)
    stream = port_bytes(frames) if binary else b"".join(map(encode_lines, frames))
    items: list[Item] = []
    for k, chunk in enumerate(chunked(stream, size)):
        items.append(Hole(9) if k in holes else chunk)
        if k % 4 == 3:
            items.append(Jotting(chunk.host_us + 900, mark=f"mark {k}"))
    batch, live = Intake(), Intake()
    at_once = batch.feed(items) + batch.finish()
    one_by_one = [block for item in items for block in live.feed((item,))] + live.finish()
    assert_same(join(at_once), join(one_by_one))
    assert batch.health == live.health


def test_a_press_is_placed_by_the_last_frame_heard(board_run: BoardRun) -> None:
    stream = port_bytes(board_run(blocks=2, per_block=4))  # samples at 1000 … 4500 µs
    intake = Intake()
    assert intake.feed([Jotting(5_000, mark="early")]) == []
    blocks = intake.feed([Chunk(20_000, stream), Chunk(30_000, stream[:5])])
    blocks += intake.feed([Jotting(50_000, mark="notch")])
    (segment,) = join(blocks)
    placed = {press.name: press.time_us for press in segment.presses}
    assert placed == {"early": 4500 - 15_000, "notch": 4500 + 30_000}


def test_notes_are_kept_in_order() -> None:
    intake = Intake()
    intake.feed([Jotting(1, note="one"), Jotting(2, note="two")])
    assert intake.notes == ["one", "two"]


# Files that are something else


def test_bare_bytes_of_a_port_are_read_too(tmp_path: Path, board_run: BoardRun) -> None:
    frames = board_run()
    for name, stream in (
        ("dump.bin", port_bytes(frames)[5:]),
        ("dump.txt", b"".join(map(encode_lines, frames))),
    ):
        path = tmp_path / name
        path.write_bytes(stream)
        recording = read_recording(path)
        assert recording.health.samples == 96
        assert recording.header == {}


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "is empty"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + bytes(range(256)) * 20, "is not a recording"),
        (b"time,count\n1,2\n", "is not a recording"),
        (bytes(500), "is not a recording"),
        (b"\xff" * 70_000, "is not a recording"),
    ],
)
def test_anything_else_is_refused_in_one_line(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "other.swr"
    path.write_bytes(content)
    with pytest.raises(RecordingError, match=message) as caught:
        read_recording(path)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_what_cannot_be_read_is_told_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(RecordingError, match="no such file"):
        read_recording(tmp_path / "nowhere.swr")
    with pytest.raises(RecordingError, match="is a folder"):
        read_recording(tmp_path)
    with pytest.raises(RecordingError, match="cannot be read: "):
        read_recording("a\0b")

    def refuse(path: Path) -> bytes:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "read_bytes", refuse)  # tests may run as one who may read all
    with pytest.raises(RecordingError, match="no permission to read it"):
        read_recording(tmp_path / "mine.swr")


def test_a_recording_cut_in_its_header_is_a_recording_without_samples(tmp_path: Path) -> None:
    path = tmp_path / "cut.swr"
    path.write_bytes(encode_header(HEADER)[:30])
    recording = read_recording(path)
    assert recording.segments == ()
    assert recording.health.missing_bytes == 30
