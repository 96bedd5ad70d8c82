"""The recording on the disk: appended frame by frame, forced out in time, never written over."""

import errno
import os
import threading
from pathlib import Path

import pytest

from strokewise.analysis.errors import RecordingError
from strokewise.daq.recording.container import Chunk, Hole, Jotting, encode_header, encode_item
from strokewise.daq.recording.read import read_recording
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.daq.wire.framing import wrap

HEADER = {"started": "2026-01-02T03:04:05Z"}


class Clock:
    """A clock that is set by hand."""

    now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def syncs(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Return the sizes at which the file was forced to the disk."""
    sizes: list[int] = []
    fsync = os.fsync

    def note(number: int) -> None:
        sizes.append(os.fstat(number).st_size)
        fsync(number)

    monkeypatch.setattr(os, "fsync", note)
    return sizes


def test_each_item_is_in_the_file_at_once(tmp_path: Path) -> None:
    path = tmp_path / "job.swr"
    expected = encode_header(HEADER)
    with RecordingWriter(path, HEADER, clock=Clock()) as writer:
        assert path.read_bytes() == expected
        for item in (Chunk(1, b"abc"), Jotting(2, note="n"), Chunk(3, bytes(9000)), Chunk(4, b"")):
            writer.append(item)
            expected += encode_item(item)
            assert path.read_bytes() == expected
        writer.append(Hole(5))
    assert path.read_bytes() == expected


def test_a_recording_begun_in_mid_run_counts_from_its_own_start(tmp_path: Path) -> None:
    path = tmp_path / "job.swr"
    with RecordingWriter(path, HEADER, start_us=5_000_000) as writer:
        writer.append(Jotting(4_999_000, note="asked for just before"))
        writer.append(Chunk(5_020_000, b"abc"))
    assert path.read_bytes() == encode_header(HEADER) + encode_item(
        Jotting(0, note="asked for just before")
    ) + encode_item(Chunk(20_000, b"abc"))


def test_each_chunk_is_one_append(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    appends: list[bytes] = []
    open_path = Path.open

    class Counted:
        def __init__(self, path: Path, mode: str, buffering: int) -> None:
            assert (mode, buffering) == ("xb", 0)
            self.file = open_path(path, mode, buffering)
            self.fileno, self.close = self.file.fileno, self.file.close

        @property
        def closed(self) -> bool:
            return self.file.closed

        def write(self, data: memoryview) -> int:
            appends.append(bytes(data))
            return self.file.write(data)

    monkeypatch.setattr(Path, "open", lambda path, mode, buffering: Counted(path, mode, buffering))
    items = [Chunk(k, bytes([k] * 50)) for k in range(5)]
    with RecordingWriter(tmp_path / "job.swr", HEADER, clock=Clock()) as writer:
        for item in items:
            writer.append(item)
    assert appends == [encode_header(HEADER), *map(encode_item, items)]


def test_is_forced_to_the_disk_at_least_once_a_second(tmp_path: Path, syncs: list[int]) -> None:
    clock, path = Clock(), tmp_path / "job.swr"
    with RecordingWriter(path, HEADER, clock=clock) as writer:
        sizes: list[int] = []
        for _ in range(40):  # ten seconds, a chunk each quarter of one
            clock.now_s += 0.25
            writer.append(Chunk(1, b"data"))
            sizes.append(path.stat().st_size)
            wait_for_sync(writer)
        at_latest = sizes[3::4]  # what was there at the end of each second
        assert all(any(s >= size for s in syncs) for size in sizes[:-4])
        assert len(syncs) >= len(at_latest)


def test_is_forced_to_the_disk_though_nothing_more_comes(tmp_path: Path, syncs: list[int]) -> None:
    clock, path = Clock(), tmp_path / "job.swr"
    with RecordingWriter(path, HEADER, clock=clock) as writer:
        wait_for_sync(writer)
        writer.append(Chunk(1, b"last"))
        for _ in range(10):
            clock.now_s += 0.1
            writer.append(Chunk(2, b""))
        wait_for_sync(writer)
        assert syncs[-1] == path.stat().st_size
        before = len(syncs)
        for _ in range(100):
            clock.now_s += 0.1
            writer.append(Chunk(3, b""))
        wait_for_sync(writer)
        assert len(syncs) == before  # and a quiet file leaves the disk in peace


def wait_for_sync(writer: RecordingWriter) -> None:
    assert writer._syncing is not None
    writer._syncing.result(timeout=5)


def test_a_slow_disk_does_not_keep_the_port_waiting(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    let_go, began = threading.Event(), threading.Event()

    def slow(number: int) -> None:
        began.set()
        assert let_go.wait(5)

    monkeypatch.setattr(os, "fsync", slow)
    clock, path = Clock(), tmp_path / "job.swr"
    with RecordingWriter(path, HEADER, clock=clock) as writer:
        assert began.wait(5)
        for k in range(20):
            clock.now_s += 1.0
            writer.append(Chunk(k, b"data"))
        assert path.stat().st_size > 20 * len(b"data")
        let_go.set()


def test_what_is_there_is_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "job.swr"
    path.write_bytes(b"precious")
    with pytest.raises(RecordingError, match="is there already and is not written over"):
        RecordingWriter(path, HEADER)
    assert path.read_bytes() == b"precious"


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="cannot be written: No such file"):
        RecordingWriter(tmp_path / "nowhere" / "job.swr", HEADER)


def test_a_full_disk_is_told_when_it_is_met(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    full = OSError(errno.ENOSPC, "No space left on device")

    def refuse(number: int) -> None:
        raise full

    monkeypatch.setattr(os, "fsync", refuse)
    clock = Clock()
    writer = RecordingWriter(tmp_path / "job.swr", HEADER, clock=clock)
    assert writer._syncing is not None
    assert writer._syncing.exception(timeout=5) is full
    clock.now_s += 1.0
    with pytest.raises(RecordingError, match=r"writing failed \(No space left on device\)"):
        writer.append(Chunk(1, b"more"))
    with pytest.raises(RecordingError, match="what was written before is kept"):
        writer.close()
    writer.close()  # closed all the same


def test_a_disk_that_is_full_at_once_leaves_no_file_that_blocks_the_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "job.swr"
    with monkeypatch.context() as patched:

        class Full:
            def __getattr__(self, name: str) -> object:
                return getattr(real[0], name)

            def write(self, data: bytes) -> int:
                raise OSError(errno.ENOSPC, "No space left on device")

        real = []
        opened = Path.open

        def open_full(self: Path, *args: object, **more: object) -> object:
            real.append(opened(self, *args, **more))
            return Full()

        patched.setattr(Path, "open", open_full)
        with pytest.raises(RecordingError, match="No space left"):
            RecordingWriter(path, HEADER)
    assert not path.exists()
    with RecordingWriter(path, HEADER):
        pass


def test_the_folder_is_flushed_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    flushed: list[Path] = []
    monkeypatch.setattr("strokewise.daq.recording.writer.flush_folder", flushed.append)
    with RecordingWriter(tmp_path / "job.swr", HEADER):
        pass
    assert flushed == [tmp_path]


def test_a_recording_of_another_format_is_refused_with_one_line(tmp_path: Path) -> None:
    path = tmp_path / "later.swr"
    path.write_bytes(wrap(b"R" + b'{"format":2}') + wrap(b"C" + bytes(8) + b"what ever"))
    with pytest.raises(RecordingError, match="format 2, and this version reads format 1") as said:
        read_recording(path)
    assert len(str(said.value).splitlines()) == 1
