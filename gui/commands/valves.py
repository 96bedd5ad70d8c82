"""Which valves can be set now, where to turn next, and does each gap come out right?"""

from __future__ import annotations

import argparse

from strokewise.gui.commands.step_command import add_step
from strokewise.gui.options import Subparsers

EXAMPLE = """\
strokewise valves bench.swr --done 1E,1I --gap "1E=0.40 mm, 0.36 mm, 0.35 mm"
strokewise valves --engine bench.toml --after-tdc 0
strokewise valves --engine bench.toml --gap "2I=0.010 in" --fitted "2I=2.45 mm\""""


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise valves``."""
    after = "Without a recording, angles count from the firing TDC of cylinder 1."
    add_step(subparsers, "valves", example=EXAMPLE, after=after)
