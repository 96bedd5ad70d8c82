"""How near the truth is TDC, and does the interval hold it? A table over random engines.

    python tests/benchmarks/tdc_accuracy.py [engines] [--only WAY]

Each row is a way of turning; beside the fit stands the plain pressure peak, in the same run.
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
from random_benches import Way, draw, make, true_tdc_deg

from strokewise.analysis.find import find


@dataclass(frozen=True)
class Row:
    """One way of turning, with the goals set for it."""

    name: str
    way: Way
    lag_known: bool
    fine: bool
    median_goal: float
    high_goal: float


ROWS = (
    Row("starter, lag known to 20 %", "starter", True, True, 0.10, 0.35),
    Row("starter, lag unknown", "starter", False, True, 0.25, 0.8),
    Row("rocked, lag unknown", "rocked", False, True, 0.10, 0.30),
    Row("rocked, coarse", "rocked", False, False, 0.25, 0.6),
    Row("spanner, one way", "spanner", False, True, 1.0, 3.0),
)


@dataclass(frozen=True)
class Outcome:
    """One engine's error, whether the interval held the truth, and its half width."""

    seed: int
    error: float
    inside: bool
    half: float
    peak_error: float
    decided: bool
    wrong: bool


def _apart(a: float, b: float, period: float = 360.0) -> float:
    return (a - b + period / 2) % period - period / 2


def run_one(seed: int, row: Row) -> Outcome:
    """Draw, turn and find one engine."""
    drawn = draw(seed, row.way, lag_known=row.lag_known, fine=row.fine)
    recording, made = make(drawn)
    verdict = find(recording, drawn.profile)
    true = true_tdc_deg(made)
    if verdict.tdc is None:
        return Outcome(seed, np.nan, False, np.nan, np.nan, verdict.decided, False)
    angle = verdict.tdc.angle_deg
    error = _apart(angle.value, true)
    inside = angle.low - angle.value <= -error <= angle.high - angle.value
    peak = find(recording, drawn.profile, method="peak")
    peak_error = _apart(peak.tdc.angle_deg.value, true) if peak.tdc else np.nan
    firing = (verdict.firing_deg or {}).get(1)
    firing_true = drawn.bench.rig.encoder.clamp_deg % 720.0
    wrong = firing is not None and abs(_apart(firing, firing_true, 720.0)) > 90.0
    return Outcome(seed, error, inside, angle.half_width, peak_error, verdict.decided, wrong)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("engines", nargs="?", type=int, default=300)
    parser.add_argument("--only", default="")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--worst", action="store_true", help="list the worst engines")
    options = parser.parse_args()
    print(
        f"{'turning':28}{'n':>5}{'median':>8}{'goal':>6}{'95 %':>8}{'goal':>6}{'covers':>8}"
        f"{'half':>7}{'none':>6}{'undec.':>7}{'wrong':>6}{'| peak: median':>16}{'95 %':>8}"
    )
    with ProcessPoolExecutor(2) as pool:
        for row in ROWS:
            if options.only not in row.name:
                continue
            seeds = range(options.first, options.first + options.engines)
            got = list(pool.map(partial(run_one, row=row), seeds, chunksize=4))
            error = np.array([o.error for o in got])
            known = np.isfinite(error)
            size = np.abs(error[known])
            peak = np.abs([o.peak_error for o in got if np.isfinite(o.peak_error)])
            covers = np.mean([o.inside for o in got if np.isfinite(o.error)])
            half = np.nanmedian([o.half for o in got])
            print(
                f"{row.name:28}{len(got):5d}{np.median(size):8.3f}{row.median_goal:6.2f}"
                f"{np.percentile(size, 95):8.3f}{row.high_goal:6.2f}{covers:8.1%}{half:7.2f}"
                f"{(~known).sum():6d}{sum(not o.decided for o in got):7d}"
                f"{sum(o.wrong for o in got):6d}"
                f"{np.median(peak) if len(peak) else np.nan:16.2f}"
                f"{np.percentile(peak, 95) if len(peak) else np.nan:8.2f}",
                flush=True,
            )
            if options.worst:
                ranked = sorted(got, key=lambda o: -abs(o.error) if np.isfinite(o.error) else -99)
                for o in ranked[:12]:
                    print(
                        f"    seed {o.seed}: error {o.error:+.3f} half {o.half:.3f}"
                        f" peak {o.peak_error:+.2f} decided {o.decided}"
                    )


if __name__ == "__main__":
    main()
