"""Which colours? Okabe and Ito's, told apart by colour-blind people, on paper and on slate.

Okabe, M. & Ito, K. (2008), "Color Universal Design": the eight colours. Where two fields touch they
also differ in hatching, so that a picture printed in grey still reads.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

BLACK = "#000000"
ORANGE = "#E69F00"
SKY = "#56B4E9"
GREEN = "#009E73"
YELLOW = "#F0E442"
BLUE = "#0072B2"
VERMILION = "#D55E00"
PURPLE = "#CC79A7"

Theme = Literal["light", "dark"]
Hatch = Literal["solid", "rising", "dots", "level", "falling"]


@dataclass(frozen=True, slots=True)
class Fill:
    """How a field is filled: colour of the field, of the words on it, and its hatching."""

    colour: str
    ink: str
    hatch: Hatch


@dataclass(frozen=True, slots=True)
class Palette:
    """Every colour of the window."""

    theme: Theme
    paper: str
    sheet: str
    ink: str
    faint: str
    rule: str
    now: str
    target: str
    warning: str
    inlet: str
    exhaust: str
    strokes: dict[str, Fill]
    curves: tuple[str, ...]


_ON_COLOUR = "#101418"

STROKES: dict[str, Fill] = {
    "power": Fill(ORANGE, _ON_COLOUR, "solid"),
    "exhaust": Fill("#B9B4A7", _ON_COLOUR, "falling"),
    "intake": Fill(SKY, _ON_COLOUR, "dots"),
    "compression": Fill(YELLOW, _ON_COLOUR, "rising"),
    "compression or exhaust": Fill("#D8D2B8", _ON_COLOUR, "rising"),
    "power or intake": Fill("#C9D3D6", _ON_COLOUR, "dots"),
}

LIGHT = Palette(
    theme="light",
    paper="#F4F1E8",
    sheet="#FFFDF6",
    ink="#14202B",
    faint="#5B6670",
    rule="#BDB8A8",
    now="#14202B",
    target=BLUE,
    warning="#A84300",
    inlet=BLUE,
    exhaust="#6B5B3E",
    strokes=STROKES,
    curves=(BLUE, "#A84300", "#14202B", "#6E6259"),
)

DARK = Palette(
    theme="dark",
    paper="#15202A",
    sheet="#1C2935",
    ink="#F2EEDF",
    faint="#A9B4BC",
    rule="#43525E",
    now="#F2EEDF",
    target=SKY,
    warning="#FF9A4D",
    inlet=SKY,
    exhaust="#D9C69A",
    strokes=STROKES,
    curves=(SKY, ORANGE, "#F2EEDF", "#E3A3C4"),
)


def palette(theme: Theme) -> Palette:
    """Return the palette of a theme."""
    return DARK if theme == "dark" else LIGHT
