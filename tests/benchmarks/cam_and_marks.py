"""How near are cam shift and mark offset, and is the right cause first? Over random engines.

    python tests/benchmarks/cam_and_marks.py [engines] [--first SEED] [--jobs N]

Engines of random_benches with the cam two teeth early to two late and up to 2° off a tooth; lift
curve and heads are the bench's own, clearances are set to the profile's figures, and the sensor
resolves 0.02 bar. A pulley mark meets its pointer anywhere within 20°. The cause of each engine is
drawn too: all right, cam teeth out, ring slipped (told by an earlier look), mark at the overlap.
Beside the shift stands what the bend in the trace alone would say, without the valve's model.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from random_benches import draw, recording_of

from strokewise.analysis.cam.cam import CamShift, cam_shift, stated_seat_deg
from strokewise.analysis.cam.valve_events import ValveEvent, valve_events
from strokewise.analysis.cam.valve_ramp import ramp_of
from strokewise.analysis.cam.valve_spans import KIND_OF
from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.mark_causes import weigh_causes
from strokewise.analysis.marks.mark_evidence import HALF, MARK_RIGHT, RING, teeth_words
from strokewise.analysis.marks.marks import MarkPlace, place_mark
from strokewise.analysis.profile import CamDrive, Mark, Profile, Valves
from strokewise.analysis.trace.marks_met import seen_in
from strokewise.analysis.verdict.find import closing_verdict
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.bench import Bench, take
from strokewise.daq.bench.rig.rig import MarkPickup
from strokewise.daq.bench.rig.sensor_model import calibration_points

DIESEL_RATIO = 12.0  # from here random_benches fits a sensor of 60 bar, which needs 12 bit
NOISE_MOST_BAR = 0.02
LIES = (MARK_RIGHT, "cam", RING, HALF)
SURE = 0.99


@dataclass(frozen=True)
class Case:
    """One engine, what the tool is told, and what is true."""

    bench: Bench
    profile: Profile
    teeth: int
    shift_deg: float
    lie: str
    pulley_deg: float


@dataclass(frozen=True)
class Outcome:
    """What came of one engine; None where the tool said nothing."""

    seed: int
    shift_error: float | None
    bend_error: float | None
    shift_inside: bool
    half_width: float
    teeth_right: bool
    teeth_chance: float
    mark_error: float | None
    mark_inside: bool
    cause_first: bool
    cause_sure_wrong: bool
    lie: str


def case_of(seed: int) -> Case:
    """Draw one engine with its cam and its marks."""
    drawn = draw(seed, "starter", lag_known=True)
    rng = np.random.default_rng([seed, 0x63616D])
    engine, rig = drawn.bench.engine, drawn.bench.rig
    drive = CamDrive(21, 2 * int(rng.integers(17, 25)))
    teeth = int(rng.integers(-2, 3))
    lie = str(rng.choice((MARK_RIGHT, RING, HALF))) if teeth == 0 else "cam"
    shift = teeth * 720.0 / drive.cam_teeth + float(rng.uniform(-2.0, 2.0))
    pulley = float(rng.uniform(8.0, 20.0)) if lie == RING else float(rng.normal(0.0, 0.3))
    cam_dot = shift + float(rng.normal(0.0, 0.5)) + (360.0 if lie == HALF else 0.0)
    bits = 12 if engine.compression_ratio > DIESEL_RATIO else rig.board.adc_bits
    sensor = replace(rig.sensors[0], noise_bar=min(rig.sensors[0].noise_bar, NOISE_MOST_BAR))
    marks = (
        MarkPickup(1, "pulley notch", "pulley", pulley),
        MarkPickup(2, "cam dot", "cam sprocket", cam_dot, width_deg=8.0),
    )
    rig = replace(rig, sensors=(sensor,), marks=marks, board=replace(rig.board, adc_bits=bits))
    engine = replace(engine, intake_shift_deg=shift, exhaust_shift_deg=shift)
    profile = replace(
        drawn.profile,
        valve_timing=engine.valve_timing,
        valves=Valves(
            clearance_inlet_mm=engine.intake.clearance_mm,
            clearance_exhaust_mm=engine.exhaust.clearance_mm,
        ),
        cam_drive=drive,
        sensors=(replace(drawn.profile.sensors[0], points=calibration_points(sensor, bits)),),
        marks=(
            Mark("pulley notch", 1, "pulley", 0.0),
            Mark("cam dot", 2, "cam sprocket", 0.0, "firing"),
        ),
    )
    return Case(replace(drawn.bench, engine=engine, rig=rig), profile, teeth, shift, lie, pulley)


def outcome_of(seed: int) -> Outcome:
    """Turn one engine and answer."""
    case = case_of(seed)
    recording = recording_of(take(case.bench))
    tracker = Tracker(case.profile)
    for segment in recording.segments:
        tracker.feed(segment)
    verdict = closing_verdict(tracker, recording.health)
    judgement, tdc = tracker.judgement, verdict.tdc
    if judgement is None or tdc is None:
        return Outcome(
            seed, None, None, False, np.nan, False, 0.0, None, False, False, False, case.lie
        )
    events = valve_events(judgement, case.profile, case.profile.sensors[0])
    shift = cam_shift(events, case.profile, clearances_set=True)
    firing_1 = verdict.firing_deg[1] if verdict.firing_deg else None
    segment = recording.segments[-1]
    places = [
        place_mark(seen_in(segment, mark, case.profile), case.profile, tdc.angle_deg, firing_1)
        for mark in case.profile.marks
    ]
    first, sure_wrong = _cause(case, places, shift)
    pulley = places[0].after_tdc
    teeth = shift.teeth
    return Outcome(
        seed=seed,
        shift_error=None if shift.shift is None else shift.shift.value - case.shift_deg,
        bend_error=_bend_error(events, case),
        shift_inside=shift.shift is not None and _holds(shift.shift, case.shift_deg),
        half_width=np.nan if shift.shift is None else shift.shift.half_width,
        teeth_right=teeth is not None and teeth.value == case.teeth,
        teeth_chance=0.0 if teeth is None else teeth.probability,
        mark_error=None if pulley is None else pulley.value - case.pulley_deg,
        mark_inside=pulley is not None and _holds(pulley, case.pulley_deg),
        cause_first=first,
        cause_sure_wrong=sure_wrong,
        lie=case.lie,
    )


def _holds(interval: Interval, true: float) -> bool:
    return interval.low <= true <= interval.high


def _bend_error(events: tuple[ValveEvent, ...], case: Case) -> float | None:
    """Mean of the felt events less the stated ones, as if a valve seated where the gas feels it."""
    timing = case.profile.valve_timing
    assert timing is not None
    away = [
        e.felt_deg - stated_seat_deg(timing, e, ramp_of(case.profile, KIND_OF[e.name]))
        for e in events
        if e.felt_deg is not None
    ]
    return float(np.mean(away)) - case.shift_deg if away else None


def _cause(case: Case, places: list[MarkPlace], shift: CamShift) -> tuple[bool, bool]:
    """Whether the true cause comes first, and whether a wrong one is given 0.99 or more."""
    earlier = {"pulley notch": Interval.from_sigma(0.0, 0.3)} if case.lie == RING else {}
    causes = weigh_causes(
        places, case.profile, cam_shift=shift.shift, earlier_late=earlier, clamp="steady"
    )
    meant = teeth_words("cam sprocket", case.teeth) if case.teeth else case.lie
    faults = (
        [f for f in causes.findings if f.cause != MARK_RIGHT]
        if meant != MARK_RIGHT
        else causes.findings
    )
    first = bool(faults) and faults[0].cause == meant
    wrong = {f.cause: f.probability for f in faults if f.cause not in (meant, MARK_RIGHT)}
    return first, any(chance >= SURE for chance in wrong.values())


def _row(name: str, errors: list[float], inside: list[bool] | None = None) -> None:
    size = np.abs(errors)
    text = f"{name:<34} {np.median(size):8.2f} {np.percentile(size, 95):8.2f} {size.max():8.2f}"
    print(text + ("" if inside is None else f" {np.mean(inside):9.1%}"))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("engines", type=int, nargs="?", default=40)
    parser.add_argument("--first", type=int, default=0, help="seed of the first engine")
    parser.add_argument("--jobs", type=int, default=1)
    args = parser.parse_args()
    seeds = range(args.first, args.first + args.engines)
    with ProcessPoolExecutor(args.jobs) as pool:
        found = []
        for outcome in pool.map(outcome_of, seeds):
            found.append(outcome)
            print(outcome, file=sys.stderr, flush=True)  # long runs are worth watching
    answered = [o for o in found if o.shift_error is not None]
    print(f"{len(found)} engines, {len(answered)} with a cam shift\n")
    print(f"{'error, crank degrees':<34} {'median':>8} {'95 %':>8} {'worst':>8} {'in interval':>9}")
    inside = [o.shift_inside for o in answered]
    _row("cam shift (goals 1.0 and 3.0)", [o.shift_error for o in answered], inside)
    bends = [o.bend_error for o in answered if o.bend_error is not None]
    _row("  from the bend alone", bends)
    marked = [o for o in found if o.mark_error is not None]
    _row("pulley mark", [o.mark_error for o in marked], [o.mark_inside for o in marked])
    print(f"\nhalf width of the shift, median {np.nanmedian([o.half_width for o in found]):.2f}°")
    wrong = [o for o in found if not o.teeth_right]
    sure = [o for o in wrong if o.teeth_chance >= SURE]
    print(f"whole teeth right in {len(found) - len(wrong)} of {len(found)}; ", end="")
    print(f"wrong at a stated {SURE:g} or more: {len(sure)}")
    first = sum(o.cause_first for o in found)
    print(f"true cause first in {first} of {len(found)} (goal 95 %: {0.95 * len(found):.0f}); ")
    for lie in LIES:
        own = [o for o in found if o.lie == lie]
        print(f"  {lie:<34} {sum(o.cause_first for o in own):4} of {len(own)}")
    print(f"a wrong cause at {SURE:g} or more: {sum(o.cause_sure_wrong for o in found)}")
    for o in found:
        if not (o.teeth_right and o.cause_first and o.shift_inside and o.mark_inside):
            print(
                f"  seed {o.seed}: shift {o.shift_error} mark {o.mark_error} {o.lie}"
                f" first {o.cause_first} teeth {o.teeth_right} {o.teeth_chance:.4f}"
            )


if __name__ == "__main__":
    main()
