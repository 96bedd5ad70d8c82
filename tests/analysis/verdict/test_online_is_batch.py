"""The live answer is the batch answer, however the samples arrive, on every recording there is."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import cycle
from pathlib import Path
from typing import Any

import pytest

from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Events, Recording, Segment
from strokewise.analysis.verdict.find import find
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.daq.bench.scenarios.scenarios import SCENARIOS
from strokewise.daq.profile.known import check_table
from strokewise.daq.recording.read import read_recording

RECORDINGS = sorted((Path(__file__).resolve().parents[3] / "recordings").glob("*.swr"))
ODD_SIZES = (1, 331, 7, 1021, 97, 2, 509)
ASKED_EVERY = 9  # chunks, with the fit; a live view asks as seldom as its screen is drawn
FITTED = ("burnt-valve", "bad-cable")


def in_chunks(segment: Segment) -> Iterator[Segment]:
    """Cut a segment into odd sizes, with its events where they belong and its presses at once."""
    samples, start, last_us = segment.samples, 0, -1
    for size in cycle(ODD_SIZES):
        stop = min(start + size, len(samples))
        until_us = samples.time_us[stop - 1] if stop < len(samples) else 2**62
        here = (segment.events.time_us > last_us) & (segment.events.time_us <= until_us)
        events = Events(*(getattr(segment.events, k)[here] for k in ("time_us", "count", "input")))
        part = replace(
            samples,
            time_us=samples.time_us[start:stop],
            count=samples.count[start:stop],
            readings=samples.readings[start:stop],
            after_gap=samples.after_gap[start:stop],
        )
        presses = segment.presses if start == 0 else ()
        yield replace(segment, samples=part, events=events, presses=presses)
        start, last_us = stop, until_us
        if stop == len(samples):
            return


def followed(recording: Recording, profile: Profile, *, fitted: bool) -> tuple[Verdict, Verdict]:
    """Return the last answer while samples still came, and the one when they had ended."""
    tracker = Tracker(profile, fitted=fitted)
    live = tracker.verdict()
    for segment in recording.segments:
        for number, chunk in enumerate(in_chunks(segment)):
            tracker.feed(chunk)
            if number % ASKED_EVERY == 0:
                live = tracker.verdict()
    return live, tracker.verdict(closing=True)


def assert_the_same(recording: Recording, profile: Profile) -> None:
    batch = find(recording, profile)
    live, online = followed(recording, profile, fitted=True)
    told = batch.warnings[: len(online.warnings)]  # find adds what the link lost
    assert online == replace(batch, health=online.health, warnings=told)
    if live.decided and live.segment == batch.segment:
        assert live.tdc is not None
        assert batch.tdc is not None
        apart = (batch.tdc.angle_deg.value - live.tdc.angle_deg.value + 180.0) % 360.0 - 180.0
        assert abs(apart) <= live.tdc.angle_deg.half_width
        assert live.firing_deg is not None
        assert batch.firing_deg is not None
        moved = (batch.firing_deg[1] - live.firing_deg[1] + 360.0) % 720.0 - 360.0
        assert abs(moved) < 90.0


@pytest.mark.parametrize("path", RECORDINGS, ids=lambda p: p.stem)
def test_every_recording_with_the_fit(path: Path):
    recording = read_recording(path)
    assert_the_same(recording, check_table(recording.header["engine"]).profile)


@pytest.mark.parametrize("name", FITTED)
def test_faults_with_the_fit(name: str, turned: Callable[..., Any]):
    made = turned(name)
    assert_the_same(made.recording, made.profile)


@pytest.mark.parametrize("name", sorted(SCENARIOS))
def test_the_stroke_in_every_scenario(
    name: str, turned: Callable[..., Any], phase_of: Callable[[Recording, Profile], Verdict]
):
    made = turned(name)
    _, online = followed(made.recording, made.profile, fitted=False)
    assert online == phase_of(made.recording, made.profile)
