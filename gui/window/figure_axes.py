"""Which figures stand along the axes of a plot? Round ones, set with a minus."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtGui import QPen

from strokewise.gui.models.figures.figure import Figure
from strokewise.gui.sayings.saying import signed
from strokewise.gui.window import ink

TYPE_STEPS = (0.5, 0.6, 0.7, 0.8, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0)
TOP_LABEL, LOW_LABEL = 0.94, 0.84
"""Where labels of lines stand, in shares of the plot's height."""
FARTHEST_TICK = 0.8
"""Where a low plot's ticks stand at the farthest, of its highest value."""


class SignedAxis(pg.AxisItem):  # type: ignore[misc]
    """An axis whose figures have a minus instead of a hyphen."""

    def tickStrings(self, values: list[float], scale: float, spacing: float) -> list[str]:
        """Return the words of ticks."""
        return [signed(words) for words in super().tickStrings(values, scale, spacing)]

    def updateAutoSIPrefix(self) -> None:
        """Look for a scale; the range may still be that of the plain figure before it."""
        with np.errstate(over="ignore"):
            super().updateAutoSIPrefix()


def new_axes() -> dict[str, pg.AxisItem]:
    """Return the axes of a plot."""
    return {side: SignedAxis(side) for side in ("bottom", "left")}


def few_ticks(figure: Figure) -> list[list[tuple[float, str]]]:
    """Return one tick to either side of nought: a low plot has no room for more."""
    values = np.concatenate([np.abs(c.y) for c in figure.curves] or [np.ones(1)])
    most = float(np.nanmax(values, initial=0.0)) or 1.0
    decade = 10.0 ** np.floor(np.log10(most))
    step = float(
        max(decade * share for share in TYPE_STEPS if decade * share <= FARTHEST_TICK * most)
    )
    return [[(-step, signed(f"{-step:g}")), (0.0, ""), (step, f"{step:g}")]]


def log_ticks(figure: Figure, side: str) -> list[list[tuple[float, str]]]:
    """Return ticks at 1, 2 and 5 of every decade of the data, which never run into each other."""
    parts = [curve.x if side == "bottom" else curve.y for curve in figure.curves]
    values = np.concatenate(parts) if parts else np.ones(1)
    values = values[np.isfinite(values) & (values > 0)]
    low, high = (np.log10(values.min()), np.log10(values.max())) if len(values) else (0.0, 1.0)
    places = [
        step * 10.0**decade
        for decade in range(int(np.floor(low)) - 1, int(np.ceil(high)) + 2)
        for step in (1, 2, 5)
    ]
    return [[(float(np.log10(place)), f"{place:g}") for place in places]]


def labelled_lines(figure: Figure, pen: QPen, colour: str, type_px: float) -> list[Any]:
    """Return the lines of a figure with their labels, none over another.

    The first's is left of its line, the last's right of it; one between stands higher than both.
    """
    drawn, count = [], len(figure.lines)
    for number, line in enumerate(sorted(figure.lines, key=lambda line: line.x)):
        placed: dict[str, Any] = {"color": colour, "position": TOP_LABEL}
        if count > 1:
            side = (1.0 if number == 0 else 0.0, 0.5)
            placed["anchors"] = [side, side]
            if count > 2 and number in (0, count - 1):
                placed["position"] = LOW_LABEL
        item = pg.InfiniteLine(line.x, angle=90, pen=pen, label=line.label, labelOpts=placed)
        item.label.setFont(ink.font(type_px))
        drawn.append(item)
    return drawn


def label_type(words: str, side: str, size: int, height: float) -> int:
    """Return the type in pixels in which an axis' label is not cut off, in plots so high."""
    if side == "bottom":
        return size
    wide = max(ink.width_of(words, ink.font(size)), 1.0)
    return int(max(9, min(size, round(size * (height - size * 4.0) / wide))))
