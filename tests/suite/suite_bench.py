"""What does the bench engine send, and what is true of it? Turned once for all tests and runs.

A run of the bench is the same wherever and whenever it is made: it hangs on its settings, its seed
and its code alone. So what it sent is kept on disk under a hash of all three, and a run of the
tests that changes none of them reads it there. Whatever the tests are about, how bytes are decoded
and what is made of them, is done anew each time.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest
from suite_compiled import once_compiled
from suite_imports import ROOT, reached

from strokewise.daq.bench.bench import Bench, take
from strokewise.daq.bench.engine.run import EngineRun
from strokewise.daq.bench.truth import truth
from strokewise.daq.recording.container import Item

FOLDER = "STROKEWISE_KEPT_RUNS"
"""Environment variable: where runs are kept; nowhere when it is not set."""

MADE_BY = ("numpy", "numba")


@dataclass(frozen=True)
class Played:
    """What the host received from a bench, and the truth."""

    items: tuple[Item, ...]
    truth: dict[str, Any]


def tdc_off_deg(angle_deg: float, truth: dict[str, Any]) -> float:
    """Return how far an angle lies after the true TDC, to either side."""
    return (angle_deg - float(truth["tdc"]["angle"]) + 180.0) % 360.0 - 180.0


def played(bench: Bench, run: Callable[[], EngineRun] | None = None, how: str = "") -> Played:
    """Turn a bench, or read what it sent when it was turned before.

    Parameters
    ----------
    bench : Bench
    run : callable, optional
        What turns the engine, where it is not the bench's own way; named by ``how``.
    """
    folder = os.environ.get(FOLDER)
    if not folder:
        return _play(bench, run)
    asked = hashlib.sha256(pickle.dumps((bench, how))).hexdigest()
    kept = Path(folder) / _code() / asked
    if kept.exists():
        found: Played = pickle.loads(kept.read_bytes())
        return found
    made = _play(bench, run)
    kept.parent.mkdir(parents=True, exist_ok=True)
    part = kept.with_suffix(f".{os.getpid()}")
    part.write_bytes(pickle.dumps(made))
    part.replace(kept)  # whole or not at all, for another process may look
    return made


def _play(bench: Bench, run: Callable[[], EngineRun] | None) -> Played:
    once_compiled()
    made = take(bench, None if run is None else run())
    return Played(made.items, truth(made))


@cache
def _code() -> str:
    """Return a hash of all the code that a run hangs on."""
    found = hashlib.sha256(sys.version.encode())
    for package in MADE_BY:
        found.update(f"{package} {version(package)}".encode())
    own = (str(file.relative_to(ROOT)) for file in (ROOT / "daq" / "bench").glob("**/*.py"))
    for file in reached(own):
        found.update(file.encode() + (ROOT / file).read_bytes())
    return found.hexdigest()[:16]


def pytest_configure(config: pytest.Config) -> None:
    """Keep runs in pytest's own cache, those of this code only; but leave a folder given alone."""
    cache_here = getattr(config, "cache", None)
    if FOLDER in os.environ or cache_here is None:
        return
    folder = cache_here.mkdir("bench-runs")
    for old in folder.iterdir():
        if old.name != _code():
            shutil.rmtree(old, ignore_errors=True)
    os.environ[FOLDER] = str(folder)
