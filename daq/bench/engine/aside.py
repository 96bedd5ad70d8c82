"""Is the bench's engine compiled already? If not, a process of its own does it, once.

Numba holds the interpreter while it compiles, for some twenty seconds: nothing else in the process
goes on meanwhile, a window neither. What another process has compiled is read from the disk.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

from strokewise.daq.bench.engine import compiled
from strokewise.daq.bench.engine.kernel import run_engine

LONGEST_S = 300.0
"""What has taken longer will not end: it is compiled here, then."""


def is_kept(engine: Any = run_engine) -> bool:
    """Return whether a compiled engine is on disk, as new as its sources; or never can be.

    Parameters
    ----------
    engine : optional
        The entry point that is kept.
    """
    folder = engine.stats.cache_path if compiled.COMPILED else None
    if folder is None:  # no compiler, or nowhere to write
        return True
    here = Path(__file__)
    sources = [here.with_name(f"{name}.py").stat().st_mtime for name in compiled.COMPILED_MODULES]
    version = "{}{}".format(*sys.version_info[:2])
    kept = Path(folder).glob(f"kernel.*.py{version}.nbi")
    return any(index.stat().st_mtime >= max(sources) for index in kept)


def compile_aside() -> None:
    """Compile the engine in another process, and wait for it; where that fails nothing is lost."""
    try:
        subprocess.run(
            [sys.executable, "-m", __name__],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=LONGEST_S,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return


def _turn_once() -> None:
    from strokewise.daq.bench.bench import take
    from strokewise.daq.bench.scenarios.scenarios import scenario

    take(scenario("cranked").build({"seconds": 0.2}))


if __name__ == "__main__":
    _turn_once()
