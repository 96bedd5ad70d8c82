"""Who compiles the bench engine's inner loops? One process of a run, beside it; the others wait.

Compiled they stay on disk, but in a fresh clone, or after a change to the bench, each process of
the tests would compile them for itself: 20 s of processor time each, all at once.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import pytest
from suite_imports import ROOT

try:
    import fcntl
except ImportError:  # there is none on Windows: each compiles for itself
    fcntl = None  # type: ignore[assignment]

BEGUN = "STROKEWISE_COMPILED_BY"
"""Environment variable: the file that the process which compiles holds locked."""

COMPILE = "from suite_compiled import compile_now; compile_now()"


def pytest_configure(config: pytest.Config) -> None:
    """Begin to compile with a whole run where nothing is compiled yet; its chief does so."""
    whole = config.getoption("--keep-seconds") and not hasattr(config, "workerinput")
    if not whole or fcntl is None or _is_compiled():
        return
    os.environ[BEGUN] = str(lock_of(ROOT))
    path = os.pathsep.join([str(Path(__file__).parent), *sys.path])
    beside = subprocess.Popen(
        [sys.executable, "-c", COMPILE],
        env={**os.environ, "PYTHONPATH": path},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )

    def end() -> None:
        os.environ.pop(BEGUN, None)
        beside.terminate()
        beside.wait()

    config.add_cleanup(end)


def lock_of(root: Path) -> Path:
    """Return the file that is locked for a checkout, whichever of its runs compiles."""
    name = hashlib.sha256(str(root).encode()).hexdigest()[:16]
    return Path(tempfile.gettempdir()) / f"strokewise-compiled-{name}"


def compile_now() -> None:
    """Turn a bench for a moment, so that all of its loops are compiled and kept."""
    with _locked(Path(os.environ[BEGUN])):
        from strokewise.daq.bench.bench import take
        from strokewise.daq.bench.scenarios.scenarios import scenario

        take(scenario("cranked").build({"seconds": 0.5}))


@cache
def once_compiled() -> None:
    """Wait until whoever compiles is done."""
    if BEGUN in os.environ:
        with _locked(Path(os.environ[BEGUN])):
            pass


@contextmanager
def _locked(file: Path) -> Iterator[None]:
    with file.open("a") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        yield


def _is_compiled() -> bool:
    """Return whether something is kept that is no older than the code, or nothing is to be."""
    engine = ROOT / "daq" / "bench" / "engine"
    kept = [each.stat().st_mtime for each in (engine / "__pycache__").glob("kernel*.nbi")]
    newest = max(each.stat().st_mtime for each in engine.glob("*.py"))
    return "NUMBA_CACHE_DIR" in os.environ or (bool(kept) and max(kept) >= newest)
