"""The engine is compiled in another process where nothing, or nothing new, is on disk."""

import os
import subprocess
import sys
from types import SimpleNamespace

import pytest

from strokewise.daq.bench.engine import aside
from strokewise.daq.bench.engine.compiled import COMPILED
from strokewise.daq.bench.engine.kernel import run_engine

VERSION = "{}{}".format(*sys.version_info[:2])

needs_numba = pytest.mark.skipif(not COMPILED, reason="nothing is compiled without numba")


def engine(folder):
    return SimpleNamespace(stats=SimpleNamespace(cache_path=folder and str(folder)))


@needs_numba
def test_what_is_compiled_counts_while_it_is_as_new_as_the_sources(tmp_path):
    assert not aside.is_kept(engine(tmp_path))
    assert not aside.is_kept(engine(tmp_path / "no such folder"))
    (tmp_path / f"other.run.py{VERSION}.nbi").touch()
    (tmp_path / "kernel.run.py27.nbi").touch()
    assert not aside.is_kept(engine(tmp_path))
    index = tmp_path / f"kernel.run.py{VERSION}.nbi"
    index.touch()
    assert aside.is_kept(engine(tmp_path))
    os.utime(index, (0.0, 0.0))
    assert not aside.is_kept(engine(tmp_path))


def test_where_nothing_can_be_kept_nobody_waits():
    assert aside.is_kept(engine(None))


@needs_numba
def test_after_a_turn_it_is_kept_under_the_name_that_is_looked_for():
    if run_engine.stats.cache_path is None:
        pytest.skip("there is nowhere to write")
    aside._turn_once()
    assert aside.is_kept()


@pytest.mark.parametrize("error", [
    OSError("no such program"),
    subprocess.TimeoutExpired("python", aside.LONGEST_S),
    None,
])  # fmt: skip
def test_a_process_that_fails_or_hangs_harms_nobody(monkeypatch, error):
    asked = []

    def run(command, *, timeout, **more):
        asked.append(command)
        assert timeout == aside.LONGEST_S
        if error is not None:
            raise error

    monkeypatch.setattr(subprocess, "run", run)
    aside.compile_aside()
    assert asked == [[sys.executable, "-m", "strokewise.daq.bench.engine.aside"]]
