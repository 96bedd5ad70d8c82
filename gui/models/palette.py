"""Which colours? Okabe and Ito's, told apart by colour-blind people, on paper and on slate.

Okabe, M. & Ito, K. (2008), "Color Universal Design": the eight colours. Where two fields touch they
also differ in hatching, so that a picture printed in grey still reads.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
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
    curves=(BLUE, "#A84300", "#14202B", "#6E6259", "#4000C0", "#402000"),
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
    curves=(SKY, ORANGE, "#F2EEDF", "#E3A3C4", "#00FF60", "#60A040"),
)


def palette(theme: Theme) -> Palette:
    """Return the palette of a theme."""
    return DARK if theme == "dark" else LIGHT


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.1, relative luminance)."""
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


LEAST_OF_PLOT = 3.0
"""Contrast of any line of a plot: WCAG 2.1, success criterion 1.4.11."""


@lru_cache(maxsize=1024)
def faded(colour: str, ground: str, weight: float) -> str:
    """Return a colour for what is older: nearer to its ground, yet never too near to be seen.

    Parameters
    ----------
    weight : float
        1 for the newest, which keeps its colour, towards 0 with age.
    """
    least = next(
        (
            k / 100
            for k in range(101)
            if contrast(_mixed(colour, ground, k / 100), ground) >= LEAST_OF_PLOT
        ),
        1.0,
    )
    return _mixed(colour, ground, least + (1 - least) * max(0.0, min(1.0, weight)))


def _mixed(colour: str, ground: str, share: float) -> str:
    parts = [
        round(share * int(colour[i : i + 2], 16) + (1 - share) * int(ground[i : i + 2], 16))
        for i in (1, 3, 5)
    ]
    return "#" + "".join(f"{part:02X}" for part in parts)


def _luminance(colour: str) -> float:
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
