"""How long does each file of tests take? From a table kept here, so that a fresh clone knows it.

`make test` writes it. Seconds and numbers of tests are rounded, and a file's line stays as it is
until it is wrong by half: the table is for choosing, and should not change with every run.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

TABLE = Path(__file__).parent / "seconds.txt"

STEPS = (1.0, 1.5, 2.0, 3.0, 5.0, 7.0, 10.0)
"""Figures are rounded to these, times a power of ten: never wrong by more than a fourth."""

LEAST_S = 0.01

WRONG_BY = 1.5
"""What is kept stays until the truth is so many times more or less."""

UNKNOWN_S = 0.1
"""What a test is taken to last whose file is new: some more than half of them take less."""


@dataclass(frozen=True)
class Spent:
    """What a file of tests takes: how many tests, and how long all of them together."""

    tests: int
    seconds: float

    @property
    def each_s(self) -> float:
        """Seconds of one test of the file, on average."""
        return self.seconds / max(self.tests, 1)


def read(table: Path = TABLE) -> dict[str, Spent]:
    """Return what each file takes, by its path from the root of the tree."""
    lines = table.read_text(encoding="utf-8").splitlines() if table.exists() else []
    rows = (line.split(maxsplit=2) for line in lines if not line.startswith("#"))
    return {file: Spent(int(tests), float(seconds)) for seconds, tests, file in rows}


def guess(file: Path) -> Spent:
    """Return what a file that is in no table may take, by the tests that it defines."""
    tests = file.read_text(encoding="utf-8").count("\ndef test_")
    return Spent(tests, tests * UNKNOWN_S)


def renewed(kept: Mapping[str, Spent], took: Mapping[str, Spent]) -> dict[str, Spent]:
    """Return the table after a run: what is new, and what was wrong, at the kept one's pace.

    A machine that is slower, or busy, takes longer over all files alike: that is divided out.
    """
    both = kept.keys() & took.keys()
    pace = sum(took[f].seconds for f in both) / sum(kept[f].seconds for f in both) if both else 1.0
    found = dict(kept)
    for file, now in took.items():
        seconds, old = max(now.seconds / pace, LEAST_S), kept.get(file)
        if old is None or _differs(old.seconds, seconds) or _differs(old.tests, now.tests):
            found[file] = Spent(round(rounded(now.tests)), rounded(seconds))
    return found


def write(spent: Mapping[str, Spent], table: Path = TABLE, root: Path = ROOT) -> None:
    """Write the table, without files that are no more."""
    lines = ["# seconds, tests, file: roughly; written by `make test`, read by `make quick`"]
    for file, each in sorted(spent.items()):
        if (root / file).exists():
            lines.append(f"{each.seconds:7g} {each.tests:5d}  {file}")
    said = "\n".join(lines) + "\n"
    if not table.exists() or table.read_text(encoding="utf-8") != said:
        table.write_text(said, encoding="utf-8")


def rounded(figure: float) -> float:
    """Return the nearest step, by ratio."""
    if figure <= 0:
        return 0.0
    decade = 10.0 ** math.floor(math.log10(figure))
    return float(f"{min(STEPS, key=lambda s: abs(math.log(figure / decade / s))) * decade:.3g}")


def _differs(kept: float, now: float) -> bool:
    return not kept / WRONG_BY <= now <= kept * WRONG_BY
