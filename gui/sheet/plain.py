"""How is an answer shown that was kept without its page? Each key with what stands there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from strokewise.gui.pages.page import Facts, Part, Row, Table

COMMON_KEYS = ("decided", "reason", "warnings", "version", "file", "health")


def parts_of(answer: Mapping[str, Any]) -> tuple[Part, ...]:
    """Return the answer of any command and any version as labelled facts and tables."""
    rows: list[Row] = []
    tables: list[Part] = []
    for key, value in answer.items():
        if key in COMMON_KEYS or value is None or value in ([], {}):
            continue
        label = str(key).replace("_", " ")
        if isinstance(value, list) and all(isinstance(each, Mapping) for each in value):
            heads = tuple(dict.fromkeys(str(name) for each in value for name in each))
            body = tuple(tuple(_plain(each.get(head)) for head in heads) for each in value)
            tables.append(Table(label, tuple(h.replace("_", " ") for h in heads), body))
        elif isinstance(value, Mapping) and "value" not in value:
            rows += [Row(f"{label} {name}", _plain(each)) for name, each in value.items()]
        else:
            rows.append(Row(label, _plain(value)))
    return (Facts(tuple(rows)), *tables) if rows else tuple(tables)


def _plain(value: Any) -> str:
    """Return any JSON value in words."""
    if isinstance(value, Mapping):
        if {"value", "low", "high"} <= set(value):
            return f"{_plain(value['value'])} ({_plain(value['low'])} to {_plain(value['high'])})"
        return ", ".join(f"{name}: {_plain(each)}" for name, each in value.items())
    if isinstance(value, list):
        return ", ".join(_plain(each) for each in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    return "" if value is None else str(value)
