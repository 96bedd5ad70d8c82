"""How many times faster than the engine is the live tracker? Prints figures beside a baseline.

One core, 5,000 samples a second, fed in blocks as a port delivers them, asked for a verdict each
second and five times a second. The baseline is a plain loop over the same blocks that only turns
counts and readings into degrees and bar. The joint fits made on the way are counted and their time
is printed apart: it hangs on the compressions, not on the samples. Threads of numpy's own would
wait busily after each fit, and be counted as the tracker's.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as every strokewise command does

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any, Self

import numpy as np

from strokewise.analysis.samples import Segment
from strokewise.analysis.verdict import judge
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.bench import take
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.profile.known import check_table
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join

SECONDS = 60.0
RATE_HZ = 5_000.0
BLOCK_S = 0.05
ASK_S = 0.2
REPEATS = 3
ASKED = 200.0


def recording(seconds: float) -> tuple[Segment, object]:
    """Turn the bench and return one long segment with its profile."""
    bench = scenario("cranked").build({"seconds": seconds})
    rig = replace(bench.rig, board=replace(bench.rig.board, sample_rate_hz=RATE_HZ))
    bench = replace(bench, rig=rig)
    taken = take(bench)
    intake = Intake()
    (segment,) = join(intake.feed(taken.items) + intake.finish())
    return segment, check_table(stated_profile(bench)).profile


def blocks(segment: Segment) -> list[Segment]:
    """Cut the segment as a port delivers it."""
    samples, size = segment.samples, round(BLOCK_S * RATE_HZ)
    return [
        Segment(
            segment.number,
            segment.board,
            replace(
                samples,
                time_us=samples.time_us[i : i + size],
                count=samples.count[i : i + size],
                readings=samples.readings[i : i + size],
                after_gap=samples.after_gap[i : i + size],
            ),
        )
        for i in range(0, len(samples), size)
    ]


def best_s(work: Callable[[], object], repeats: int = REPEATS) -> float:
    """Return the shortest of several times."""
    times = []
    for _ in range(repeats):
        begun = time.process_time()
        work()
        times.append(time.process_time() - begun)
    return min(times)


class FitsCounted:
    """Counts the joint fits that a tracker makes, and their processor time."""

    def __init__(self) -> None:
        self.made, self.took_s = 0, 0.0

    def __enter__(self) -> Self:
        self._fit = judge.joint_fit
        judge.joint_fit = self._counted
        return self

    def __exit__(self, *why: object) -> None:
        judge.joint_fit = self._fit

    def _counted(self, *given: Any, **named: Any) -> Any:
        begun = time.process_time()
        found = self._fit(*given, **named)
        self.made, self.took_s = self.made + 1, self.took_s + time.process_time() - begun
        return found


def main() -> int:
    """Print the table; 0 when the tracker is fast enough."""
    segment, profile = recording(SECONDS)
    parts = blocks(segment)
    lasts_s = float(segment.samples.time_us[-1] - segment.samples.time_us[0]) * 1e-6

    def bare() -> None:
        for part in parts:
            np.interp(part.samples.readings[:, 0], [400.0, 3600.0], [0.0, 20.0])
            _ = (part.samples.count + 0.5) * 0.15

    def feed_only() -> None:
        tracker = Tracker(profile, fitted=False)  # type: ignore[arg-type]
        for part in parts:
            tracker.feed(part)

    def asked(fitted: bool, every_s: float) -> Callable[[], None]:
        def work() -> None:
            tracker = Tracker(profile, fitted=fitted)  # type: ignore[arg-type]
            each = round(every_s / BLOCK_S)
            for number, part in enumerate(parts):
                tracker.feed(part)
                if number % each == 0:
                    tracker.verdict()

        return work

    rows = [
        ("counts and readings to degrees and bar alone", best_s(bare)),
        ("tracker, fed", best_s(feed_only)),
        (f"tracker, asked for the phase each {ASK_S:g} s", best_s(asked(False, ASK_S))),
        ("tracker, asked for the phase each 1 s", best_s(asked(False, 1.0))),
    ]
    with FitsCounted() as fits:
        whole_s = best_s(asked(True, 1.0), 1)
    rows.append(("tracker, a verdict each 1 s, but for its fits", whole_s - fits.took_s))
    print(f"{lasts_s:.0f} s at {RATE_HZ:.0f} samples a second, blocks of {BLOCK_S * 1e3:.0f} ms")
    for name, took_s in rows:
        print(f"{name:48}{took_s * 1e3:10.1f} ms{lasts_s / took_s:10.0f} times real time")
    print(
        f"{fits.made} joint fits on the way took {fits.took_s * 1e3:.0f} ms,"
        f" {fits.took_s / max(fits.made, 1) * 1e3:.0f} ms each; with them"
        f" {lasts_s / whole_s:.0f} times real time"
    )
    print(f"asked of a verdict each 1 s, its fits apart: {ASKED:.0f} times")
    return 0 if lasts_s / rows[-1][1] >= ASKED else 1


if __name__ == "__main__":
    raise SystemExit(main())
