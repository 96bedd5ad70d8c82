"""Which TDC: how many calls are wrong, how many are made, and how soon? Prints the tables.

    python tests/benchmarks/phase_calls.py [--recordings 2000] [--cheap 30000] [--bank 300]

The labels and their rule are in :mod:`phase_draws`, the cheap run in :mod:`phase_parts`. TDC itself
is not fitted here: the phase rests on the rough TDC of the peaks, and the fit only makes that
finer. A call is wrong when the firing TDC it gives is more than ``WRONG_DEG`` from the truth, so
that a rough TDC far off counts too.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from binomial import told
from phase_draws import LABELS, Made, case_of, made_of
from phase_nasties import by_hand
from phase_parts import run_parts
from scipy.stats import binomtest

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Segment
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.daq.bench.engine.settings import RockedTurning
from strokewise.gui.sayings import say

WRONG_DEG = 90.0
"""Nearer to the other TDC than to the true one is beyond 180°; half of that is lost as well."""

LIVE_S, LIVE_BY_HAND_S = 0.05, 0.2
"""How often the live answer is asked for."""

SOON_MOST = 60
"""Clean recordings of each way that are also followed live: that costs very many verdicts."""

CYCLE_DEG = 720.0


def decide(segments: Iterable[Segment], profile: Profile) -> Verdict:
    """Return the answer of a whole recording, without a fit."""
    tracker = Tracker(profile, fitted=False)
    for segment in segments:
        tracker.feed(segment)
    return tracker.verdict(closing=True)


def is_wrong(verdict: Verdict, cylinder: int | None, firing_deg: float) -> bool:
    """Return whether a decided verdict is wrong about a cylinder's firing TDC."""
    if verdict.firing_deg is None or cylinder is None:
        return False
    return abs(nearest(verdict.firing_deg[cylinder] - firing_deg, CYCLE_DEG)) > WRONG_DEG


def cut(segment: Segment, start: int, stop: int) -> Segment:
    """Return a part of a segment, without its events and presses."""
    samples = segment.samples
    return replace(
        segment,
        samples=replace(
            samples,
            time_us=samples.time_us[start:stop],
            count=samples.count[start:stop],
            readings=samples.readings[start:stop],
            after_gap=samples.after_gap[start:stop],
        ),
        events=type(segment.events).empty(),
        presses=(),
    )


def turned_until_decided_deg(made: Made) -> float:
    """Return the way turned from the begin of the first compression until the live answer
    stands."""
    (segment,) = made.recording.segments
    tracker = Tracker(made.case.profile, fitted=False)
    samples = segment.samples
    period_s = float(np.median(np.diff(samples.time_us))) * 1e-6
    block = max(1, round((LIVE_BY_HAND_S if by_hand(made.case) else LIVE_S) / period_s))
    encoder = made.case.profile.encoder
    scale = 360.0 / ((encoder.counts_per_rev or 2400) * encoder.drive_ratio)
    way = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(samples.count)))]) * scale
    for start in range(0, len(samples), block):
        stop = min(start + block, len(samples))
        tracker.feed(cut(segment, start, stop))
        turned_deg = float(way[stop - 1]) - made.turned_until_first_deg
        if turned_deg > 0.0 and tracker.verdict(closing=True).decided:
            return turned_deg
    return float("nan")


def run(count: int, first: int) -> bool:
    """Run the labelled recordings; return whether the targets are met."""
    tally: Counter[tuple[str, str]] = Counter()
    by_nasty: dict[str, Counter[tuple[str, str]]] = defaultdict(Counter)
    soon: dict[str, list[float]] = defaultdict(list)
    begun = time.perf_counter()
    for seed in range(first, first + count):
        case = case_of(seed)
        made = made_of(case)
        verdict = decide(made.recording.segments, case.profile)
        wrong = is_wrong(verdict, made.judged, made.firing_deg)
        called = "WRONG" if wrong else "decided" if verdict.decided else "undecided"
        tally[made.label, called] += 1
        for name in case.nasties or ("none",):
            by_nasty[name][made.label, called] += 1
        clean = made.label == "decidable" and not case.nasties
        way = "spanner" if by_hand(case) else "starter"
        rocked = isinstance(case.bench.turning, RockedTurning)
        if clean and verdict.decided and not rocked and len(soon[way]) < SOON_MOST:
            waited = turned_until_decided_deg(made)
            soon[way].append(waited)
            if not waited <= CYCLE_DEG:
                print(f"  seed {seed} {way}: {waited:.0f}° until decided", flush=True)
        odd = made.label == "decidable" and called != "decided"
        if wrong or odd or (made.label == "undecidable" and verdict.decided):
            print(
                f"  seed {seed} {type(case.bench.turning).__name__} {case.nasties}: {made.label},"
                f" {called}: {say(verdict.reason)[:90]}",
                flush=True,
            )
    return _print_tables(tally, by_nasty, soon, count, first, time.perf_counter() - begun)


