"""How often does a warning come where nothing is wrong, and how often where it should?

    python tests/benchmarks/warning_rates.py [recordings] [--first N] [--only PART]

Three tables over random simulated engines.

*Sound*: recordings with nothing wrong, turned every way and of both physics. Any warning is a false
alarm, and a TDC that is not given is a refusal: at most 0.5 % of 2,000 are asked for.

*Faults*: each fault by itself, at the sizes a workshop meets, and the warning it should give; with
it, the false alarms of the other warnings.

*Burning*: none may have a TDC off by more than 1° and by twice its half width (0 of 1,000 asked).

*Vacuum range*: sensors that end at 1.05 to 2.5 bar in the plug hole, ten turns by hand, engines of
either physics. Those whose
readings stand at the sensor's end about one of the two TDCs only must decide the stroke in 98 %,
and wrongly in none. What they reach is taken from the true pressure, not from the answer.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from binomial import told
from phase_nasties import ENGINE, RIG, RIG_LONG, Case, Change
from random_benches import Draw, Way, make
from running_benches import Physics, Running, draw_any
from tdc_accuracy import OFF_DEG, OFF_HALVES, apart

from strokewise.analysis.verdict.tracker import Tracker
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.daq.bench.engine.run import EngineRun
from strokewise.daq.bench.engine.settings import Spanner
from strokewise.daq.bench.rig.sensor_model import calibration_points
from strokewise.daq.bench.truth import truth

SOUND: tuple[tuple[Way | Running, Physics], ...] = (
    ("starter", "bench"),
    ("rocked", "bench"),
    ("spanner", "bench"),
    ("run down hot", "bench"),
    ("starter", "second"),
    ("rocked", "second"),
    ("spanner", "second"),
    ("run down hot", "second"),
)
"""Taken in turn, one recording each."""

REFUSED_MOST = 0.005
FULL_SCALES_BAR = (1.05, 1.1, 1.2, 1.5, 2.5)
NEAR_TDC_DEG = 100.0  # a reading belongs to the nearer TDC; at its end it is within so much of it
CLEAR_OF_END_BAR = 0.1


@dataclass(frozen=True)
class Fault:
    """Something wrong, how it is put on a bench, and the warning that it should give.

    ``also`` are warnings that say the same of it in other words, and no false alarm.
    """

    name: str
    way: Way | Running
    change: Callable[[np.random.Generator, Draw], Draw]
    code: str
    also: tuple[str, ...] = ()


def _nasty(change: Change, rng: np.random.Generator, drawn: Draw) -> Draw:
    case = change(rng, Case(drawn.bench, drawn.profile))
    return replace(drawn, bench=case.bench, profile=case.profile)


def _liquid(rng: np.random.Generator, drawn: Draw) -> Draw:
    """Fill 75 to 90 % of the space at TDC; by hand, as nobody would crank it.

    Less makes a petrol engine squeeze as a diesel does, which no trace can tell from one.
    """
    engine = drawn.bench.engine
    swept_cm3 = np.pi / 4 * engine.bore_mm**2 * engine.stroke_mm * 1e-3
    space_cm3 = swept_cm3 / (engine.compression_ratio - 1) + engine.adaptor_volume_cm3
    left_cm3 = engine.adaptor_volume_cm3 - float(rng.uniform(0.75, 0.9)) * space_cm3
    engine = replace(engine, adaptor_volume_cm3=left_cm3)
    return replace(drawn, bench=replace(drawn.bench, engine=engine))


def _as_drawn(rng: np.random.Generator, drawn: Draw) -> Draw:
    return drawn


FAULTS = (
    Fault("liquid in the cylinder", "spanner", _liquid, "liquid-in-cylinder"),
    Fault("clamp slips 12° or more", "starter", partial(_nasty, RIG_LONG["slip"]), "clamp-slip",
          ("tdc-moved",)),
    Fault("throttle shut", "starter", partial(_nasty, ENGINE["throttle shut"]), "throttle-shut"),
    Fault("valve left in the hose", "starter", partial(_nasty, RIG["non-return valve"]),
          "non-return-valve"),
    Fault("counts lost", "starter", partial(_nasty, RIG["lost counts"]), "lost-counts",
          ("tdc-drifts",)),
    Fault("compression release", "release", _as_drawn, "compression-release"),
    Fault("burning", "burning", _as_drawn, "charge-burns"),
    Fault("mixed burning and not", "mixed", _as_drawn, "charge-burns"),
)  # fmt: skip
"""Codes that the product does not know yet count as no hit."""


@dataclass(frozen=True)
class Answer:
    """What a recording was answered with."""

    seed: int
    kind: str
    codes: tuple[str, ...]
    given: bool
    error: float
    half: float
    decided: bool
    wrong: bool
    reached: str = ""


def _answered(seed: int, kind: str, drawn: Draw, reached_to_bar: float | None = None) -> Answer:
    recording, made = make(drawn)
    true = truth(made)
    tracker = Tracker(drawn.profile)
    for segment in recording.segments:
        tracker.feed(segment)
    verdict: Verdict = tracker.verdict(closing=True)
    firing = (verdict.firing_deg or {}).get(1)
    error = half = float("nan")
    if verdict.tdc is not None:
        error = apart(verdict.tdc.angle_deg.value, true["tdc"]["angle"])
        half = verdict.tdc.angle_deg.half_width
    return Answer(
        seed, kind, tuple(sorted({warning.code for warning in verdict.warnings})),
        verdict.tdc is not None, error, half, verdict.decided,
        firing is not None and abs(apart(firing, true["firing"]["1"], 720.0)) > 90.0,
        _reached(made.run, reached_to_bar) if reached_to_bar is not None else "",
    )  # fmt: skip


def sound(seed: int) -> Answer:
    """Answer a sound recording."""
    way, physics = SOUND[seed % len(SOUND)]
    drawn = draw_any(seed, way, lag_known=bool(seed // len(SOUND) % 2), physics=physics)
    return _answered(seed, f"{way}, {physics}", drawn)


def faulty(seed: int, fault: Fault) -> Answer:
    """Answer a recording with one fault."""
    rng = np.random.default_rng([seed, 0x6661756C])
    drawn = fault.change(rng, draw_any(seed, fault.way, lag_known=False))
    return _answered(seed, fault.name, drawn)


def vacuum(seed: int) -> Answer:
    """Answer a recording by hand with a sensor that ends far below the compression."""
    rng = np.random.default_rng([seed, 0x76616375])
    full_bar = FULL_SCALES_BAR[seed % len(FULL_SCALES_BAR)]
    physics: Physics = "second" if seed // len(FULL_SCALES_BAR) % 2 else "bench"
    drawn = draw_any(seed, "spanner", lag_known=False, physics=physics)
    rig = drawn.bench.rig
    sensor = replace(
        rig.sensors[0], low_bar=0.1, high_bar=full_bar, noise_bar=float(rng.uniform(0.001, 0.004)),
        hum_bar=0.0, offset_bar=float(rng.normal(0.0, 0.005)), drift_bar_per_s=0.0,
    )  # fmt: skip
    board = replace(rig.board, sample_rate_hz=500.0, adc_bits=10)
    rig = replace(rig, sensors=(sensor,), board=board)
    turning = Spanner(3600.0, rpm=(10.0, 40.0), pause_s=(0.2, 0.6))
    told_of = replace(drawn.profile.sensors[0], points=calibration_points(sensor, 10))
    profile = replace(drawn.profile, sensors=(told_of,))
    drawn = replace(drawn, bench=replace(drawn.bench, rig=rig, turning=turning), profile=profile)
    return _answered(seed, f"{full_bar:g} bar, {physics}", drawn, full_bar)


def _reached(run: EngineRun, full_bar: float) -> str:
    """Return about which TDCs the true pressure goes past the sensor's end, or 0.1 bar more."""
    pressure_bar = run.pressure_bar[:, 0]
    from_firing = (run.crank_deg + 360.0) % 720.0 - 360.0
    firing = np.abs(from_firing) < NEAR_TDC_DEG
    overlap = np.abs(from_firing) > 360.0 - NEAR_TDC_DEG
    at = [
        name
        for name, near in (("firing", firing), ("overlap", overlap))
        if near.any() and pressure_bar[near].max() >= full_bar
    ]
    beyond = pressure_bar[firing].max() if firing.any() else 0.0
    clear = " clearly" if beyond >= full_bar + CLEAR_OF_END_BAR else ""
    return (" and ".join(at) or "neither") + (clear if at == ["firing"] else "")


