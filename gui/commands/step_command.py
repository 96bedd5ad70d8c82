"""How does a step become a command? Its options come from the fields of its question."""

from __future__ import annotations

import argparse
import sys
from functools import partial
from typing import Any

from strokewise.gui.drawings.files import write_drawing
from strokewise.gui.options import (
    EXIT_DECIDED,
    EXIT_UNDECIDED,
    Subparsers,
    add_command,
    add_engine_options,
    add_json_option,
)
from strokewise.gui.pages.answers import as_line
from strokewise.gui.pages.step import Label, Step
from strokewise.gui.pages.text import page_text
from strokewise.gui.progress import Progress
from strokewise.gui.registry import Asks, step_entry
from strokewise.gui.steps import Said, about_files, ask, step_named

SAYS_WARNINGS = ("find", "response")
"""Commands whose JSON may go to a program unseen: their warnings are said to the person, too."""

NOTHING_TO_DRAW = "this answer has nothing to draw; what it lacks, it says"
CRANK_HELP = "a recording; its end is where the crank stands"


def add_step(
    subparsers: Subparsers[argparse.ArgumentParser],
    name: str,
    *,
    example: str,
    after: str = "",
    file: str = "a recording",
    form: str = "FILE",
) -> argparse.ArgumentParser:
    """Register a step as a command; further options may be added to what comes back.

    Parameters
    ----------
    example, after : str
        What stands under the options.
    file, form : str
        What the recording is, where the step asks about one, and what stands for it.
    """
    entry = step_entry(name)
    assert entry is not None, name
    step = entry.load()
    parser = add_command(subparsers, name, example=example, after=after)
    _add_files(parser, entry.asks, file, form)
    add_fields(parser, step)
    if step.has_drawings:
        parser.add_argument("--picture", metavar="OUT.svg", help="draw it into a new file, too")
    add_engine_options(parser)
    add_json_option(parser)
    parser.set_defaults(run=partial(run_step, name))
    return parser


def _add_files(parser: argparse.ArgumentParser, asks: Asks, file: str, form: str) -> None:
    if asks == "recordings":
        parser.add_argument(
            "files", metavar="FILE", nargs="+", help="a recording, or a folder with recordings"
        )
    elif asks == "crank":
        parser.add_argument("file", metavar="FILE", nargs="?", help=CRANK_HELP)
    else:
        parser.add_argument("file", metavar=form, help=file)


def add_fields(parser: argparse.ArgumentParser, step: Step) -> None:
    """Add an option for each field of a step's question."""
    groups: dict[str, Any] = {}
    for name, takes in step.takes.items():
        label = step.labels.get(name, Label(name))
        if takes.group and takes.group not in groups:
            groups[takes.group] = parser.add_mutually_exclusive_group()
        where = groups.get(takes.group, parser)
        said: dict[str, Any] = {"dest": name, "help": label.help or None}
        if takes.kind == "tick":
            said |= {"action": "store_const", "const": "yes"}
        elif takes.kind in ("choice", "yes or no"):
            said |= {"choices": takes.choices or ("yes", "no")}
        else:
            said |= {"metavar": label.form}
        if takes.many:
            said |= {"action": "append", "default": []}
        where.add_argument(step.option(name), **said)


def typed_in(step: Step, args: argparse.Namespace) -> dict[str, Any]:
    """Return what was typed in each field of a step."""
    typed = {name: getattr(args, name) for name in step.takes}
    return {name: text for name, text in typed.items() if text}


def run_step(name: str, args: argparse.Namespace) -> int:
    """Answer, as JSON where that was asked for; returns the exit code."""
    step = step_named(name)
    typed = typed_in(step, args)
    files = args.files if hasattr(args, "files") else [args.file] if args.file else []
    with Progress("Reading the recording") as progress:
        about = about_files(name, files, typed, args, going=progress)
    said = ask(name, about, typed)
    if getattr(args, "picture", None):
        drawings = step.drawings(said.answer)
        write_drawing(args.picture, drawings)
        if not drawings:
            print(f"{args.picture} not written: {NOTHING_TO_DRAW}", file=sys.stderr)
    return print_said(said, as_json=args.json)


def print_said(said: Said, *, as_json: bool, file: str | None = None) -> int:
    """Print what a step says and return the exit code; ``file`` where several are answered."""
    if as_json:
        for each in said.page.warnings if said.page.step in SAYS_WARNINGS else ():
            print(f"warning: {each.text}", file=sys.stderr)
        print(as_line(said.json if file is None else {"file": file} | said.json), flush=True)
    else:
        words = page_text(said.page)
        print(words if file is None else f"{file}\n\n{words}\n")
    return EXIT_DECIDED if said.decided else EXIT_UNDECIDED
