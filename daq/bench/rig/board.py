"""What does the board send while the engine turns? Hellos, blocks of samples, latched events."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.samples import INDEX_INPUT, Board, IntArray
from strokewise.daq.bench.engine.runner import runner_bar
from strokewise.daq.bench.engine.stretch import Stretch
from strokewise.daq.bench.rig.encoder_model import EncoderModel, EncoderTrack
from strokewise.daq.bench.rig.rig import BoardRig, MarkPickup, Rig, SensorRig
from strokewise.daq.bench.rig.sensor_model import SensorModel
from strokewise.daq.wire.encoder import FrameEncoder, Sendable, encode_lines
from strokewise.daq.wire.frames import Event, Hello, SampleBlock

FloatArray = NDArray[np.float64]

BOOT_US = 350_000  # board time at which a board that starts anew sends its first sample
JITTER_SIGMAS = 6.0  # a sample is taken as done when it is surely over


@dataclass(slots=True)
class Boot:
    """One start of the board, and how far it has got."""

    number: int
    begins_s: float
    ends_s: float
    base_us: int
    encoder: FrameEncoder = field(default_factory=FrameEncoder)
    cleared: int | None = None
    samples: int = 0
    hello_due_s: float = 0.0
    counts: list[int] = field(default_factory=list)
    readings: list[NDArray[np.uint16]] = field(default_factory=list)

    def board_us(self, time_s: float, clock_ppm: float) -> int:
        """Return the board's time at a true time, not yet wrapped."""
        return self.base_us + round((time_s - self.begins_s) * 1e6 * (1.0 + clock_ppm * 1e-6))


