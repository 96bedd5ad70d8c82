"""What does the fit come to? Made once in a run of the tests, but for those of the fit itself.

The tests ask about the same recordings again and again, and three quarters of the fits they made
were made before, number for number. A fit hangs on what it is given alone; so here it is kept under
a hash of that, for all processes of the run, of both its halves, and until its end. Tests of the
fit, and those against the outside, make each of theirs anew.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import shutil
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

FOLDER = "STROKEWISE_FITS_OF_THIS_RUN"
"""Environment variable: where they are kept; the processes of a run inherit it."""

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
            setattr(place, NAME, self.once(fit))
        try:
            return (yield)
        finally:
            for place, fit in zip(places, right, strict=True):
                setattr(place, NAME, fit)

    def once(self, fit: Callable[..., Any]) -> Callable[..., Any]:
        """Return the fit, looked up where it was made before: each time another copy of it."""

        def made(*given: Any, **named: Any) -> Any:
            asked = hashlib.sha256(pickle.dumps((given, sorted(named.items())))).hexdigest()
            kept = self.folder / asked
            if not kept.exists():
                part = kept.with_suffix(f".{os.getpid()}-{threading.get_ident()}")
                part.write_bytes(pickle.dumps(fit(*given, **named)))
                part.replace(kept)  # whole or not at all, for another one may look
            return pickle.loads(kept.read_bytes())

        return made


def pytest_configure(config: pytest.Config) -> None:
    """Make the folder where there is none; the process that made it removes it."""
    if FOLDER not in os.environ:
        os.environ[FOLDER] = tempfile.mkdtemp(prefix="strokewise-fits-")

        def remove() -> None:
            shutil.rmtree(os.environ.pop(FOLDER), ignore_errors=True)

        config.add_cleanup(remove)
    config.pluginmanager.register(FitsOnce(Path(os.environ[FOLDER])), "strokewise-fits-once")
