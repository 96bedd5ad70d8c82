"""Very many cheap recordings: parts of a bank of turned engines, each on a rig of its own.

The engine is what costs, so a bank of engines with their own nasties (burnt valves, plugs out,
pauses, turned backwards, …) is turned once and each run is used many times. Every time another part
of it, begun and ended anywhere, is seen by another encoder, sensor and board, with other nasties.
Samples are taken straight from the rig's models: bytes and frames are left out, lost frames are
samples cut out.

What only several cycles can show (a slip, a profile of another rig, a sensor that comes off) is put
on parts that hold those cycles: one that ends half a turn after a slip looks sound to anybody.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from phase_draws import bank_case_of, blinded, no_compression, seems_sound, turn
from phase_nasties import NOT_TOGETHER, RIG, RIG_LONG, Case, by_hand
from random_benches import draw

from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Board, Samples, Segment
from strokewise.daq.bench.engine.run import EngineRun
from strokewise.daq.bench.engine.stretch import Stretch
from strokewise.daq.bench.rig.board import pressure_at
from strokewise.daq.bench.rig.encoder_model import EncoderModel, shaft_deg
from strokewise.daq.bench.rig.rig import Slip
from strokewise.daq.bench.rig.sensor_model import SensorModel
from strokewise.daq.bench.truth import compression_deg

NASTY = 1 / 3
"""Share of rigs with something wrong, beside a third of the engines."""

SLOW_HZ = 500.0
"""Samples a second by hand: half a degree each at 40 rev/min."""

FAST_HZ = 1_000.0

LONG_DEG = 2_160.0
"""Three cycles: parts that hold so much may carry what only several cycles can show."""

AFTER_SLIP_DEG = 1_440.0
"""Two cycles after a slip: it is seen by the compressions that come after it."""

FRAME = 16
"""Samples that are lost together."""


@dataclass(frozen=True)
class Part:
    """A part of a run as a board saw it; ``hopeless``: nothing in it can decide.

    ``judged`` is None outside of what any trace can show.
    """

    number: int
    segments: tuple[Segment, ...]
    profile: Profile
    nasties: tuple[str, ...]
    hopeless: bool
    judged: int | None
    firing_deg: float


def run_parts(count: int, bank_size: int, first: int) -> Iterator[Part]:
    """Yield the parts, one for each number; the bank is turned before the first."""
    cases = map(bank_case_of, range(first, first + bank_size))
    bank = [(case, _slim(turn(case), 2 if by_hand(case) else 1)) for case in cases]
    for number in range(count):
        rng = np.random.default_rng([first, number, 0x70617274])
        case, run = bank[number % bank_size]
        yield _part(number, case, run, rng)


def _slim(run: EngineRun, every: int) -> EngineRun:
    """Return what the parts need of a run: cylinder 1, and by hand every second sample."""
    return replace(
        run,
        time_s=run.time_s[::every].copy(),
        crank_deg=run.crank_deg[::every].copy(),
        speed_rpm=run.speed_rpm[::every].copy(),
        pressure_bar=run.pressure_bar[::every, :1].copy(),
        temperature_k=run.temperature_k[:0, :1],
        manifold_bar=run.manifold_bar[::every].copy(),
    )


def _part(number: int, case: Case, run: EngineRun, rng: np.random.Generator) -> Part:
    begin, end = np.sort(rng.integers(0, len(run.time_s), 2)).tolist()
    stretch = Stretch.of_run(run).part(begin, max(end, begin + 1))
    way = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(stretch.crank_deg)))])
    case = _on_a_rig(case, rng, long=bool(way[-1] >= LONG_DEG))
    if way[-1] >= LONG_DEG and "slip" in case.nasties:
        latest = float(np.interp(way[-1] - AFTER_SLIP_DEG, way, stretch.time_s))
        case = _slipping(case, rng, latest - float(stretch.time_s[0]))
    segment, firing_deg = _seen(case, stretch, rng)
    return Part(
        number,
        (segment,),
        case.profile,
        case.nasties,
        case.hopeless or no_compression(run.engine, stretch.pressure_bar[:, 0]),
        None if seems_sound(case) else 1,
        firing_deg,
    )


def _on_a_rig(case: Case, rng: np.random.Generator, *, long: bool) -> Case:
    """Return the engine's case with another rig, a third of these nasty."""
    other = draw(int(rng.integers(2**31)), "rocked", lag_known=bool(rng.random() < 0.5))
    rate_hz = SLOW_HZ if by_hand(case) else FAST_HZ
    rig = replace(other.bench.rig, board=replace(other.bench.rig.board, sample_rate_hz=rate_hz))
    profile = replace(case.profile, encoder=other.profile.encoder, sensors=other.profile.sensors)
    case = replace(case, bench=replace(case.bench, rig=rig), profile=profile)
    if rng.random() > NASTY:
        return case
    pool = {**RIG, **RIG_LONG} if long and not by_hand(case) else RIG
    wanted = int(rng.choice([1, 2, 3], p=[0.6, 0.3, 0.1]))
    added = 0
    for name in rng.permutation(list(pool)).tolist():
        clash = any(name in group and group & set(case.nasties) for group in NOT_TOGETHER)
        if clash or added >= wanted:
            continue
        turning = case.bench.turning
        case = replace(pool[name](rng, case), nasties=(*case.nasties, name))
        case = replace(case, bench=replace(case.bench, turning=turning))
        added += 1
    return case


