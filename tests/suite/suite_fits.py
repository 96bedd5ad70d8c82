"""What does the fit come to? Made once in a run of the tests, but for those of the fit itself.

The tests ask about the same recordings again and again, and three quarters of the fits they made
were made before, number for number. A fit hangs on what it is given alone; so here it is kept under
a hash of that, for all processes of the run, of both its halves, and until its end. Tests of the
fit, and those against the outside, make each of theirs anew.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from suite_once import FOLDER, once

AFRESH = ("tests/analysis/tdc/", "tests/reference/")
ASKED_BY = ("strokewise.analysis.tdc.coarse", "strokewise.analysis.cam.valve_spans")
NAME = "fit_passes"


class FitsOnce:
    """A pytest plugin: stands in for the fit while a test runs that is not of the fit."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[Any]:
        """Put the kept fits in place, for what sets the test up as well, and out again."""
        if item.nodeid.startswith(AFRESH):
            return (yield)
        places = [sys.modules[name] for name in ASKED_BY if name in sys.modules]
        right = [getattr(place, NAME) for place in places]
        for place, fit in zip(places, right, strict=True):
            setattr(place, NAME, once(fit, self.folder))
        try:
            return (yield)
        finally:
            for place, fit in zip(places, right, strict=True):
                setattr(place, NAME, fit)


def pytest_configure(config: pytest.Config) -> None:
    """Make the folder where there is none; the process that made it removes it."""
    if FOLDER not in os.environ:
        os.environ[FOLDER] = tempfile.mkdtemp(prefix="strokewise-fits-")

        def remove() -> None:
            shutil.rmtree(os.environ.pop(FOLDER), ignore_errors=True)

        config.add_cleanup(remove)
    config.pluginmanager.register(FitsOnce(Path(os.environ[FOLDER])), "strokewise-fits-once")
