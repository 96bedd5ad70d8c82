"""What can be said to each command? Writes gui/commands/COMMANDS.md from the parsers themselves.

A step's options come from the fields of its question, so a new field stands on the page as soon as
this has run again: ``python tests/journeys/documents/commands_page.py``.
"""

from __future__ import annotations

import argparse
import textwrap
from collections.abc import Iterable, Iterator
from pathlib import Path

from strokewise.gui import cli, registry
from strokewise.gui.options import add_engine_options, add_json_option
from strokewise.gui.pages.words import sentence

PAGE = Path(__file__).resolve().parents[3] / "gui" / "commands" / "COMMANDS.md"
WIDTH = 120

HEAD = """\
# The commands

Every command has `--help` with the same words. A step's options are the fields of its question, and
the window's forms ask the same. PORT is a device as `strokewise ports` lists it, or any URL of
pyserial. What each line of an answer means: [ANSWERS.md](../pages/ANSWERS.md).

With `--json` the answer is one JSON object on standard output and nothing else there; a folder
given to `find` gives one object a line, each with its `file`. Exit codes: 0 decided, 3 read well
but it cannot honestly say, 2 bad input, with one line on standard error.

This page is written by `tests/journeys/documents/commands_page.py`, and a test holds it to that.
"""


def page() -> str:
    """Return the whole page."""
    parsers = _inner(cli.build_parser())
    about = [f"| `{each.name}` | {_cell(each.about)} |" for each in registry.COMMANDS]
    parts = [HEAD, "\n".join(["| command | what it does |", "| --- | --- |", *about])]
    parts += ["## Said to many commands", _table(COMMON.values())]
    for each, _ in parsers.values():
        parts += _section(each.prog.removeprefix("strokewise "), each, each.description or "", 2)
    return "\n".join(part.rstrip("\n") + "\n" for part in parts)


def _inner(parser: argparse.ArgumentParser) -> dict[str, tuple[argparse.ArgumentParser, str]]:
    """Return the parsers of the commands within one, each with its line in the help."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            helps = {each.dest: each.help or "" for each in action._choices_actions}
            return {name: (inner, helps.get(name, "")) for name, inner in action.choices.items()}
    return {}


def _common() -> dict[str, argparse.Action]:
    parser = argparse.ArgumentParser(add_help=False)
    add_engine_options(parser)
    add_json_option(parser)
    return {action.option_strings[0]: action for action in parser._actions}


COMMON = _common()


def _section(words: str, parser: argparse.ArgumentParser, about: str, depth: int) -> Iterator[str]:
    yield f"{'#' * depth} {words}"
    if about:
        yield textwrap.fill(sentence(" ".join(about.split())), WIDTH)
    example, _, after = (parser.epilog or "").partition("\n\n")
    lines = [line.strip() for line in example.splitlines()[1:]]
    if lines:
        yield "\n".join(f"    {line}" for line in lines)
    if after:
        yield textwrap.fill(" ".join(after.split()), WIDTH)
    own = [action for action in parser._actions if not _is_common(action)]
    if any(_rows(action) for action in own):
        yield _table(own)
    also = [action.option_strings[0] for action in parser._actions if _is_common(action)]
    if also:
        yield f"Also {', '.join(f'`{option}`' for option in also)}."
    for name, (inner, line) in _inner(parser).items():
        yield from _section(f"{words} {name}", inner, line, depth + 1)


def _is_common(action: argparse.Action) -> bool:
    same = COMMON.get(action.option_strings[0]) if action.option_strings else None
    return same is not None and same.help == action.help


def _table(actions: Iterable[argparse.Action]) -> str:
    rows = [row for action in actions for row in _rows(action)]
    return "\n".join(["| say | what it means |", "| --- | --- |", *rows])


def _rows(action: argparse.Action) -> list[str]:
    if isinstance(action, argparse._HelpAction | argparse._SubParsersAction):
        return []
    name = action.option_strings[0] if action.option_strings else ""
    value = "" if action.nargs == 0 else _value(action)
    said = " ".join(word for word in (name, value) if word)
    words = _cell(action.help or "")
    if any(str(choice) not in words for choice in action.choices or ()):
        listed = ", ".join(f"`{choice}`" for choice in action.choices or ())
        words = f"{words}: {listed}" if words else listed
    return [f"| `{said}` | {words} |"]


def _value(action: argparse.Action) -> str:
    if action.choices:
        return "CHOICE"
    if isinstance(action.metavar, tuple):
        value = " ".join(action.metavar)
    else:
        value = action.metavar or (action.dest.upper().replace("_", "-"))
    return f"{value} …" if action.nargs in ("+", "*") else str(value)


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|").replace("%%", "%")


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
