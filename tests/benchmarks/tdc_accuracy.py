"""How near the truth is TDC, and does the interval hold it? A table over random simulated engines.

    python tests/benchmarks/tdc_accuracy.py [engines] [--first N] [--only WAY] [--worst]

Each row is a way of turning and a physics. *Bench*: the bench engine, richer than the fit's model
(``random_benches.py``). *Second*: another physics altogether, with air, valves and stated geometry
as workshops have them (``running_benches.py``, ``second_physics.py``). *Smooth error*: the bench
with an error of pressure that no parameter follows; its size is in the row's name, and it is judged
by coverage only. Below a row stand the median errors of the published methods, from the same
compressions in the same run.
"""

from __future__ import annotations

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from binomial import told
from random_benches import Draw, Way, make, true_tdc_deg
from running_benches import SMOOTH_DEG, SMOOTH_SHARE, Physics, Running, draw_any

from strokewise.analysis.samples import Recording
from strokewise.analysis.verdict.methods import BASELINES, tdc_by
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.truth import burned_passes

METHODS = (*BASELINES, "rocking")

ENOUGH_UNBURNED = 3
"""With so many unburned compressions TDC is asked for in 80 % of mixed recordings."""

OFF_DEG, OFF_HALVES = 1.0, 2.0
"""A TDC off by more than this and by so many times its half width is a bad answer."""


@dataclass(frozen=True)
class Row:
    """One way of turning, with the goals set for it; None where only coverage is judged."""

    name: str
    way: Way | Running
    lag_known: bool
    fine: bool = True
    median_goal: float | None = None
    high_goal: float | None = None
    physics: Physics = "bench"


SMOOTH = (
    f"smooth error {SMOOTH_SHARE[0]:.1%} to {SMOOTH_SHARE[1]:.1%} of the rise, alike over"
    f" {SMOOTH_DEG[0]:.0f} to {SMOOTH_DEG[1]:.0f} degrees"
)

GROUPS = (
    (
        Row("starter, lag known to 20 %", "starter", True, True, 0.10, 0.35),
        Row("starter, lag unknown", "starter", False, True, 0.25, 0.8),
    ),
    (Row("rocked, lag unknown", "rocked", False, True, 0.10, 0.30),),
    (Row("rocked, coarse", "rocked", False, False, 0.25, 0.6),),
    (Row("spanner, one way", "spanner", False, True, 1.0, 3.0),),
    (Row("running down hot, lag unknown", "run down hot", False),),
    (Row("compression release", "release", False),),
    (Row("burning", "burning", False),),
    (Row("mixed burning and not", "mixed", False),),
    (
        Row("second, starter, lag known", "starter", True, True, 0.12, 0.40, "second"),
        Row("second, starter, unknown", "starter", False, True, 0.15, 0.60, "second"),
    ),
    (Row("second, rocked", "rocked", False, True, 0.03, 0.15, "second"),),
    (Row("second, rocked, coarse", "rocked", False, False, physics="second"),),
    (Row("second, spanner", "spanner", False, True, 0.15, 0.70, "second"),),
    (Row("second, running down hot", "run down hot", False, physics="second"),),
    (Row(f"starter, {SMOOTH}", "starter", True, physics="smooth error"),),
    (Row(f"rocked, {SMOOTH}", "rocked", False, physics="smooth error"),),
)
"""Rows of one group are answered from the same recordings."""


@dataclass(frozen=True)
class Outcome:
    """One engine's error, its interval's half width, and the published methods' errors.

    Attributes
    ----------
    stroke : bool
        A firing TDC was named.
    wrong : bool
        The one named, or the more probable candidate, is nearer to the other TDC.
    burned, unburned : int
        Compressions that burned, and that did not.
    warned : tuple of str
        Codes of the warnings.
    """

    seed: int
    error: float
    half: float
    decided: bool
    stroke: bool
    wrong: bool
    burned: int
    unburned: int
    warned: tuple[str, ...]
    others: dict[str, float]

    @property
    def given(self) -> bool:
        """A TDC was given."""
        return bool(np.isfinite(self.error))

    @property
    def inside(self) -> bool:
        """The interval held the truth."""
        return abs(self.error) <= self.half

    @property
    def bad(self) -> bool:
        """The TDC given is far off, and the interval far too narrow."""
        return self.given and abs(self.error) > max(OFF_DEG, OFF_HALVES * self.half)


def apart(a: float, b: float, period: float = 360.0) -> float:
    """Return how far ``a`` lies after ``b``, to either side."""
    return (a - b + period / 2) % period - period / 2


def run_one(seed: int, rows: tuple[Row, ...]) -> list[Outcome]:
    """Draw and turn one engine, and find its TDC as each row of the group is told."""
    first = rows[0]
    drawn = draw_any(seed, first.way, lag_known=True, fine=first.fine, physics=first.physics)
    recording, made = make(drawn)
    true, lit = true_tdc_deg(made), burned_passes(made.run, 1)
    return [_outcome(seed, row, drawn, recording, true, lit) for row in rows]


def _outcome(
    seed: int, row: Row, drawn: Draw, recording: Recording, true: float, lit: list[bool]
) -> Outcome:
    profile = drawn.profile
    if not row.lag_known:
        sensor = replace(profile.sensors[0], response_time_s=None)
        profile = replace(profile, sensors=(sensor,))
    tracker = Tracker(profile)
    for segment in recording.segments:
        tracker.feed(segment)
    verdict = tracker.verdict(closing=True)
    firing = (verdict.firing_deg or {}).get(1)
    clamp_deg = drawn.bench.rig.encoder.clamp_deg
    error = half = float("nan")
    others = {}
    if verdict.tdc is not None and tracker.judgement is not None:
        error = apart(verdict.tdc.angle_deg.value, true)
        half = verdict.tdc.angle_deg.half_width
        for method in METHODS:
            found = tdc_by(method, tracker.judgement, profile)
            if found is not None:
                others[method] = apart(found.value, true)
    return Outcome(
        seed, error, half, verdict.decided, firing is not None,
        firing is not None and abs(apart(firing, clamp_deg, 720.0)) > 90.0,
        sum(lit), len(lit) - sum(lit), tuple(sorted({w.code for w in verdict.warnings})), others,
    )  # fmt: skip


def _against(value: float, goal: float | None) -> str:
    return f"{value:8.3f}" + (f"{goal:6.2f}" if goal is not None else f"{'-':>6}")


def show(row: Row, got: list[Outcome], worst: bool) -> None:
    """Print one row, and the published methods below it."""
    known = [o for o in got if o.given]
    print(f"\n{row.name}")
    if known:
        size = np.abs([o.error for o in known])
        half = float(np.median([o.half for o in known]))
        print(
            f"{len(got):8d}{_against(float(np.median(size)), row.median_goal)}"
            f"{_against(float(np.percentile(size, 95)), row.high_goal)}{half:7.2f}"
            f"{len(got) - len(known):8d}{sum(not o.stroke for o in got):11d}"
            f"{sum(not o.decided for o in got):7d}{sum(o.wrong for o in got):6d}"
        )
        print(
            f"    the interval held the truth in {told(sum(o.inside for o in known), len(known))}"
        )
    print(
        f"    TDC given in {told(len(known), len(got))}; off by more than {OFF_DEG:g}° and"
        f" {OFF_HALVES:g} half widths in {told(sum(o.bad for o in got), len(got))}"
    )
    enough = [o for o in got if o.burned and o.unburned >= ENOUGH_UNBURNED]
    if enough:
        print(
            f"    of those with {ENOUGH_UNBURNED} or more unburned compressions TDC given in"
            f" {told(sum(o.given for o in enough), len(enough))}, the interval held in"
            f" {told(sum(o.inside for o in enough if o.given), sum(o.given for o in enough))}"
        )
    parts = []
    for method in METHODS:
        errors = [abs(o.others[method]) for o in known if method in o.others]
        if errors:
            parts.append(f"{method} {np.median(errors):.2f}")
    if parts:
        print("    median error of " + ", ".join(parts))
    if worst:
        for o in sorted(known, key=lambda o: -abs(o.error))[:12]:
            print(
                f"    seed {o.seed}: error {o.error:+.3f}, half width {o.half:.3f},"
                f" {o.burned} of {o.burned + o.unburned} burned, {', '.join(o.warned)}"
            )
    sys.stdout.flush()


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("engines", nargs="?", type=int, default=300)
    parser.add_argument("--only", default="", help="part of a row's name")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--worst", action="store_true", help="list the worst engines")
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.engines)
    print(
        f"simulated: {options.engines} random engines in each row, seeds {seeds[0]} to {seeds[-1]};"
        " shares with their 95 % intervals (Clopper and Pearson)"
    )
    print(
        f"{'engines':>8}{'median':>8}{'goal':>6}{'95 %':>8}{'goal':>6}{'half':>7}{'no TDC':>8}"
        f"{'no stroke':>11}{'undec.':>7}{'wrong':>6}"
    )
    begun = time.perf_counter()
    with ProcessPoolExecutor(options.processes) as pool:
        for group in GROUPS:
            rows = tuple(row for row in group if options.only in row.name)
            if not rows:
                continue
            got = list(pool.map(partial(run_one, rows=rows), seeds, chunksize=4))
            for i, row in enumerate(rows):
                show(row, [outcomes[i] for outcomes in got], options.worst)
    print(f"\n{time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    main()
