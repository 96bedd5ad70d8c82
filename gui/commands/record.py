"""How is a port recorded from the command line? Bytes to a file, with what is known beforehand."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from contextlib import closing
from typing import TextIO

from strokewise.analysis.samples import Health
from strokewise.daq.patient import PatientSource
from strokewise.daq.profile.layers import table_said
from strokewise.daq.recording.record import Recorder, recording_header, stopped_by_interrupt
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.daq.same_port import SamePort
from strokewise.daq.sources import BAUD, Source
from strokewise.gui.options import (
    EXIT_DECIDED,
    EXIT_UNDECIDED,
    Subparsers,
    add_command,
    add_engine_options,
    baud,
    known_from,
    positive,
)
from strokewise.gui.pages.cautions import BEFORE_TURNING, before_recording
from strokewise.gui.pages.text import caution_words
from strokewise.gui.safe_text import bare

SHOW_EVERY_S = 0.5  # often enough to see that it lives


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise record``."""
    parser = add_command(
        subparsers,
        "record",
        example="strokewise record /dev/ttyACM0 bench.swr --engine bench.toml --cylinder 1\n"
        "strokewise record COM3 bench.swr --seconds 20",
        after="Ctrl-C ends the recording; the file is complete up to there. A port that goes away"
        " is waited for.",
    )
    parser.add_argument("port", metavar="PORT", help="a port as `strokewise ports` lists it")
    parser.add_argument("out", metavar="OUT", help="the new file; never written over")
    add_engine_options(parser)
    parser.add_argument(
        "--cylinder", metavar="N", help="the cylinder that the sensor is screwed into"
    )
    parser.add_argument("--seconds", metavar="S", type=positive, help="stop after so long")
    parser.add_argument("--baud", type=baud, default=BAUD, help=f"default {BAUD}")
    parser.add_argument("--note", metavar="TEXT", help="anything worth having on record")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Record until the time is up or Ctrl-C; a port that goes away is waited for."""
    if args.cylinder is not None:
        args.settings = [*args.settings, f"sensor.cylinder={args.cylinder}"]
    known_from(args)  # a wrong profile is refused now, not when the engine stands still again
    header = recording_header(
        engine=table_said(args.engine, args.settings) or None, operator_note=args.note
    )
    with (
        closing(PatientSource(SamePort(args.port, args.baud, tell=_tell), tell=_tell)) as source,
        RecordingWriter(args.out, header) as writer,
        stopped_by_interrupt(source),
    ):
        # Only now: an error before this point is one line and nothing else.
        print(
            caution_words(before_recording(), heading=BEFORE_TURNING), end="\n\n", file=sys.stderr
        )
        recorder = Recorder(source, writer)
        try:
            follow(recorder, source, sys.stderr, seconds=args.seconds)
        finally:
            print(f"\n{kept_words(recorder.health, args.out)}", file=sys.stderr)
    return EXIT_DECIDED if recorder.health.samples else EXIT_UNDECIDED


def _tell(words: str) -> None:
    print(f"\n{words}", file=sys.stderr)


def follow(
    recorder: Recorder, source: Source, screen: TextIO, *, seconds: float | None = None
) -> None:
    """Run a recorder to its end and show how it goes.

    Parameters
    ----------
    screen : TextIO
        One line, written over while it is a terminal, so that nothing scrolls away.
    seconds : float, optional
        Stop the source after so long.
    """
    show = _shower(screen)
    next_s = 0.0
    for _ in recorder.blocks():
        elapsed_s = source.now_us() / 1e6
        if seconds is not None and elapsed_s >= seconds:
            source.stop()
        if elapsed_s >= next_s:
            show(progress_words(elapsed_s, recorder.health))
            next_s = elapsed_s + SHOW_EVERY_S
    show(progress_words(source.now_us() / 1e6, recorder.health))


def progress_words(elapsed_s: float, health: Health) -> str:
    """Return how the recording goes, on one line."""
    if not health.samples:
        return f"{elapsed_s:6.1f} s  nothing from the board yet"
    faults = f", {health.lost_frames} lost, {health.bad_frames} damaged"
    return f"{elapsed_s:6.1f} s  {health.samples:,} samples in {health.frames:,} frames{faults}"


def kept_words(health: Health, out: str) -> str:
    """Return what is in the file now, and what to do next."""
    if health.samples:
        return f"{health.samples:,} samples kept in {out}. Next: strokewise find {out}"
    return (
        f"No samples came; {out} holds what did. Check that the board runs, that the port is the "
        "right one, and its --baud."
    )


def _shower(screen: TextIO) -> Callable[[str], None]:
    """Return how progress is shown: over the last line, or below it where that cannot be done."""
    if screen.isatty():
        own = bare(screen)
        return lambda line: print(f"\r\x1b[K{line}", end="", file=own, flush=True)
    return lambda line: print(line, file=screen, flush=True)
