"""How many small faults in the modules whose faults hurt does a test notice?

    make mutants N=600 SEED=1

draws faults at random, tries each on a copy of the tree with the tests that run the changed line,
and prints the share noticed for each module, with what it is at least with 95 % confidence, and a
list of the survivors. Survivors that are no fault at all, since no answer can differ, are named
with the reason in `equivalents.toml` and counted apart.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from covering import Covering, Where, cover
from drawing import Mutant, draw
from trying import (
    HANGS,
    NO_TEST,
    NOT_NOTICED,
    Tried,
    chosen_tests,
    load_what_tests_load,
    outcome_of,
    try_out,
)
from workshop import KEPT, copy_tree

EQUIVALENTS = Path(__file__).parent / "equivalents.toml"

NEAR_S, MOST_S = 20.0, 120.0
"""Seconds of tests for one fault, as they took without it. All faults are tried with the nearest
first, and those that stayed unnoticed then with more: what is found later still is not counted."""

PROGRESS_EVERY = 10

ANY_FILE = "*"

Key = tuple[str, str, str]

PART = "…"
"""Before and after what changes, in an equivalent that speaks of a part of a line."""


def known_equivalents(file: Path = EQUIVALENTS) -> dict[Key, str]:
    """Return the faults that are none, with the reason: by file, line, and what becomes of it."""
    entries = tomllib.loads(file.read_text()).get("equivalent", [])
    return {(each["file"], each["line"], each["becomes"]): each["why"] for each in entries}


def key_of(mutant: Mutant) -> Key:
    """Return what names a fault wherever its line moves."""
    return mutant.file, mutant.before, mutant.after


def least_share(noticed: int, of: int, confidence: float = 0.95) -> float:
    """Return what a share is at least: one-sided, Clopper and Pearson (Biometrika 26, 1934)."""
    from scipy.stats import beta

    return float(beta.ppf(1 - confidence, noticed, of - noticed + 1)) if noticed else 0.0


def table(tried: Iterable[Tried], equivalent: dict[Key, str]) -> str:
    """Return the share noticed by module, as a table of Markdown."""
    rows: dict[str, list[Tried]] = {}
    for each in tried:
        rows.setdefault(each.mutant.module, []).append(each)
    every = [each for row in rows.values() for each in row]
    lines = [
        "| module | drawn | equivalent | noticed | share | at least (95 %) |",
        "|---|---|---|---|---|---|",
    ]
    for name, row in [*sorted(rows.items()), ("all", every)]:
        same = sum(_is_equivalent(each, equivalent) for each in row)
        of = len(row) - same
        seen = sum(not survived(each) for each in row)
        share = f"{seen / of:.1%} | {least_share(seen, of):.1%}" if of else "– | –"
        lines.append(f"| {name} | {len(row)} | {same} | {seen} of {of} | {share} |")
    return "\n".join(lines)


def survived(tried: Tried) -> bool:
    """Return whether no test noticed; one that hangs is noticed by whoever waits for it."""
    return tried.outcome in (NOT_NOTICED, NO_TEST)


def tried_before(file: Path) -> list[Tried]:
    """Return what a run that stopped has kept."""
    kept = json.loads(file.read_text())
    return [Tried(**{**each, "mutant": Mutant(**each["mutant"])}) for each in kept]


def survivors(file: Path) -> list[Mutant]:
    """Return the faults of an earlier run that nothing noticed; the product must be the same."""
    return [each.mutant for each in tried_before(file) if survived(each)]


def _is_equivalent(tried: Tried, equivalent: dict[Key, str]) -> bool:
    file, line, becomes = key_of(tried.mutant)
    return survived(tried) and any(
        of_file in (file, ANY_FILE) and _is_change(line, becomes, said, then)
        for of_file, said, then in equivalent
    )


def _is_change(line: str, becomes: str, said: str, then: str) -> bool:
    """Return whether a line becomes what an equivalent says: as a whole, or in one part of it."""
    if not said.startswith(PART):
        return (line, becomes) == (said, then)
    part, other = said.strip(PART), then.strip(PART)
    places = [at for at in range(len(line)) if line.startswith(part, at)]
    return any(line[:at] + other + line[at + len(part) :] == becomes for at in places)


def fail_unchanged(folder: Path, covering: Covering, tried: Iterable[Tried]) -> set[str]:
    """Return those of the tests which noticed a fault that fail without one, too."""
    tests = sorted({each.by for each in tried if each.by})
    expected_s = sum(covering.seconds.get(test, 0.0) for test in tests)
    return set(outcome_of(folder, tests, expected_s, first_ends=False)[1]) if tests else set()


def line_of(tried: Tried) -> str:
    """Return one survivor: file, line and change."""
    each = tried.mutant
    return (
        f"{each.file}:{each.line}  {each.operator}  ({tried.outcome}; {tried.tests} tests)\n"
        f"    - {each.before}\n    + {each.after}"
    )


def keep(tried: Iterable[Tried], file: Path) -> None:
    """Write down what became of each fault, as far as they are tried."""
    file.write_text(json.dumps([asdict(each) for each in tried], indent=1))


@dataclass(frozen=True)
class Work:
    """What trying a fault hangs on, whichever the copy.

    Attributes
    ----------
    where : Where
    covering : Covering
    most_s : float
    without : frozenset of str
        Tests that take no part.
    """

    where: Where
    covering: Covering
    most_s: float
    without: frozenset[str] = frozenset()

    def attempt(self, mutant: Mutant, folder: Path, before: Tried | None = None) -> Tried:
        """Try one fault on a copy, with those tests only that were not tried on it before."""
        chosen = chosen_tests(mutant, self.where, self.covering, self.most_s)
        tests = [test for test in chosen if test not in self.without]
        done = before.tests if before else 0
        if before and len(tests) <= done:
            return replace(before, most_s=self.most_s)
        now = try_out(folder, mutant, tests[done:], self.covering.seconds)
        took_s = now.took_s + (before.took_s if before else 0.0)
        return replace(now, tests=len(tests), most_s=self.most_s, took_s=took_s)


def all_tried(
    mutants: list[Mutant], before: list[Tried | None], work: Work, folders: list[Path]
) -> Iterator[Tried]:
    """Yield what becomes of the faults, in their order; as many at a time as there are copies.

    ``before`` is what became of each with fewer tests, None where it is tried for the first time.
    """
    fork = multiprocessing.get_context("fork")  # all is loaded already
    free = fork.SimpleQueue()
    for folder in folders:
        free.put(folder)
    pool = ProcessPoolExecutor(len(folders), fork, _take_copy, (work, free))
    try:
        yield from pool.map(_attempt, mutants, before)
    finally:
        pool.shutdown(cancel_futures=True)


def _take_copy(work: Work, free: multiprocessing.SimpleQueue[Path]) -> None:
    """Begin a process that tries faults: one copy is its own."""
    global _own
    _own = work, free.get()


_own: tuple[Work, Path]


def _attempt(mutant: Mutant, before: Tried | None) -> Tried:
    work, folder = _own
    return work.attempt(mutant, folder, before)


def main() -> None:
    """Draw, try, and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("number", type=int, nargs="?", default=600, help="faults to draw")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2, help="processes at a time")
    parser.add_argument("--afresh", action="store_true", help="run all tests with coverage anew")
    parser.add_argument("--minutes", type=float, default=float("inf"), help="stop after these")
    parser.add_argument("--most", type=float, default=MOST_S, help="seconds of tests for a fault")
    parser.add_argument("--on", action="store_true", help="go on where such a run stopped before")
    parser.add_argument("--only", default="", help="draw of files whose name begins so")
    parser.add_argument("--again", help="only the survivors of a kept run: build/mutants/….json")
    args = parser.parse_args()
    KEPT.mkdir(parents=True, exist_ok=True)
    kept = KEPT / ("again.json" if args.again else f"seed-{args.seed}-{args.number}.json")
    began_s = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="strokewise-mutants-") as scratch:
        folder, *copies = (
            copy_tree(Path(scratch).resolve() / str(job)) for job in range(max(1, args.jobs))
        )
        covering = cover(folder, KEPT / "covering.json", args.jobs, afresh=args.afresh)
        mutants = (
            survivors(Path(args.again))
            if args.again
            else draw(folder, args.number, args.seed, args.only)
        )
        print(f"Seed {args.seed}, {len(mutants)} drawn", flush=True)
        files = sorted(str(path.relative_to(folder)) for path in _product(folder))
        work = Work(Where(folder, files), covering, args.most)
        for each in (folder, *copies):
            load_what_tests_load(each)
        tried = tried_before(kept) if args.on and kept.exists() else []
        if [each.mutant for each in tried] != mutants[: len(tried)]:
            sys.exit(f"{kept} is of other faults: the product changed since, or the draw")
        equivalent = known_equivalents()
        for most_s in (min(NEAR_S, args.most), args.most):
            todo = left_to_do(tried, len(mutants), most_s, equivalent)
            before = [tried[number] if number < len(tried) else None for number in todo]
            chosen = [mutants[number] for number in todo]
            now = replace(work, most_s=most_s)
            with closing(all_tried(chosen, before, now, [folder, *copies])) as results:
                for number, each in zip(todo, results, strict=False):
                    tried[number : number + 1] = [each]
                    _say(number + 1, each, len(mutants), tried, kept)
                    if time.monotonic() - began_s > args.minutes * 60:
                        break
            if time.monotonic() - began_s > args.minutes * 60:
                print(f"stopped after {args.minutes:g} minutes")
                break
        moody = fail_unchanged(folder, covering, tried)
        if moody:
            print(f"\nLeft out, as they fail with nothing changed: {', '.join(sorted(moody))}")
            again = Work(work.where, covering, args.most, frozenset(moody))
            tried = [again.attempt(t.mutant, folder) if t.by in moody else t for t in tried]
    left = [each for each in tried if survived(each) and not _is_equivalent(each, equivalent)]
    print(f"\nSurvivors, {len(left)}:\n")
    for each in left:
        print(line_of(each))
    print(f"\nSeed {args.seed}, {(time.monotonic() - began_s) / 60:.0f} minutes\n")
    print(table(tried, equivalent))
    keep(tried, kept)


def left_to_do(
    tried: list[Tried], number: int, most_s: float, equivalent: dict[Key, str]
) -> list[int]:
    """Return which faults of a draw are to be tried with so many seconds of tests, by number.

    Those that nothing noticed with fewer, and that are no equivalents; then those not yet tried.
    """
    again = [
        place
        for place, each in enumerate(tried)
        if survived(each) and each.most_s < most_s and not _is_equivalent(each, equivalent)
    ]
    return [*again, *range(len(tried), number)]


def _say(number: int, each: Tried, of: int, tried: list[Tried], kept: Path) -> None:
    """Print a survivor, and now and then how far the run has come, which is kept then."""
    if number % PROGRESS_EVERY == 0:
        seen = sum(not survived(each) for each in tried)
        print(f"{number}/{of} tried, {seen} of {len(tried)} noticed", flush=True)
        keep(tried, kept)
    if survived(each) or each.outcome == HANGS:
        print(f"{number}/{of} {line_of(each)}", flush=True)


def _product(folder: Path) -> Iterable[Path]:
    for pattern in ("analysis/**/*.py", "daq/**/*.py", "gui/**/*.py"):
        yield from folder.glob(pattern)


if __name__ == "__main__":
    sys.exit(main())
