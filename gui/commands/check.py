"""Is this recording, or this rig, sound? What is in it, what is missing, what is odd."""

from __future__ import annotations

import argparse
from pathlib import Path

from strokewise.daq.recording.container import RECORDING_SUFFIX
from strokewise.daq.sources import BAUD
from strokewise.gui.commands.step_command import add_step, run_step
from strokewise.gui.options import Subparsers, baud, positive
from strokewise.gui.rig_check import run as try_rig

EXAMPLE = """\
strokewise check bench.swr
strokewise check /dev/ttyACM0 --engine bench.toml
strokewise check COM3 --turns 2 --seconds 30 --json"""

AFTER = """\
A file: exit code 0: it has samples to work with. 3: it has none. 2: bad input.
A port: it is listened to while you leave the rig at rest, squeeze the sensor's hose and
turn the crank by hand from a mark to the mark; each finding is good, odd or missing,
with --json one a line. 0: all good. 3: something odd or missing. 2: bad port."""


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise check``."""
    file = "a recording, or a board's port"
    parser = add_step(
        subparsers, "check", example=EXAMPLE, after=AFTER, file=file, form="FILE|PORT"
    )
    parser.add_argument("--baud", type=baud, default=BAUD, help=f"of a port; default {BAUD}")
    parser.add_argument(
        "--turns", type=positive, default=1.0, help="of a port: how often to turn; default 1"
    )
    parser.add_argument(
        "--seconds", metavar="S", type=positive, help="of a port: listen so long, and ask nothing"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the figures of the recording and its warnings, or try the rig."""
    return try_rig(args) if is_port(args.file) else run_step("check", args)


def is_port(name: str) -> bool:
    """Tell a port from a recording: it is no file here, and is not named like one."""
    path = Path(name)
    return not (path.is_file() or path.is_dir() or path.suffix.lower() == RECORDING_SUFFIX)
