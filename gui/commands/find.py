"""Where is TDC, and which cylinder fires there? The answer for one recording or many."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import AbstractContextManager
from pathlib import Path

from strokewise.analysis.errors import InputError, StrokewiseError
from strokewise.daq.wire.jsontext import parse_object
from strokewise.gui.answers_table import Row, check_parquet, row_of, write_answers
from strokewise.gui.cluster import on_cluster
from strokewise.gui.commands.step_command import add_fields, print_said, typed_in
from strokewise.gui.many import Printed, PrintedApart, all_cores, in_order
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
from strokewise.gui.progress import MINUTES_FROM_S, Progress, time_left
from strokewise.gui.recordings import recordings_named
from strokewise.gui.steps import about_files, ask, step_named


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise find``."""
    parser = add_command(
        subparsers,
        "find",
        example="strokewise find bench.swr\n"
        "strokewise find bench.swr --engine bench.toml --set sensor.cylinder=3\n"
        "strokewise find recordings/ --json\n"
        "strokewise find recordings/ --parquet answers.parquet",
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
    parser.add_argument(
        "--parquet",
        metavar="OUT",
        help="the answers as one table, a row a recording; needs pyarrow: pip install pyarrow",
    )
    parser.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="of Dask's scheduler, tcp://10.0.0.5:8786; its workers see the recordings under the"
        " same path; needs distributed: pip install distributed",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Answer every recording; the worst of them is the exit code."""
    files = recordings_named(args.files)
    if args.parquet:
        check_parquet()
    alone = len(files) == 1 and args.files == [str(files[0])]
    if alone and not (args.parquet or args.cluster):
        return _answer(files[0], args, several=False)
    earlier = _answered(args.resume)
    rows = {file: row_of(earlier[str(file)]) for file in files if str(file) in earlier}
    codes = []
    for file, said in _each([file for file in files if file not in rows], args):
        rows[file] = _row(file, said)
        codes.append(said.code)
    if args.parquet:
        write_answers(Path(args.parquet), [rows[file] for file in files])
    for code in (EXIT_BAD_INPUT, EXIT_UNDECIDED):
        if code in codes:
            return code
    return EXIT_DECIDED


def _each(files: list[Path], args: argparse.Namespace) -> Iterator[tuple[Path, Printed]]:
    """Answer files wherever there is room for them, and print each in its turn.

    What goes into a table is answered as JSON, which is printed where it was asked for, too.
    """
    asked = argparse.Namespace(**vars(args) | {"json": bool(args.json or args.parquet)})
    lent: AbstractContextManager[Executor | None]
    lent = on_cluster(args.cluster) if args.cluster else all_cores(len(files))
    began_s = time.monotonic()
    with lent as executor:
        each = in_order(PrintedApart(_one_of_many, asked), files, executor)
        for number, (file, said) in enumerate(zip(files, each, strict=True), start=1):
            took_s = time.monotonic() - began_s
            left = time_left(took_s, number / len(files), MINUTES_FROM_S)
            print(f"{number} of {len(files)}: {file}{left}", file=sys.stderr)
            print(said.err, end="", file=sys.stderr, flush=True)
            if args.json or not args.parquet:
                print(said.out, end="", flush=True)
            yield file, said


def _row(file: Path, said: Printed) -> Row:
    """Return the row of one file; of one that could not be read, why."""
    if said.code != EXIT_BAD_INPUT:
        answer = parse_object(said.out.encode())
        return {} if answer is None else row_of(answer)
    return {"file": str(file), "decided": False, "error": said.err.strip()}


def _one_of_many(file: Path, args: argparse.Namespace) -> int:
    try:
        return _answer(file, args, several=True)
    except StrokewiseError as error:  # one bad file must not hide the others' answers
        return complain(str(error))


def _answered(earlier: str | None) -> dict[str, Row]:
    """Return what an earlier run of the same command answered, by file, a JSON object a line."""
    if earlier is None:
        return {}
    try:
        lines = Path(earlier).read_bytes().splitlines()
    except OSError as error:
        raise InputError(f"{earlier} cannot be read: {error.strerror}") from None
    said = (parse_object(line) for line in lines)  # the last line may be cut
    return {str(each["file"]): each for each in said if each is not None and "file" in each}


def _answer(file: Path, args: argparse.Namespace, *, several: bool) -> int:
    typed = typed_in(step_named("find"), args)
    with Progress(f"Reading {file.name}") as progress:
        about = about_files("find", [file], typed, args, going=progress)
    said = ask("find", about, typed)
    return print_said(said, as_json=args.json, file=str(file) if several else None)
