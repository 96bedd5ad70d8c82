"""What is the engine doing, seen from across the workshop? The window on a live port."""

from __future__ import annotations

import argparse

from strokewise.daq.sources import BAUD
from strokewise.gui.options import Subparsers, add_command, add_engine_options, baud


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise live``."""
    parser = add_command(
        subparsers,
        "live",
        example="strokewise live\n"
        "strokewise live /dev/ttyACM0 --engine bench.toml\n"
        "strokewise live COM3 --engine bench.toml --job 'Bench four' --suspect",
        after="Without PORT it opens on the set-up page. F1 lists the keys.",
    )
    parser.add_argument(
        "port", metavar="PORT", nargs="?", help="a port as `strokewise ports` lists it"
    )
    add_engine_options(parser)
    parser.add_argument("--baud", type=baud, default=BAUD, help=f"default {BAUD}")
    parser.add_argument(
        "--job", metavar="NAME", default="", help="the job: its cautions are shown once"
    )
    parser.add_argument(
        "--suspect",
        action="store_true",
        help="the timing is under suspicion: ask for two full turns by hand first",
    )
    parser.add_argument("--dark", action="store_true", help="light on dark")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Open the window and stay until it is closed."""
    from strokewise.gui.window.launch import open_live_window

    return open_live_window(args)
