"""Where is TDC, and which cylinder fires there? The answer for one recording or many."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from strokewise.analysis.errors import StrokewiseError
from strokewise.gui.options import (
    EXIT_BAD_INPUT,
    EXIT_DECIDED,
    EXIT_UNDECIDED,
    Subparsers,
    add_command,
    add_engine_options,
    add_json_option,
    complain,
    known_from,
)

if TYPE_CHECKING:
    from strokewise.analysis.crank.strokes import EnginePhase
    from strokewise.analysis.estimate import Notice
    from strokewise.analysis.profile import Profile
    from strokewise.analysis.samples import Recording
    from strokewise.analysis.verdict.verdict import Verdict

METHODS = {
    "fit": "joint fit of all compressions (the default)",
    "rocking": "middle of compressions met from both sides",
    "stop": "piston stop met from both sides, no sensor needed",
    "peak": "highest pressure as it stands",
    "fixed-loss": "highest pressure, moved on by 0.7 deg",
    "chords": "midpoints of equal pressures",
    "polytropic": "straight lines in log p over log V",
    "heat-shape": "constant heat loss near TDC",
}


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise find``."""
    parser = add_command(
        subparsers,
        "find",
        about="Find top dead centre and the firing stroke of every cylinder in a recording.",
        example="strokewise find bench.swr\n"
        "strokewise find bench.swr --engine bench.toml --set sensor.cylinder=3\n"
        "strokewise find recordings/ --json",
        after="Exit code 0: decided. 3: read well, but it cannot honestly say. 2: bad input.",
    )
    parser.add_argument(
        "files", metavar="FILE", nargs="+", help="a recording, or a folder with recordings"
    )
    add_engine_options(parser)
    parser.add_argument(
        "--method",
        choices=METHODS,
        default="fit",
        help="; ".join(f"{name}: {meaning}" for name, meaning in METHODS.items()),
    )
    add_json_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Answer every recording; the worst of them is the exit code."""
    from strokewise.gui.recordings import recordings_named

    files = recordings_named(args.files)
    if len(files) == 1 and args.files == [str(files[0])]:
        return _answer(files[0], args, several=False)
    codes = []
    for number, file in enumerate(files, start=1):
        print(f"{number} of {len(files)}: {file}", file=sys.stderr)
        try:
            codes.append(_answer(file, args, several=True))
        except StrokewiseError as error:  # one bad file must not hide the others' answers
            codes.append(complain(str(error)))
    for code in (EXIT_BAD_INPUT, EXIT_UNDECIDED):
        if code in codes:
            return code
    return EXIT_DECIDED


def _answer(file: Path, args: argparse.Namespace, *, several: bool) -> int:
    from strokewise.analysis.verdict.find import find
    from strokewise.daq.recording.read import read_recording

    recording = read_recording(file)
    known = known_from(args, recording)
    verdict = find(recording, known.profile, method=args.method)
    noticed = (*known.notices, *verdict.warnings, *_of_method(verdict))
    verdict = replace(verdict, warnings=noticed)
    if args.json:
        _print_json(verdict, known.profile, str(file) if several else None)
    else:
        _print_words(verdict, known.profile, recording, str(file) if several else None)
    return EXIT_DECIDED if verdict.decided else EXIT_UNDECIDED


def _of_method(verdict: Verdict) -> tuple[Notice, ...]:
    """Say what the interval of a published method leaves out: it is the scatter between passes."""
    from strokewise.analysis.estimate import Notice
    from strokewise.analysis.verdict.methods import BASELINES

    if verdict.tdc is None or verdict.tdc.method not in BASELINES:
        return ()
    text = (
        f"the method {verdict.tdc.method} does not fit this engine's losses, and its interval is "
        "only the scatter between passes: TDC can lie some degrees outside; use it to compare"
    )
    return (Notice("losses-not-fitted", text),)


def _print_json(verdict: Verdict, profile: Profile, file: str | None) -> None:
    from strokewise.gui.pages.answers import as_line, find_answer

    for notice in verdict.warnings:
        print(f"warning: {notice.text}", file=sys.stderr)
    print(as_line(find_answer(verdict, cycle_deg=profile.cycle_deg, file=file)), flush=True)


def _print_words(
    verdict: Verdict, profile: Profile, recording: Recording, file: str | None
) -> None:
    from strokewise.gui.pages.cautions import after_finding
    from strokewise.gui.pages.words import find_words

    method = verdict.tdc.method if verdict.tdc is not None else None
    said = find_words(
        verdict,
        profile,
        end=phase_at_the_end(verdict, profile, recording),
        cautions=after_finding(
            profile,
            decided=verdict.decided,
            method=method,
            warned=[notice.code for notice in verdict.warnings],
        ),
    )
    print(said if file is None else f"{file}\n\n{said}\n")


def phase_at_the_end(
    verdict: Verdict, profile: Profile, recording: Recording
) -> EnginePhase | None:
    """Return where every cylinder stood at the last sample.

    None when the verdict is undecided, or speaks of an earlier start of the board than the last:
    nothing then tells how the two zeros lie to each other.
    """
    from strokewise.analysis.crank.angle import angle_of_count
    from strokewise.analysis.crank.strokes import phase_at

    sampled = [segment for segment in recording.segments if len(segment.samples)]
    if not verdict.firing_deg or 1 not in verdict.firing_deg or not sampled:
        return None
    last = sampled[-1]
    if last.number != verdict.segment:
        return None
    angle_deg = float(angle_of_count(float(last.samples.count[-1]), profile.encoder))
    return phase_at(profile, verdict.firing_deg[1], angle_deg)
