"""Which cylinder is on its firing stroke right now? The live answer in a terminal."""

from __future__ import annotations

import argparse
import sys
import threading
import time

from rich.console import Console
from rich.live import Live

from strokewise.daq.sources import BAUD
from strokewise.gui.models.run.live import LiveRun
from strokewise.gui.models.run.replay import ReplayRun
from strokewise.gui.models.run.sources import is_recording, open_live, open_replay
from strokewise.gui.models.terminal import TERMINAL_WIDTH, plain_line, screen, told_apart
from strokewise.gui.options import (
    EXIT_DECIDED,
    EXIT_UNDECIDED,
    Subparsers,
    add_command,
    add_engine_options,
    baud,
    positive,
)
from strokewise.gui.pages.cautions import BEFORE_TURNING, before_recording
from strokewise.gui.pages.text import caution_words
from strokewise.gui.safe_text import bare

SCREENS_A_SECOND = 12  # calm, and little over a slow line
LOOK_S = 0.05  # without news it is looked so often whether the board has fallen silent


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise watch``."""
    parser = add_command(
        subparsers,
        "watch",
        example="strokewise watch /dev/ttyACM0 --engine bench.toml\nstrokewise watch bench.swr",
        after="Ctrl-C ends it. Exit code 0: decided at the end, 3: not.",
    )
    parser.add_argument("source", metavar="PORT|FILE", help="a port, or a recording to replay")
    add_engine_options(parser)
    parser.add_argument("--baud", type=baud, default=BAUD, help=f"default {BAUD}")
    parser.add_argument("--speed", type=positive, default=1.0, help="of a replay, 0.05 to 20")
    parser.add_argument("--seconds", metavar="S", type=positive, help="stop after so long")
    parser.add_argument(
        "--suspect",
        action="store_true",
        help="the timing is under suspicion: ask for two full turns by hand first",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Watch until the recording ends, the time is up, or Ctrl-C."""
    said = {"engine": args.engine, "settings": args.settings}
    watched: LiveRun | ReplayRun
    if is_recording(args.source):
        watched = open_replay(args.source, **said)
        watched.set_speed(args.speed)
    else:
        watched = open_live(args.source, baud=args.baud, suspect=args.suspect, at_once=True, **said)
        _caution()
    news = threading.Event()
    watched.newest.on_news = news.set
    watched.start()
    try:
        _show(watched, news, args.seconds)
    except KeyboardInterrupt:
        pass  # the usual way out
    finally:
        watched.stop()
    verdict = watched.snapshot.verdict
    return EXIT_DECIDED if verdict is not None and verdict.decided else EXIT_UNDECIDED


def _caution() -> None:
    print(caution_words(before_recording(), heading=BEFORE_TURNING), end="\n\n", file=sys.stderr)


def _show(watched: LiveRun | ReplayRun, news: threading.Event, seconds: float | None) -> None:
    """Show each moment until there are no more; plain lines where nobody looks at a terminal."""

    console = Console(file=bare(sys.stdout), highlight=False)
    end_s = None if seconds is None else time.monotonic() + seconds
    last = told = ""

    def going() -> bool:
        link = watched.snapshot.link
        ended = link.state == "ended" and not watched.judging
        return not ended and (end_s is None or time.monotonic() < end_s)

    if not console.is_terminal:
        while going():
            news.wait(LOOK_S)
            news.clear()
            shown = watched.look()
            befallen = shown.link.news or shown.link.trouble
            if befallen and befallen != told:  # what no sentence says: garbage, a port gone
                print(befallen, flush=True)
            line, told = plain_line(shown), befallen
            if told_apart(line) != last:
                print(line, flush=True)
                last = told_apart(line)
        print(plain_line(watched.look()), flush=True)
        return
    console.width = min(console.width, TERMINAL_WIDTH)
    with Live(console=console, screen=True, auto_refresh=False) as live:
        while going():
            news.wait(LOOK_S)
            news.clear()
            live.update(screen(watched.look()), refresh=True)
            time.sleep(1 / SCREENS_A_SECOND)
    console.print(screen(watched.look()))
