"""Does a test notice a fault? It gets a process of its own, forked from one that has loaded all
that the tests load beside the product."""

from __future__ import annotations

import contextlib
import importlib
import os
import resource
import signal
import sys
import time
import traceback
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path

import pytest
from covering import Covering, Where
from drawing import Mutant, mutated
from workshop import PYTEST, environment

DECLARED = "tests/test_structure.py"
"""Looks at what modules declare, which no line that runs shows."""

TABLES = (
    "tests/gui/pages/test_words_kept.py",
    "tests/gui/pages/test_pages_kept.py",
    "tests/gui/test_sayings_kept.py",
)
"""Hold every table of words, caution and step, and are quick: tried first, where what changed is
declared."""

START_S = 30.0
SLOWER = 5.0
WAITS = 10.0
"""What takes so many times the processor's time that the tests took before, and the start of a
process on top, goes round for ever; and so many times that by the clock, it waits for ever: on a
busy machine the clock alone would call every fault a hanging one."""

NOTICED, NOT_NOTICED, HANGS, NO_TEST = "noticed", "not noticed", "hangs", "no test runs it"

OUTPUT, LOADED = "build/output", "build/loaded"
"""What pytest said of the last fault, and what the tests load; in the copy."""

OUTCOMES = {
    None: HANGS,
    -signal.SIGXCPU: HANGS,
    int(pytest.ExitCode.OK): NOT_NOTICED,
    int(pytest.ExitCode.TESTS_FAILED): NOTICED,
    int(pytest.ExitCode.INTERRUPTED): NOTICED,  # the tests cannot even be imported
}
"""By how the tests ended. Killed by a signal is noticed as well; any other end is our mistake."""

LOADED_LATE = (
    "scipy.optimize",
    "scipy.signal",
    "scipy.stats",
    "scipy.interpolate",
    "numba",
    "pint",
    "rich.console",
    "jinja2",
)
"""What a test loads when it runs; what it loads before that is found out by collecting them."""

FIRST_S = 4.0
"""Seconds of tests, as they took without a fault, that are tried by themselves first: most faults
fall there, and the files of all the other tests are not even read for them."""


@dataclass(frozen=True)
class Tried:
    """What became of one fault.

    Attributes
    ----------
    mutant : Mutant
    outcome : str
    took_s : float
    tests : int
        How many of the tests that run the changed line were tried, or stood ready.
    by : str
        The test that noticed.
    most_s : float
        Seconds of tests that were to be tried at most.
    """

    mutant: Mutant
    outcome: str
    took_s: float
    tests: int
    by: str = ""
    most_s: float = 0.0


