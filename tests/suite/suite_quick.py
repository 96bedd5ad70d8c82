"""Which tests are worth the next minute? Those of what has changed, then the fastest files.

`--within SECONDS` orders the tests so and starts none that would not end in time. It leaves out
none for good: how many were not reached is said, and the whole suite runs them.
"""

from __future__ import annotations

import os
import subprocess
import time
from collections import Counter
from pathlib import Path

import pytest
from suite_imports import imported
from suite_timings import DURATIONS

UNKNOWN_S = 0.1
"""What a test is taken to last that never ran here: some more than half of them take less."""

NOT_REACHED = "beyond the time given: the whole suite runs it"


class Quick:
    """Orders the tests of a run and ends it in time."""

    def __init__(self, config: pytest.Config, within_s: float) -> None:
        self.root = config.rootpath
        self.within_s = within_s
        self.until_s = _began_s(config) + within_s
        self.seconds: dict[str, float] = config.cache.get(DURATIONS, {}) if config.cache else {}

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Put first what the change touches, then what is fast; a file stays whole, it shares."""
        changed = changed_files(self.root)
        near = {path: is_near(path, self.root, changed) for path in {item.path for item in items}}
        spent_s: Counter[Path] = Counter()
        for item in items:
            spent_s[item.path] += self._takes_s(item)
        items.sort(key=lambda item: (not near[item.path], spent_s[item.path], str(item.path)))
        # On a busy machine to find the tests takes all the time: then they get half of it still.
        self.until_s = max(self.until_s, time.time() + self.within_s / 2)

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        """Start no test that would not end in time."""
        if time.time() + self._takes_s(item) > self.until_s:
            pytest.skip(NOT_REACHED)

    def _takes_s(self, item: pytest.Item) -> float:
        return self.seconds.get(item.nodeid, UNKNOWN_S)


def _began_s(config: pytest.Config) -> float:
    """Return when the run began: a worker starts later than the run it belongs to."""
    began = os.environ.setdefault("STROKEWISE_TESTS_BEGAN", str(time.time()))
    return float(began) if hasattr(config, "workerinput") else time.time()


def changed_files(root: Path) -> set[str]:
    """Return the files that differ from the main branch, or from the last commit on it."""
    base = "main" if _git(root, "rev-parse", "--verify", "--quiet", "main") else "HEAD"
    differs = _git(root, "diff", "--name-only", "--merge-base", base)
    return set(differs) | set(_git(root, "ls-files", "--others", "--exclude-standard"))


def _git(root: Path, *words: str) -> list[str]:
    """Return the lines that git says; none where there is no git, or no repository."""
    try:
        said = subprocess.run(["git", *words], cwd=root, capture_output=True, text=True)
    except OSError:
        return []
    return said.stdout.splitlines() if said.returncode == 0 else []


def is_near(test_file: Path, root: Path, changed: set[str]) -> bool:
    """Return whether a file of tests has changed, or imports a module that has."""
    return str(test_file.relative_to(root)) in changed or bool(imported(test_file) & changed)


def pytest_addoption(parser: pytest.Parser) -> None:
    """Take the time that there is."""
    parser.addoption(
        "--within",
        type=float,
        metavar="SECONDS",
        help="tests of what has changed first, then the fastest files; stop after SECONDS",
    )


def pytest_configure(config: pytest.Config) -> None:
    """Order the run, when asked to."""
    within_s = config.getoption("--within")
    if within_s is not None:
        config.pluginmanager.register(Quick(config, within_s), "strokewise-quick")
