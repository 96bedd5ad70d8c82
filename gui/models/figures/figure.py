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

from strokewise.gui.sayings.saying import signed

FloatArray = NDArray[np.float64]
Outline = tuple[FloatArray, FloatArray]
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
        rounded = round(value, self.decimals) + 0.0  # without it, "-0.0" for a little below nought
        return f"{signed(f'{rounded:.{self.decimals}f}')} {self.unit}".rstrip()


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
    at_deg : (n,) float64 or None
        Crank angle after TDC of each point, where the cursor goes by that and not by x.
    forward : bool
        The crank was turned on, and not back.
    """

    name: str
    x: FloatArray
    y: FloatArray
    weight: float = 1.0
    colour: int = 0
    dash: Dash = "line"
    at_deg: FloatArray | None = None
    forward: bool = True

    def nearest(self, at_deg: float) -> int | None:
        """Return which point is nearest to a crank angle; None where none can be drawn."""
        if self.at_deg is None:
            return None
        good = np.flatnonzero(np.isfinite(self.x) & np.isfinite(self.y))
        if not len(good):
            return None
        return int(good[np.argmin(np.abs(self.at_deg[good] - at_deg))])


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
    shade : tuple of ((n,), (n,)) float64
        Outlines, x and y, of what is shaded behind the curves.
    legend : tuple of Curve
        One curve for each trace that is named on the picture itself.
    """

    title: str
    x_axis: Axis
    y_axis: Axis
    curves: tuple[Curve, ...] = ()
    lines: tuple[Line, ...] = ()
    facts: tuple[str, ...] = ()
    empty: str = ""
    below: Figure | None = field(default=None)
    shade: tuple[Outline, ...] = ()
    legend: tuple[Curve, ...] = ()

    @property
    def led(self) -> Curve | None:
        """The curve that the cursor is led along by crank angle; None where it goes by x."""
        return next((each for each in reversed(self.curves) if each.at_deg is not None), None)

    def reading_by(self, at_deg: float) -> str:
        """Return what the cursor says at a crank angle, and in which stroke that is."""
        led = self.led
        nearest = None if led is None else led.nearest(at_deg)
        if led is None or nearest is None or led.at_deg is None:
            return ""
        at = float(led.at_deg[nearest])
        side = "before" if at < 0 else "after"
        stroke = "compression" if (at < 0) == led.forward else "expansion"
        back = "" if led.forward else ", turned back"
        x, y = self.x_axis.text(float(led.x[nearest])), self.y_axis.text(float(led.y[nearest]))
        return f"{abs(at):.1f}° {side} TDC, {stroke}{back}   {self.x_axis.label} {x}   {y}"

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
        newest = self.value_at(x)[::-1][:CURSOR_CURVES]
        parts += [f"{name} {self.y_axis.text(y)}" for name, y in newest]
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
