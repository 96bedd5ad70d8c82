"""A board that speaks at another rate: heard, said, and recorded without a second try by hand."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from strokewise.analysis.errors import PortError
from strokewise.analysis.samples import Board
from strokewise.daq.recording.container import Chunk, Item, Reopened
from strokewise.daq.recording.read import read_recording
from strokewise.daq.recording.record import Recorder
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.daq.right_baud import FEWEST_BYTES, GARBAGE_BYTES, USUAL_BAUDS, RightBaud
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Hello, sample_blocks
from strokewise.daq.wire.intake import Intake

BOARD = Board("bench board", 2400, 12, ("pressure",), 7)
STEP_US = 10_000
BYTES_A_STEP = 300


def sent(blocks: int) -> bytes:
    """Return what a board sends."""
    encoder, counts = FrameEncoder(), np.arange(16 * blocks) * 3
    frames = [Hello(BOARD), *sample_blocks(1000, 500, counts, 100 + counts % 7)]
    return b"".join(encoder.encode(frame) for frame in frames)


class TunedLine:
    """A line that delivers its bytes at one rate only, and noise at every other."""

    header: dict[str, object] = {}  # noqa: RUF012
    name = "/dev/toy"

    def __init__(
        self,
        said: int,
        right: int | None,
        *,
        steps: int = 800,
        has: tuple[int, ...] = USUAL_BAUDS,
        noise: int = BYTES_A_STEP,
    ) -> None:
        self._baud, self._right, self._steps, self._has = said, right, steps, has
        self._noise, self._rng = noise, np.random.default_rng(3)
        self._data, self._at, self._now_us = sent(1_000), 0, 0
        self.set_to: list[int] = []

    @property
    def baud(self) -> int:
        return self._baud

    @baud.setter
    def baud(self, rate: int) -> None:
        if rate not in self._has:
            raise PortError(f"{self.name} cannot be set to {rate} baud")
        self._baud = rate
        self.set_to.append(rate)

    def now_us(self) -> int:
        return self._now_us

    def __iter__(self) -> Iterator[Item]:
        for _ in range(self._steps):
            self._now_us += STEP_US
            heard = self._data[self._at : self._at + BYTES_A_STEP]
            self._at += BYTES_A_STEP  # the board measures on, heard or not
            right = self._baud == self._right
            yield Chunk(self._now_us, heard if right else self._rng.bytes(self._noise))

    def stop(self) -> None: ...

    def close(self) -> None: ...


def test_the_right_rate_is_left_alone() -> None:
    told: list[str] = []
    line = TunedLine(115_200, 115_200, steps=100)
    items = list(RightBaud(line, tell=told.append))
    assert told == []
    assert line.set_to == []
    assert b"".join(item.data for item in items if isinstance(item, Chunk)) == sent(1_000)[:30_000]


@pytest.mark.parametrize("right", [rate for rate in USUAL_BAUDS if rate != 115_200])
def test_the_rate_is_found_said_and_kept_in_the_recording(right: int, tmp_path: Path) -> None:
    told: list[str] = []
    line, path = TunedLine(115_200, right, steps=300), tmp_path / "kept.swr"
    with RecordingWriter(path, {}) as writer:
        list(Recorder(RightBaud(line, tell=told.append), writer).blocks())
    recording = read_recording(path)
    assert line.baud == right
    assert told[0].startswith("/dev/toy: not one whole frame in 2100 bytes at 115200 baud; trying")
    assert told[-1].startswith(f"the board speaks {right} baud, not 115200")
    assert recording.notes == tuple(told[:-1])
    # What was heard before the rate was right is lost, and all behind it is there.
    garbage_steps = len(line.set_to) * -(-GARBAGE_BYTES // BYTES_A_STEP)
    behind, intake = sent(1_000)[garbage_steps * BYTES_A_STEP :], Intake()
    intake.feed([Chunk(0, behind)])
    intake.finish()
    assert recording.health.samples == intake.health.samples > 10_000
    assert recording.health.bad_frames > 0
    assert len(recording.segments) == 1


def test_where_no_rate_is_right_the_one_that_was_said_is_kept() -> None:
    told: list[str] = []
    line = TunedLine(250_000, None)
    items = list(RightBaud(line, tell=told.append))
    assert sorted(line.set_to) == sorted(USUAL_BAUDS)
    assert line.set_to[-1] == line.baud == 250_000
    assert "nor at any usual rate; back to 250000" in told[-1]
    assert [item.words for item in items if isinstance(item, Reopened)] == told
    assert sum(isinstance(item, Chunk) for item in items) == 800


def test_a_rate_that_the_port_does_not_have_is_passed_over() -> None:
    line = TunedLine(115_200, 57_600, has=(57_600,))
    list(RightBaud(line))
    assert line.set_to == [57_600]


def test_a_silent_board_is_no_garbage() -> None:
    line = TunedLine(115_200, 500_000, noise=0)
    list(RightBaud(line))
    assert line.set_to == []


def test_a_spike_on_an_open_line_is_no_garbage() -> None:
    line = TunedLine(115_200, 500_000, noise=1, steps=FEWEST_BYTES - 1)
    list(RightBaud(line))
    assert line.set_to == []


def test_few_bytes_at_a_wrong_rate_are_garbage_in_the_end() -> None:
    line = TunedLine(115_200, 500_000, noise=1)
    list(RightBaud(line))
    assert line.set_to == [500_000]
