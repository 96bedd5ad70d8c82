"""Which one observation more would best tell two causes apart? A code; the page has the words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from strokewise.analysis.marks.mark_evidence import (
    CLAMP,
    CYLINDER,
    HALF,
    MARK_RIGHT,
    POINTER,
    RING,
    STATIC,
)

Look = Literal[
    "",
    "line across the pulley",
    "clamp tightened",
    "flywheel mark",
    "another mark on the rim",
    "line, then another mark",
    "second mark",
    "second mark, then line",
    "fixing",
    "more passes",
    "count teeth",
    "rotor",
    "another part",
]
"""What to look at; empty where nothing more is needed."""

LOOKS: dict[frozenset[str], Look] = {
    frozenset({POINTER, RING}): "line across the pulley",
    frozenset({POINTER, CLAMP}): "clamp tightened",
    frozenset({RING, CLAMP}): "flywheel mark",
    frozenset({POINTER, CYLINDER}): "another mark on the rim",
    frozenset({RING, CYLINDER}): "line, then another mark",
    frozenset({POINTER, STATIC}): "second mark",
    frozenset({RING, STATIC}): "second mark, then line",
}


def next_look(causes: Sequence[str], *, narrow: bool) -> Look:
    """Return the one further observation that would best tell the first two causes apart.

    ``narrow``: the marks are measured more closely than marks are made, more passes tell no more.
    """
    if len(causes) < 2:
        return "another part"
    pair = frozenset(causes[:2])
    if pair in LOOKS:
        return LOOKS[pair]
    if HALF in pair:
        return "rotor"
    if any(cause.startswith("cam sprocket") for cause in pair):
        return "count teeth"
    if MARK_RIGHT in pair:
        return "fixing" if narrow else "more passes"
    return "another part"