def _codes(answers: list[Answer], *, leave_out: tuple[str, ...] = ()) -> str:
    counts = Counter(code for a in answers for code in a.codes if code not in leave_out)
    return (
        ", ".join(f"{code} {told(n, len(answers))}" for code, n in counts.most_common()) or "none"
    )


def show_sound(answers: list[Answer]) -> None:
    """Print false alarms and refusals."""
    refused = [a for a in answers if not a.given]
    print(f"\nsound recordings without a TDC: {told(len(refused), len(answers))}")
    print(f"    asked for at most {REFUSED_MOST:.1%}; seeds {[a.seed for a in refused][:20]}")
    print(f"undecided: {told(sum(not a.decided for a in answers), len(answers))}")
    print(f"wrong stroke: {told(sum(a.wrong for a in answers), len(answers))}")
    print(f"false alarms: {_codes(answers)}")
    for kind in sorted({a.kind for a in answers}):
        mine = [a for a in answers if a.kind == kind]
        alarmed = sum(bool(a.codes) for a in mine)
        print(
            f"    {kind:24} any {told(alarmed, len(mine))}; refused"
            f" {told(sum(not a.given for a in mine), len(mine))}"
        )


def show_fault(fault: Fault, answers: list[Answer]) -> None:
    """Print hits and what else was said."""
    hits = sum(fault.code in a.codes for a in answers)
    print(f"\n{fault.name}: {fault.code} in {told(hits, len(answers))}")
    print(f"    beside it: {_codes(answers, leave_out=(fault.code, *fault.also))}")
    bad = sum(a.given and abs(a.error) > max(OFF_DEG, OFF_HALVES * a.half) for a in answers)
    print(
        f"    TDC given in {told(sum(a.given for a in answers), len(answers))}; off by more than"
        f" {OFF_DEG:g}° and {OFF_HALVES:g} half widths in {told(bad, len(answers))}; wrong stroke"
        f" in {told(sum(a.wrong for a in answers), len(answers))}"
    )


