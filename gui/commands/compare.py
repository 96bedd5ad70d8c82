"""Do the cylinders' compressions agree, and if one is odd, what would confirm why?"""

from __future__ import annotations

import argparse

from strokewise.gui.commands.step_command import add_step
from strokewise.gui.options import Subparsers

EXAMPLE = """\
strokewise compare cyl1.swr cyl2.swr cyl3.swr cyl4.swr --throttle-open yes --plugs-out yes
strokewise compare recordings-of-today/ --cylinders 1,2,3,4
strokewise compare cyl*.swr --wet cyl3-oiled.swr --json
strokewise compare cyl*.swr --lay 3 --over 1 --picture laid.svg"""


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise compare``."""
    after = "One recording for each cylinder, cranked; its sensor.cylinder says which."
    add_step(subparsers, "compare", example=EXAMPLE, after=after)
