"""Where is TDC, and which cylinder fires there? The answer for one recording or many."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from strokewise.analysis.errors import InputError, StrokewiseError
from strokewise.daq.wire.jsontext import parse_object
from strokewise.gui.commands.step_command import add_fields, print_said, typed_in
from strokewise.gui.many import PrintedApart, all_cores, in_order
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
from strokewise.gui.progress import Progress
from strokewise.gui.recordings import recordings_named
from strokewise.gui.steps import about_files, ask, step_named

TIME_LEFT_TOLD_S = 90.0  # what is over by then needs no telling


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
    parser.add_argument(
        "--resume",
        metavar="ANSWERS",
        help="lines of an earlier run with --json: files answered there are left out",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Answer every recording; the worst of them is the exit code."""
    files = recordings_named(args.files)
    if len(files) == 1 and args.files == [str(files[0])]:
        return _answer(files[0], args, several=False)
    files = [file for file in files if str(file) not in _answered(args.resume)]
    codes, began_s = [], time.monotonic()
    with all_cores(len(files)) as executor:
        each = in_order(PrintedApart(_one_of_many, args), files, executor)
        for number, (file, said) in enumerate(zip(files, each, strict=True), start=1):
            took_s = time.monotonic() - began_s
            left = time_left(took_s / number * (len(files) - number))
            print(f"{number} of {len(files)}: {file}{left}", file=sys.stderr)
            print(said.err, end="", file=sys.stderr, flush=True)
            print(said.out, end="", flush=True)
            codes.append(said.code)
    for code in (EXIT_BAD_INPUT, EXIT_UNDECIDED):
        if code in codes:
            return code
    return EXIT_DECIDED


def _one_of_many(file: Path, args: argparse.Namespace) -> int:
    try:
        return _answer(file, args, several=True)
    except StrokewiseError as error:  # one bad file must not hide the others' answers
        return complain(str(error))


def time_left(seconds: float) -> str:
    """Return how long the rest will take; nothing where it is soon over."""
    return f", some {seconds / 60:.0f} min left" if seconds > TIME_LEFT_TOLD_S else ""


def _answered(earlier: str | None) -> frozenset[str]:
    """Return the files that an earlier run of the same command answered, a JSON object a line."""
    if earlier is None:
        return frozenset()
    try:
        lines = Path(earlier).read_bytes().splitlines()
    except OSError as error:
        raise InputError(f"{earlier} cannot be read: {error.strerror}") from None
    said = (parse_object(line) for line in lines)  # the last line may be cut
    return frozenset(str(each["file"]) for each in said if each is not None and "file" in each)


def _answer(file: Path, args: argparse.Namespace, *, several: bool) -> int:
    typed = typed_in(step_named("find"), args)
    with Progress(f"Reading {file.name}") as progress:
        about = about_files("find", [file], typed, args, going=progress)
    said = ask("find", about, typed)
    return print_said(said, as_json=args.json, file=str(file) if several else None)
