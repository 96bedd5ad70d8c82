"""Where does the time of a run of the tests go: by folder, and kept by test for the next run?"""

from __future__ import annotations

import time
from collections import defaultdict
from pathlib import PurePosixPath

import pytest
from suite_seconds import Spent, read, renewed, write

SLOW_S = 3.0
"""A file whose tests take so long each, on average, goes in front."""

DURATIONS = "strokewise/durations"
"""Where pytest's cache keeps the seconds that each test took when it last ran, by its node id."""


class Timings:
    """Adds up what setting up, running and tearing down take, on all processes of a run."""

    def __init__(self, config: pytest.Config) -> None:
        self.config = config
        self.began_s = time.monotonic()
        self.seconds: dict[str, float] = defaultdict(float)
        self.ran: set[str] = set()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Add one phase of one test."""
        self.seconds[report.nodeid] += report.duration
        if report.when == "call":
            self.ran.add(report.nodeid)

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        """Print the time by folder, the longest first."""
        if not self.seconds:
            return
        folders: dict[str, list[float]] = defaultdict(list)
        for test, took_s in self.seconds.items():
            folders[str(PurePosixPath(test.split("::")[0]).parent)].append(took_s)
        terminalreporter.section("time by folder")
        for folder, took in sorted(folders.items(), key=lambda each: -sum(each[1])):
            terminalreporter.write_line(f"{sum(took):7.1f} s  {len(took):5d} tests  {folder}")
        spent_s = sum(self.seconds.values())
        wall_s = time.monotonic() - self.began_s
        terminalreporter.write_line(
            f"{spent_s:7.1f} s  {len(self.seconds):5d} tests  in all; {wall_s:.1f} s by the clock"
        )

    def pytest_sessionfinish(self, exitstatus: int) -> None:
        """Keep what each test took, and what each file did when all of them ran and passed."""
        if self.config.getoption("--keep-seconds") and exitstatus == pytest.ExitCode.OK:
            files: dict[str, list[float]] = defaultdict(list)
            for test, took_s in self.seconds.items():
                files[test.split("::")[0]].append(took_s)
            took = {file: Spent(len(each), sum(each)) for file, each in files.items()}
            write(renewed(read(), took))
        cache = getattr(self.config, "cache", None)
        if cache is None or not self.ran:
            return
        kept = cache.get(DURATIONS, {})
        kept.update({test: round(self.seconds[test], 4) for test in sorted(self.ran)})
        cache.set(DURATIONS, kept)


class SlowFirst:
    """Begins a whole run with its slowest tests, so that none of them is what all wait for at last.

    Files stay whole and in their order otherwise: their tests share what they set up.
    """

    def __init__(self) -> None:
        self.spent = read()

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Put the files of slow tests in front, the slowest first."""
        slow = {file: -each.each_s for file, each in self.spent.items() if each.each_s >= SLOW_S}
        items.sort(key=lambda item: slow.get(item.nodeid.split("::")[0], 0.0))


def pytest_addoption(parser: pytest.Parser) -> None:
    """Take whether this run takes all tests of its files, so that its times may be kept."""
    parser.addoption(
        "--keep-seconds", action="store_true", help="write tests/suite/seconds.txt anew"
    )


def pytest_configure(config: pytest.Config) -> None:
    """Time every run but what a worker of it sees, which its chief sees as well."""
    if config.getoption("--keep-seconds"):
        config.pluginmanager.register(SlowFirst(), "strokewise-slow-first")
    if not hasattr(config, "workerinput"):
        config.pluginmanager.register(Timings(config), "strokewise-timings")
