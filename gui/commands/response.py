"""How slow are sensor and hose at the most? Read from a recording of pressure let go by hand."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from strokewise.gui.options import (
    EXIT_DECIDED,
    EXIT_UNDECIDED,
    Subparsers,
    add_command,
    add_engine_options,
    add_json_option,
    known_from,
)

if TYPE_CHECKING:
    from strokewise.analysis.compression.response import Response
    from strokewise.analysis.estimate import Notice

SECONDS_DECIMALS = 7  # a tenth of a microsecond: far below what any board resolves


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise response``."""
    parser = add_command(
        subparsers,
        "response",
        example="strokewise response letting-go.swr\n"
        "strokewise response letting-go.swr --set sensor.channel=1 --json",
        after="Record with the engine at rest: put a few bar into the hose at its plug end with a\n"
        "hand pump (well below what hose and sensor are rated for, the end held away from faces),\n"
        "keep it shut for a second and let it go at once; three times or more, the quickest\n"
        "counts. Letting go takes time too, so the answer is an upper bound.\n"
        "Exit code 0: a bound. 3: no step in the recording. 2: bad input.",
    )
    parser.add_argument("file", metavar="FILE", help="a recording of pressure let go")
    add_engine_options(parser)
    add_json_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Answer from every step in the recording."""
    from strokewise.analysis.compression.response import response_of
    from strokewise.analysis.profile import Sensor
    from strokewise.analysis.trace.trace import trace_of
    from strokewise.daq.recording.read import read_recording

    recording = read_recording(args.file)
    known = known_from(args, recording)
    sensor = known.profile.sensors[0] if known.profile.sensors else Sensor()
    sampled = [segment for segment in recording.segments if len(segment.samples)]
    response = response_of([trace_of(segment, known.profile, sensor) for segment in sampled])
    if args.json:
        _print_json(response, known.notices)
    else:
        _print_words(response, known.notices)
    return EXIT_UNDECIDED if response.response_s is None else EXIT_DECIDED


def milliseconds(seconds: float) -> str:
    """Return a time as the profile takes it, rounded up so that a bound stays one."""
    from math import ceil

    return f"{ceil(seconds * 1e5 - 1e-6) / 100:g} ms"


def _print_json(response: Response, notices: tuple[Notice, ...]) -> None:
    import sys

    from strokewise.gui.pages.answers import as_line, base_answer, interval_answer

    for notice in notices:
        print(f"warning: {notice.text}", file=sys.stderr)
    found = response.response_s
    answer = base_answer(found is not None, response.reason, notices)
    answer["response_time"] = interval_answer(found, SECONDS_DECIMALS)
    answer["upper_bound"] = None if found is None else milliseconds(found.high)
    answer["steps"] = len(response.steps)
    print(as_line(answer), flush=True)


def _print_words(response: Response, notices: tuple[Notice, ...]) -> None:
    from strokewise.gui.pages.words import fact, paragraph, sentence, warning_words

    found = response.response_s
    if found is None:
        parts = [paragraph(f"NOT SURE. {sentence(response.reason)}"), warning_words(notices)]
        print("\n\n".join(part for part in parts if part))
        return
    bound = milliseconds(found.high)
    facts = [
        *fact("At most", f"{bound} (95 %); of the best fit {milliseconds(found.value)}"),
        *fact("For the profile", f'response_time = "{bound}" under [sensor]'),
    ]
    for step in response.steps:
        text = f"{step.from_bar:.2f} to {step.to_bar:.2f} bar, at most {milliseconds(step.bound_s)}"
        facts += fact(f"Step at {step.time_s:.2f} s", text)
    parts = [
        paragraph(f"RESPONSE TIME AT MOST {bound}. {sentence(response.reason)}"),
        "\n".join(facts),
        warning_words(notices),
    ]
    print("\n\n".join(part for part in parts if part))
