"""What do the commands share? Their form of help, the options about the engine, the exit codes."""

from __future__ import annotations

import argparse

EXIT_DECIDED = 0
EXIT_BAD_INPUT = 2
EXIT_UNDECIDED = 3

Subparsers = argparse._SubParsersAction  # argparse has no public name for it


def add_command(
    subparsers: Subparsers[argparse.ArgumentParser], name: str, *, about: str, example: str
) -> argparse.ArgumentParser:
    """Return a new command's parser, set as all of them are: what it answers, and an example.

    Parameters
    ----------
    about : str
        One sentence; the list of commands shows it too.
    example : str
        One or more command lines, shown under the options.
    """
    return subparsers.add_parser(
        name,
        help=about,
        description=about,
        epilog="example:\n" + "\n".join(f"  {line}" for line in example.splitlines()),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


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
