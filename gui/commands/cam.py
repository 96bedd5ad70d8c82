"""How late is the cam, how many teeth, and which tooth and keyway put it right?"""

from __future__ import annotations

import argparse

from strokewise.gui.commands.step_command import add_step
from strokewise.gui.options import Subparsers

EXAMPLE = """\
strokewise cam bench.swr --engine bench.toml
strokewise cam bench.swr --clearances-set --json
strokewise cam bench.swr --separate-cams --keyway 2"""

AFTER = """\
Needs valve_timing in the profile, and best a recording made with the starter, the
throttle open. Inlet closing and exhaust opening are measured. Exhaust closing and
inlet opening are not: about the overlap a degree of either valve moves the pressure by
less than a sensor for compressions resolves. A dial gauge on the valve shows them."""


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise cam``."""
    add_step(subparsers, "cam", example=EXAMPLE, after=AFTER)