def _print_tables(
    tally: Counter[tuple[str, str]],
    by_nasty: dict[str, Counter[tuple[str, str]]],
    soon: dict[str, list[float]],
    count: int,
    first: int,
    took_s: float,
) -> bool:
    calls = ("decided", "undecided", "WRONG")
    print(f"\n{count} recordings in {took_s:.0f} s")
    print(f"{'label':14}" + "".join(f"{c:>11}" for c in calls))
    for label in LABELS:
        print(f"{label:14}" + "".join(f"{tally[label, c]:11}" for c in calls))
    able = sum(tally["decidable", c] for c in calls)
    share = tally["decidable", "decided"] / max(able, 1)
    wrong = sum(tally[label, "WRONG"] for label in LABELS)
    print(f"wrong calls {told(wrong, count)}, seeds {first} to {first + count - 1}")
    print(f"decided of the decidable {told(tally['decidable', 'decided'], able)} (99 % asked)")
    print(f"undecidable yet decided {tally['undecidable', 'decided']} (0 asked)")
    print(f"\n{'nasty':22}{'seen':>6}{'decidable':>11}{'of it decided':>15}{'wrong':>7}")
    for name, seen in sorted(by_nasty.items()):
        able = sum(seen["decidable", c] for c in calls)
        bad = sum(v for (_, c), v in seen.items() if c == "WRONG")
        part = f"{seen['decidable', 'decided'] / able:.1%}" if able else "-"
        print(f"{name:22}{sum(seen.values()):6}{able:11}{part:>15}{bad:7}")
    print("\nturned from the begin of the first compression until decided (clean, live, degrees)")
    for way in ("starter", "spanner"):
        if soon[way]:
            middle, late = np.percentile(soon[way], [50, 95])
            print(
                f"{way:10} median {middle:.0f}, 95 % within {late:.0f}, most {max(soon[way]):.0f},"
                f" of {len(soon[way])} (720 asked)"
            )
    return wrong == 0 and share >= 0.99 and tally["undecidable", "decided"] == 0


def run_cheap(count: int, bank: int, first: int) -> bool:
    """Run the parts of turned engines on random rigs; return whether no call was wrong."""
    begun, worked = time.perf_counter(), time.process_time()
    wrong = 0
    wrong_engines: set[int] = set()
    calls: Counter[str] = Counter()
    by_nasty: dict[str, Counter[str]] = defaultdict(Counter)
    for part in run_parts(count, bank, first):
        verdict = decide(part.segments, part.profile)
        bad = is_wrong(verdict, part.judged, part.firing_deg)
        call = "WRONG" if bad else "decided" if verdict.decided else "undecided"
        wrong += bad
        if bad:
            wrong_engines.add(part.number % bank)
        kind = "outside " if part.judged is None else "hopeless " if part.hopeless else ""
        calls[kind + call] += 1
        for name in part.nasties or ("none",):
            by_nasty[name][call] += 1
        if bad or kind + call == "hopeless decided":
            print(
                f"  part {part.number} {part.nasties}: {call}: {say(verdict.reason)[:90]}",
                flush=True,
            )
    took_s, each_s = time.perf_counter() - begun, (time.process_time() - worked) / count
    print(f"\ncheap run: {count} parts of {bank} turned engines in {took_s:.0f} s", end="")
    print(f", {each_s * 1e3:.0f} ms of one processor for each")
    print(f"{'nasty':22}{'seen':>6}{'decided':>9}{'wrong':>7}")
    for name, seen in sorted(by_nasty.items()):
        print(f"{name:22}{seen.total():6}{seen['decided']:9}{seen['WRONG']:7}")
    print(", ".join(f"{call} {number}" for call, number in sorted(calls.items())))
    engines = min(bank, count)  # parts of one engine share its faults: no proof of each other
    most = _upper_bound(len(wrong_engines), engines)
    print(
        f"wrong calls {wrong} of {count} parts, on {len(wrong_engines)} of {engines} engines: at"
        f" 95 % under {most:.1e} of engines like these; seeds {first} to {first + bank - 1}"
    )
    return wrong == 0 and not calls["hopeless decided"]


def _upper_bound(wrong: int, count: int) -> float:
    """Return the share that is exceeded with 5 % at most: three over n where nothing was wrong.

    One-sided, after Clopper and Pearson.
    """
    return float(binomtest(wrong, count, alternative="less").proportion_ci(0.95).high)


def main() -> int:
    """Run both and return 0 when the targets are met."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--recordings", type=int, default=2_000)
    parser.add_argument("--cheap", type=int, default=30_000)
    parser.add_argument("--bank", type=int, default=300)
    parser.add_argument("--first", type=int, default=50_000, help="first seed")
    args = parser.parse_args()
    print(f"simulated: random engines, seeds from {args.first} on")
    met = run(args.recordings, args.first) if args.recordings else True
    if args.cheap:
        met = run_cheap(args.cheap, args.bank, args.first + 500_000) and met
    return 0 if met else 1


if __name__ == "__main__":
    raise SystemExit(main())
