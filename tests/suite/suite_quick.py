"""Which tests are worth the next minute? Those of what has changed, then the most for the time.

`--within SECONDS` takes the files of tests that changed or import a module that did, then those
with the most tests a second, as many as fit by the table of `suite_seconds.py`. The others are not
even looked into: finding their tests would take a good part of the time. How many were not reached
is said, and the whole suite runs them.
"""

from __future__ import annotations

import os
import subprocess
import time
from collections.abc import Mapping
from functools import cached_property
from pathlib import Path

import pytest
from suite_bench import FOLDER
from suite_imports import imported
from suite_seconds import Spent, guess, read
from suite_timings import DURATIONS

START_S = 4.0
"""Until a worker of the run looks for its first test: Python, pytest, numpy and the bench."""

LOOKING_S = 0.06
"""For the tests of one file to be found, which every worker does for itself."""

BENCH, TURNING_S = ("suite_bench", "turned", "scenario("), 2.0
"""What stands in a file of tests that turns the bench engine, and how long that takes for a file
where no run of the bench is kept yet, as in a fresh clone."""

NOT_REACHED = "beyond the time given: the whole suite runs it"

PLACES = "tests"


class Quick:
    """Takes, orders and ends a run so that it keeps within its time."""

    def __init__(self, config: pytest.Config, within_s: float) -> None:
        self.root = config.rootpath
        self.within_s = within_s
        self.until_s = _began_s(config) + within_s
        self.jobs = _jobs(config)
        self.kept_runs = FOLDER in os.environ and any(Path(os.environ[FOLDER]).glob("*/*"))
        self.durations: dict[str, float] = config.cache.get(DURATIONS, {}) if config.cache else {}

    @cached_property
    def spent(self) -> dict[str, Spent]:
        """What each file takes that the run could look into."""
        known = read()
        files = sorted((self.root / PLACES).glob("**/test_*.py"))
        names = {str(f.relative_to(self.root)): f for f in files if "window" not in f.parts}
        found = {name: known.get(name) or guess(file) for name, file in names.items()}
        if self.kept_runs:
            return found
        turns = {name: _turns_a_bench(file) for name, file in names.items()}
        return {
            name: Spent(each.tests, each.seconds + TURNING_S * turns[name])
            for name, each in found.items()
        }

    @cached_property
    def rank(self) -> dict[str, int]:
        """The files taken, and when their turn comes."""
        changed = changed_files(self.root)
        near = {name for name in self.spent if is_near(self.root / name, self.root, changed)}
        taken = worth(self.spent, near, self.within_s, self.jobs)
        return {name: number for number, name in enumerate(taken)}

    def pytest_ignore_collect(self, collection_path: Path) -> bool | None:
        """Look into no file that is not taken, nor into a folder without one that is."""
        name = str(collection_path.relative_to(self.root))
        if collection_path.is_dir():
            inside = name + os.sep
            if any(each.startswith(inside) for each in self.spent):
                return None if any(each.startswith(inside) for each in self.rank) else True
            return None
        return True if name in self.spent and name not in self.rank else None

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Put the tests in the order of their files; a file stays whole, it shares."""
        items.sort(key=lambda item: self.rank.get(self._file(item), len(self.rank)))
        # On a busy machine to find the tests takes all the time: then they get half of it still.
        self.until_s = max(self.until_s, time.time() + self.within_s / 2)

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        """Start no test that would not end in time."""
        if time.time() + self._takes_s(item) > self.until_s:
            pytest.skip(NOT_REACHED)

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        """Say what was not looked into."""
        left = [each for name, each in self.spent.items() if name not in self.rank]
        terminalreporter.section("the rest is for the whole suite")
        terminalreporter.write_line(
            f"not looked into: {len(left)} files with some {sum(each.tests for each in left)} tests"
        )

    def _takes_s(self, item: pytest.Item) -> float:
        spent = self.spent.get(self._file(item))
        return self.durations.get(item.nodeid, spent.each_s if spent else 0.0)

    def _file(self, item: pytest.Item) -> str:
        return str(item.path.relative_to(self.root))


def _turns_a_bench(file: Path) -> bool:
    said = file.read_text(encoding="utf-8")
    return any(each in said for each in BENCH)


def worth(spent: Mapping[str, Spent], near: set[str], within_s: float, jobs: int) -> list[str]:
    """Return the files to take, in order: all that are near, then what fits, most a second first.

    Parameters
    ----------
    spent : mapping
        What each file takes.
    near : set of str
        Files that look at what has changed; they are begun even if they do not fit whole.
    within_s : float
    jobs : int
        Processes at a time.
    """
    left_s = within_s - START_S
    taken = []
    for name in sorted(spent, key=lambda name: (name not in near, spent[name].each_s, name)):
        takes_s = LOOKING_S + spent[name].seconds / jobs
        if name in near or takes_s <= left_s:
            taken.append(name)
            left_s -= takes_s
    return taken


def _jobs(config: pytest.Config) -> int:
    """Return how many processes run tests at a time."""
    workers = getattr(config, "workerinput", {}).get("workercount")
    return workers or len(getattr(config.option, "tx", None) or [None])


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
    if str(test_file.relative_to(root)) in changed:
        return True
    said = test_file.read_text(encoding="utf-8")  # to parse each takes seconds, most name none
    return any(Path(each).stem in said for each in changed) and bool(imported(test_file) & changed)


def pytest_addoption(parser: pytest.Parser) -> None:
    """Take the time that there is."""
    parser.addoption(
        "--within",
        type=float,
        metavar="SECONDS",
        help="tests of what has changed first, then the most for the time; stop after SECONDS",
    )


@pytest.hookimpl(trylast=True)  # once it is known where runs of the bench are kept
def pytest_configure(config: pytest.Config) -> None:
    """Order the run, when asked to."""
    within_s = config.getoption("--within")
    if within_s is not None:
        config.pluginmanager.register(Quick(config, within_s), "strokewise-quick")