def _slipping(case: Case, rng: np.random.Generator, latest_s: float) -> Case:
    encoder = case.bench.rig.encoder
    slips = tuple(
        Slip(by_deg=s.by_deg, at_time_s=float(rng.uniform(0.0, latest_s)), lasts_s=s.lasts_s)
        for s in encoder.slips
    )
    rig = replace(case.bench.rig, encoder=replace(encoder, slips=slips))
    return replace(case, bench=replace(case.bench, rig=rig))


def _seen(case: Case, stretch: Stretch, rng: np.random.Generator) -> tuple[Segment, float]:
    """Return what the rig's board shows, and cylinder 1's firing TDC in its frame at the end."""
    rig, engine = case.bench.rig, case.bench.engine
    time_s = stretch.time_s
    step_s = 1.0 / rig.board.sample_rate_hz
    taken = np.arange(time_s[0], time_s[-1], step_s)
    taken += rng.normal(0.0, rig.board.jitter_us * 1e-6, len(taken))
    encoder = EncoderModel(rig.encoder, rng)
    count = encoder.follow(time_s, stretch.crank_deg, stretch.speed_rpm).cell_at(taken)
    readings = []
    for sensor in rig.sensors:
        model = SensorModel(
            sensor,
            adc_bits=rig.board.adc_bits,
            atmosphere_bar=engine.atmosphere.pressure_bar,
            rng=rng,
        )
        model.follow(time_s, pressure_at(stretch, sensor))
        readings.append(model.read(taken))
    samples = Samples(
        np.round((taken - time_s[0]) * 1e6).astype(np.int64),
        count,
        np.column_stack(readings),
        np.zeros(len(taken), np.bool_),
    )
    if rig.link.lost_frames:
        samples = _with_lost(samples, rig.link.lost_frames, rng)
    board = Board(counts_per_rev=rig.encoder.counts_per_rev, adc_bits=rig.board.adc_bits)
    segment = Segment(0, board, samples)
    if case.blind_from is not None:
        segment = blinded(segment, case.blind_from)
    return segment, _firing_1_deg(case, stretch, encoder)


def _with_lost(samples: Samples, share: float, rng: np.random.Generator) -> Samples:
    frame = np.arange(len(samples)) // FRAME
    kept = rng.random(int(frame[-1]) + 1 if len(frame) else 0)[frame] >= share
    at = np.flatnonzero(kept)
    return Samples(
        samples.time_us[at],
        samples.count[at],
        samples.readings[at],
        np.diff(at, prepend=-1) > 1,
    )


def _firing_1_deg(case: Case, stretch: Stretch, encoder: EncoderModel) -> float:
    rig = case.bench.rig.encoder
    at = compression_deg(case.bench.engine, 1)
    crank = at + 720.0 * round((float(stretch.crank_deg[-1]) - at) / 720.0)
    slipped = sum(slip.by_deg for slip, _ in encoder.slips_begun)
    counts = float(shaft_deg(crank - slipped, rig)) * rig.counts_per_rev / 360.0 * rig.direction
    counts += encoder.false_counts_now
    return counts * 360.0 * rig.direction / (rig.counts_per_rev * rig.drive_ratio) % 720.0
