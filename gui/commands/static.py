"""Where must the crank stand for the static timing, and does a strobe agree with it?"""

from __future__ import annotations

import argparse

from strokewise.gui.commands.step_command import add_step
from strokewise.gui.options import Subparsers

EXAMPLE = """\
strokewise static bench.swr --advance "6 deg BTDC"
strokewise static --engine bench.toml --rim "8.4 mm"
strokewise static --curve 800=0,3000=20 --strobe 700=13 --strobe 3200=33"""


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise static``."""
    after = "The curve is what is added to the static figure: crank speed=crank degrees."
    add_step(subparsers, "static", example=EXAMPLE, after=after)
