"""Is a drawing still the one that was kept? Its shapes, words and colours, and where they stand."""

from __future__ import annotations

import re
from pathlib import Path

FIGURE = re.compile(r"-?\d+(?:\.\d+)?")

COLOUR = re.compile("#[0-9A-Fa-f]{6}")

NEAR = 0.1
"""How far a coordinate may be off, of a drawing 680 wide: fits differ a little by machine."""


def held_drawn(drawn: str, kept: Path) -> None:
    """Hold a drawing against the one kept in a file."""
    now, then = by_element(drawn), kept.read_text(encoding="utf-8")
    assert FIGURE.sub("#", now) == FIGURE.sub("#", then)
    assert COLOUR.findall(now) == COLOUR.findall(then)
    for one, other in zip(FIGURE.findall(now), FIGURE.findall(then), strict=True):
        assert abs(float(one) - float(other)) <= NEAR


def by_element(svg: str) -> str:
    """Return a drawing with each element on a line, so that a difference can be read."""
    return svg.replace("><", ">\n<").strip() + "\n"
