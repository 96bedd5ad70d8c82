"""A recorder that is killed, or whose disk is full: what was acknowledged is in the file, whole.

A process that dies by SIGKILL leaves what it has handed to the system; that a power cut may take no
more than the last second is held by the tests of the writer, which see it force the file out.
"""

import os
import resource
import signal
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from suite_damage import sent

from strokewise.analysis.errors import RecordingError
from strokewise.daq.recording.atomic import write_atomically
from strokewise.daq.recording.container import Chunk, Item, open_contents, read_file
from strokewise.daq.recording.read import read_recording
from strokewise.daq.recording.record import Recorder
from strokewise.daq.recording.writer import RecordingWriter

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="forks")

CHUNK = 97
"""Bytes read from the port at once."""

LONGEST_S = 0.08


class Port:
    """Delivers a shipped recording's bytes again and again, as fast as they are taken."""

    header: dict[str, object] = {}  # noqa: RUF012

    def __init__(self, data: bytes, ends: bool = False) -> None:
        self._data, self._ends = data, ends
        self.taken = 0

    def __iter__(self) -> Iterator[Item]:
        while True:
            for at in range(0, len(self._data), CHUNK):
                part = self._data[at : at + CHUNK]
                yield Chunk(self.now_us(), part)
                self.taken += len(part)
            if self._ends:
                return

    def now_us(self) -> int:
        return self.taken * 20

    def stop(self) -> None: ...

    def close(self) -> None: ...


def in_a_child(work: Callable[[int], None]) -> tuple[int, int]:
    """Run in a process of its own; returns its number and where it writes to."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        code = 1
        try:
            os.close(reader)
            work(writer)
            code = 0
        finally:
            os._exit(code)
    os.close(writer)
    return child, reader


def bytes_in(path: Path) -> bytes:
    contents = open_contents(read_file(path))
    assert contents is not None
    return b"".join(item.data for item in contents.items if isinstance(item, Chunk))


def test_killed_at_any_moment_nothing_acknowledged_is_lost(
    tmp_path: Path, tries: Callable[..., int], counted: Callable[..., None]
) -> None:
    _, data = sent("cranked")
    rng = np.random.default_rng(1)
    kills, survived, lost, torn = tries(8, 200, cheap=True), 0, 0, 0
    for number in range(kills):
        path = tmp_path / f"{number}.swr"

        def work(out: int, path: Path = path) -> None:
            port = Port(data)
            with RecordingWriter(path, {"started": "2026-01-01T00:00:00Z"}) as writer:
                os.write(out, b"open....")
                for _ in Recorder(port, writer).blocks():
                    os.write(out, port.taken.to_bytes(8, "little"))

        child, reader = in_a_child(work)
        os.read(reader, 8)
        time.sleep(float(rng.uniform(0, LONGEST_S)))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        told = b""
        while part := os.read(reader, 1 << 20):
            told += part
        os.close(reader)
        taken = int.from_bytes(told[-8:], "little") if told else 0
        kept = bytes_in(path)
        lost += max(0, taken - len(kept))
        endless = data * (len(kept) // len(data) + 1)
        torn += kept != endless[: len(kept)]
        survived += read_recording(path).health.bad_frames == 0 if kept else 1
        path.unlink()
    assert (survived, lost, torn) == (kills, 0, 0)
    counted("kills", tries=kills, survived=survived, bytes_lost=lost)


def test_a_disk_that_fills_up_keeps_what_was_written(
    tmp_path: Path, tries: Callable[..., int], counted: Callable[..., None]
) -> None:
    _, data = sent("cranked")
    rng = np.random.default_rng(2)
    disks, survived = tries(6, 100, cheap=True), 0
    for number in range(disks):
        path, other = tmp_path / f"{number}.swr", tmp_path / f"{number}.toml"
        other.write_bytes(b"what was there")
        room = int(rng.integers(1, 20_000))

        def work(out: int, path: Path = path, other: Path = other, room: int = room) -> None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
            said, port = b"", Port(data)
            try:
                with RecordingWriter(path, {}) as writer:
                    for _ in Recorder(port, writer).blocks():
                        pass
            except RecordingError as error:
                said = f"{port.taken} {error}".encode()
            try:
                write_atomically(other, bytes(30_000))
            except OSError:
                said += b" and the old one stays"
            os.write(out, said)

        child, reader = in_a_child(work)
        said = os.read(reader, 10_000)
        os.waitpid(child, 0)
        os.close(reader)
        assert b"File too large" in said
        assert said.endswith(b"and the old one stays")
        assert other.read_bytes() == b"what was there"
        if path.exists():
            kept = bytes_in(path)
            taken = int(said.split()[0])
            assert kept == data[: len(kept)]
            # A chunk whose last byte alone found no room is whole all the same.
            assert taken <= len(kept) <= taken + CHUNK
            assert path.stat().st_size <= room
        assert {each.suffix for each in tmp_path.iterdir()} <= {".swr", ".toml"}
        survived += 1
    counted("full disks", tries=disks, survived=survived)
