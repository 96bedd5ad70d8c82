"""How often does the second opinion speak, and is it right to? Over random engines.

    python tests/benchmarks/second_opinion_rate.py [engines] [--first SEED]

A warning where the fit is good is a false alarm. For heat-release shaping the table also shows
where it stands in sound engines once the lag is taken out, which is what its threshold rests on;
for rocking, how its own interval holds the truth.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from random_benches import Way, draw, make, response_time_s, true_tdc_deg

from strokewise.analysis.tdc import baselines, rocking
from strokewise.analysis.tdc.second_opinion import (
    SHAPE_LEAST_RPM,
    SHAPE_MOST_HALF_DEG,
    SHAPE_MOST_LOSS_DEG,
)
from strokewise.analysis.tdc.volume_baselines import heat_shape
from strokewise.analysis.verdict.tracker import Tracker

GOOD_DEG = 0.5
"""A fit within this of the truth is good: a warning there is a false alarm."""


@dataclass(frozen=True)
class Outcome:
    """One engine: the fit's error, whether the warning came, and what the other method showed."""

    seed: int
    error: float
    warned: bool
    shape_error: float = np.nan
    rocking_error: float = np.nan
    rocking_half: float = np.nan


def _apart(a: float, b: float) -> float:
    return (a - b + 180.0) % 360.0 - 180.0


def run_one(seed: int, way: Way, lag_known: bool) -> Outcome | None:
    """Draw, turn and find one engine; None where it gave no TDC."""
    drawn = draw(seed, way, lag_known=lag_known)
    recording, made = make(drawn)
    tracker = Tracker(drawn.profile)
    for segment in recording.segments:
        tracker.feed(segment)
    verdict = tracker.verdict(closing=True)
    if verdict.tdc is None or tracker.judgement is None:
        return None
    true, passes = true_tdc_deg(made), tracker.judgement.passes
    error = _apart(verdict.tdc.angle_deg.value, true)
    warned = any(notice.code == "second-opinion" for notice in verdict.warnings)
    middle = rocking.centre(passes)
    if middle is not None:
        return Outcome(seed, error, warned, np.nan, _apart(middle.value, true), middle.half_width)
    shape, top = heat_shape(passes, drawn.profile), baselines.peak(passes)
    rpm = float(np.median([p.speed_rpm for p in passes])) if passes else 0.0
    if shape is None or top is None or rpm < SHAPE_LEAST_RPM:
        return Outcome(seed, error, warned)
    if shape.half_width > SHAPE_MOST_HALF_DEG:
        return Outcome(seed, error, warned)
    lag_deg = response_time_s(drawn.bench.rig.sensors[0]) * 6.0 * rpm
    if not 0.0 < -_apart(top.value - lag_deg, true) < SHAPE_MOST_LOSS_DEG:
        return Outcome(seed, error, warned)
    return Outcome(seed, error, warned, _apart(shape.value - lag_deg, true))


def show(name: str, got: list[Outcome]) -> None:
    """Print one way of turning."""
    good = [o for o in got if abs(o.error) <= GOOD_DEG]
    bad = [o for o in got if abs(o.error) > GOOD_DEG]
    print(
        f"{name:28}{len(got):4d} engines; warned {sum(o.warned for o in good)} of {len(good)} good"
        f" fits, {sum(o.warned for o in bad)} of {len(bad)} off by more than {GOOD_DEG}°"
        f" (those: {', '.join(f'{o.error:+.1f}°' for o in bad if o.warned) or 'none'};"
        f" missed: {', '.join(f'{o.error:+.1f}°' for o in bad if not o.warned) or 'none'})"
    )
    shape = np.array([o.shape_error for o in got if np.isfinite(o.shape_error)])
    if len(shape):
        low, middle, high = np.percentile(shape, [2.5, 50.0, 97.5])
        print(
            f"    shaped heat less lag, {len(shape)} sound engines: median {middle:+.2f}°,"
            f" 95 % within {low:+.2f}° to {high:+.2f}°,"
            f" all {shape.min():+.2f}° to {shape.max():+.2f}°"
        )
    rocked = [o for o in got if np.isfinite(o.rocking_error)]
    if rocked:
        size = np.abs([o.rocking_error for o in rocked])
        covers = np.mean([abs(o.rocking_error) <= o.rocking_half for o in rocked])
        print(
            f"    rocking: median error {np.median(size):.3f}°,"
            f" 95 % {np.percentile(size, 95):.3f}°, covers {covers:.1%},"
            f" half width {np.median([o.rocking_half for o in rocked]):.2f}°"
        )
    sys.stdout.flush()


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("engines", nargs="?", type=int, default=60)
    parser.add_argument("--first", type=int, default=1000, help="first seed")
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.engines)
    ways: tuple[tuple[str, Way, bool], ...] = (
        ("starter, lag known to 20 %", "starter", True),
        ("starter, lag unknown", "starter", False),
        ("rocked, lag unknown", "rocked", False),
    )
    with ProcessPoolExecutor(2) as pool:
        for name, way, lag_known in ways:
            each = pool.map(partial(run_one, way=way, lag_known=lag_known), seeds, chunksize=4)
            show(name, [o for o in each if o is not None])


if __name__ == "__main__":
    main()
