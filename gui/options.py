"""What do the commands share? Their form of help, the options about the engine, the exit codes."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from strokewise.gui.registry import command

if TYPE_CHECKING:
    from strokewise.analysis.profile import Profile
    from strokewise.analysis.samples import Recording
    from strokewise.daq.profile.known import KnownEngine

A = TypeVar("A")

EXIT_DECIDED = 0
EXIT_BAD_INPUT = 2
EXIT_UNDECIDED = 3

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
    """A profile's file and ``KEY=VALUE`` settings, where no command line has them."""

    engine: str | Path | None = None
    settings: Sequence[str] = ()


def known_from(args: EngineSaid, recording: Recording | None = None) -> KnownEngine:
    """Return what the options and the recording together say of the engine and the rig.

    Raises
    ------
    ProfileError
        One line that names source, key and value.
    """
    from strokewise.daq.profile.known import known_engine

    if recording is None:
        return known_engine(overrides=args.settings, engine=args.engine)
    boards = [segment.board for segment in recording.segments if segment.board is not None]
    known = known_engine(
        overrides=args.settings,
        engine=args.engine,
        header=recording.header,
        board=boards[-1] if boards else None,
    )
    _refuse_absent_channels(known.profile, recording)
    return known


def _refuse_absent_channels(profile: Profile, recording: Recording) -> None:
    """A sensor on a reading that no sample has would be answered as if nothing was measured."""
    from strokewise.analysis.errors import ProfileError

    held = [s.samples.readings.shape[1] for s in recording.segments if len(s.samples)]
    for sensor in profile.sensors:
        if held and sensor.channel >= max(held):
            last = max(held) - 1
            raise ProfileError(
                f"sensor.channel = {sensor.channel}: the samples of this recording end at channel "
                f"{last}; say --set sensor.channel={last}, or name the sensor's own channel"
            )


def table_said(args: argparse.Namespace) -> dict[str, Any]:
    """Return the profile's table as the options say it, for a header: nothing in it is assumed."""
    from strokewise.daq.profile.layers import load_profile, merge_layers, override_layer

    layers = [override_layer(args.settings)]
    if args.engine is not None:
        layers.append(load_profile(args.engine))
    return merge_layers(layers)


def complain(text: str) -> int:
    """Say on one line of standard error what a person can mend; returns the exit code for it."""
    print("strokewise: " + " ".join(text.split()), file=sys.stderr)
    return EXIT_BAD_INPUT
