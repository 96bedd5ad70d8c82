"""What does ``strokewise find`` take for an hour at 2,000 samples a second, in time and memory?

    PYTHONPATH=tests/suite python tests/benchmarks/hour_speed.py [MINUTES …]

A minute of the bench engine laid end to end, see ``tests/suite/suite_long.py``. Each length runs
in a process of its own on one core; its memory is the most that the process ever held, as the
system counts it, and its time that of the processor. Recordings are made in another process: one
that is started takes over what its parent held at the most, so this one stays small.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

MINUTES = (10.0, 20.0, 40.0, 60.0)
RATE_HZ = 2_000.0
ROUND_S = 60.0
GOAL_S, GOAL_MB = 15.0, 300.0

MAKE = """
import sys
sys.path.insert(0, sys.argv[1])
from suite_long import cranked_round, keep_for
keep_for(cranked_round(float(sys.argv[3]), float(sys.argv[4])), float(sys.argv[5]), sys.argv[2])
"""

ALONE = """
import json, resource, sys
from strokewise.gui.cli import main
code = main(["find", sys.argv[1]])
used = resource.getrusage(resource.RUSAGE_SELF)
said = {"s": used.ru_utime + used.ru_stime, "mb": used.ru_maxrss / 1024, "code": code}
print(json.dumps(said))
"""


def make(minutes: float, path: Path) -> None:
    """Write a recording of so many minutes."""
    suite = Path(__file__).parents[1] / "suite"
    figures = (RATE_HZ, ROUND_S, minutes * 60.0)
    subprocess.run([sys.executable, "-c", MAKE, suite, path, *map(str, figures)], check=True)


def found(path: Path) -> dict[str, float]:
    """Return what one ``find`` took: ``s``, ``mb`` and its exit ``code``."""
    said = subprocess.run(
        [sys.executable, "-c", ALONE, str(path)],
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    figures: dict[str, float] = json.loads(said.splitlines()[-1])
    return figures


def main() -> int:
    """Print the table; 0 when the longest is within both limits."""
    lengths = [float(word) for word in sys.argv[1:]] or MINUTES
    print(
        f"{'recording':>12}{'samples':>12}{'file, MB':>10}{'CPU, s':>9}{'MB':>7}{'s a minute':>12}"
    )
    with tempfile.TemporaryDirectory() as folder:
        for minutes in lengths:
            path = Path(folder) / f"{minutes:g}.swr"
            make(minutes, path)
            took = found(path)
            print(
                f"{minutes:8g} min{minutes * 60 * RATE_HZ:12,.0f}{path.stat().st_size / 1e6:10.1f}"
                f"{took['s']:9.1f}{took['mb']:7.0f}{took['s'] / minutes:12.3f}",
                flush=True,
            )
            path.unlink()
    print(f"asked of an hour: {GOAL_S:g} s, {GOAL_MB:g} MB")
    return 0 if took["s"] < GOAL_S and took["mb"] < GOAL_MB else 1


if __name__ == "__main__":
    raise SystemExit(main())
