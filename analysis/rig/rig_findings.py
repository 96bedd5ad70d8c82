"""Is the rig fit to measure? One finding for each thing that can be tried before the engine runs.

Each says whether it is good, odd or missing, what was found, and what to do about it.
"""

from __future__ import annotations

import numpy as np

from strokewise.analysis.crank.angle import DEFAULT_COUNTS_PER_REV
from strokewise.analysis.profile import Profile
from strokewise.analysis.rig.rig_run import STILL_COUNTS, RigRun
from strokewise.analysis.rig.rig_sensor import sensor_findings
from strokewise.analysis.rig.rig_words import RigFinding, good, missing, odd
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

COUNT_RATIOS = {
    0.25: "a quarter: the board counts the lines of the disc, not their four edges",
    0.5: "half: only two of the four edges are counted, or the encoder's drive halves them",
    2.0: "twice: counts_per_rev gives half of the edges, or the encoder's drive doubles them",
    4.0: "four times: counts_per_rev gives the lines of the disc, not its edges",
}
"""What a count off by such a factor means."""


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
        return missing(
            "line",
            "nothing came from the port",
            "check that the board has power, that this is its port, and that it holds the firmware",
        )
    return missing(
        "line",
        "bytes came, but nothing that a board says",
        "check --baud: it must be the board's own; then the wire from the board's output",
    )


def _board(run: RigRun) -> RigFinding:
    board = run.board
    if board is None:
        return missing(
            "board",
            "samples came, but the board never said what it is",
            "listen for longer; it must send a hello at start and about every two seconds",
        )
    said = [board.device or "no name"]
    said.append(f"{board.counts_per_rev:,} counts a turn" if board.counts_per_rev else "")
    said.append(f"{board.adc_bits} bits" if board.adc_bits else "")
    said.append(f"channels {', '.join(board.adc)}" if board.adc else "")
    text = "; ".join(part for part in said if part)
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
        return odd(
            "board",
            f"{text}; it does not say {', '.join(unsaid)}",
            "mend the hello: without a boot number a restart can pass for a pause",
        )
    return good("board", f"{text}; start number {board.boot}")


def _line(run: RigRun) -> RigFinding:
    health = run.health
    figures = {"lost_frames": health.lost_frames, "bad_frames": health.bad_frames}
    if health.segments > 1:
        return odd(
            "line",
            f"the board started {health.segments} times while it was listened to",
            "look at its supply and its plug: every start loses the angle",
            figures,
        )
    if health.lost_frames or health.bad_frames:
        return odd(
            "line",
            f"{health.lost_frames} frames lost, {health.bad_frames} damaged",
            "the line is too slow for the pace, or disturbed: raise --baud on both sides, "
            "shorten or screen the cable",
            figures,
        )
    if health.unchecked_lines:
        return odd(
            "line",
            "plain lines without a checksum: a damaged one cannot be told",
            "let the board end each line with its *HH",
            figures,
        )
    return good("line", f"{health.frames:,} messages, none lost or damaged", figures=figures)


def _pace(run: RigRun) -> RigFinding:
    steps_us = np.diff(run.samples.time_us)
    if not len(steps_us):
        return missing("pace", "a single sample came", "listen for longer")
    period_us = float(np.median(steps_us))
    rate_hz = 1e6 / period_us
    uneven = float(np.mean(np.abs(steps_us - period_us) > UNEVEN_SHARE * period_us))
    figures = {"rate_hz": round(rate_hz, 1), "uneven_share": round(uneven, 5)}
    text = f"{rate_hz:,.0f} samples a second"
    if rate_hz < LEAST_RATE_HZ:
        return odd(
            "pace",
            f"{text}: too few even for a spanner",
            f"let the board sample {LEAST_RATE_HZ:g} times a second or more",
            figures,
        )
    if uneven and not run.health.lost_frames:
        return odd(
            "pace",
            f"{text}, but {100 * uneven:.1f} % of them do not come evenly",
            "sample on a timer, not in a loop",
            figures,
        )
    if rate_hz < FINE_RATE_HZ:
        text += ": enough by hand, few for a starter"
    return good("pace", text, figures=figures)


