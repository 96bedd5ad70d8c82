"""How is a page printed? Plain text that fits 80 columns and survives a pipe."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from strokewise.gui.pages.cautions import Caution
from strokewise.gui.pages.page import BEFORE_NEXT, Facts, Page, Part, Row, Table, Text, facts_of
from strokewise.gui.pages.words import sentence
from strokewise.gui.sayings import Told

TEXT_WIDTH = 79  # a column less than the usual 80: some consoles break a full line
LABEL_WIDTH = 21
COLUMN_WIDTH = 9  # "  663.41°"


def page_text(page: Page) -> str:
    """Return a page in paragraphs of 80 columns, without a newline at the end."""
    parts = [
        paragraph(page.headline),
        *_blocks(page.parts),
        warning_words(page.warnings),
        *(part_text(part) for part in page.foot),
        caution_words(page.cautions, page.cautions_heading),
    ]
    return "\n\n".join(part for part in parts if part)


def _blocks(parts: Iterable[Part]) -> list[str]:
    """Return what stands between blank lines: facts without a heading go on with those above."""
    blocks: list[str] = []
    before: Part | None = None
    for part in parts:
        said = part_text(part)
        if blocks and isinstance(before, Facts | Table) and _goes_on(part):
            blocks[-1] += f"\n{said}"
        else:
            blocks.append(said)
        before = part
    return blocks


def _goes_on(part: Part) -> bool:
    return not isinstance(part, Text) and not facts_of(part).heading


def part_text(part: Part) -> str:
    """Return one part of a page."""
    if isinstance(part, Text):
        return paragraph(f"{part.heading}: {part.text}" if part.heading else part.text)
    return facts_text(facts_of(part))


def facts_text(facts: Facts) -> str:
    """Return labelled facts, one below the other."""
    lines = [line for row in facts.rows for line in row_lines(row)]
    return "\n".join([facts.heading, *lines] if facts.heading else lines)


def row_lines(row: Row) -> list[str]:
    """Return one fact, wrapped in its column, its columns of words below it."""
    lines = fact(row.label, row.text)
    indent = " " * (LABEL_WIDTH + 2)
    for words in row.columns:
        lines.append((indent + "".join(f"{word:<{COLUMN_WIDTH}}" for word in words)).rstrip())
    return lines


def columns_in_a_row() -> int:
    """Return how many columns of words stand below one fact."""
    return (TEXT_WIDTH - LABEL_WIDTH - 2) // COLUMN_WIDTH


def warning_words(warnings: Iterable[Told]) -> str:
    """Return the warnings, one below the other; empty when there are none."""
    lines = [paragraph(sentence(each.text), first="  ! ", rest="    ") for each in warnings]
    return "\n".join(["Warnings", *lines]) if lines else ""


def caution_words(cautions: Iterable[Caution], heading: str = BEFORE_NEXT) -> str:
    """Return the cautions, one below the other; empty when there are none."""
    lines = [
        paragraph(f"{caution.heading}: {caution.text}", first="  - ", rest="    ")
        for caution in cautions
    ]
    return "\n".join([heading, *lines]) if lines else ""


def fact(label: str, text: str) -> list[str]:
    """Return one labelled fact, wrapped in its column; a label too long for it stays apart."""
    first = f"  {label:<{LABEL_WIDTH}}" if len(label) < LABEL_WIDTH - 1 else f"  {label}  "
    return [paragraph(text, first=first, rest=" " * (LABEL_WIDTH + 2))]


def paragraph(text: str, *, first: str = "", rest: str = "") -> str:
    """Return one paragraph wrapped to the width; long words stay whole."""
    return textwrap.fill(
        text,
        TEXT_WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )
