"""How much quicker is ``strokewise find FOLDER`` on more cores? Whole process, the same folder.

    python tests/benchmarks/folder_speed.py

Copies of the shipped recordings, answered on one core, on two, and so on. The best that could be is
one core's time over the number of cores.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SHIPPED = Path(__file__).parents[2] / "recordings"
COPIES = 2


def took_s(folder: Path, cores: int) -> tuple[float, str]:
    """Return how long the folder takes on so many cores by the clock, and what was answered."""
    mine = sorted(os.sched_getaffinity(0))[:cores]
    began_s = time.monotonic()
    done = subprocess.run(
        [sys.executable, "-m", "strokewise.gui", "find", str(folder), "--json"],
        preexec_fn=lambda: os.sched_setaffinity(0, mine),
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    return time.monotonic() - began_s, done.stdout


def main() -> int:
    """Print the table; 0 when every number of cores gives the same answers in the same order."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shipped = sorted(SHIPPED.glob("*.swr"))
        for copy in range(COPIES):
            for file in shipped:
                shutil.copy(file, folder / f"{copy}-{file.name}")
        print(f"{len(shipped) * COPIES} recordings")
        alone_s, answers, same = 0.0, "", True
        for cores in range(1, len(os.sched_getaffinity(0)) + 1):
            lasted_s, said = took_s(folder, cores)
            alone_s, answers = alone_s or lasted_s, answers or said
            same = same and said == answers
            print(
                f"{cores} cores: {lasted_s:7.1f} s, {alone_s / lasted_s:5.2f} times one core"
                f" ({alone_s / lasted_s / cores:.0%} of the best that could be)"
            )
    print("the same answers in the same order" if same else "THE ANSWERS DIFFER")
    return 0 if same else 1


if __name__ == "__main__":
    raise SystemExit(main())
