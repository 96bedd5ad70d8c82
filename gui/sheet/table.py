"""What are the sheet's sections made of? Labelled rows and tables of words."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """A label and what holds; ``stated`` is False for what nobody said or what was assumed."""

    label: str
    value: str
    stated: bool = True


@dataclass(frozen=True, slots=True)
class Table:
    """A table of words; every row is as long as the heads."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
