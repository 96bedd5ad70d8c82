"""Where do the timing marks really stand, and why are they off?"""

from __future__ import annotations

import argparse

from strokewise.gui.commands.step_command import add_step
from strokewise.gui.options import Subparsers

EXAMPLE = """\
strokewise marks bench.swr --engine bench.toml
strokewise marks bench.swr --stated "pulley notch=123.4" --json
strokewise marks bench.swr --earlier "pulley notch=7.4,7.1,7.7" --cam-shift 17,15,19
strokewise marks bench.swr --clearances-set"""


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise marks``."""
    after = "Marks come from [[marks]] of the profile; a mark pressed on the screen by its name."
    add_step(subparsers, "marks", example=EXAMPLE, after=after)
