"""Which parts has an answer's text? For a view that sets them in its own type.

The commands print paragraphs, labelled facts, warnings and cautions in columns
(``gui/pages/words.py``).
Here they are told apart again, so that a view says the very words of the command line.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from strokewise.gui.pages.words import LABEL_WIDTH

Kind = Literal["text", "facts", "warnings", "cautions"]

INDENT = 2
TEXT_COLUMN = INDENT + LABEL_WIDTH
BULLETS: dict[str, Kind] = {"  ! ": "warnings", "  - ": "cautions"}


@dataclass(frozen=True, slots=True)
class Section:
    """One part of an answer.

    Attributes
    ----------
    heading : str
        Empty where it has none.
    rows : tuple of (str, str)
        Label and text; a paragraph is one row without a label.
    """

    kind: Kind
    heading: str
    rows: tuple[tuple[str, str], ...]


def sections_of(words: str) -> tuple[Section, ...]:
    """Return the parts of what a command says; the first is its headline."""
    return tuple(_section(block.splitlines()) for block in words.split("\n\n") if block.strip())


def _section(lines: list[str]) -> Section:
    if not any(line.startswith(" ") for line in lines):
        return Section("text", "", (("", " ".join(lines)),))
    heading = ""
    if not lines[0].startswith(" "):
        heading, *lines = lines
    kind = BULLETS.get(lines[0][: 2 * INDENT], "facts")
    rows: list[tuple[str, str]] = []
    indent = " " * (TEXT_COLUMN if kind == "facts" else 2 * INDENT)
    for line in lines:
        if line.startswith(indent) and rows:
            label, text = rows[-1]
            rows[-1] = (label, f"{text} {line.strip()}")
        elif kind == "facts":
            rows.append(_fact(line))
        else:
            label, _, text = line[2 * INDENT :].partition(": ")
            rows.append((label, text) if kind == "cautions" else ("", line[2 * INDENT :]))
    return Section(kind, heading, tuple(rows))


def _fact(line: str) -> tuple[str, str]:
    label, gap, text = line[INDENT:].partition("  ")
    # A name that fills the line by itself has no gap behind it: what follows is said of it.
    return (label, text.strip()) if gap else ("", label)
