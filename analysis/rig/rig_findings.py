"""Is the rig fit to measure? One finding for each thing that can be tried before the engine runs.

Each says whether it is good, odd or missing, what was found, and what to do about it.
"""

from __future__ import annotations

import numpy as np

from strokewise.analysis.crank.angle import DEFAULT_COUNTS_PER_REV
from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import remark
from strokewise.analysis.rig.rig_finding import RigFinding, good, missing, odd
from strokewise.analysis.rig.rig_run import STILL_COUNTS, RigRun
from strokewise.analysis.rig.rig_sensor import sensor_findings
from strokewise.analysis.trade import INDEX_SLACK_COUNTS

FINE_RATE_HZ, LEAST_RATE_HZ = 800.0, 150.0
"""A crank degree lasts 0.8 ms at 200 rev/min, and 4 ms at 40: a starter wants a sample for each, a
spanner a few."""

UNEVEN_SHARE = 0.1
"""A period off by more than a tenth is no even pace: the angle is off by a tenth of a sample's."""

HAND_SHARE = 0.01
"""A mark is met by hand within some 3°: a hundredth of a turn."""

TREMBLES = 8
"""A shaft at rest may tremble on a line now and then; more often, one channel moves alone."""

BOUNCE_US = 2_000
"""Two edges of one input so near each other are one that bounced: at 1,000 rev/min a tooth lasts
longer."""

COUNT_RATIOS = (0.25, 0.5, 2.0, 4.0)
"""A count off by such a factor has a plain cause."""


def rig_findings(run: RigRun, profile: Profile) -> tuple[RigFinding, ...]:
    """Return what is good, odd or missing, in the order in which it should be mended."""
    if not len(run.samples):
        return (_nothing(run),)
    return (
        _board(run),
        _line(run),
        _pace(run),
        *sensor_findings(run, profile),
        *_encoder(run, profile),
        *_marks(run, profile),
    )


def _nothing(run: RigRun) -> RigFinding:
    if not run.came:
        return missing("line", remark("rig-nothing-came"), remark("rig-is-it-the-port"))
    return missing("line", remark("rig-only-bytes"), remark("rig-is-it-the-baud"))


def _board(run: RigRun) -> RigFinding:
    board = run.board
    if board is None:
        return missing("board", remark("rig-no-hello"), remark("rig-wait-for-hello"))
    said = remark(
        "rig-board",
        device=board.device,
        counts=board.counts_per_rev,
        bits=board.adc_bits,
        channels=board.adc,
    )
    unsaid = [
        name
        for name, value in (
            ("counts_per_rev", board.counts_per_rev),
            ("adc_bits", board.adc_bits),
            ("boot", board.boot),
        )
        if value is None
    ]
    if unsaid:
        lacks = remark("rig-board-lacks", board=said, keys=tuple(unsaid))
        return odd("board", lacks, remark("rig-mend-hello"))
    return good("board", remark("rig-board-started", board=said, boot=board.boot))


def _line(run: RigRun) -> RigFinding:
    health = run.health
    figures = {"lost_frames": health.lost_frames, "bad_frames": health.bad_frames}
    if health.segments > 1:
        restarts = remark("rig-restarts", starts=health.segments)
        return odd("line", restarts, remark("rig-look-at-supply"), figures)
    if health.lost_frames or health.bad_frames:
        lost = remark("rig-frames-lost", lost=health.lost_frames, bad=health.bad_frames)
        return odd("line", lost, remark("rig-line-too-slow"), figures)
    if health.unchecked_lines:
        return odd("line", remark("rig-unchecked-lines"), remark("rig-add-checksum"), figures)
    return good("line", remark("rig-line-good", messages=health.frames), figures=figures)


def _pace(run: RigRun) -> RigFinding:
    steps_us = np.diff(run.samples.time_us)
    if not len(steps_us):
        return missing("pace", remark("rig-single-sample"), remark("rig-listen-longer"))
    period_us = float(np.median(steps_us))
    rate_hz = 1e6 / period_us
    uneven = float(np.mean(np.abs(steps_us - period_us) > UNEVEN_SHARE * period_us))
    figures = {"rate_hz": round(rate_hz, 1), "uneven_share": round(uneven, 5)}
    if rate_hz < LEAST_RATE_HZ:
        faster = remark("rig-sample-faster", least_hz=LEAST_RATE_HZ)
        return odd("pace", remark("rig-pace-too-slow", rate_hz=rate_hz), faster, figures)
    if uneven and not run.health.lost_frames:
        said = remark("rig-pace-uneven", rate_hz=rate_hz, share=uneven)
        return odd("pace", said, remark("rig-sample-on-timer"), figures)
    if rate_hz < FINE_RATE_HZ:
        return good("pace", remark("rig-pace-by-hand", rate_hz=rate_hz), figures=figures)
    return good("pace", remark("rig-pace-good", rate_hz=rate_hz), figures=figures)


def _encoder(run: RigRun, profile: Profile) -> tuple[RigFinding, ...]:
    skipped = run.board.skipped if run.board is not None else None
    found = [_counts(run, profile)]
    if skipped:
        seen = remark("rig-skipped", states=skipped)
        found.append(odd("skipped", seen, remark("rig-look-at-a-and-b"), {"skipped": skipped}))
    if found[0].state != "missing":
        found += [_direction(run, profile), _index(run, profile)]
    return tuple(found)


