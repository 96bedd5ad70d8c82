"""The descent finds what scipy's ``least_squares`` finds, outliers and bounds included."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import least_squares

from strokewise.analysis.tdc.descent import Look, descend

ROBUST_AT = 3.0
TIME = np.linspace(0.0, 4.0, 60)
KNOWN = np.array([5.0, 1.0, 2.0])


def measured() -> np.ndarray:
    """Return a decay with noise, and three readings that have nothing to do with it."""
    values = 5.0 * np.exp(-0.8 * TIME) + 1.0 + np.random.default_rng(4).normal(0.0, 0.05, 60)
    values[[7, 30, 52]] += [3.0, -2.0, 4.0]
    return values


def off(x: np.ndarray) -> np.ndarray:
    """Return residuals in sigmas."""
    return (x[0] * np.exp(-x[1] * TIME) + x[2] - measured()) / 0.05


def look(x: np.ndarray) -> Look:
    """Show a Cauchy loss in the form that the descent asks for."""
    z = off(x)
    slope = np.stack([np.exp(-x[1] * TIME), -x[0] * TIME * np.exp(-x[1] * TIME), np.ones(60)], 1)
    weight = 1.0 / np.sqrt(1.0 + (z / ROBUST_AT) ** 2)
    size = float(np.sum(ROBUST_AT**2 * np.log1p((z / ROBUST_AT) ** 2)))
    return Look(size, z * weight, slope / 0.05 * weight[:, None], z)


@pytest.mark.parametrize("most_decay", [10.0, 0.6])
def test_it_ends_where_scipy_ends(most_decay: float) -> None:
    low, high = np.array([0.0, 0.0, -5.0]), np.array([20.0, most_decay, 5.0])
    start = np.array([1.0, 0.3, 0.0])
    found, there = descend(look, start, (low, high), KNOWN, 100)
    other = least_squares(off, start, bounds=(low, high), loss="cauchy", f_scale=ROBUST_AT)
    np.testing.assert_allclose(found, other.x, rtol=1e-3)
    assert there.size == pytest.approx(2.0 * other.cost, rel=1e-4)


def test_it_never_climbs() -> None:
    start = np.array([1.0, 0.3, 0.0])
    bounds = (np.full(3, -50.0), np.full(3, 50.0))
    sizes = [descend(look, start, bounds, KNOWN, steps)[1].size for steps in range(12)]
    assert all(b <= a for a, b in pairwise(sizes))
    assert sizes[-1] < 0.1 * sizes[0]
