"""Is this recording sound? What is in it, what is missing, and whether the rig looks right."""

from __future__ import annotations

import argparse

from strokewise.gui.commands.step_command import add_step
from strokewise.gui.options import Subparsers


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise check``."""
    after = "Exit code 0: it has samples to work with. 3: it has none. 2: bad input."
    add_step(subparsers, "check", example="strokewise check bench.swr", after=after)
