"""What do the pins of a board see while the engine turns? For real firmware in a simulator.

Every edge of encoder, index and marks as a processor cycle, and what each sensor puts out. The true
count is kept beside it, so that whatever the firmware says can be held against it.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strokewise.analysis.samples import IntArray
from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.engine.run import EngineRun
from strokewise.daq.bench.engine.stretch import Stretch
from strokewise.daq.bench.rig.board import pressure_at
from strokewise.daq.bench.rig.encoder_model import EncoderModel, even_grid
from strokewise.daq.bench.rig.rig import SensorRig
from strokewise.daq.bench.rig.sensor_model import SensorModel

FloatArray = NDArray[np.float64]

PIN_A, PIN_B, PIN_INDEX, PIN_MARK_1 = range(4)  # and further marks after it
LEVELS_OF_CELL = np.array([0b00, 0b01, 0b11, 0b10])
"""The two levels, B and A, in four cells that follow each other while the count rises."""

VOLT_STEP_S = 0.00005
CHANNELS = 2  # of the simulated converter's input that the drive holds
PULSE_S = 0.0005  # how long an even drive's marks last
PINS_LEAD_S = 0.05  # the board starts and the engine stands still

EDGE = np.dtype([("cycle", "<u8"), ("pin", "u1"), ("level", "u1")])
PINS_HEAD = struct.Struct("<4sIId")


@dataclass(frozen=True, slots=True, eq=False)
class PinDrive:
    """What is done to the pins.

    Attributes
    ----------
    hertz : float
        Processor cycles a second.
    edges : (n,) structured array
        ``cycle``, ``pin`` and ``level``, in the order of time.
    shares : (m, CHANNELS) array
        What each sensor puts out, as a share of the supply, every ``VOLT_STEP_S``.
    count_cycle, count : (k,) arrays
        True count from the start of the drive: from each cycle on.
    first_cell : int
        Where the drive begins, in counts from the encoder's own index.
    """

    hertz: float
    edges: NDArray[np.void]
    shares: FloatArray
    count_cycle: IntArray
    count: IntArray
    first_cell: int = 0

    def count_at(self, cycle: ArrayLike) -> IntArray:
        """Return the true count at processor cycles."""
        place = np.searchsorted(self.count_cycle, np.asarray(cycle), side="right")
        return np.asarray(np.concatenate([[0], self.count])[place])

    def share_at(self, cycle: ArrayLike, channel: int = 0) -> FloatArray:
        """Return what a sensor puts out at processor cycles, as a share of the supply."""
        at_s = np.asarray(cycle, float) / self.hertz
        grid_s = np.arange(len(self.shares)) * VOLT_STEP_S
        return np.asarray(np.interp(at_s, grid_s, self.shares[:, channel]))

    def to_bytes(self) -> bytes:
        """Return the drive as the simulator's harness reads it."""
        head = PINS_HEAD.pack(b"SWD1", len(self.edges), len(self.shares), VOLT_STEP_S)
        return head + self.edges.tobytes() + self.shares.astype("<f4").tobytes()


def pin_drive(
    bench: Bench, run: EngineRun, *, hertz: float = 16e6, lead_s: float = PINS_LEAD_S
) -> PinDrive:
    """Return what the pins see in a run of the bench.

    Counts from nowhere and pulses missed are left out: those are faults of wires, not of edges.

    Parameters
    ----------
    lead_s : float
        The run begins so long after the board is switched on.
    """
    rng = np.random.default_rng((bench.seed, 0x70696E73))
    rig = bench.rig
    stretch = Stretch.of_run(run)
    track = EncoderModel(rig.encoder, rng).follow(run.time_s, run.crank_deg, run.speed_rpm)
    when_s, cell = cells_crossed(track.time_s, track.lines, track.edges)
    cycle = _cycles(when_s + lead_s + rig.encoder.delay_s, hertz)
    first = int(cells_at(track.lines[:1], track.edges)[0])
    found = [quadrature_edges(cycle, cell, first)]
    encoder = rig.encoder
    moves = [
        (PIN_MARK_1 - 1 + mark.input, track.crank_deg, mark.at_deg, mark.width_deg,
         mark.period_deg, mark.delay_s)
        for mark in rig.marks
    ]  # fmt: skip
    if encoder.index:
        width, period = encoder.index_width_counts, float(encoder.counts_per_rev)
        moves.append((PIN_INDEX, track.lines, 0.0, width, period, encoder.delay_s))
    for pin, position, at, width, period, delay_s in moves:
        edge_s, level = pulse_edges(track.time_s, position, at, width, period)
        found.append(_edges(_cycles(edge_s + lead_s + delay_s, hertz), pin, level))
    edges = np.concatenate(found)
    shares = np.column_stack([_share(bench, stretch, sensor) for sensor in rig.sensors[:CHANNELS]])
    lead = np.repeat(shares[:1], round(lead_s / VOLT_STEP_S), axis=0)
    shares = np.concatenate([lead, shares])
    shares = np.pad(shares, ((0, 0), (0, CHANNELS - shares.shape[1])))
    order = np.argsort(edges["cycle"], kind="stable")
    return PinDrive(hertz, edges[order], shares, cycle, cell - first, first)


