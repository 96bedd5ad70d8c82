"""Recordings for the question "which TDC?", a third of them nasty, each labelled by a fixed rule.

**The rule of the labels.** It looks at how the engine was really turned, at the true pressures and
at what was drawn to go wrong, never at what the tool makes of it. A *passage* carries the crank
from 45° on one side of a TDC to 30° on the other, either way round. Only what comes after the last
slip of the clamp or restart of the board counts. The first that applies is the label:

*outside* of what any trace can show. The firing order stated is wrong and one of the two sensed
cylinders shows no compression of ``RISE_BAR`` (plug out, a valve that leaks, a non-return valve in
the hose): one compressing cylinder cannot contradict an order; the call is judged at the cylinder
that compresses, the others are what the person said. Or the valves never open and the profile takes
each turn of the crank for two: that is, sample by sample, a sound engine, and there is no angle
that both frames share to judge a call by.

*undecidable*: the pressure in the sensed cylinder never rose by ``NO_RISE_BAR`` over the
atmosphere, because the crank did not come that far or the charge got out (plug out, valves); or it
cannot reach the sensor (a non-return valve in the hose); or the profile is of another rig (counts,
ratio, direction, firing order); or the valves never open, so that every TDC compresses.

*decidable*: compression TDC was passed, each time with a true rise over the atmosphere of
``RISE_BAR`` or more, and what of it the sensor's range can show is ``CLEAR_OF_NOISE`` times its
noise and hum; overlap TDC was passed too, or the crank was rocked both ways; and where a nasty must
first be told from a sound engine (a slip, a restart, an unknown gain, a top cut off, hum, noise),
compression TDC was passed twice and overlap once.

*borderline*: what is left: weak compressions, signals in the noise, a compression left right after
its TDC, too few turns beside a fault; or a sensor that comes off before the end: what was seen
before it stays the answer, as when valves are set, and may be too little. Deciding these is no
fault and leaving them is none. They are counted in the table, so that nobody has to believe that
they are few.

Whatever the label, a wrong call is a wrong call.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from phase_nasties import BANK_WAYS, NOT_TOGETHER, WAYS, Case, Change, by_hand
from random_benches import Draw, draw, recording_of

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.samples import Recording, Segment
from strokewise.daq.bench.bench import take
from strokewise.daq.bench.engine.run import EngineRun
from strokewise.daq.bench.engine.settings import BenchEngine, Spanner, Starter
from strokewise.daq.bench.engine.solve import simulate
from strokewise.daq.bench.truth import compression_deg, truth

RISE_BAR = 0.8
"""A compression weaker than this (true, over the atmosphere) is borderline."""

NO_RISE_BAR = 0.1
"""Without so much (true, over the atmosphere) there was no compression; exhaust stays under it."""

CLEAR_OF_NOISE = 8.0
"""What of a rise the sensor can show over a third of its noise and half of its hum: averaging over
a bin of crank angle leaves no more of them."""

Label = Literal["decidable", "undecidable", "borderline", "outside"]
LABELS: tuple[Label, ...] = ("decidable", "undecidable", "borderline", "outside")


@dataclass(frozen=True)
class Made:
    """A case turned and decoded.

    Attributes
    ----------
    judged : int or None
        The cylinder at whose firing TDC the call is judged.
    """

    case: Case
    recording: Recording
    judged: int | None
    firing_deg: float
    label: Label
    turned_until_first_deg: float


def case_of(seed: int) -> Case:
    """Draw a case; a third are nasty."""
    return _case(seed, WAYS, 0x7068)


def bank_case_of(seed: int) -> Case:
    """Draw an engine and its turning; a third have something wrong with them, not with the rig."""
    return _case(seed, BANK_WAYS, 0x62616E6B)


def _case(seed: int, pools: Mapping[str, Mapping[str, Change]], stream: int) -> Case:
    rng = np.random.default_rng([seed, stream])
    way = str(rng.choice(["starter", "spanner", "rocked"], p=[0.5, 0.35, 0.15]))
    drawn: Draw = draw(seed, way, lag_known=bool(rng.random() < 0.5), fine=bool(rng.random() < 0.7))  # type: ignore[arg-type]
    case = Case(drawn.bench, drawn.profile)
    if rng.random() >= 1 / 3:
        return case
    pool = pools[way]
    wanted = int(rng.choice([1, 2, 3], p=[0.6, 0.3, 0.1]))
    for name in rng.permutation(list(pool)).tolist():
        clash = any(name in group and group & set(case.nasties) for group in NOT_TOGETHER)
        if clash or len(case.nasties) >= wanted:
            continue
        changed = pool[name](rng, case)
        if changed is not case:  # the firing order of a twin reads the same the other way round
            case = replace(changed, nasties=(*case.nasties, name))
    return case


def turn(case: Case) -> EngineRun:
    """Turn the engine; coarse physics where only the sensed cylinder matters."""
    hand = by_hand(case)
    alone = (
        hand and "wrong firing order" not in case.nasties and "throttle shut" not in case.nasties
    )
    return simulate(
        case.bench.engine,
        case.bench.turning,
        1_000.0 if hand else 4_000.0,
        case.bench.seed,
        cylinders_simulated=(1,) if alone else None,
        detail="coarse" if hand else "fine",
    )


def made_of(case: Case, run: EngineRun | None = None) -> Made:
    """Turn a case and decode it."""
    run = turn(case) if run is None else run
    taken = take(case.bench, run)
    recording = recording_of(taken)
    if case.blind_from is not None:
        segments = tuple(blinded(segment, case.blind_from) for segment in recording.segments)
        recording = replace(recording, segments=segments)
    label = label_of(case, run)
    second = label == "outside" and not _shows(case, run, 0)
    cylinder = case.bench.rig.sensors[-1 if second else 0].cylinder
    firing_deg = float(truth(taken)["firing"][str(cylinder)])
    judged = None if seems_sound(case) else cylinder
    return Made(case, recording, judged, firing_deg, label, _until_first_deg(run))


def blinded(segment: Segment, share: float) -> Segment:
    """Let the first sensor show the open air from a share of a segment on."""
    samples = segment.samples
    begin = int(share * len(samples))
    readings = samples.readings.copy()
    low = np.percentile(readings[:, 0], 20.0) if len(readings) else 0.0
    rng = np.random.default_rng(len(samples))
    readings[begin:, 0] = np.clip(low + rng.normal(0, 2, len(samples) - begin), 0, 65535)
    return replace(segment, samples=replace(samples, readings=readings))


def _passages_s(time_s: FloatArray, crank_deg: FloatArray, at_deg: float) -> list[float]:
    """Return when TDC ``at_deg`` (every 720°) was passed, from 45° on one side to 30° beyond."""
    where = (crank_deg - at_deg + 360.0) % 720.0 - 360.0
    found: list[float] = []
    for way in (1.0, -1.0):
        angle = way * where
        before = (angle > -110.0) & (angle < -45.0)
        beyond = (angle > 30.0) & (angle < 110.0)
        zone = np.select([before, beyond, np.abs(angle) > 110.0], [1, 2, 3], 0)
        told = np.flatnonzero(zone)
        change = told[np.flatnonzero(np.diff(zone[told], prepend=0))]
        entered = (zone[change[1:]] == 2) & (zone[change[:-1]] == 1)
        found += time_s[change[1:][entered]].tolist()
    return sorted(found)


def label_of(case: Case, run: EngineRun) -> Label:
    """Return the label by the rule at the top."""
    engine, nasties = case.bench.engine, set(case.nasties)
    both = all(_shows(case, run, sensor) for sensor in range(len(case.bench.rig.sensors)))
    if seems_sound(case) or ("wrong firing order" in nasties and not both):
        return "outside"
    at = compression_deg(engine, 1)
    if case.hopeless or no_compression(engine, run.pressure_bar[:, 0]):
        return "undecidable"
    if case.blind_from is not None:
        return "borderline"
    after = run.time_s > case.since_s
    time_s, crank_deg = run.time_s[after], run.crank_deg[after]
    compressed = _passages_s(time_s, crank_deg, at)
    overlapped = _passages_s(time_s, crank_deg, at + 360.0)
    outside_bar = engine.atmosphere.pressure_bar
    rises = [
        float(run.pressure_bar[(run.time_s > t - 1.5) & (run.time_s <= t), 0].max()) - outside_bar
        for t in compressed
    ]
    if not rises or min(rises) < RISE_BAR:
        return "borderline"
    if not overlapped and (case.twice or not _both_ways(run)):
        return "borderline"
    if case.twice and len(rises) < 2:
        return "borderline"
    sensor = case.bench.rig.sensors[0]
    top_bar = sensor.high_bar - (0.0 if sensor.reference == "gauge" else outside_bar)
    noise_bar = sensor.noise_bar / 3.0 + sensor.hum_bar / 2.0
    if min(*rises, top_bar) < CLEAR_OF_NOISE * noise_bar:
        return "borderline"
    return "decidable"


def _shows(case: Case, run: EngineRun, sensor: int) -> bool:
    """Return whether a compression of ``RISE_BAR`` came out of the hose of a sensor."""
    rig = case.bench.rig.sensors[sensor]
    rise = float(run.pressure_bar[:, rig.cylinder - 1].max())
    return rise - case.bench.engine.atmosphere.pressure_bar >= RISE_BAR and not rig.non_return_valve


def seems_sound(case: Case) -> bool:
    """Return whether valves that never open and a doubled angle make a sound engine's trace."""
    really, told = case.bench.rig.encoder, case.profile.encoder
    turns = really.counts_per_rev * really.drive_ratio
    said = (told.counts_per_rev or 0) * told.drive_ratio
    return "valves never open" in case.nasties and abs(turns - 2.0 * said) < 0.01 * turns


def no_compression(engine: BenchEngine, pressure_bar: FloatArray) -> bool:
    """Return whether the true pressure in the sensed cylinder shows no compression at all."""
    return float(pressure_bar.max()) - engine.atmosphere.pressure_bar < NO_RISE_BAR


def _both_ways(run: EngineRun) -> bool:
    """Return whether the crank was rocked through compression TDC from both sides."""
    return not isinstance(run.turning, Starter | Spanner)


def _until_first_deg(run: EngineRun) -> float:
    """Return the way turned until the first compression of cylinder 1 begins (180° before TDC)."""
    at = compression_deg(run.engine, 1)
    way = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(run.crank_deg)))])
    where = (run.crank_deg - at + 360.0) % 720.0 - 360.0
    begins = np.flatnonzero((where > -180.0) & (where < -90.0))
    return float(way[begins[0]]) if len(begins) else float("nan")
