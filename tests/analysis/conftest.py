"""Bench recordings for the tests of this room, each turned once a session."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

import pytest
from suite_bench import played

from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Recording
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.profile.known import check_table
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join


@dataclass(frozen=True)
class Turned:
    """A scenario turned and decoded, with what its profile says and its truth."""

    recording: Recording
    profile: Profile
    truth: dict[str, Any]

    def firing_error_deg(self, verdict: Verdict) -> float:
        """Return how far cylinder 1's firing TDC is off, in the cycle."""
        assert verdict.firing_deg is not None
        cycle = self.profile.cycle_deg
        apart = verdict.firing_deg[1] - float(self.truth["firing"]["1"])
        return (apart + cycle / 2) % cycle - cycle / 2


def turned_bench(bench: Bench) -> Turned:
    """Turn a bench and decode its bytes."""
    taken = played(bench)
    intake = Intake()
    blocks = intake.feed(taken.items) + intake.finish()
    recording = Recording(join(blocks), intake.health)
    return Turned(recording, check_table(stated_profile(bench)).profile, taken.truth)


@pytest.fixture(scope="session", name="turned_bench")
def _turned_bench() -> Callable[[Bench], Turned]:
    """Return what turns a bench of one's own."""
    return turned_bench


@cache
def _turned(name: str, settings: tuple[tuple[str, Any], ...]) -> Turned:
    return turned_bench(scenario(name).build(dict(settings)))


Turn = Callable[..., Turned]


@pytest.fixture(scope="session")
def turned() -> Turn:
    """Return a scenario by its name, with settings by their keys; each is turned only once."""

    def turn(name: str, **settings: Any) -> Turned:
        return _turned(name, tuple(sorted(settings.items())))

    return turn


@pytest.fixture(scope="session")
def phase_of() -> Callable[[Recording, Profile], Verdict]:
    """Return what the tracker decides without a fit: the phase, with a rough TDC."""

    def decide(recording: Recording, profile: Profile) -> Verdict:
        tracker = Tracker(profile, fitted=False)
        for segment in recording.segments:
            tracker.feed(segment)
        return tracker.verdict(closing=True)

    return decide