class BoardModel:
    """A board that follows the bench, stretch by stretch.

    Parameters
    ----------
    rig : Rig
    atmosphere_bar : float
    seed : int
        Each part of the rig draws from a stream of its own, so that one more mark or channel
        leaves the noise of the others as it was.
    begins_s : float
        When the board is switched on.
    """

    def __init__(
        self, rig: Rig, *, atmosphere_bar: float, seed: int, begins_s: float = 0.0
    ) -> None:
        encoder, clock, *channels = (
            np.random.default_rng(child) for child in np.random.SeedSequence(seed).spawn(2 + 4)
        )
        self.rig = rig
        self.encoder = EncoderModel(rig.encoder, encoder)
        self._atmosphere_bar = atmosphere_bar
        self._channel_rngs = channels
        self._clock_rng = clock
        self._mark_rngs = {
            mark.input: np.random.default_rng((seed, mark.input)) for mark in rig.marks
        }
        self._sensors = [self._sensor(index) for index in range(len(rig.sensors))]
        ends = [begins_s + at for at in sorted(rig.board.restarts_s)]
        starts = [begins_s, *(end + rig.board.off_s for end in ends)]
        self._boots = [
            Boot(
                int(clock.integers(1, 2**31)),
                begin,
                end,
                rig.board.starts_at_us if begin == begins_s else BOOT_US,
                hello_due_s=begin,
            )
            for begin, end in zip(starts, [*ends, np.inf], strict=True)
        ]

    def _sensor(self, index: int) -> SensorModel:
        return SensorModel(
            self.rig.sensors[index],
            adc_bits=self.rig.board.adc_bits,
            atmosphere_bar=self._atmosphere_bar,
            rng=self._channel_rngs[index],
        )

    def change(self, rig: Rig) -> None:
        """Go on with other faults: the board, counts, direction, ratio and channels stay.

        Whoever changes those must start a new board.
        """
        changed = [
            index
            for index, (old, new) in enumerate(zip(self.rig.sensors, rig.sensors, strict=True))
            if old != new
        ]
        self.rig = rig
        self.encoder.rig = rig.encoder
        for index in changed:
            self._sensors[index] = self._sensor(index)
        for mark in rig.marks:
            self._mark_rngs.setdefault(mark.input, np.random.default_rng(mark.input))

    @property
    def boots(self) -> tuple[Boot, ...]:
        """The board's starts that lie in what was followed so far."""
        return tuple(boot for boot in self._boots if boot.cleared is not None)

    def follow(self, stretch: Stretch) -> list[tuple[float, bytes]]:
        """Return what is sent in the next stretch, each with the true time at which it is ready.

        A live bench should not ask for long stretches: their samples come all at once.
        """
        track = self.encoder.follow(stretch.time_s, stretch.crank_deg, stretch.speed_rpm)
        for model in self._sensors:
            model.follow(stretch.time_s, pressure_at(stretch, model.sensor))
        end_s = float(stretch.time_s[-1])
        sent: list[tuple[float, bytes]] = []
        for boot in self._boots:
            if boot.begins_s <= end_s and boot.ends_s > track.begins_s:
                sent += self._during(boot, track, end_s)
        return sent

    def close(self) -> list[tuple[float, bytes]]:
        """Return the samples that still wait for their block to fill."""
        last = self._boots[-1]
        return [(when, self._bytes(last, frame)) for when, frame in self._flush(last)]

    def _bytes(self, boot: Boot, frame: Sendable) -> bytes:
        if self.rig.board.wire == "lines":
            return encode_lines(frame, checked=self.rig.board.checksum)
        return boot.encoder.encode(frame)

    def _during(self, boot: Boot, track: EncoderTrack, end_s: float) -> list[tuple[float, bytes]]:
        if boot.cleared is None:
            start_count = self.rig.encoder.start_count
            shown = int(track.cell_at(boot.begins_s))
            boot.cleared = 0 if start_count is None else shown - start_count
        until_s = min(end_s, boot.ends_s)
        items = list(self._hellos(boot, until_s))
        items += self._events(boot, track, until_s)
        items += self._blocks(boot, track, until_s)
        if boot.ends_s <= end_s:
            items += self._flush(boot)
        items.sort(key=lambda item: item[0])
        return [(when, self._bytes(boot, frame)) for when, frame in items]

    def _hellos(self, boot: Boot, until_s: float) -> Iterator[tuple[float, Sendable]]:
        while boot.hello_due_s <= until_s:
            yield boot.hello_due_s, Hello(hello_board(self.rig, boot.number))
            boot.hello_due_s += self.rig.board.hello_every_s

    def _events(
        self, boot: Boot, track: EncoderTrack, until_s: float
    ) -> Iterator[tuple[float, Sendable]]:
        pulses = [(INDEX_INPUT, track.index_times_s())]
        pulses += [(mark.input, self._mark_times_s(track, mark)) for mark in self.rig.marks]
        for number, times_s in pulses:
            times_s = times_s[(times_s >= boot.begins_s) & (times_s <= until_s)]
            counts = track.cell_at(times_s) - (boot.cleared or 0)
            for when, count in zip(times_s.tolist(), counts.tolist(), strict=True):
                t_us = boot.board_us(when, self.rig.board.clock_ppm)
                yield when, Event(t_us & 0xFFFFFFFF, count, number)

    def _mark_times_s(self, track: EncoderTrack, mark: MarkPickup) -> FloatArray:
        times_s = track.mark_times_s(mark)
        return times_s[self._mark_rngs[mark.input].random(len(times_s)) >= mark.missed]

    def _blocks(
        self, boot: Boot, track: EncoderTrack, until_s: float
    ) -> Iterator[tuple[float, Sendable]]:
        """Take the samples that are over by ``until_s`` and send those that fill a block."""
        board = self.rig.board
        longest_s = max(sensor.delay_s for sensor in self.rig.sensors)
        over_s = until_s - longest_s - JITTER_SIGMAS * board.jitter_us * 1e-6
        step_s = _sample_step_s(board)
        due = int(np.floor((over_s - boot.begins_s) / step_s + 1e-9)) + 1 - boot.samples
        if due <= 0:
            return
        when = boot.begins_s + (boot.samples + np.arange(due)) * step_s
        boot.samples += due
        taken = when + self._clock_rng.normal(0.0, 1.0, due) * board.jitter_us * 1e-6
        counts: IntArray = track.cell_at(taken) - (boot.cleared or 0)
        boot.counts += counts.tolist()
        boot.readings += list(np.column_stack([model.read(taken) for model in self._sensors]))
        while len(boot.counts) >= board.samples_per_frame:
            yield self._block(boot, board.samples_per_frame)

    def _flush(self, boot: Boot) -> Iterator[tuple[float, Sendable]]:
        if boot.counts:
            yield self._block(boot, len(boot.counts))

    def _block(self, boot: Boot, size: int) -> tuple[float, Sendable]:
        board = self.rig.board
        first = boot.samples - len(boot.counts)
        block = SampleBlock.pack(
            boot.base_us + first * board.period_us,
            board.period_us,
            boot.counts[:size],
            np.array(boot.readings[:size]),
        )
        del boot.counts[:size], boot.readings[:size]
        return boot.begins_s + (first + size - 1) * _sample_step_s(board), block


def hello_board(rig: Rig, boot: int) -> Board:
    """Return what the board says of itself."""
    names = {mark.input: mark.name for mark in rig.marks}
    return Board(
        device=rig.board.device,
        counts_per_rev=rig.encoder.counts_per_rev,
        adc_bits=rig.board.adc_bits,
        adc=tuple(sensor.name for sensor in rig.sensors),
        boot=boot,
        marks=tuple(names.get(number, "") for number in range(1, max(names, default=0) + 1)),
    )


def pressure_at(stretch: Stretch, sensor: SensorRig) -> FloatArray:
    """Return the true absolute pressure where a sensor is screwed in, (n,) bar."""
    if sensor.place == "plug hole":
        return stretch.pressure_bar[:, sensor.cylinder - 1]
    if sensor.place == "manifold":
        return stretch.manifold_bar
    if sensor.place == "runner":
        return runner_bar(stretch, sensor.cylinder)
    return np.full(len(stretch), stretch.engine.atmosphere.pressure_bar)


def _sample_step_s(board: BoardRig) -> float:
    """Return the true time between samples of a clock that runs ``clock_ppm`` too fast."""
    return board.period_us * 1e-6 / (1.0 + board.clock_ppm * 1e-6)