def _encoder(run: RigRun, profile: Profile) -> tuple[RigFinding, ...]:
    skipped = run.board.skipped if run.board is not None else None
    found = [_counts(run, profile)]
    if skipped:
        text = f"the board saw {skipped:,} skipped states: counts are lost or made"
        found.append(
            odd(
                "skipped",
                text,
                "look at the pull-ups of A and B, their screen and their earth; then at the speed",
                {"skipped": skipped},
            )
        )
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
            return missing(
                "counts",
                f"the count went to and fro by one, {trembles} times, and got nowhere",
                "turn the crank while it listens; if you did, one channel is dead: look at the "
                "wires and the pull-ups of A and B",
                figures,
            )
        return missing(
            "counts",
            "the count never moved",
            "turn the crank while it listens; if you did, look at the encoder's supply, its wires "
            "A and B and their pull-ups, and whether its shaft turns with the crank",
            figures,
        )
    text = f"{way:,} counts over {run.turns:g} turn{'s' if run.turns != 1 else ''}"
    if abs(way - expected) <= HAND_SHARE * expected:
        return good("counts", f"{text}, {expected:,.0f} expected", figures=figures)
    for ratio, meaning in COUNT_RATIOS.items():
        if abs(way - ratio * expected) <= HAND_SHARE * ratio * expected:
            return odd(
                "counts",
                f"{text} instead of {expected:,.0f}: {meaning}",
                "mend counts_per_rev or drive_ratio under [encoder]",
                figures,
            )
    return odd(
        "counts",
        f"{text} instead of {expected:,.0f}",
        "turn once more, exactly from mark to mark; if it stays, the clamp slips, counts are lost, "
        "or counts_per_rev is another",
        figures,
    )


def _direction(run: RigRun, profile: Profile) -> RigFinding:
    forward = _way(run) * profile.encoder.direction > 0
    if forward:
        return good("direction", "the engine's own way counts forward")
    other = -profile.encoder.direction
    return odd(
        "direction",
        "the engine's own way counts backward",
        f"if you did turn it its own way, say direction = {other} under [encoder], or swap A and "
        "B; not both",
    )


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
            return good("index", "no index yet: the encoder made less than a turn", figures=figures)
        return missing(
            "index",
            "no index pulse in the whole turn",
            "if the encoder has an index, look at its wire and pull-up; without one, angles hold "
            "only until the board restarts",
            figures,
        )
    if _bounces(run, events):
        return odd(
            "index",
            f"{seen} index pulses, some of them bouncing",
            "look at the screen and the pull-up of the index",
            figures,
        )
    per_rev = counts_per_turn(run, profile) / profile.encoder.drive_ratio
    between = np.abs(np.diff(run.events.count[events]))
    off = between[np.abs(between - per_rev) > INDEX_SLACK_COUNTS]
    if len(off) or not encoder_turns - 1 <= seen <= encoder_turns + 1:
        apart = (
            f", {int(between.min()):,} to {int(between.max()):,} counts apart" if seen > 1 else ""
        )
        return odd(
            "index",
            f"{seen} index pulses in {encoder_turns:g} encoder turns{apart}",
            "one a turn is right: look for interference, then at counts_per_rev",
            figures,
        )
    return good("index", f"{seen} in {encoder_turns:g} encoder turns", figures=figures)


def _marks(run: RigRun, profile: Profile) -> tuple[RigFinding, ...]:
    stated = {mark.input: mark.name for mark in profile.marks if mark.input is not None}
    inputs = sorted({*stated, *(int(n) for n in np.unique(run.events.input) if n > 0)})
    return tuple(_mark(run, number, stated.get(number)) for number in inputs)


def _mark(run: RigRun, number: int, name: str | None) -> RigFinding:
    events = _during(run, number)
    seen, check = int(events.sum()), f"mark {number}"
    called = f"{name} (input {number})" if name else f"input {number}"
    figures = {"edges": seen}
    if _bounces(run, events):
        return odd(
            check,
            f"{called}: {seen} edges, some of them bouncing",
            "give the pickup its pull-up and screen; a push button or points want 10 kΩ and 100 nF",
            figures,
        )
    if not seen:
        return missing(
            check,
            f"{called}: not seen",
            "a mark that turns at half speed comes on every other turn only: turn once more; else "
            "look at the pickup's gap, supply and wire",
            figures,
        )
    return good(check, f"{called}: {seen} in {run.turns:g} turns", figures=figures)