def show_vacuum(answers: list[Answer]) -> None:
    """Print how many strokes are decided, by full scale and by what the sensor reaches."""
    asked = [a for a in answers if a.reached.startswith("firing") and "overlap" not in a.reached]
    print(
        f"\nvacuum range, end reached about one TDC only: decided in"
        f" {told(sum(a.decided for a in asked), len(asked))} (98 % asked), wrong in"
        f" {told(sum(a.wrong for a in asked), len(asked))} (0 asked)"
    )
    print(f"    warnings: {_codes(asked)}")
    for kind in sorted({a.kind for a in answers}):
        for reached in sorted({a.reached for a in answers if a.kind == kind}):
            mine = [a for a in answers if (a.kind, a.reached) == (kind, reached)]
            given = [a for a in mine if a.given]
            held = sum(abs(a.error) <= a.half for a in given)
            print(
                f"    {kind:16} reached at {reached:20} {len(mine):4}: decided"
                f" {sum(a.decided for a in mine)}, wrong {sum(a.wrong for a in mine)}, TDC given"
                f" {len(given)}, held {held}"
            )


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("recordings", nargs="?", type=int, default=200)
    parser.add_argument("--first", type=int, default=80_000, help="first seed")
    parser.add_argument("--only", default="", help="part of sound, vacuum or a fault's name")
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.recordings)
    print(
        f"simulated: {options.recordings} random engines for each, seeds {seeds[0]} to {seeds[-1]};"
        " shares with their 95 % intervals (Clopper and Pearson)"
    )
    begun = time.perf_counter()
    with ProcessPoolExecutor(options.processes) as pool:
        if options.only in "sound":
            show_sound(list(pool.map(sound, seeds, chunksize=4)))
        for fault in FAULTS:
            if options.only in fault.name:
                show_fault(fault, list(pool.map(partial(faulty, fault=fault), seeds, chunksize=4)))
            sys.stdout.flush()
        if options.only in "vacuum":
            show_vacuum(list(pool.map(vacuum, seeds, chunksize=4)))
    print(f"\n{time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    main()
