"""How many residuals speak as one? What a model misses shows in many nodes beside each other."""

from __future__ import annotations

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.samples import BoolArray

LAGS = 8
"""Neighbours up to this far are looked at. A lost converter step or count shows in the next node
and the other way round a little later, so the nearest alone would overstate it; what losses are
short of shows over tens of degrees, which the nearest understates under the noise."""

LEAST_COST = 0.3
"""Residuals smaller than their sigmas do not make an answer surer than so."""


def tied(residual: FloatArray, used: BoolArray) -> float:
    """Return how many residuals make one independent one, at the least 1.

    The integrated autocorrelation of a series (Priestley 1981, "Spectral Analysis and Time
    Series", section 5.3: the variance of a mean is the white one times 1 + 2 Σρ; from memory).

    Parameters
    ----------
    residual : (series, k) float64
    used : (series, k) bool
        False: no residual there.
    """
    left = np.where(used, residual, 0.0)
    power = float(np.sum(left**2))
    if power <= 0.0:
        return 1.0
    lags = range(1, min(LAGS, left.shape[1] - 1) + 1)
    return max(
        1.0, 1.0 + 2.0 * sum(float(np.sum(left[:, k:] * left[:, :-k])) for k in lags) / power
    )
