"""How near the truth is TDC, and does the interval hold it? A table over random engines.

    python tests/benchmarks/tdc_accuracy.py [engines] [--only WAY] [--worst]

Each row is a way of turning. Below it stand the median errors of the published methods, from the
same compressions in the same run. Physics and rig of the bench are richer than the fit's model:
see ``random_benches.py`` for what is drawn.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from random_benches import Draw, Way, draw, make, true_tdc_deg

from strokewise.analysis.samples import Recording
from strokewise.analysis.verdict.methods import BASELINES, tdc_by
from strokewise.analysis.verdict.tracker import Tracker

METHODS = (*BASELINES, "rocking")


@dataclass(frozen=True)
class Row:
    """One way of turning, with the goals set for it."""

    name: str
    way: Way
    lag_known: bool
    fine: bool
    median_goal: float
    high_goal: float


GROUPS = (
    (
        Row("starter, lag known to 20 %", "starter", True, True, 0.10, 0.35),
        Row("starter, lag unknown", "starter", False, True, 0.25, 0.8),
    ),
    (Row("rocked, lag unknown", "rocked", False, True, 0.10, 0.30),),
    (Row("rocked, coarse", "rocked", False, False, 0.25, 0.6),),
    (Row("spanner, one way", "spanner", False, True, 1.0, 3.0),),
)
"""Rows of one group are answered from the same recordings."""


@dataclass(frozen=True)
class Outcome:
    """One engine's error, its interval's half width, and the published methods' errors."""

    seed: int
    error: float
    half: float
    decided: bool
    wrong: bool
    others: dict[str, float]

    @property
    def inside(self) -> bool:
        """The interval held the truth."""
        return abs(self.error) <= self.half


def _apart(a: float, b: float, period: float = 360.0) -> float:
    return (a - b + period / 2) % period - period / 2


def run_one(seed: int, rows: tuple[Row, ...]) -> list[Outcome]:
    """Draw and turn one engine, and find its TDC as each row of the group is told."""
    drawn = draw(seed, rows[0].way, lag_known=True, fine=rows[0].fine)
    recording, made = make(drawn)
    true = true_tdc_deg(made)
    return [_outcome(seed, row, drawn, recording, true) for row in rows]


def _outcome(seed: int, row: Row, drawn: Draw, recording: Recording, true: float) -> Outcome:
    profile = drawn.profile
    if not row.lag_known:
        sensor = replace(profile.sensors[0], response_time_s=None)
        profile = replace(profile, sensors=(sensor,))
    tracker = Tracker(profile)
    for segment in recording.segments:
        tracker.feed(segment)
    verdict = tracker.verdict(closing=True)
    if verdict.tdc is None or tracker.judgement is None:
        return Outcome(seed, np.nan, np.nan, verdict.decided, False, {})
    angle = verdict.tdc.angle_deg
    others = {}
    for method in METHODS:
        found = tdc_by(method, tracker.judgement, profile)
        if found is not None:
            others[method] = _apart(found.value, true)
    firing = (verdict.firing_deg or {}).get(1)
    wrong = (
        firing is not None and abs(_apart(firing, drawn.bench.rig.encoder.clamp_deg, 720.0)) > 90.0
    )
    return Outcome(
        seed, _apart(angle.value, true), angle.half_width, verdict.decided, wrong, others
    )


def show(row: Row, got: list[Outcome], worst: bool) -> None:
    """Print one row, and the published methods below it."""
    known = [o for o in got if np.isfinite(o.error)]
    size = np.abs([o.error for o in known])
    print(
        f"{row.name:28}{len(got):5d}{np.median(size):8.3f}{row.median_goal:6.2f}"
        f"{np.percentile(size, 95):8.3f}{row.high_goal:6.2f}"
        f"{np.mean([o.inside for o in known]):8.1%}{np.median([o.half for o in known]):7.2f}"
        f"{len(got) - len(known):6d}{sum(not o.decided for o in got):7d}"
        f"{sum(o.wrong for o in got):6d}"
    )
    parts = []
    for method in METHODS:
        errors = [abs(o.others[method]) for o in known if method in o.others]
        if errors:
            parts.append(f"{method} {np.median(errors):.2f}")
    print("    median error of " + ", ".join(parts), flush=True)
    if worst:
        for o in sorted(known, key=lambda o: -abs(o.error))[:12]:
            print(f"    seed {o.seed}: error {o.error:+.3f}, half width {o.half:.3f}")


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("engines", nargs="?", type=int, default=300)
    parser.add_argument("--only", default="", help="part of a row's name")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--worst", action="store_true", help="list the worst engines")
    options = parser.parse_args()
    print(
        f"{'turning':28}{'n':>5}{'median':>8}{'goal':>6}{'95 %':>8}{'goal':>6}{'covers':>8}"
        f"{'half':>7}{'none':>6}{'undec.':>7}{'wrong':>6}"
    )
    seeds = range(options.first, options.first + options.engines)
    with ProcessPoolExecutor(2) as pool:
        for group in GROUPS:
            rows = tuple(row for row in group if options.only in row.name)
            if not rows:
                continue
            got = list(pool.map(partial(run_one, rows=rows), seeds, chunksize=4))
            for i, row in enumerate(rows):
                show(row, [outcomes[i] for outcomes in got], options.worst)


if __name__ == "__main__":
    main()
