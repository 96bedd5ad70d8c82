"""The live answer: the batch answer's, in bounded memory, taken back when it no longer holds."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from suite_bench import tdc_off_deg

from strokewise.analysis.estimate import Interval
from strokewise.analysis.samples import Recording, Segment
from strokewise.analysis.tdc.joint_fit import joint_fit
from strokewise.analysis.verdict.find import find
from strokewise.analysis.verdict.followed import MOST_NODES, STANDING_BLOCKS
from strokewise.analysis.verdict.tracker import FIRST_SAMPLES, NO_SAMPLES, Tracker
from strokewise.gui.sayings import say


def part(segment: Segment, start: int, stop: int) -> Segment:
    samples = segment.samples
    return replace(
        segment,
        samples=replace(
            samples,
            time_us=samples.time_us[start:stop],
            count=samples.count[start:stop],
            readings=samples.readings[start:stop],
            after_gap=samples.after_gap[start:stop],
        ),
        # Events and presses come with the first part: what they rest on is all in one recording.
        events=segment.events if start == 0 else type(segment.events).empty(),
        presses=segment.presses if start == 0 else (),
    )


def chunks(recording: Recording, seed: int, most: int = 900) -> Iterator[Segment]:
    """Cut every segment at random."""
    rng = np.random.default_rng(seed)
    for segment in recording.segments:
        start, whole = 0, len(segment.samples)
        while start < whole:
            stop = min(whole, start + int(rng.integers(1, most)))
            yield part(segment, start, stop)
            start = stop


def test_first_samples_are_not_called_none(turned: Callable[..., Any]):
    made = turned("cranked", seconds=2.0)
    live = Tracker(made.profile)
    assert live.verdict().reason == NO_SAMPLES
    live.feed(part(made.recording.segments[0], 0, 50))
    assert live.verdict().reason == FIRST_SAMPLES


def test_online_equals_batch_with_the_fit(turned: Callable[..., Any]):
    made = turned("cranked", seconds=2.0)
    live = Tracker(made.profile)
    before = None
    for count, chunk in enumerate(chunks(made.recording, 3)):
        live.feed(chunk)
        if count % 3 == 0:
            before = live.verdict()
    batch, online = find(made.recording, made.profile), live.verdict(closing=True)
    assert online.tdc == batch.tdc
    assert online.firing_deg == batch.firing_deg
    assert online.decided
    assert batch.decided
    assert before is not None
    assert before.tdc is not None
    assert batch.tdc is not None
    assert before.decided
    low, high = before.tdc.angle_deg.low, before.tdc.angle_deg.high
    assert low <= batch.tdc.angle_deg.value <= high


def test_the_fit_is_not_made_again_while_its_compressions_are_the_same(
    turned: Callable[..., Any],
):
    made = turned("cranked", seconds=2.0)
    live = Tracker(made.profile)
    (segment,) = made.recording.segments
    live.feed(segment)
    live.verdict()
    assert live.judgement is not None
    fit = live.judgement.fit
    assert fit is not None
    live.feed(standing_after(segment, 1.0))
    live.verdict()
    assert live.judgement.fit is fit


def standing_after(segment: Segment, seconds: float) -> Segment:
    """Let the crank stand where a segment ended."""
    samples = segment.samples
    period = int(np.median(np.diff(samples.time_us)))
    count = round(seconds * 1e6 / period)
    steps = np.arange(1, count + 1)
    still = replace(
        samples,
        time_us=samples.time_us[-1] + steps * period,
        count=np.full(count, samples.count[-1]),
        readings=np.repeat(samples.readings[-1:], count, axis=0),
        after_gap=np.zeros(count, np.bool_),
    )
    return replace(segment, samples=still, presses=(), events=type(segment.events).empty())


def nodes_kept(tracker: Tracker) -> int:
    return sum(len(f.nodes(closing=False) or ()) for f in tracker._followed)


def test_a_crank_that_stands_for_long_takes_no_memory_and_loses_no_answer(
    turned: Callable[..., Any],
):
    made = turned("cranked", seconds=2.0)
    (segment,) = made.recording.segments
    tracker = Tracker(made.profile, fitted=False)
    tracker.feed(segment)
    assert tracker.verdict().decided
    last, grown = segment, 0
    for minute in range(8):
        last = standing_after(last, 60.0)
        tracker.feed(last)
        if minute == 0:
            grown = nodes_kept(tracker)
    assert nodes_kept(tracker) <= grown + STANDING_BLOCKS
    assert tracker.verdict().decided
    assert tracker.state == "sure"


def test_memory_is_bounded(turned: Callable[..., Any]):
    made = turned("cranked")
    (segment,) = made.recording.segments
    tracker = Tracker(made.profile, fitted=False)
    turn = made.profile.encoder.counts_per_rev * 2
    for lap in range(20):
        samples = segment.samples
        span = int(samples.time_us[-1] - samples.time_us[0]) + 1000
        way = -(-int(samples.count[-1] - samples.count[0]) // turn) * turn
        tracker.feed(
            replace(
                segment,
                samples=replace(
                    samples, time_us=samples.time_us + lap * span, count=samples.count + lap * way
                ),
            )
        )
    block = 2_048
    assert nodes_kept(tracker) <= MOST_NODES + block


def test_a_copy_goes_its_own_way(turned: Callable[..., Any]):
    made = turned("cranked", seconds=2.0)
    blocks = list(chunks(made.recording, 5))
    half = len(blocks) // 2
    live = Tracker(made.profile, fitted=False)
    for block in blocks[:half]:
        live.feed(block)
    before = copy.deepcopy(live).verdict(closing=True)
    twin = copy.deepcopy(live)
    twin.verdict()
    for block in blocks[half:]:
        twin.feed(block)
    assert live.verdict(closing=True) == before  # the twin's samples are none of its own
    for block in blocks[half:]:
        live.feed(block)
    assert live.verdict(closing=True) == twin.verdict(closing=True)
    assert live.now == twin.now


def test_where_the_crank_is_does_not_hang_on_how_samples_arrive(turned: Callable[..., Any]):
    made = turned("cranked", seconds=0.5)
    (segment,) = made.recording.segments
    whole, single = Tracker(made.profile, fitted=False), Tracker(made.profile, fitted=False)
    whole.feed(segment)
    for at in range(len(segment.samples)):
        single.feed(part(segment, at, at + 1))
    assert whole.now is not None
    assert single.now is not None
    assert single.now.angle_deg == whole.now.angle_deg
    assert single.now.standing == whole.now.standing


def test_states_in_plain_words(turned: Callable[..., Any]):
    made = turned("cranked")
    tracker = Tracker(made.profile, fitted=False)
    assert tracker.state == "waiting"
    seen = []
    for chunk in chunks(made.recording, 5, most=100):
        tracker.feed(chunk)
        tracker.verdict()
        seen.append(tracker.state)
    assert seen[0] == "turn on"
    assert seen[-1] == "sure"


def without_sensor(segment: Segment, begin: float, end: float) -> Segment:
    """Take the sensor out for a part of the segment: it shows the air outside.

    Not in the middle of a compression, which nobody would.
    """
    samples = segment.samples
    readings = samples.readings.copy()
    air = int(np.median(readings[readings < np.percentile(readings, 60.0)]))
    calm = np.flatnonzero(np.abs(readings[:, 0].astype(int) - air) < 30)
    first = calm[np.searchsorted(calm, int(begin * len(samples)))]
    readings[first : int(end * len(samples))] = air
    return replace(segment, samples=replace(samples, readings=readings))


def test_with_the_sensor_out_the_answer_stays_and_says_since_when_nothing_checks_it(
    turned: Callable[..., Any],
):
    made = turned("cranked", seconds=6.0)
    (segment,) = made.recording.segments
    blind = without_sensor(segment, 0.5, 1.0)
    tracker = Tracker(made.profile, fitted=False)
    decided, since = [], []
    for start in range(0, len(blind.samples), 100):
        tracker.feed(part(blind, start, min(start + 100, len(blind.samples))))
        verdict = tracker.verdict()
        decided.append(verdict.decided)
        since.append(verdict.unchecked_since_s)
    first = decided.index(True)
    assert all(decided[first:])
    marked = [at for at, s in enumerate(since) if s is not None]
    assert marked == list(range(marked[0], len(since)))
    turned_since = (
        blind.samples.count[100 * marked[0]] - blind.samples.count[int(0.5 * len(blind.samples))]
    )
    assert turned_since * 360.0 / 2400.0 < 1.5 * 720.0
    off_s = blind.samples.time_us[len(blind.samples) // 2] * 1e-6
    assert off_s - 0.8 < since[-1] < off_s + 0.2
    (said,) = [say(w.remark) for w in verdict.warnings if w.code == "clamp-unchecked"]
    assert "sensor out" in said
    assert find(replace(made.recording, segments=(blind,)), made.profile).decided


def test_with_the_sensor_back_the_clamp_is_checked_again(turned: Callable[..., Any]):
    made = turned("cranked", seconds=8.0)
    (segment,) = made.recording.segments
    tracker = Tracker(made.profile, fitted=False)
    tracker.feed(without_sensor(segment, 0.4, 0.7))
    verdict = tracker.verdict(closing=True)
    assert verdict.decided
    assert verdict.unchecked_since_s is None
    assert abs(made.firing_error_deg(verdict)) < 32.0


def test_an_answer_that_moves_with_a_slip_says_so(turned: Callable[..., Any]):
    made = turned("clamp-slipped", slip=180.0)
    tracker = Tracker(made.profile, fitted=False)
    codes = set()
    for chunk in chunks(made.recording, 7, most=200):
        tracker.feed(chunk)
        codes |= {w.code for w in tracker.verdict().warnings}
    assert {"withdrawn", "clamp-slip"} <= codes
    assert abs(made.firing_error_deg(tracker.verdict(closing=True))) < 32.0


def test_a_long_run_is_not_fitted_at_every_question(turned: Callable[..., Any], monkeypatch: Any):
    """Old nodes drop out of memory while it cranks on; that alone is no reason to fit again."""
    made = turned("cranked", seconds=14.0)
    fits: list[int] = []

    def counted(*args: Any, **more: Any) -> Any:
        fits.append(1)
        return joint_fit(*args, **more)

    monkeypatch.setattr("strokewise.analysis.verdict.judge.joint_fit", counted)
    tracker = Tracker(made.profile)
    asked = 0
    for block in chunks(made.recording, seed=3, most=400):
        tracker.feed(block)
        asked += bool(tracker.verdict())
    assert asked > 50
    assert 4 <= len(fits) <= 9


def test_a_lost_fit_is_not_gone_on_from(turned: Callable[..., Any]):
    """Gone on from, it ended a degree beside, and its own wide interval let that pass."""
    made = turned("cranked", seconds=4.0)
    (segment,) = made.recording.segments
    half = len(segment.samples) // 2
    tracker = Tracker(made.profile)
    tracker.feed(part(segment, 0, half))
    tracker.verdict()
    memory = tracker._followed[0].memory
    assert memory.found is not None
    fit = memory.found.fit
    lost = Interval(fit.tdc_deg.value - 60.0, fit.tdc_deg.low - 160.0, fit.tdc_deg.high + 40.0)
    memory.found = replace(memory.found, fit=replace(fit, tdc_deg=lost, cost=1.5))
    tracker.feed(part(segment, half, len(segment.samples)))
    tdc = tracker.verdict().tdc
    assert tdc is not None
    off = tdc_off_deg(tdc.angle_deg.value, made.truth)
    assert abs(off) < tdc.angle_deg.half_width
