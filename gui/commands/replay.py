"""What did the engine do, seen again at any speed? The window on a recording."""

from __future__ import annotations

import argparse

from strokewise.analysis.errors import InputError
from strokewise.gui.models.keys import VIEWS
from strokewise.gui.options import Subparsers, add_command, add_engine_options, positive
from strokewise.gui.registry import window_steps

SMALLEST_PICTURE, LARGEST_PICTURE = 320, 16_384
SIZE = "1920x1080"


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise replay``."""
    parser = add_command(
        subparsers,
        "replay",
        example="strokewise replay bench.swr\n"
        "strokewise replay bench.swr --at 4.2 --picture bench.png --view angle",
        after="F1 lists the keys.",
    )
    parser.add_argument(
        "file", metavar="FILE", nargs="?", help="a recording; left out, it is chosen in the window"
    )
    add_engine_options(parser)
    parser.add_argument("--at", metavar="SECONDS", type=seconds, help="where to begin")
    parser.add_argument("--speed", type=positive, default=1.0, help="0.05 to 20 times")
    views = [*(name for name, _ in VIEWS), "steps"]
    parser.add_argument("--view", choices=views, default="chart")
    parser.add_argument(
        "--step",
        choices=[step.name for step in window_steps()],
        default=window_steps()[0].name,
        help="with --view steps: the step after TDC",
    )
    parser.add_argument("--over", metavar="FILE", help="a second recording to lay over this one")
    parser.add_argument(
        "--picture", metavar="OUT.png", help="draw into a file without a screen, and exit"
    )
    parser.add_argument("--size", metavar="WxH", type=size, default=SIZE, help=f"default {SIZE}")
    parser.add_argument("--dark", action="store_true", help="light on dark")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Draw the picture, or open the window and stay until it is closed."""
    if args.picture is not None:
        if args.file is None:
            raise InputError("name the recording that --picture draws")
        from strokewise.gui.window.picture import draw_picture

        return draw_picture(args)
    from strokewise.gui.window.launch import open_replay_window

    return open_replay_window(args)


def seconds(text: str) -> float:
    """Return a place in a recording, for argparse."""
    number = float(text)
    if not 0 <= number < float("inf"):
        raise ValueError(text)
    return number


def size(text: str) -> tuple[int, int]:
    """Return a picture's size, ``"1920x1080"``, for argparse."""
    width, _, height = text.lower().partition("x")
    pair = int(width), int(height)
    if not all(SMALLEST_PICTURE <= side <= LARGEST_PICTURE for side in pair):
        raise ValueError(text)
    return pair