class Loaded:
    """A pytest plugin: collects, and says which modules not of the tree are loaded then."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def pytest_collection_finish(self, session: pytest.Session) -> None:
        """Write them down, and run nothing."""
        files = {name: getattr(each, "__file__", None) for name, each in sys.modules.items()}
        names = [name for name, file in files.items() if file and not self._is_own(file)]
        (self.folder / LOADED).write_text("\n".join(names))
        session.items.clear()

    def _is_own(self, file: str) -> bool:
        return Path(file).is_relative_to(self.folder)


class Chosen:
    """A pytest plugin: runs the chosen tests in their order and says which failed."""

    def __init__(self, order: list[str], said: Path) -> None:
        self.rank = {test: number for number, test in enumerate(order)}
        self.said = said

    def pytest_configure(self) -> None:
        """Draw the same examples each time, and take no time to make a failing one smaller."""
        from hypothesis import Phase, settings

        phases = (Phase.explicit, Phase.generate)
        settings.register_profile("mutants", derandomize=True, database=None, phases=phases)
        settings.load_profile("mutants")

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Keep what was chosen, the first first."""
        items[:] = sorted(
            (item for item in items if item.nodeid in self.rank),
            key=lambda item: self.rank[item.nodeid],
        )

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Write down the test that failed."""
        if report.failed:
            with self.said.open("a") as said:
                said.write(report.nodeid + "\n")


def chosen_tests(mutant: Mutant, where: Where, covering: Covering, most_s: float) -> list[str]:
    """Return the tests that run the changed line: the nearest file first, and in it the fastest.

    Nearest is one that imports the changed module itself, or holds all tables of words; then comes
    one in the package's own folder, then any other, and of each kind the one that takes least.

    Files stay together, since what they set up is theirs. What goes beyond ``most_s`` is left out,
    which can only make the share noticed smaller.
    """
    lines = where.lines(mutant.file, mutant.line)
    tests = set().union(*(covering.tests_of(file, numbers) for file, numbers in lines.items()))
    if mutant.line not in where.inside[mutant.file]:
        tests |= {test for test in covering.seconds if test.startswith((DECLARED, *TABLES))}
    by_file: dict[str, list[str]] = {}
    for test in sorted(tests, key=lambda test: (covering.seconds[test], test)):
        by_file.setdefault(test.split("::")[0], []).append(test)
    near, beside = {*where.near(mutant.file), *TABLES}, f"tests/{Path(mutant.file).parent}/"
    if mutant.line not in where.inside[mutant.file]:
        near.add(DECLARED)
    ranked = sorted(
        by_file.items(),
        key=lambda each: (
            0 if each[0] in near else 1 if each[0].startswith(beside) else 2,
            sum(covering.seconds[test] for test in each[1]),
        ),
    )
    found, spent_s = [], 0.0
    for test in (test for _, each in ranked for test in each):
        spent_s += covering.seconds[test]
        if found and spent_s > most_s:
            break
        found.append(test)
    return found


def in_two(tests: list[str], seconds: dict[str, float]) -> list[list[str]]:
    """Return the tests in their order: those tried by themselves first, then all the others."""
    spent = list(accumulate(seconds[test] for test in tests))
    cut = max(1, sum(each <= FIRST_S for each in spent))
    return [part for part in (tests[:cut], tests[cut:]) if part]


def try_out(folder: Path, mutant: Mutant, tests: list[str], seconds: dict[str, float]) -> Tried:
    """Run the tests on a copy with the fault in it, and put the copy right again.

    Raises
    ------
    RuntimeError
        When the tests were not run, for whatever reason.
    """
    if not tests:
        return Tried(mutant, NO_TEST, 0.0, 0)
    began_s = time.monotonic()
    outcome, by = NOT_NOTICED, []
    with _fault(folder, mutant):
        for part in in_two(tests, seconds):
            outcome, by = outcome_of(folder, part, sum(seconds[test] for test in part))
            if outcome != NOT_NOTICED:
                break
    return Tried(mutant, outcome, time.monotonic() - began_s, len(tests), "".join(by[:1]))


def outcome_of(
    folder: Path, tests: list[str], expected_s: float, *, first_ends: bool = True
) -> tuple[str, list[str]]:
    """Run tests on a copy as it is; returns how they ended, and those that failed."""
    said = folder / "build" / "failed"
    said.unlink(missing_ok=True)
    files = list(dict.fromkeys(test.split("::")[0] for test in tests))
    arguments = [*(["-x"] if first_ends else []), "--tb=line", *files]
    most_s = START_S + SLOWER * expected_s
    status = _in_process(folder, arguments, Chosen(tests, said), most_s)
    killed = status is not None and status < 0
    outcome = OUTCOMES.get(status, NOTICED if killed else None)
    told = (folder / OUTPUT).read_text()
    if status == pytest.ExitCode.USAGE_ERROR and "ImportError while loading conftest" in told:
        outcome = NOTICED  # the fixtures cannot even be imported
    if outcome is None:
        raise RuntimeError(f"pytest ended with {status}:\n{told}")
    return outcome, said.read_text().splitlines() if said.exists() else []


def load_what_tests_load(folder: Path) -> None:
    """Load here, once, what the tests on a copy load beside the product and themselves.

    These two are compiled by it, and stay so for every fault but in the file that it is in.
    """
    status = _in_process(folder, ["tests"], Loaded(folder), WAITS * START_S, keep_compiled=True)
    if not (folder / LOADED).exists():
        raise RuntimeError(f"pytest ended with {status}:\n{(folder / OUTPUT).read_text()}")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name in (*LOADED_LATE, *(folder / LOADED).read_text().splitlines()):
            with contextlib.suppress(Exception):
                importlib.import_module(name)


@contextlib.contextmanager
def _fault(folder: Path, mutant: Mutant) -> Iterator[None]:
    """Put the fault into the file; without its compiled form, which is kept by the second."""
    file = folder / mutant.file
    right = file.read_text()
    stamp = file.stat()
    changed = mutated(right, mutant.operator, mutant.occurrence)
    assert changed is not None
    for compiled in (file.parent / "__pycache__").glob(f"{file.stem}.*.pyc"):
        compiled.unlink()
    file.write_text(changed)
    try:
        yield
    finally:
        file.write_text(right)
        os.utime(file, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))


def _in_process(
    folder: Path,
    arguments: list[str],
    plugin: object,
    most_s: float,
    *,
    keep_compiled: bool = False,
) -> int | None:
    """Run tests in a fork of this process; None when it had to be ended."""
    child = os.fork()
    if not child:
        code = 70
        try:
            resource.setrlimit(resource.RLIMIT_CPU, (round(most_s), round(most_s) + 10))
            code = _run(folder, arguments, plugin, keep_compiled)
        except BaseException:
            traceback.print_exc()
        finally:
            sys.stderr.flush()
            os._exit(code)
    deadline = time.monotonic() + WAITS * most_s
    try:
        while time.monotonic() < deadline:
            ended, status = os.waitpid(child, os.WNOHANG)
            if ended:
                return os.waitstatus_to_exitcode(status)
            time.sleep(0.02)
        return None
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)
        with contextlib.suppress(ChildProcessError):
            os.waitpid(child, 0)


def _run(folder: Path, arguments: list[str], plugin: object, keep_compiled: bool) -> int:
    """Be the process that runs the tests: the copy's, with nothing of the checkout loaded."""
    os.setpgid(0, 0)
    os.chdir(folder)
    quiet = os.open(folder / OUTPUT, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    os.environ.update(environment(folder), PYTHONDONTWRITEBYTECODE="" if keep_compiled else "1")
    sys.dont_write_bytecode = not keep_compiled
    here = str(Path(__file__).parent)
    sys.path[:] = [
        str(folder / "build/imports"),
        str(folder),
        *(each for each in sys.path if each != here),
    ]
    sys.path_importer_cache.clear()
    sys.argv = ["pytest"]
    always = [*PYTEST, "-p", "no:cacheprovider", "-p", "no:cov"]
    always += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]  # plugins that are loaded already
    return int(pytest.main([*always, *arguments], plugins=[plugin]))
