"""What is laid with a trace? Recordings over it, a healthy one behind, the difference shaded."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from strokewise.gui.models.figures.figure import Curve, Dash, Figure, FloatArray, Outline
from strokewise.gui.models.figures.views import SPEED_UNIT, Subject
from strokewise.gui.sayings.saying import signed

MOST_TRACES = 6
"""More colours are not told apart by every eye."""
HEALTHY_COLOUR = 2
SHADE_STEP_DEG = 0.5
"""The difference is drawn so finely, as the trail keeps its points."""


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """What a person has laid over the trace, and behind it.

    Attributes
    ----------
    others : tuple of Subject
        Other recordings, at most five, the first laid first.
    healthy : Subject or None
        How it would look if all were well.
    """

    others: tuple[Subject, ...] = ()
    healthy: Subject | None = None

    @property
    def full(self) -> bool:
        """Whether another trace would have no colour of its own."""
        return len(self.others) >= MOST_TRACES - 1

    def with_other(self, other: Subject) -> Laid:
        """Return the same with another recording over it."""
        return replace(self, others=(*self.others, other)[: MOST_TRACES - 1])

    def without_last(self) -> Laid:
        """Return the same without the recording that was laid last."""
        return replace(self, others=self.others[:-1])

    def without_healthy(self) -> Laid:
        """Return the same without the healthy trace: it belongs to one run, and to no question."""
        return replace(self, healthy=None)


NOTHING_LAID = Laid()


def with_healthy(figure: Figure, healthy: Subject, make: Callable[[Subject], Figure]) -> Figure:
    """Return a figure with a healthy trace behind it and the difference shaded.

    Parameters
    ----------
    make : callable
        Makes the same kind of figure of another subject.
    """
    if figure.empty:
        return figure
    if healthy.evenly and figure.y_axis.unit == SPEED_UNIT:
        why = "no healthy speed behind it: how this starter would turn a sound engine nobody knows"
        return replace(figure, facts=(*figure.facts, why))
    other, by_peak = make(healthy), ""
    if other.x_axis != figure.x_axis:  # TDC is not known here, of the healthy one it is
        other = replace(make(replace(healthy, tdc_deg=None)), x_axis=figure.x_axis)
        by_peak = "; laid by its peak, for TDC is not known here"
    behind, newest = _newest(other), _newest(figure)
    if other.y_axis != figure.y_axis:
        why = "no healthy trace behind it: this sensor has no known points"
        return replace(figure, facts=(*figure.facts, why))
    if behind is None or newest is None:
        why = "no healthy trace behind it: nothing here was turned the engine's own way"
        return replace(figure, facts=(*figure.facts, why))
    dash: Dash = "dots" if any(each.dash == "dashes" for each in figure.curves) else "dashes"
    drawn = replace(behind, name=healthy.name, colour=HEALTHY_COLOUR, dash=dash, weight=1.0)
    shade, share = _between(newest, behind)
    off = round(share)
    facts = [f"{dash}: {healthy.name}{by_peak}", "shaded: the difference"]
    if figure.y_axis.unit != SPEED_UNIT:
        facts[1] += signed(f"; at the top {off:+d} %") if off else "; none at the top"
    return replace(
        figure, curves=(drawn, *figure.curves), facts=(*figure.facts, *facts), shade=shade
    )


def _newest(figure: Figure) -> Curve | None:
    """Return the newest pass that was turned the engine's own way."""
    # Over volume a fitted line lies among them; it goes by no crank angle.
    curves = [each for each in figure.curves if each.at_deg is not None] or figure.curves
    return next((each for each in reversed(curves) if each.forward), None)


def _between(one: Curve, other: Curve) -> tuple[tuple[Outline, ...], float]:
    """Return the outlines of what lies between two passes, and how far off the top of one is.

    They are gone along by crank angle, out on the one and back on the other: before TDC and after
    it, so that of a loop over volume compression is held against compression.
    """
    at, against = _by_angle(one), _by_angle(other)
    low = max(float(at[0].min()), float(against[0].min()))
    high = min(float(at[0].max()), float(against[0].max()))
    top, its = float(at[2].max()), float(against[2].max())
    off = 100.0 * (top / its - 1.0) if its > 0 else 0.0
    outlines = []
    for begin, end in ((low, min(high, 0.0)), (max(low, 0.0), high)):
        grid = np.linspace(begin, end, max(2, int((end - begin) / SHADE_STEP_DEG)))
        if end <= begin:
            continue
        x1, y1 = (np.interp(grid, at[0], values) for values in at[1:])
        x2, y2 = (np.interp(grid, against[0], values) for values in against[1:])
        outlines.append((np.concatenate([x1, x2[::-1]]), np.concatenate([y1, y2[::-1]])))
    return tuple(outlines), off


def _by_angle(curve: Curve) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return crank angle, x and y of the points that can be drawn, angle rising."""
    angle = curve.x if curve.at_deg is None else curve.at_deg
    good = np.isfinite(angle) & np.isfinite(curve.x) & np.isfinite(curve.y)
    order = np.argsort(angle[good], kind="stable")
    return angle[good][order], curve.x[good][order], curve.y[good][order]
