"""A port pulled out while it is recorded: waited for, and joined on only where that holds."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from strokewise.analysis.errors import PortError
from strokewise.analysis.samples import Board
from strokewise.daq.patient import PatientSource
from strokewise.daq.recording.container import Chunk, Item, Reopened, open_contents, read_file
from strokewise.daq.recording.read import read_recording
from strokewise.daq.recording.record import Recorder
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Hello, sample_blocks

BOARD = Board("bench board", 2400, 12, ("pressure",), 7)
BLOCK_US = 8_000


class Clock:
    """Goes on only where somebody waits."""

    def __init__(self) -> None:
        self.now_s = 50.0

    def __call__(self) -> float:
        return self.now_s

    def sleep(self, seconds: float) -> None:
        self.now_s += seconds


class Line:
    """A port that delivers what it is given and is then pulled out, or ends."""

    header: dict[str, object] = {}  # noqa: RUF012

    def __init__(self, clock: Clock, data: bytes, *, pulled: bool) -> None:
        self._clock, self._data, self._pulled = clock, data, pulled

    def __iter__(self) -> Iterator[Item]:
        for at in range(0, len(self._data), 500):
            self._clock.sleep(0.01)
            yield Chunk(at, self._data[at : at + 500])
        if self._pulled:
            raise PortError("/dev/toy went away after 1.0 s (gone); check the plug")

    def now_us(self) -> int:
        return 0

    def stop(self) -> None: ...

    def close(self) -> None: ...


def sent(board: Board, first: int, last: int, sequence: int = 0, hello_at: int = 0) -> bytes:
    """Return what a board sends of its blocks from one to another, in the place a hello."""
    encoder = FrameEncoder(sequence)
    counts = np.arange(16 * last) * 3
    blocks = list(sample_blocks(1000, 500, counts, 100 + counts % 7))[first:]
    data = b""
    for number, block in enumerate(blocks):
        data += encoder.encode(Hello(board)) if number == hello_at else b""
        data += encoder.encode(block)
    return data


def recorded(path: Path, *ports: bytes, away: int = 3) -> list[str]:
    """Record through unpluggings; ``away`` tries fail in between. Returns what was told."""
    clock, told = Clock(), []
    last = len(ports) - 1
    left: list[Line | None] = []
    for number, data in enumerate(ports):
        left += [None] * (away if number else 0) + [Line(clock, data, pulled=number < last)]

    def open_port() -> Line:
        line = left.pop(0)
        if line is None:
            raise PortError("no port /dev/toy")
        return line

    with RecordingWriter(path, {}) as writer:
        source = PatientSource(open_port, tell=told.append, clock=clock, sleep=clock.sleep)
        list(Recorder(source, writer).blocks())
        source.close()
    return told


def test_the_same_start_goes_on_with_a_counted_gap(tmp_path: Path) -> None:
    path = tmp_path / "kept.swr"
    # Blocks 100 to 299 and a hello in the place of each 250th frame stay away with the port.
    told = recorded(path, sent(BOARD, 0, 100), sent(BOARD, 300, 400, 301 % 256, hello_at=5))
    recording = read_recording(path)
    assert recording.health.segments == 1
    assert recording.health.samples == 200 * 16
    assert recording.health.lost_frames == 200
    assert np.flatnonzero(recording.segments[0].samples.after_gap).tolist() == [100 * 16]
    assert told[0] == "/dev/toy went away after 1.0 s (gone); waiting for it to come back"
    assert told[1] == "the port was away for 1.5 s and is back"
    assert recording.notes == (told[1],)


def test_host_times_never_run_back(tmp_path: Path) -> None:
    path = tmp_path / "kept.swr"
    recorded(path, sent(BOARD, 0, 100), sent(BOARD, 300, 400), sent(BOARD, 500, 600))
    items = open_contents(read_file(path)).items
    times = [item.host_us for item in items if isinstance(item, Chunk | Reopened)]
    assert times == sorted(times)
    assert sum(isinstance(item, Reopened) for item in items) == 2


def test_another_boot_is_a_new_start_though_its_time_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "kept.swr"
    recorded(path, sent(BOARD, 0, 100), sent(replace(BOARD, boot=8), 300, 400, hello_at=5))
    recording = read_recording(path)
    assert [len(segment.samples) for segment in recording.segments] == [1600, 1600]
    assert recording.health.lost_frames == 0


def test_no_boot_is_a_new_start_with_or_without_a_hello(tmp_path: Path) -> None:
    nameless = replace(BOARD, boot=None)
    for number, hello_at in enumerate((5, -1)):
        path = tmp_path / f"{number}.swr"
        recorded(path, sent(nameless, 0, 100), sent(nameless, 300, 800, hello_at=hello_at))
        lengths = [len(segment.samples) for segment in read_recording(path).segments]
        assert lengths == [1600, 8000], hello_at


def test_a_return_behind_a_wrap_of_the_clock_is_still_the_same_start(tmp_path: Path) -> None:
    encoder, data = FrameEncoder(), []
    for start_us in (2**32 - 30_000_000, 2**32 + 60_000_000):
        counts = np.arange(160)
        blocks = sample_blocks(start_us, 500, counts, counts)
        data.append(b"".join(encoder.encode(f) for f in (Hello(BOARD), *blocks)))
    path = tmp_path / "kept.swr"
    recorded(path, *data)
    (segment,) = read_recording(path).segments
    assert np.diff(segment.samples.time_us).max() == 90_000_000 - 159 * 500


def test_stopped_while_the_port_is_away_it_ends() -> None:
    clock = Clock()
    ports = [Line(clock, sent(BOARD, 0, 10), pulled=True)]

    def open_port() -> Line:
        if not ports:
            raise PortError("no port /dev/toy")
        return ports.pop()

    source = PatientSource(open_port, clock=clock, sleep=clock.sleep)
    for item in source:
        if isinstance(item, Chunk) and not item.data:
            source.stop()
    source.close()
