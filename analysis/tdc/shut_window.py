"""Between which angles is the cylinder shut? Found from the trace, on both sides of TDC.

Where a valve is open, or a compression release or a ring that seals late lets the charge out, no
closed cylinder is fitted. A cam a tooth or two out leaves its residuals at that end alone; a
compression release that shuts 60° before TDC or later drags the whole fit with it, and only a
narrower one shows.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from strokewise.analysis.median import median
from strokewise.analysis.remark import Notice, notice
from strokewise.analysis.tdc.coarse import Reach
from strokewise.analysis.tdc.fit import Fit

RELEASE: Final = "compression-release"
"""Code of the warning."""

EDGE_DEG, EDGE_NODES = 15.0, 6
"""How much of either end of the closed part is looked at by itself, and on how many nodes."""

OPEN_EDGE = 2.0
"""Residuals at an end that are so many times those between show a valve that is not shut there:
3 to 5 times with a cam two teeth late, up to 1.6 times with one that stands right."""

OUTLIER = 5.0
"""A node further off than so many sigmas counts as this far."""

LEAST_REACH_DEG = 60.0
"""Nearer to TDC no cam that lets an engine turn has a valve open."""

DRAGGED_COST = 1.7
"""Residuals of the near stage beyond this may be those of a fit dragged along by an open end: sound
engines leave under 1.3, open ones 4 and more."""

TAKEN_SHARE = 0.6
"""A narrower window that leaves no more than this share of them was what was wrong."""

INWARD_DEG = (60.0, 45.0, 35.0)
"""Windows tried one after the other: nearer than the last a release would leave no compression."""


@dataclass(frozen=True, slots=True)
class Shut:
    """A fit within the part of the cycle in which the cylinder is shut."""

    fit: Fit
    reach: Reach


def shut_window(fit: Fit, reach: Reach, refit: Callable[[Reach], Fit | None]) -> Shut:
    """Return the widest window in which a closed cylinder fits, and the fit of it.

    Parameters
    ----------
    refit : callable
        Makes the same stage of the fit within another reach; None where no pass is left in it.
    """
    found = Shut(fit, reach)
    while found.fit.cost > DRAGGED_COST:
        tried = [
            Shut(again, narrower)
            for narrower in (_inward(found.reach, before=True), _inward(found.reach, before=False))
            if narrower != found.reach and (again := refit(narrower)) is not None
        ]
        best = min(tried, key=lambda shut: shut.fit.cost, default=None)
        if best is None or best.fit.cost > TAKEN_SHARE * found.fit.cost:
            break
        found = best
    return found


def worst_of(fit: Fit) -> int:
    """Return which of the fitted compressions leaves the largest residuals."""
    runs = fit.runs
    square = np.where(runs.used, ((fit.model_bar - runs.pressure_bar) / runs.sigma_bar) ** 2, 0.0)
    return int(np.argmax(np.sum(square, axis=1)))


def _inward(reach: Reach, *, before: bool) -> Reach:
    now = reach.before_deg if before else reach.after_deg
    narrower = next((deg for deg in INWARD_DEG if deg < now), now)
    return replace(reach, before_deg=narrower) if before else replace(reach, after_deg=narrower)


def clear_of_valves(fit: Fit, reach: Reach) -> Reach:
    """Return the reach without an end at which a valve seems to be open.

    A cam that stands late keeps the inlet open where the fit takes it for shut, an early one opens
    the exhaust: residuals there are then many times those between.
    """
    runs = fit.runs
    square = np.minimum(((fit.model_bar - runs.pressure_bar) / runs.sigma_bar) ** 2, OUTLIER**2)
    away = runs.angle_deg - median(fit.values["tdc_deg"])
    inside = runs.used & (away > EDGE_DEG - reach.before_deg) & (away < reach.after_deg - EDGE_DEG)
    if not inside.any():
        return reach
    most = OPEN_EDGE**2 * float(square[inside].mean())

    def narrowed(reach_deg: float, way: int) -> float:
        edge = runs.used & (way * away >= reach_deg - EDGE_DEG)
        shut = edge.sum() < EDGE_NODES or float(square[edge].mean()) <= most
        if shut or reach_deg <= LEAST_REACH_DEG:
            return reach_deg
        return max(reach_deg - EDGE_DEG, LEAST_REACH_DEG)

    return Reach(narrowed(reach.before_deg, -1), narrowed(reach.after_deg, 1))


def release_notices(reach: Reach, stated: Reach) -> tuple[Notice, ...]:
    """Return the warning that compression begins too late for any cam; none where it does not."""
    if reach.before_deg > LEAST_REACH_DEG or reach.before_deg >= stated.before_deg:
        return ()
    return (notice(RELEASE, before_deg=reach.before_deg),)
