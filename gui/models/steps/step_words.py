"""How are an answer's words said in the window? As its form and its fields are called here."""

from __future__ import annotations

from dataclasses import replace

from strokewise.analysis.remark import Notice
from strokewise.gui.models.setup.lacking import as_in_form
from strokewise.gui.pages.page import Facts, Page, Part, Row, Table, Text
from strokewise.gui.pages.step import Step
from strokewise.gui.pages.words import sentence
from strokewise.gui.sayings import Told, told

LOOK = "What would tell"
PROFILE = "Profile (F2):"


def named_as_here(words: str, step: Step) -> str:
    """Return words in which options and keys of the profile are called as they are here."""
    for field, option in sorted(step.options.items(), key=lambda each: -len(each[1])):
        words = words.replace(option, step.shorts[field])
    return as_in_form(words)


def part_as_here(part: Part, step: Step) -> Part:
    """Return a part in which everything is called as it is here."""
    if isinstance(part, Text):
        return replace(part, text=named_as_here(part.text, step))
    if isinstance(part, Facts):
        return replace(part, rows=tuple(_row_as_here(row, step) for row in part.rows))
    return _table_as_here(part, step)


def _row_as_here(row: Row, step: Step) -> Row:
    return replace(row, text=named_as_here(row.text, step))


def _table_as_here(table: Table, step: Step) -> Table:
    narrow = table.narrow
    if narrow is not None:
        narrow = replace(narrow, rows=tuple(_row_as_here(row, step) for row in narrow.rows))
    return replace(table, narrow=narrow)


def look_first(page: Page) -> tuple[str, tuple[Part, ...]]:
    """Return a headline without the next look, and parts that begin with it.

    To be read from afar, a headline must be short; the look has room below it.
    """
    look = sentence(page.next_look) if page.next_look else ""
    if not look or not page.headline.endswith(look):
        return page.headline, page.parts
    rest = (part for part in page.parts if not isinstance(part, Text) or part.heading != LOOK)
    return page.headline.removesuffix(look).strip(), (Text(look, LOOK), *rest)


def own_warnings(page: Page | None, notices: tuple[Notice, ...]) -> tuple[Told, ...]:
    """Return the warnings of a page that are not the profile's: those stand in front of all."""
    in_front = told(notices)
    return () if page is None else tuple(each for each in page.warnings if each not in in_front)


def of_the_profile(notices: tuple[Notice, ...]) -> tuple[tuple[str, str], ...]:
    """Return the profile's notices, short.

    What to type on a command line follows a semicolon; here the profile is a key away.
    """
    return tuple((PROFILE, sentence(each.text.partition(";")[0])) for each in told(notices))
