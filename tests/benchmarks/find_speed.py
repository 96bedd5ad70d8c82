"""How long does ``strokewise find`` take as recordings grow? Whole process, beside a bare start.

    python tests/benchmarks/find_speed.py

Each row is the best of three. The cost of a sample is what the longest recording takes over the
shortest one's time, so it shows whether it grows linearly.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

LENGTHS_S = (10, 20, 40, 80)
REPEATS = 3
GOAL_S = 3.0


def run(*arguments: str) -> None:
    """Run a command to its end."""
    command = [sys.executable, "-m", "strokewise.gui", *arguments]
    subprocess.run(command, capture_output=True, check=True)


def timed(*arguments: str) -> tuple[float, float]:
    """Return the shortest wall-clock and CPU time of a command, seconds."""
    walls, cpus = [], []
    for _ in range(REPEATS):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        begun = time.perf_counter()
        run(*arguments)
        walls.append(time.perf_counter() - begun)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        cpus.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(walls), min(cpus)


def main() -> int:
    """Print the table; 0 when ten seconds of recording are answered in time."""
    print(f"{'':34}{'wall, s':>9}{'CPU, s':>9}{'more CPU for each 10 s more':>30}")
    wall, cpu = timed("--version")
    print(f"{'strokewise --version (bare start)':34}{wall:9.2f}{cpu:9.2f}")
    first: tuple[float, float, float] | None = None
    with tempfile.TemporaryDirectory() as folder:
        for length_s in LENGTHS_S:
            file = str(Path(folder) / f"{length_s}.swr")
            run("simulate", file, "--scenario", "cranked", "--set", f"seconds={length_s}s")
            wall, cpu = timed("find", file)
            more = ""
            if first is not None:
                more = f"{(cpu - first[2]) / (length_s - first[0]) * 10.0:30.3f}"
            else:
                first = (length_s, wall, cpu)
            print(f"{f'find, {length_s} s of recording':34}{wall:9.2f}{cpu:9.2f}{more}", flush=True)
    assert first is not None
    print(f"goal: {first[0]:.0f} s of recording under {GOAL_S:g} s")
    return 0 if first[1] < GOAL_S else 1


if __name__ == "__main__":
    raise SystemExit(main())