def even_drive(
    edges_per_s: float,
    seconds: float,
    *,
    hertz: float = 16e6,
    jitter: float = 0.0,
    marks_per_s: float = 0.0,
    seed: int = 1,
) -> PinDrive:
    """Return an encoder turned at one speed, to find where a board begins to lose counts.

    Parameters
    ----------
    jitter : float
        Standard deviation of each edge's moment, as a share of the time between two; at most a
        quarter, so that two edges are never nearer than half of it. Data sheets of encoders
        commonly promise 90° ± 45° between the channels, which is that (common practice, no source).
    marks_per_s : float
        So often index and two marks rise, all in one moment and at any phase of the edges: the
        most that can come in between.
    """
    rng = np.random.default_rng(seed)
    number = np.arange(1, int(edges_per_s * seconds) + 1)
    uneven: FloatArray = np.clip(rng.normal(0.0, jitter, len(number)), -0.25, 0.25)
    cycle = _cycles(PINS_LEAD_S + (number + uneven) / edges_per_s, hertz)
    found = [quadrature_edges(cycle, number, 0)]
    rises_s = PINS_LEAD_S + np.sort(rng.uniform(0.0, seconds, int(marks_per_s * seconds)))
    for pin in (PIN_INDEX, PIN_MARK_1, PIN_MARK_1 + 1):
        found.append(_edges(_cycles(rises_s, hertz), pin, 1))
        found.append(_edges(_cycles(rises_s + PULSE_S, hertz), pin, 0))
    edges = np.concatenate(found)
    half = np.full((2, CHANNELS), 0.5)
    order = np.argsort(edges["cycle"], kind="stable")
    return PinDrive(hertz, edges[order], half, cycle, number)


def cells_at(lines: FloatArray, edges: FloatArray) -> IntArray:
    """Return the cell in which each position stands; ``edges`` are the lines within a turn."""
    per_rev = len(edges)
    turn = np.floor(lines / per_rev)
    within = np.searchsorted(edges, lines - turn * per_rev, side="right") - 1
    return np.asarray((turn * per_rev).astype(np.int64) + within)


def cells_crossed(
    time_s: FloatArray, lines: FloatArray, edges: FloatArray
) -> tuple[FloatArray, IntArray]:
    """Return when each line was crossed, and the cell entered, for straight lines between times."""
    cell = cells_at(lines, edges)
    step = np.diff(cell)
    many = np.abs(step)
    interval = np.repeat(np.arange(len(step)), many)
    nth = np.arange(len(interval)) - np.repeat(np.cumsum(many) - many, many)
    up = step[interval] > 0
    entered = cell[interval] + np.where(up, nth + 1, -nth - 1)
    line = np.where(up, entered, entered + 1)
    at = np.floor_divide(line, len(edges)) * float(len(edges)) + edges[line % len(edges)]
    return _moments(time_s, lines, interval, at), entered


def pulse_edges(
    time_s: FloatArray, position: FloatArray, at: float, width: float, period: float
) -> tuple[FloatArray, IntArray]:
    """Return when the level of a pulse from ``at`` to ``at + width`` changes, and to what."""
    whens, levels = [], []
    for side, level_up in ((at, 1), (at + width, 0)):
        turn = np.floor((position - side) / period)
        interval = np.flatnonzero(np.diff(turn))
        up = turn[interval + 1] > turn[interval]
        edge = np.where(up, turn[interval + 1], turn[interval]) * period + side
        whens.append(_moments(time_s, position, interval, edge))
        levels.append(np.where(up, level_up, 1 - level_up))
    return np.concatenate(whens), np.concatenate(levels)


def quadrature_edges(cycle: IntArray, cell: IntArray, first: int) -> NDArray[np.void]:
    """Return the edges of A and B that go with cells entered one after the other."""
    levels = LEVELS_OF_CELL[cell % 4]
    before = LEVELS_OF_CELL[np.concatenate([[first], cell[:-1]]) % 4]
    changed = levels ^ before
    pin = np.where(changed == 1, PIN_A, PIN_B)
    start = LEVELS_OF_CELL[first % 4]
    at_start = _edges(np.zeros(2, np.int64), np.array([PIN_A, PIN_B]),
                      np.array([start & 1, start >> 1]))  # fmt: skip
    return np.concatenate([at_start, _edges(cycle, pin, (levels >> pin) & 1)])


def _share(bench: Bench, stretch: Stretch, sensor: SensorRig) -> FloatArray:
    model = SensorModel(
        sensor,
        adc_bits=bench.rig.board.adc_bits,
        atmosphere_bar=bench.engine.atmosphere.pressure_bar,
        rng=np.random.default_rng((bench.seed, 0x766F6C74)),
    )
    model.follow(stretch.time_s, pressure_at(stretch, sensor))
    return model.share(even_grid(0.0, float(stretch.time_s[-1]), VOLT_STEP_S))


def _moments(
    time_s: FloatArray, position: FloatArray, interval: IntArray, at: FloatArray
) -> FloatArray:
    before, after = position[interval], position[interval + 1]
    part = np.clip((at - before) / (after - before), 0.0, 1.0)
    return np.asarray(time_s[interval] + part * (time_s[interval + 1] - time_s[interval]))


def _edges(cycle: IntArray, pin: ArrayLike, level: ArrayLike) -> NDArray[np.void]:
    edges = np.empty(len(cycle), EDGE)
    edges["cycle"], edges["pin"], edges["level"] = cycle, pin, level
    return edges


def _cycles(time_s: FloatArray, hertz: float) -> IntArray:
    return np.asarray(np.round(time_s * hertz), np.int64)
