"""What of a recording shows a valve event, and what comes of it: as kept, step by step.

Between the trace and "one tooth late" lie stretches, a carried closed cycle and a port's pressure;
each is a few lines that no answer shows by itself.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/analysis/cam
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from suite_kept import held

from strokewise.analysis.cam import valve_events as valve_eventing
from strokewise.analysis.cam.valve_events import ValveEvent, valve_events
from strokewise.analysis.cam.valve_spans import (
    Cycles,
    cycles_of,
    overlap_fall_bar,
    reaching,
    refitted,
    spans_of,
)
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile
from strokewise.analysis.verdict.judge import Judgement, judge
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.profile.known import known_engine
from strokewise.daq.recording.read import read_recording

RECORDINGS = Path(__file__).resolve().parents[3] / "recordings"

FITTED = 2e-3
"""Behind a fit, which ends a little elsewhere on another machine."""


@cache
def judged(name: str) -> tuple[Judgement, Profile]:
    """Return what the last cycles of a shipped recording say."""
    recording = read_recording(RECORDINGS / f"{name}.swr")
    profile = known_engine(header=recording.header).profile
    tracker = Tracker(profile, fitted=False)
    for segment in recording.segments:
        tracker.feed(segment)
    tracker.verdict(closing=True)
    nodes = tracker.judgement.nodes
    return judge(
        nodes.part(max(len(nodes) - 1700, 0), len(nodes)), profile, profile.sensors[0]
    ), profile


def cycles(name: str, most: int = 4) -> Cycles:
    found = cycles_of(*judged(name), most)
    assert found is not None
    return found


def told(found: Cycles | None) -> Any:
    if found is None:
        return None
    values = {name: found.values[name] for name in ("tdc_deg", "log_clearance", "lag_s")}
    return [
        [[p.tdc_deg, len(p.nodes), p.speed_rpm] for p in found.passes],
        values,
        found.tdc_sigma_deg,
        found.overlap_fall_bar,
        found.by_hand,
        found.lost,
        found.cylinder,
    ]


def stretch(name: str, event: Any, seat: float | None, share: float = 0.004) -> Any:
    found = spans_of(cycles(name), event, seat, share)
    if found is None:
        return None
    return [
        found.angle_deg,
        found.log_shut - found.log_shut[:, :1],
        found.sigma_bar,
        found.used.sum(axis=1),
        found.time_s[:, -1] - found.time_s[:, 0],
    ]


def again(name: str, closes: float | None, opens: float | None) -> Any:
    judgement, profile = judged(name)
    found = refitted(judgement, cycles(name), profile, profile.sensors[0], closes, opens)
    return None if found is None else told(found)


def events(name: str, most: int) -> Any:
    judgement, profile = judged(name)
    return valve_events(judgement, profile, profile.sensors[0], most_passes=most)


def without_passes(name: str) -> Judgement:
    return replace(judged(name)[0], passes=())


CASES: dict[str, Callable[[], Any]] = {
    "cycles": lambda: {name: told(cycles(name)) for name in ("cranked", "hand-turned")},
    "cycles, fewer": lambda: told(cycles("cranked", 2)),
    "no cycles": lambda: [
        cycles_of(replace(judged("cranked")[0], fit=None), judged("cranked")[1], 4),
        cycles_of(without_passes("cranked"), judged("cranked")[1], 4),
        overlap_fall_bar(replace(judged("cranked")[0], fit=None)),
        overlap_fall_bar(without_passes("cranked")),
    ],
    "falls across the overlap": lambda: {
        name: overlap_fall_bar(judged(name)[0]) for name in ("cranked", "hand-turned")
    },
    "reaching": lambda: [
        [name, event, seat, len(found.passes) if found is not None else 0]
        for name in ("cranked", "hand-turned")
        for event in ("intake closes", "exhaust opens")
        for seat in (None, -190.0, -100.0, 100.0, 190.0)
        for found in (reaching(cycles(name), event, seat),)
    ],
    "stretches": lambda: {
        f"{name}, {event}, {seat}": stretch(name, event, seat)
        for name in ("cranked", "hand-turned")
        for event, seat in (
            ("intake closes", None),
            ("intake closes", -128.0),
            ("exhaust opens", None),
            ("exhaust opens", 131.0),
        )
    },
    "stretches, less trusted": lambda: stretch("cranked", "exhaust opens", 131.0, 0.05)[2],
    "a narrow stretch": lambda: stretch("cranked", "intake closes", 120.0),
    "fitted again": lambda: [
        again("cranked", None, None),
        again("cranked", -95.0, None),
        again("cranked", None, 90.0),
    ],
    "events": lambda: [events("cranked", 3), events("hand-turned", 2)],
}


def test_the_closed_part_ends_where_either_valve_was_seen_to_move() -> None:
    """One end in the place of the other, and it is fitted again into an open cylinder."""
    closes = ValveEvent("intake closes", Interval(-121.0, -122.0, -120.0), 1.1, -118.2, 5, 0.9)
    opens = ValveEvent("exhaust opens", Interval(133.0, 131.0, 134.0), 1.3, None, 1, 1.4)
    seats = valve_eventing._seats
    assert seats((opens, closes)) == (-121.0, 133.0)
    assert seats((closes,)) == (-121.0, None)
    assert seats((opens,)) == (None, 133.0)
    assert seats(()) == (None, None)


@pytest.mark.parametrize("name", CASES)
def test_stretches_and_events_come_to_what_was_kept(name: str) -> None:
    held(__file__, name, CASES, relative=FITTED)


def test_the_carried_cycle_falls_on_the_way_down() -> None:
    """Shut all through, the pressure falls as the piston goes down."""
    found = spans_of(cycles("cranked"), "exhaust opens", 131.0)
    assert found is not None
    assert bool(np.all(np.diff(found.log_shut[0][found.used[0]][:12]) < 0.0))
