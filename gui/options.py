"""What do the commands share? Their form of help, the options about the engine, the exit codes."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, TypeVar

from strokewise.gui.registry import command

if TYPE_CHECKING:
    from strokewise.analysis.samples import Recording
    from strokewise.daq.profile.known import KnownEngine

A = TypeVar("A")

EXIT_DECIDED = 0
EXIT_BAD_INPUT = 2
EXIT_UNDECIDED = 3

MOST_BAUD = 100_000_000
"""The fastest USB serial bridges stay under it; what the system is given must fit 32 bits."""

Subparsers = argparse._SubParsersAction  # argparse has no public name for it


def add_command(
    subparsers: Subparsers[argparse.ArgumentParser],
    name: str,
    *,
    example: str,
    after: str = "",
) -> argparse.ArgumentParser:
    """Return a new command's parser, set as all of them are: what it answers, and an example.

    Parameters
    ----------
    example : str
        One or more command lines, shown under the options.
    after : str, optional
        One more sentence, under the example.
    """
    about = command(name).about
    shown = "example:\n" + "\n".join(f"  {line}" for line in example.splitlines())
    return subparsers.add_parser(
        name,
        help=about,
        description=about,
        epilog=f"{shown}\n\n{after}".rstrip(),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def positive(text: str) -> float:
    """Return a number above zero, for argparse."""
    number = float(text)
    if not 0 < number < float("inf"):
        raise ValueError(text)
    return number


def baud(text: str) -> int:
    """Return a baud rate, for argparse: what no port could be set to is refused here."""
    rate = int(text)
    if not 0 < rate <= MOST_BAUD:
        raise ValueError(text)
    return rate


def add_json_option(parser: argparse.ArgumentParser) -> None:
    """Add ``--json``."""
    parser.add_argument(
        "--json", action="store_true", help="answer with one JSON object and nothing else"
    )


def add_engine_options(parser: argparse.ArgumentParser) -> None:
    """Add ``--engine`` and ``--set``, what a person says about the engine and the rig."""
    parser.add_argument(
        "--engine", metavar="PROFILE", help="engine profile (TOML); goes before the recording's own"
    )
    parser.add_argument(
        "--set",
        dest="settings",
        metavar="KEY=VALUE",
        action="append",
        default=[],
        help="one key of the profile, before every other source; may be given several times: "
        "--set compression_ratio=8.6 --set sensor.cylinder=3",
    )


class EngineSaid(Protocol):
    """What a person said of the engine: the options of a command line, or the like of them."""

    @property
    def engine(self) -> str | Path | None:
        """The profile's file."""

    @property
    def settings(self) -> Sequence[str]:
        """``KEY=VALUE``, each before every other source."""


@dataclass(frozen=True, slots=True)
class SaidOfEngine:
    """A profile's file and ``KEY=VALUE`` settings, where no command line has them.

    Examples
    --------
    >>> from strokewise.gui import SaidOfEngine, ask, found_in
    >>> said = SaidOfEngine(settings=["static_timing.advance=6 deg BTDC"])
    >>> ask("static", found_in("recordings/cranked.swr", said)).decided
    True
    """

    engine: str | Path | None = None
    settings: Sequence[str] = ()


def known_from(args: EngineSaid, recording: Recording | None = None) -> KnownEngine:
    """Return what the options and the recording together say of the engine and the rig.

    Raises
    ------
    ProfileError
        One line that names source, key and value.
    """
    if recording is None:
        from strokewise.daq.profile.known import known_engine

        return known_engine(overrides=args.settings, engine=args.engine)
    from strokewise.daq.known_recording import known_of

    return known_of(recording, engine=args.engine, settings=args.settings)


def complain(text: str) -> int:
    """Say on one line of standard error what a person can mend; returns the exit code for it."""
    print("strokewise: " + " ".join(text.split()), file=sys.stderr)
    return EXIT_BAD_INPUT
