"""Where must the distributor's drive gear start so that the rotor ends where it belongs?"""

from __future__ import annotations

import argparse

from strokewise.gui.commands.step_command import add_step
from strokewise.gui.options import Subparsers

EXAMPLE = """\
strokewise drive --engine bench.toml
strokewise drive bench.swr --engine bench.toml --lead-1 300
strokewise drive --engine bench.toml --found 181
strokewise drive --engine bench.toml --picture drive.svg"""


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise drive``."""
    after = (
        "Angles of rotor and leads: degrees clockwise, seen on the cap, from a line of your choice."
    )
    add_step(subparsers, "drive", example=EXAMPLE, after=after)
