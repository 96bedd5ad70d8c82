"""Is this recording, or this rig, sound? What is in it, what is missing, what is odd."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from strokewise.gui.options import (
    EXIT_DECIDED,
    EXIT_UNDECIDED,
    Subparsers,
    add_command,
    add_engine_options,
    add_json_option,
    known_from,
    positive,
)

if TYPE_CHECKING:
    from strokewise.analysis.estimate import Notice
    from strokewise.analysis.profile import Profile
    from strokewise.analysis.samples import Recording
    from strokewise.gui.recorded_facts import SegmentFacts

BAUD = 115_200  # what the boards talk at unless told otherwise

CLIPPED_AT = 0.001
"""Share of clipped readings worth a warning: one in a thousand reaches into the peaks already."""

INDEX_SLACK_COUNTS = 4
"""Counts that two index pulses may miss a turn by: one line of the disc, four edges."""


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise check``."""
    parser = add_command(
        subparsers,
        "check",
        about="Judge the health of a recording, or try the rig on a port before the engine.",
        example="strokewise check bench.swr\n"
        "strokewise check /dev/ttyACM0 --engine bench.toml\n"
        "strokewise check COM3 --turns 2 --seconds 30 --json",
        after="A file: exit code 0: it has samples to work with. 3: it has none. 2: bad input.\n"
        "A port: it is listened to while you leave the rig at rest, squeeze the sensor's hose and\n"
        "turn the crank by hand from a mark to the mark; each finding is good, odd or missing,\n"
        "with --json one a line. 0: all good. 3: something odd or missing. 2: bad port.",
    )
    parser.add_argument("file", metavar="FILE|PORT", help="a recording, or a board's port")
    add_engine_options(parser)
    parser.add_argument("--baud", type=int, default=BAUD, help=f"of a port; default {BAUD}")
    parser.add_argument(
        "--turns", type=positive, default=1.0, help="of a port: how often to turn; default 1"
    )
    parser.add_argument(
        "--seconds", metavar="S", type=positive, help="of a port: listen so long, and ask nothing"
    )
    add_json_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the figures of the recording and its warnings, or try the rig."""
    if is_port(args.file):
        from strokewise.gui.rig_check import run as try_rig

        return try_rig(args)
    from strokewise.daq.read import read_recording
    from strokewise.gui.recorded_facts import segment_facts

    recording = read_recording(args.file)
    known = known_from(args, recording)
    facts = [segment_facts(segment, known.profile.encoder) for segment in recording.segments]
    warnings = (*known.notices, *odd(facts, recording, known.profile))
    if args.json:
        _print_json(recording, facts, warnings)
    else:
        _print_words(args.file, recording, known.profile, facts, warnings)
    return EXIT_DECIDED if recording.health.samples else EXIT_UNDECIDED


def is_port(name: str) -> bool:
    """Tell a port from a recording: it is no file here, and is not named like one."""
    path = Path(name)
    return not (path.is_file() or path.is_dir() or path.suffix.lower() == ".swr")


def odd(facts: list[SegmentFacts], recording: Recording, profile: Profile) -> tuple[Notice, ...]:
    """Return what a person should look at before trusting the recording."""
    from strokewise.analysis.angle import DEFAULT_COUNTS_PER_REV
    from strokewise.analysis.estimate import Notice

    notices = []
    if not recording.header:
        text = "the file's own header is missing: what was known of the engine is lost"
        notices.append(Notice("no-header", text))
    for segment in recording.segments:
        if segment.board is not None and segment.board.skipped:
            text = (
                f"the board saw {segment.board.skipped:,} skipped states of the encoder: counts "
                "are lost or made; look at the pull-ups and the screen of A and B"
            )
            notices.append(Notice("counts-skipped", text))
    counts = profile.encoder.counts_per_rev or DEFAULT_COUNTS_PER_REV
    for run_facts in facts:
        where = "" if len(facts) == 1 else f"run {run_facts.number + 1}: "
        if any(abs(between - counts) > INDEX_SLACK_COUNTS for between in run_facts.index_counts):
            low, high = run_facts.index_counts
            text = (
                f"{where}the index comes every {low} to {high} counts, not every {counts}: wrong "
                "counts_per_rev, or counts are lost or made by interference"
            )
            notices.append(Notice("index-counts", text))
        for channel, reading in enumerate(run_facts.channels):
            if reading.clipped > CLIPPED_AT:
                text = (
                    f"{where}channel {channel}: {reading.clipped:.1%} of the readings stand at an "
                    "end of the converter, so peaks are cut off"
                )
                notices.append(Notice("clipped", text))
        if run_facts.samples and run_facts.turns_forward < run_facts.turns_back:
            text = (
                f"{where}the crank turned back more than forward: direction in the profile may be "
                "the wrong way round"
            )
            notices.append(Notice("turned-back", text))
    return tuple(notices)


def reason(recording: Recording) -> str:
    """Return in one line whether there is something to work with."""
    from strokewise.gui.words import counted

    health = recording.health
    if not health.samples:
        return "no samples in it: nothing can be found from this recording"
    gone = health.lost_frames + health.bad_frames
    if not gone and not health.missing_bytes:
        return f"{counted(health.samples, 'sample')}, and nothing is missing"
    return (
        f"{counted(health.samples, 'sample')}; missing: {counted(gone, 'frame')}, "
        f"{counted(health.missing_bytes, 'byte')} of the file"
    )


def _print_json(
    recording: Recording, facts: list[SegmentFacts], warnings: tuple[Notice, ...]
) -> None:
    from strokewise.gui.answers import as_line, base_answer, health_answer

    health = recording.health
    answer = base_answer(health.samples > 0, reason(recording), warnings)
    answer["health"] = {
        **health_answer(health, _clipped(facts)),
        "unchecked_lines": health.unchecked_lines,
        "missing_bytes": health.missing_bytes,
    }
    answer["started"] = recording.header.get("started")
    answer["runs"] = [_rounded(asdict(run_facts)) for run_facts in facts]
    answer["notes"] = list(recording.notes)
    print(as_line(answer))


def _rounded(figures: dict[str, Any]) -> dict[str, Any]:
    return {
        key: round(figure, 3) if isinstance(figure, float) else figure
        for key, figure in figures.items()
    }


def _print_words(
    file: str,
    recording: Recording,
    profile: Profile,
    facts: list[SegmentFacts],
    warnings: tuple[Notice, ...],
) -> None:
    from strokewise.gui.words import fact, health_words, paragraph, sentence, warning_words

    lines = fact("Came through", health_words(recording.health, _clipped(facts)))
    lines += fact("Started", str(recording.header.get("started", "not known")))
    lines += fact("Engine", engine_words(profile))
    for run_facts in facts:
        label = "Run" if len(facts) == 1 else f"Run {run_facts.number + 1}"
        lines += fact(label, run_words(run_facts))
        for channel, reading in enumerate(run_facts.channels):
            text = f"readings {reading.low} to {reading.high} of {run_facts.full_scale}"
            lines += fact(f"  channel {channel}", text)
    for note in recording.notes:
        lines += fact("Note", note)
    head = paragraph(f"{file}: {sentence(reason(recording))}")
    print("\n\n".join(part for part in (head, "\n".join(lines), warning_words(warnings)) if part))


def engine_words(profile: Profile) -> str:
    """Return the engine and the sensed cylinder in a few words."""
    order = "-".join(str(cylinder) for cylinder in profile.firing_order)
    size = "1 cylinder" if profile.cylinders == 1 else f"{profile.cylinders} cylinders, {order}"
    sensed = [
        f"sensor in cylinder {sensor.cylinder}"
        if sensor.cylinder is not None and sensor.place == "plug hole"
        else f"sensor in the {sensor.place}"
        for sensor in profile.sensors
    ]
    named = [f'"{profile.name}"'] if profile.name else []
    return ", ".join([*named, profile.cycle, size, *sensed])


def run_words(facts: SegmentFacts) -> str:
    """Return one run of the board in a few words."""
    from strokewise.gui.words import counted

    parts = [
        f"{facts.seconds:.1f} s at {facts.rate_hz:,.0f} samples a second",
        f"crank {facts.turns_forward:.1f} turns forward and {facts.turns_back:.1f} back",
    ]
    if facts.gaps:
        parts.append(f"{counted(facts.gaps, 'gap')} in the samples")
    if facts.index_edges:
        parts.append(counted(facts.index_edges, "index pulse"))
    parts += [
        f"{counted(edges, 'pulse')} of mark input {number}"
        for number, edges in facts.mark_edges.items()
    ]
    if facts.presses:
        parts.append(f"{counted(facts.presses, 'mark')} pressed on the screen")
    return "; ".join(parts)


def _clipped(facts: list[SegmentFacts]) -> float:
    """Return the share of clipped readings over all runs and channels."""
    weighed = [
        (run_facts.samples, reading.clipped)
        for run_facts in facts
        for reading in run_facts.channels
    ]
    total = sum(samples for samples, _ in weighed)
    return sum(samples * clipped for samples, clipped in weighed) / total if total else 0.0
