"""How many residuals speak as one, held to series whose autocorrelation is known in closed form."""

import numpy as np
import pytest
from scipy.signal import lfilter

from strokewise.analysis.tdc.autocorrelation import LAGS, tied

LENGTH = 200_000


def series(keep: float) -> np.ndarray:
    """Return a first-order autoregressive series: its autocorrelation at lag k is ``keep**k``."""
    white = np.random.default_rng(2).normal(size=LENGTH)
    return lfilter([1.0], [1.0, -keep], white)[None]


@pytest.mark.parametrize("keep", [0.0, 0.3, 0.6])
def test_a_first_order_series(keep: float):
    # G. E. P. Box and G. M. Jenkins, Time Series Analysis: Forecasting and Control, 1976, section
    # 3.2 (from memory): the autocorrelation falls geometrically.
    expected = 1.0 + 2.0 * sum(keep**k for k in range(1, LAGS + 1))
    found = tied(series(keep), np.ones((1, LENGTH), bool))
    assert found == pytest.approx(expected, rel=0.03)


def test_what_swings_from_node_to_node_counts_as_white():
    assert tied(series(-0.5), np.ones((1, LENGTH), bool)) == 1.0


def test_nodes_that_are_not_used_do_not_count():
    residual = np.ones((2, 40))
    used = np.zeros((2, 40), bool)
    assert tied(residual, used) == 1.0
    used[0, ::20] = True  # too far apart to be neighbours
    assert tied(residual, used) == 1.0
    used[0] = True
    assert tied(residual, used) > LAGS
