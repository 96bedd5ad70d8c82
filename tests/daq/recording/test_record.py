"""Recording and watching in one pass: nothing lost on Ctrl-C, on a vanished port, or a note."""

import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from suite_sources import GivenSource

from strokewise.analysis.errors import PortError
from strokewise.analysis.samples import Segment
from strokewise.daq.recording.container import Chunk, Item, open_contents
from strokewise.daq.recording.read import read_recording
from strokewise.daq.recording.record import Recorder, recording_header, stopped_by_interrupt
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.daq.sources import SerialSource
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Frame
from strokewise.daq.wire.join import join

BoardRun = Callable[..., list[Frame]]

pty_only = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo terminals")


@pytest.fixture
def board_items(board_run: BoardRun) -> tuple[Item, ...]:
    encoder = FrameEncoder()
    pieces = [encoder.encode(frame) for frame in board_run(blocks=30)]
    return tuple(Chunk(10_000 * k, piece) for k, piece in enumerate(pieces, 1))


def test_what_is_watched_is_what_was_kept(tmp_path: Path, board_items: tuple[Item, ...]) -> None:
    path = tmp_path / "job.swr"
    seen: list[Segment] = []
    with RecordingWriter(path, recording_header(engine={"cylinders": 4})) as writer:
        recorder = Recorder(GivenSource(*board_items), writer)
        for k, blocks in enumerate(recorder.blocks()):
            seen += blocks
            if k == 10:
                recorder.mark("pulley notch")
                recorder.note("belt squeals")
            if k == 12:
                # all that was seen so far is in the file already
                contents = open_contents(path.read_bytes())
                assert contents is not None
                assert [item for item in contents.items if isinstance(item, Chunk)] == list(
                    board_items[:13]
                )
    kept = read_recording(path)
    (live,), (batch,) = join(seen), kept.segments
    assert live.presses == batch.presses
    assert [press.name for press in batch.presses] == ["pulley notch"]
    assert live.samples.count.tolist() == batch.samples.count.tolist()
    assert kept.notes == ("belt squeals",)
    assert kept.header["engine"] == {"cylinders": 4}
    assert kept.health == recorder.health


def test_watching_needs_no_file(board_items: tuple[Item, ...]) -> None:
    recorder = Recorder(GivenSource(*board_items))
    (segment,) = join(block for blocks in recorder.blocks() for block in blocks)
    assert len(segment.samples) == recorder.health.samples == 240


def test_a_note_made_after_the_last_byte_is_kept(
    tmp_path: Path, board_items: tuple[Item, ...]
) -> None:
    path = tmp_path / "job.swr"
    with RecordingWriter(path, recording_header()) as writer:
        recorder = Recorder(GivenSource(*board_items), writer)
        blocks = recorder.blocks()
        next(blocks)
        recorder.note("stopped by hand")
        blocks.close()
    assert read_recording(path).notes == ("stopped by hand",)


@pytest.fixture
def terminal() -> Iterator[tuple[int, str]]:
    import pty
    import tty

    board, port = pty.openpty()
    tty.setraw(port)
    yield board, os.ttyname(port)
    os.close(port)


@pty_only
def test_nothing_is_lost_when_the_port_vanishes(
    tmp_path: Path, terminal: tuple[int, str], board_items: tuple[Item, ...]
) -> None:
    board, name = terminal
    path = tmp_path / "job.swr"
    sent = b"".join(item.data for item in board_items if isinstance(item, Chunk))

    def talk_and_leave() -> None:
        os.write(board, sent)
        wait_until(lambda: path.exists() and path.stat().st_size > len(sent))
        os.close(board)

    thread = threading.Thread(target=talk_and_leave)
    with RecordingWriter(path, recording_header()) as writer, SerialSource(name) as source:
        thread.start()
        with pytest.raises(PortError, match="went away"):
            list(Recorder(source, writer).blocks())
    thread.join()
    assert read_recording(path).health.samples == 240


@pty_only
@pytest.mark.usefixtures("heeds_ctrl_c")
def test_nothing_is_lost_on_ctrl_c(
    tmp_path: Path, terminal: tuple[int, str], board_items: tuple[Item, ...]
) -> None:
    board, name = terminal
    path = tmp_path / "job.swr"
    sent = b"".join(item.data for item in board_items if isinstance(item, Chunk))
    before = signal.getsignal(signal.SIGINT)
    with (
        RecordingWriter(path, recording_header()) as writer,
        SerialSource(name) as source,
        stopped_by_interrupt(source),
    ):
        recorder = Recorder(source, writer)
        os.write(board, sent[:900])
        for _ in recorder.blocks():
            if recorder.health.samples and signal.getsignal(signal.SIGINT) is not before:
                os.write(board, sent[900:])
                os.kill(os.getpid(), signal.SIGINT)
    os.close(board)
    assert signal.getsignal(signal.SIGINT) is before
    contents = open_contents(path.read_bytes())
    assert contents is not None
    kept = b"".join(item.data for item in contents.items if isinstance(item, Chunk))
    assert kept == sent[: len(kept)]
    assert read_recording(path).health == recorder.health
    assert recorder.health.samples > 0


@pytest.mark.usefixtures("heeds_ctrl_c")
def test_a_second_ctrl_c_interrupts_as_ever() -> None:
    source = GivenSource()
    with stopped_by_interrupt(source):
        signal.raise_signal(signal.SIGINT)
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)


def wait_until(done: Callable[[], bool]) -> None:
    pause = threading.Event()
    for _ in range(500):
        if done():
            return
        pause.wait(0.01)
    raise AssertionError("did not happen within five seconds")


def test_the_header_says_when_in_universal_time() -> None:
    summer = datetime(2026, 7, 1, 14, 0, tzinfo=timezone(timedelta(hours=2)))
    header = recording_header(now=summer, operator_note="bench four")
    assert header["started"] == "2026-07-01T12:00:00Z"
    assert header["software"].startswith("strokewise ")
    assert header["operator_note"] == "bench four"
    assert "engine" not in header
