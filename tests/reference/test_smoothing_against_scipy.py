"""The weights that smooth the crank angle are those of scipy's Savitzky-Golay filter."""

import numpy as np
import pytest
from scipy.signal import savgol_coeffs

from strokewise.analysis.crank.angle import _quadratic


@pytest.mark.parametrize("span", [5, 9, 33, 257])
@pytest.mark.parametrize("derivative", [0, 1])
def test_weights_of_a_local_quadratic(span: int, derivative: int):
    expected = savgol_coeffs(span, 2, deriv=derivative)
    np.testing.assert_allclose(_quadratic(span, derivative), expected, rtol=1e-9, atol=1e-12)
