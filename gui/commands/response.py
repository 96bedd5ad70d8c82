"""How slow are sensor and hose at the most? Read from a recording of pressure let go by hand."""

from __future__ import annotations

import argparse

from strokewise.gui.commands.step_command import add_step
from strokewise.gui.options import Subparsers

EXAMPLE = """\
strokewise response letting-go.swr
strokewise response letting-go.swr --set sensor.channel=1 --json"""

AFTER = """\
Record with the engine at rest: put a few bar into the hose at its plug end with a
hand pump (well below what hose and sensor are rated for, the end held away from faces),
keep it shut for a second and let it go at once; three times or more, the quickest
counts. Letting go takes time too, so the answer is an upper bound.
Exit code 0: a bound. 3: no step in the recording. 2: bad input."""


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise response``."""
    file = "a recording of pressure let go"
    add_step(subparsers, "response", example=EXAMPLE, after=AFTER, file=file)
