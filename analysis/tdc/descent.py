"""Which values leave the smallest residuals? Levenberg's damped Gauss-Newton, inside bounds.

scipy's ``least_squares`` finds the same point; its decompositions of the tall matrix take longer
than the model itself, and it asks for model and slope apart, which one march gives together.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from strokewise.analysis.crank.angle import FloatArray

DONE_GAIN, DONE_STEPS = 0.01, 2
"""So many steps on end that lessen the sum of squares by less are the last. One alone may only be a
short one, along the floor of a flat valley; what two leave to be gained is mostly under 0.1, which
moves TDC by a small part of its sigma, and was up to 1. A descent whose end is only where the next
begins asks for less."""

FIRST_DAMPING, LEAST_DAMPING = 0.1, 1e-9

MOST_TRIALS = 8
HARDER = 8.0
"""Trials of one step, each damped so many times as much as the last."""


@dataclass(frozen=True, slots=True)
class Look:
    """What a problem shows at one point.

    Attributes
    ----------
    size : float
        Robust sum of squares, the priors' with it: what is made small.
    residual, slope : (rows,), (rows, parameters) float64
        Weighted so that plain least squares on them take the robust sum down: the weights of
        iterated reweighting (Holland & Welsch 1977, Communications in Statistics A6, from memory).
    model_bar : float64
        What the model said there.
    """

    size: float
    residual: FloatArray
    slope: FloatArray
    model_bar: FloatArray


def descend(
    look: Callable[[FloatArray], Look],
    start: FloatArray,
    bounds: tuple[FloatArray, FloatArray],
    sigma: FloatArray,
    most_steps: int,
    done_gain: float = DONE_GAIN,
) -> tuple[FloatArray, Look]:
    """Return the lowest point found from a start, and what it shows.

    A step is damped by the geometric mean of what the data say of each parameter and what was known
    before, its ``sigma``. By the data alone (Marquardt) it crawls along what they hardly tell; by
    what was known it runs off where the model bends. The damping follows how well the last step was
    foretold (Nielsen 1999, "Damping parameter in Marquardt's method", IMM-REP-1999-05, from
    memory).
    """
    low, high = bounds
    x, here = start, look(start)
    damping = FIRST_DAMPING
    small = 0
    for _ in range(most_steps):
        curvature = here.slope.T @ here.slope
        pull = here.slope.T @ here.residual
        # A parameter that stands at its bound and is pushed outwards takes no part.
        free = ~(((x <= low) & (pull > 0)) | ((x >= high) & (pull < 0)))
        held = np.diag(np.sqrt(np.diag(curvature)) / sigma)
        found = None
        for _ in range(MOST_TRIALS):
            matrix = curvature + damping * held
            step = np.zeros_like(x)
            step[free] = np.linalg.solve(matrix[np.ix_(free, free)], -pull[free])
            trial = np.clip(x + step, low, high)
            if not np.all(np.isfinite(trial)):
                return x, here
            there = look(trial)
            if there.size < here.size:  # never where it is not a number
                found = there
                break
            damping *= HARDER
        if found is None:
            break
        gained = here.size - found.size
        left = here.residual + here.slope @ (trial - x)
        foretold = max(float(here.residual @ here.residual - left @ left), 1e-9)
        damping *= max(0.2, 1.0 - (2.0 * gained / foretold - 1.0) ** 3)
        damping = max(damping, LEAST_DAMPING)
        x, here = trial, found
        small = small + 1 if gained < done_gain else 0
        if small == DONE_STEPS:
            break
    return x, here
