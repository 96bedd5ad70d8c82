"""How is a page kept in a file? As plain tables and lists, and made a page again from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from strokewise.gui.pages.cautions import Caution
from strokewise.gui.pages.page import Facts, Page, Part, Row, Table, Text
from strokewise.gui.pages.sign import Certainty, Sign
from strokewise.gui.sayings import Told

PART_KINDS: dict[str, type[Part]] = {"facts": Facts, "text": Text, "table": Table}


def page_table(page: Page) -> dict[str, Any]:
    """Return a page as what JSON can hold."""
    kept = asdict(page)
    kept["sign"]["certainty"] = page.sign.certainty.name
    for key in ("parts", "foot"):
        kept[key] = [_kept(part) for part in getattr(page, key)]
    return kept


def page_from(kept: Mapping[str, Any]) -> Page:
    """Return the page that was kept.

    Raises
    ------
    LookupError, TypeError, ValueError
        It is not one, or one of another version.
    """
    sign = kept["sign"]
    return Page(
        step=str(kept["step"]),
        decided=kept["decided"] is True,
        headline=str(kept["headline"]),
        sign=Sign(Certainty[sign["certainty"]], str(sign["word"]), float(sign["share"])),
        reason=str(kept["reason"]),
        parts=tuple(_part(each) for each in kept["parts"]),
        warnings=tuple(Told(str(n["code"]), str(n["text"])) for n in kept["warnings"]),
        cautions=tuple(Caution(**each) for each in kept["cautions"]),
        cautions_heading=str(kept["cautions_heading"]),
        foot=tuple(part for part in map(_part, kept["foot"]) if isinstance(part, Text)),
        pictures=tuple(map(str, kept["pictures"])),
        next_look=str(kept["next_look"]),
    )


def _kept(part: Part) -> dict[str, Any]:
    kind = next(kind for kind, each in PART_KINDS.items() if isinstance(part, each))
    return {"kind": kind} | asdict(part)


def _part(kept: Mapping[str, Any]) -> Part:
    if kept["kind"] == "text":
        return Text(str(kept["text"]), str(kept["heading"]))
    if kept["kind"] == "facts":
        return _facts(kept)
    if kept["kind"] != "table":
        raise ValueError(f"no part of a page: {kept['kind']}")
    narrow = kept["narrow"]
    return Table(
        str(kept["title"]),
        _words(kept["heads"]),
        tuple(_words(row) for row in kept["rows"]),
        None if narrow is None else _facts(narrow),
    )


def _facts(kept: Mapping[str, Any]) -> Facts:
    rows = (
        Row(
            str(row["label"]),
            str(row["text"]),
            row["known"] is True,
            tuple(_words(line) for line in row["columns"]),
        )
        for row in kept["rows"]
    )
    return Facts(tuple(rows), str(kept["heading"]))


def _words(kept: Any) -> tuple[str, ...]:
    return tuple(str(word) for word in kept)
