"""A computer that sleeps, stands still or has its clock set while recording: said, and survived."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from suite_sources import GivenSource

from strokewise.analysis.samples import Board
from strokewise.daq.clock_watch import ClockWatch, ClockWatched
from strokewise.daq.patient import PatientSource
from strokewise.daq.recording.container import Chunk, Item, open_contents, read_file
from strokewise.daq.recording.read import read_recording
from strokewise.daq.recording.record import Recorder
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Hello, sample_blocks

BLOCK_US = 8_000
BLOCKS_A_MINUTE = 60_000_000 // BLOCK_US


class Computer:
    """Three clocks, moved by hand."""

    def __init__(self) -> None:
        self.running_s, self.through_sleep_s, self.of_day_s = 100.0, 100.0, 1e9
        self.watch = ClockWatch(
            lambda: self.running_s, lambda: self.through_sleep_s, lambda: self.of_day_s
        )

    def run(self, seconds: float) -> None:
        self.running_s += seconds
        self.sleep(seconds)

    def sleep(self, seconds: float) -> None:
        self.through_sleep_s += seconds
        self.of_day_s += seconds


def sleep(computer: Computer) -> None:
    computer.sleep(60.0)


def stand_still(computer: Computer) -> None:
    computer.run(60.0)


def set_forward(computer: Computer) -> None:
    computer.of_day_s += 3600.0


def set_back(computer: Computer) -> None:
    computer.of_day_s -= 7200.0


@pytest.mark.parametrize(
    ("befall", "said"),
    [
        (sleep, "this computer slept for 60 s"),
        (stand_still, "this program stood still for 60 s"),
        (set_forward, "this computer's clock was set forward by 3600 s"),
        (set_back, "this computer's clock was set back by 7200 s"),
    ],
)
def test_each_is_told_once_and_in_one_line(befall, said: str) -> None:
    computer = Computer()
    for _ in range(100):
        computer.run(0.1)
        assert computer.watch.look() == []
    befall(computer)
    (line,) = computer.watch.look()
    assert line.startswith(said)
    assert "\n" not in line
    computer.run(0.1)
    assert computer.watch.look() == []


def test_a_time_server_and_a_busy_machine_are_no_news() -> None:
    computer = Computer()
    for second in range(100):
        computer.run(1.5)
        computer.of_day_s += 0.5 if second % 2 else -0.5
        assert computer.watch.look() == []


@pytest.mark.parametrize("befall", [sleep, set_forward, set_back])
def test_a_recording_goes_on_with_a_note_and_a_counted_gap(befall, tmp_path: Path) -> None:
    computer, told, path = Computer(), [], tmp_path / "kept.swr"
    slept = befall is sleep
    missed = BLOCKS_A_MINUTE if slept else 0
    encoder, counts = FrameEncoder(), np.arange(16 * (600 + missed)) * 3
    blocks = list(sample_blocks(1000, 500, counts, 100 + counts % 7))
    frames = [encoder.encode(Hello(Board("bench board", 2400, 12, ("pressure",), 7)))]
    frames += [encoder.encode(block) for block in blocks]

    def delivered() -> Iterator[Item]:
        for number, frame in enumerate(frames):
            if not 300 < number <= 300 + missed:
                computer.run(BLOCK_US * 1e-6)
                yield Chunk(0, frame)
            elif number == 301:
                befall(computer)
        return

    class Line(GivenSource):
        def __iter__(self) -> Iterator[Item]:
            for number, item in enumerate(delivered()):
                if number == 301 and not slept:
                    befall(computer)
                yield item

    with RecordingWriter(path, {}) as writer:
        source = PatientSource(
            lambda: ClockWatched(Line(), computer.watch.look, told.append),
            clock=lambda: computer.running_s,
        )
        list(Recorder(source, writer).blocks())
        source.close()
    recording = read_recording(path)
    assert recording.notes == tuple(told)
    assert len(told) == 1
    assert recording.health.samples == 600 * 16
    assert recording.health.lost_frames == missed
    assert recording.health.segments == 1
    items = open_contents(read_file(path)).items
    times = [item.host_us for item in items if isinstance(item, Chunk)]
    assert times == sorted(times)