def counts_per_turn(run: RigRun, profile: Profile) -> float:
    """Return the counts that one turn of the crank should make."""
    said = run.board.counts_per_rev if run.board is not None else None
    counts = profile.encoder.counts_per_rev or said or DEFAULT_COUNTS_PER_REV
    return counts * profile.encoder.drive_ratio


def _way(run: RigRun) -> int:
    counts = run.samples.count[run.turned]
    return int(counts[-1] - counts[0]) if len(counts) else 0


def _counts(run: RigRun, profile: Profile) -> RigFinding:
    counts = run.samples.count[run.turned]
    expected = counts_per_turn(run, profile) * run.turns
    way = abs(_way(run))
    figures = {"counts": way, "expected": round(expected)}
    if not len(counts) or np.ptp(counts) <= STILL_COUNTS:
        trembles = int(np.count_nonzero(np.diff(run.samples.count)))
        if trembles > TREMBLES:
            said = remark("rig-count-trembles", times=trembles)
            return missing("counts", said, remark("rig-one-channel-dead"), figures)
        return missing("counts", remark("rig-count-stands"), remark("rig-turn-the-crank"), figures)
    if abs(way - expected) <= HAND_SHARE * expected:
        said = remark("rig-counts-right", counts=way, turns=run.turns, expected=expected)
        return good("counts", said, figures=figures)
    by = [r for r in COUNT_RATIOS if abs(way - r * expected) <= HAND_SHARE * r * expected]
    said = remark(
        "rig-counts-wrong",
        counts=way,
        turns=run.turns,
        expected=expected,
        by=by[0] if by else None,
    )
    remedy = remark("rig-mend-counts") if by else remark("rig-turn-once-more")
    return odd("counts", said, remedy, figures)


def _direction(run: RigRun, profile: Profile) -> RigFinding:
    forward = _way(run) * profile.encoder.direction > 0
    if forward:
        return good("direction", remark("rig-counts-forward"))
    other = remark("rig-say-direction", direction=-profile.encoder.direction)
    return odd("direction", remark("rig-counts-backward"), other)


def _during(run: RigRun, number: int) -> np.ndarray:
    """Return which events of an input came while it was turned."""
    times = run.samples.time_us[run.turned]
    mine = run.events.input == number
    if not len(times):
        return np.zeros(len(mine), bool)
    return np.asarray(mine & (run.events.time_us >= times[0]) & (run.events.time_us <= times[-1]))


def _bounces(run: RigRun, events: np.ndarray) -> int:
    return int(np.count_nonzero(np.diff(run.events.time_us[events]) < BOUNCE_US))


def _index(run: RigRun, profile: Profile) -> RigFinding:
    events = _during(run, 0)
    seen = int(events.sum())
    encoder_turns = run.turns * profile.encoder.drive_ratio
    figures = {"index": seen, "turns": run.turns}
    if not seen:
        if encoder_turns < 1:
            return good("index", remark("rig-no-index-yet"), figures=figures)
        return missing("index", remark("rig-no-index"), remark("rig-has-it-an-index"), figures)
    if _bounces(run, events):
        said = remark("rig-index-bounces", pulses=seen)
        return odd("index", said, remark("rig-look-at-index"), figures)
    per_rev = counts_per_turn(run, profile) / profile.encoder.drive_ratio
    between = np.abs(np.diff(run.events.count[events]))
    off = between[np.abs(between - per_rev) > INDEX_SLACK_COUNTS]
    if len(off) or not encoder_turns - 1 <= seen <= encoder_turns + 1:
        said = remark(
            "rig-index-wrong",
            pulses=seen,
            turns=encoder_turns,
            apart=(int(between.min()), int(between.max())) if seen > 1 else (),
        )
        return odd("index", said, remark("rig-one-index-a-turn"), figures)
    said = remark("rig-index-right", pulses=seen, turns=encoder_turns)
    return good("index", said, figures=figures)


def _marks(run: RigRun, profile: Profile) -> tuple[RigFinding, ...]:
    stated = {mark.input: mark.name for mark in profile.marks if mark.input is not None}
    inputs = sorted({*stated, *(int(n) for n in np.unique(run.events.input) if n > 0)})
    return tuple(_mark(run, number, stated.get(number)) for number in inputs)


def _mark(run: RigRun, number: int, name: str | None) -> RigFinding:
    events = _during(run, number)
    seen, check = int(events.sum()), f"mark {number}"
    called = remark("rig-input", name=name, number=number)
    figures = {"edges": seen}
    if _bounces(run, events):
        said = remark("rig-mark-bounces", mark=called, edges=seen)
        return odd(check, said, remark("rig-mend-pickup"), figures)
    if not seen:
        said = remark("rig-mark-not-seen", mark=called)
        return missing(check, said, remark("rig-look-for-mark"), figures)
    said = remark("rig-mark-seen", mark=called, edges=seen, turns=run.turns)
    return good(check, said, figures=figures)
