"""Which one observation more would best tell two causes apart? A code; the page has the words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from strokewise.analysis.marks.mark_evidence import (
    AS_STATED,
    CLAMP_HELD,
    CYLINDER,
    FOREIGN,
    HALF,
    HELD_SINCE,
    MARK_RIGHT,
    POINTER,
    REORDERED,
    RING,
    STATIC,
)

Look = Literal[
    "",
    "line across the pulley",
    "clamp tightened",
    "another mark on the rim",
    "line, then another mark",
    "second mark",
    "second mark, then line",
    "fixing",
    "more passes",
    "count teeth",
    "rotor",
    "sensed cylinder",
    "own way",
    "another part",
]
"""What to look at; empty where nothing more is needed."""

LOOKS: dict[frozenset[str], Look] = {
    frozenset({POINTER, RING}): "line across the pulley",
    frozenset({POINTER, CYLINDER}): "another mark on the rim",
    frozenset({RING, CYLINDER}): "line, then another mark",
    frozenset({POINTER, STATIC}): "second mark",
    frozenset({RING, STATIC}): "second mark, then line",
}


def next_look(causes: Sequence[str], *, narrow: bool, backward: bool = False) -> Look:
    """Return the one further observation that would best tell the first two causes apart.

    Parameters
    ----------
    causes : sequence of str
        Of one part, the most probable first.
    narrow : bool
        The marks are measured more closely than marks are made, more passes tell no more.
    backward : bool
        The marks were met turning back only: nobody knows how wide their teeth are.
    """
    if backward:
        return "own way"
    if len(causes) < 2:
        return "another part"
    pair = frozenset(causes[:2])
    if pair & {AS_STATED, REORDERED} or any(cause.startswith("sensor in") for cause in pair):
        return "sensed cylinder"
    if pair & {CLAMP_HELD, HELD_SINCE}:
        return "clamp tightened"
    if pair in LOOKS:
        return LOOKS[pair]
    if HALF in pair:
        return "rotor"
    if FOREIGN in pair or any(cause.startswith("cam sprocket") for cause in pair):
        return "count teeth"
    if MARK_RIGHT in pair:
        return "fixing" if narrow else "more passes"
    return "another part"
