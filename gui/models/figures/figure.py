"""What is a picture of curves, before anything draws it? Numbers, labels and words.

Window, sheet and table all take the same figure, so that what is on the screen can be asserted,
printed and exported as it stands.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Dash = Literal["line", "dashes", "dots", "points"]


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis: what it counts, in which unit, and whether in decades."""

    label: str
    unit: str = ""
    log: bool = False
    decimals: int = 1

    @property
    def title(self) -> str:
        """Label and unit as they stand along the axis."""
        return f"{self.label} ({self.unit})" if self.unit else self.label

    def text(self, value: float) -> str:
        """Return a value with its unit."""
        return f"{value:.{self.decimals}f} {self.unit}".rstrip()


@dataclass(frozen=True, slots=True)
class Curve:
    """One curve.

    Attributes
    ----------
    x, y : (n,) float64
        In the units of the axes; NaN parts a curve.
    weight : float
        1 for the newest, towards 0 with age.
    colour : int
        Which of the palette's curve colours.
    """

    name: str
    x: FloatArray
    y: FloatArray
    weight: float = 1.0
    colour: int = 0
    dash: Dash = "line"


@dataclass(frozen=True, slots=True)
class Line:
    """A place on the x axis worth a line: ``label`` stands beside it."""

    x: float
    label: str
    colour: int = 2


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture of curves.

    Attributes
    ----------
    facts : tuple of str
        What the curves say in figures, a line each, shown beside them.
    empty : str
        Why there are no curves and what to do; empty string when there are.
    """

    title: str
    x_axis: Axis
    y_axis: Axis
    curves: tuple[Curve, ...] = ()
    lines: tuple[Line, ...] = ()
    facts: tuple[str, ...] = ()
    empty: str = ""
    below: Figure | None = field(default=None)

    def value_at(self, x: float) -> list[tuple[str, float]]:
        """Return for each curve that runs over ``x`` its value there, by the nearest point."""
        found = []
        for curve in self.curves:
            good = np.flatnonzero(np.isfinite(curve.x) & np.isfinite(curve.y))
            if len(good) == 0:
                continue
            xs = curve.x[good]
            if xs.min() <= x <= xs.max():
                found.append((curve.name, float(curve.y[good[np.argmin(np.abs(xs - x))]])))
        return found

    def reading_at(self, x: float) -> str:
        """Return what the cursor says at ``x``: values with units, newest curve first."""
        parts = [f"{self.x_axis.label} {self.x_axis.text(x)}"]
        parts += [f"{name} {self.y_axis.text(y)}" for name, y in self.value_at(x)[:CURSOR_CURVES]]
        return "   ".join(parts)

    def csv(self) -> str:
        """Return the figure as a table: curve, x, y; with units in its head."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["curve", self.x_axis.title, self.y_axis.title])
        for curve in self.curves:
            writer.writerows(
                [curve.name, f"{x:.6g}", f"{y:.6g}"]
                for x, y in zip(curve.x.tolist(), curve.y.tolist(), strict=True)
                if np.isfinite(x) and np.isfinite(y)
            )
        if self.below is not None:
            return out.getvalue() + "\n" + self.below.csv()
        return out.getvalue()


CURSOR_CURVES = 3
"""More values than this beside a cursor are a table, not a reading."""
