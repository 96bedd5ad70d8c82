"""What does a fit, or the bench, come to? Made once in a run of the tests, but for their own tests.

The tests ask about the same recordings again and again: three quarters of the fits they made, and
as many of the engines that a lesson or a command turns, and of the valves' events, were made
before, number for number. All hang on what they are given alone; so here they are kept under a hash
of that, for all processes of the run, of both its halves, and until its end. Tests of the fit, of
the valves' events and of the bench, and those against the outside, make each of theirs anew.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from suite_once import FOLDER, once


@dataclass(frozen=True)
class MadeOnce:
    """Something that is made once: its name, who asks for it, and whose tests make it anew."""

    name: str
    asked_by: tuple[str, ...]
    afresh: tuple[str, ...]


FIT = MadeOnce(
    "fit_passes",
    ("strokewise.analysis.tdc.coarse", "strokewise.analysis.cam.valve_spans"),
    ("tests/analysis/tdc/", "tests/reference/"),
)
EVENTS = MadeOnce(
    "valve_events",
    ("strokewise.analysis.cam.cam_seen",),
    ("tests/analysis/cam/", "tests/analysis/timing/", "tests/reference/"),
)
TAKE = MadeOnce(
    "take",
    (
        "strokewise.gui.commands.simulate",
        "strokewise.gui.models.classroom.reference",
        "strokewise.gui.models.lesson.posing",
    ),
    ("tests/daq/", "tests/reference/"),
)


class KeptOnce:
    """A pytest plugin: stands in for each while a test runs that is none of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[Any]:
        """Put what is kept in place, for what sets the test up as well, and out again."""
        places = [
            (sys.modules[module], each.name)
            for each in (FIT, EVENTS, TAKE)
            if not item.nodeid.startswith(each.afresh)
            for module in each.asked_by
            if module in sys.modules
        ]
        right = [getattr(place, name) for place, name in places]
        for (place, name), make in zip(places, right, strict=True):
            setattr(place, name, once(make, self.folder))
        try:
            return (yield)
        finally:
            for (place, name), make in zip(places, right, strict=True):
                setattr(place, name, make)


def pytest_configure(config: pytest.Config) -> None:
    """Make the folder where there is none; the process that made it removes it."""
    if FOLDER not in os.environ:
        os.environ[FOLDER] = tempfile.mkdtemp(prefix="strokewise-fits-")

        def remove() -> None:
            shutil.rmtree(os.environ.pop(FOLDER), ignore_errors=True)

        config.add_cleanup(remove)
    config.pluginmanager.register(KeptOnce(Path(os.environ[FOLDER])), "strokewise-kept-once")
