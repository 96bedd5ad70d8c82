"""How does a drawing made for paper look on the screen? In the window's own colours."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

from strokewise.gui.drawings.figure_svg import SVG_GRID, SVG_PAPER
from strokewise.gui.models.palette import LIGHT, Palette

_COLOUR = re.compile(r"#[0-9A-Fa-f]{6}\b")


def words_in(svg: str) -> str:
    """Return the words of a drawing, for whoever hears it read; bare figures left out."""
    words = (each.text or "" for each in ET.fromstring(svg).iter() if each.tag.endswith("text"))
    return "; ".join(each for each in words if any(letter.isalpha() for letter in each))


def in_colours(svg: str, colours: Palette) -> str:
    """Return a drawing with every colour of paper changed for the one that means the same here."""
    other = {
        SVG_PAPER: colours.sheet,
        SVG_GRID: colours.rule,
        LIGHT.paper: colours.paper,
        LIGHT.sheet: colours.sheet,
        LIGHT.rule: colours.rule,
        LIGHT.faint: colours.faint,
        LIGHT.exhaust: colours.exhaust,
        **dict(zip(LIGHT.curves, colours.curves, strict=True)),
        LIGHT.warning: colours.warning,
        LIGHT.target: colours.target,
        LIGHT.ink: colours.ink,
    }
    return _COLOUR.sub(lambda found: other.get(found[0], found[0]), svg)
