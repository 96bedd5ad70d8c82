"""Where is TDC, and which cylinder fires there? The answer for one recording or many."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from strokewise.analysis.errors import StrokewiseError
from strokewise.gui.commands.step_command import add_fields, print_said, typed_in
from strokewise.gui.options import (
    EXIT_BAD_INPUT,
    EXIT_DECIDED,
    EXIT_UNDECIDED,
    Subparsers,
    add_command,
    add_engine_options,
    add_json_option,
    complain,
)
from strokewise.gui.recordings import recordings_named
from strokewise.gui.steps import about_files, ask, step_named


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise find``."""
    parser = add_command(
        subparsers,
        "find",
        example="strokewise find bench.swr\n"
        "strokewise find bench.swr --engine bench.toml --set sensor.cylinder=3\n"
        "strokewise find recordings/ --json",
        after="Exit code 0: decided. 3: read well, but it cannot honestly say. 2: bad input.",
    )
    parser.add_argument(
        "files", metavar="FILE", nargs="+", help="a recording, or a folder with recordings"
    )
    add_engine_options(parser)
    add_fields(parser, step_named("find"))
    add_json_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Answer every recording; the worst of them is the exit code."""
    files = recordings_named(args.files)
    if len(files) == 1 and args.files == [str(files[0])]:
        return _answer(files[0], args, several=False)
    codes = []
    for number, file in enumerate(files, start=1):
        print(f"{number} of {len(files)}: {file}", file=sys.stderr)
        try:
            codes.append(_answer(file, args, several=True))
        except StrokewiseError as error:  # one bad file must not hide the others' answers
            codes.append(complain(str(error)))
    for code in (EXIT_BAD_INPUT, EXIT_UNDECIDED):
        if code in codes:
            return code
    return EXIT_DECIDED


def _answer(file: Path, args: argparse.Namespace, *, several: bool) -> int:
    typed = typed_in(step_named("find"), args)
    said = ask("find", about_files("find", [file], typed, args), typed)
    return print_said(said, as_json=args.json, file=str(file) if several else None)
