"""Cables pulled, boards restarted, buffers sent twice, noise, clocks that wrap: each survived, and
every sample accounted for: kept, lost and counted, or damaged and counted."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from strokewise.analysis.errors import PortError
from strokewise.analysis.samples import Board
from strokewise.daq.patient import PatientSource
from strokewise.daq.recording.container import Chunk, Item, open_contents, read_file
from strokewise.daq.recording.read import read_recording
from strokewise.daq.recording.record import Recorder
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Hello, sample_blocks

BOARD = Board("bench board", 2400, 12, ("pressure",), 7)
PER_BLOCK, PERIOD_US = 16, 500
BLOCK_US = PER_BLOCK * PERIOD_US
BLOCKS_A_HELLO = 250

FAULTS = (
    "pulled",
    "pulled and restarted",
    "restarted",
    "sent twice",
    "noise",
    "bytes lost",
    "held",
)


class FaultyBoard:
    """A board that measures on whatever befalls its line, and counts what it has sent."""

    def __init__(self, rng: np.random.Generator) -> None:
        self._rng, self._boot = rng, 7
        self.now_s, self.repeated = 0.0, 0
        self.starts, self.sent, self.frames, self.faults = 1, 0, 0, []
        self._begin(int(rng.integers(0, 2**32)))

    def _begin(self, clock_us: int) -> None:
        self._encoder, self._at, self._clock_us = FrameEncoder(), 0, clock_us

    def restart(self) -> None:
        self._boot += 1
        self.starts += 1
        self._begin(int(self._rng.integers(0, 10_000_000)))

    def blocks(self, count: int, *, heard: bool = True) -> bytes:
        """Return the bytes of the next blocks; unheard ones are measured and go nowhere."""
        counts = np.arange(self._at * PER_BLOCK, (self._at + count) * PER_BLOCK) * 3
        start_us = self._clock_us + self._at * BLOCK_US
        data = b""
        blocks = sample_blocks(start_us, PERIOD_US, counts, 100 + counts % 50)
        for number, block in enumerate(blocks, start=self._at):
            if number % BLOCKS_A_HELLO == 0:
                data += self._encoder.encode(Hello(replace(BOARD, boot=self._boot)))
                self.frames += 1
            data += self._encoder.encode(block)
            self.frames += 1
        self._at += count
        self.sent += count * PER_BLOCK if heard else 0
        self.now_s += count * BLOCK_US * 1e-6
        return data

    def __call__(self) -> float:
        return self.now_s

    def sleep(self, seconds: float) -> None:
        self.blocks(round(seconds / (BLOCK_US * 1e-6)), heard=False)


class Line:
    """One opening of the port, up to where it is pulled."""

    header: dict[str, object] = {}  # noqa: RUF012

    def __init__(self, board: FaultyBoard, faults: list[str], rng: np.random.Generator) -> None:
        self._board, self._faults, self._rng = board, faults, rng

    def __iter__(self) -> Iterator[Item]:
        rng, board = self._rng, self._board
        yield from self._chunks(board.blocks(300))
        while self._faults:
            fault = self._faults.pop()
            board.faults.append(fault)
            if fault == "restarted":
                board.restart()
            elif fault == "held":  # the host slept, the system kept the first kilobytes
                board.blocks(int(rng.integers(100, 4_000)), heard=False)
            elif fault == "noise":
                yield Chunk(0, b"\0" + rng.bytes(int(rng.integers(1, 3_000))) + b"\0")
            elif fault == "sent twice":
                before, data = board.frames, board.blocks(20)
                board.repeated += board.frames - before
                yield from self._chunks(data + data)
            elif fault == "bytes lost":
                whole = np.frombuffer(board.blocks(40), np.uint8)
                yield Chunk(0, whole[rng.random(len(whole)) > 0.002].tobytes())
            else:
                if fault == "pulled and restarted":
                    board.restart()
                raise PortError("/dev/toy went away")
            yield from self._chunks(board.blocks(int(rng.integers(300, 600))))

    def _chunks(self, data: bytes) -> Iterator[Chunk]:
        for at in range(0, len(data), 997):
            yield Chunk(0, data[at : at + 997])

    def now_us(self) -> int:
        return 0

    def stop(self) -> None: ...

    def close(self) -> None: ...


def test_every_fault_is_survived_and_every_frame_accounted_for(
    tmp_path: Path, tries: Callable[..., int], counted: Callable[..., None]
) -> None:
    made = 0
    for seed in range(tries(12, 300)):
        rng = np.random.default_rng([9, seed])
        board = FaultyBoard(rng)
        faults = [str(each) for each in rng.choice(FAULTS, int(rng.integers(1, 7)))]
        path, told = tmp_path / f"{seed}.swr", []
        with RecordingWriter(path, {}) as writer:
            source = PatientSource(
                lambda board=board, faults=faults, rng=rng: Line(board, faults, rng),
                tell=told.append,
                clock=board,
                sleep=board.sleep,
            )
            live = sum(
                len(block.samples)
                for blocks in Recorder(source, writer).blocks()
                for block in blocks
            )
            source.close()
        recording, items = read_recording(path), open_contents(read_file(path)).items
        health = recording.health
        made += len(board.faults)
        assert live == health.samples, board.faults
        times = [item.host_us for item in items if isinstance(item, Chunk)]
        assert times == sorted(times)
        assert len(told) == 2 * sum(fault.startswith("pulled") for fault in board.faults)
        assert health.segments == board.starts, board.faults
        clean = not {"bytes lost", "noise"} & set(board.faults)
        assert health.samples == board.sent if clean else health.samples <= board.sent
        if board.starts == 1:
            # What came and what was lost is all that was sent; what came twice counts once.
            spread = 0 if clean else 1
            assert abs(health.frames - board.repeated + health.lost_frames - board.frames) <= spread
        for segment in recording.segments:
            assert np.all(np.diff(segment.samples.time_us) > 0)
            assert np.all(np.diff(segment.samples.count) > 0)
    counted("live faults", tries=made, survived=made)
