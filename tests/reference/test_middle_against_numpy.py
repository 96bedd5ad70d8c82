"""The lean median and percentile are numpy's, to the last bit; on the circle the median is that of
the angles unrolled."""

import numpy as np
import pytest

from strokewise.analysis.median import median, median_on_circle, median_repeated, percentile


@pytest.mark.parametrize("size", [1, 2, 7, 8, 501])
def test_the_median_is_numpys_and_leaves_its_values_alone(size: int):
    values = np.random.default_rng(size).normal(size=size)
    before = values.copy()
    assert median(values) == np.median(values)
    assert median(values.tolist()) == np.median(values)
    assert np.array_equal(values, before)


@pytest.mark.parametrize("size", [1, 2, 7, 8, 501])
def test_the_median_of_repeated_values_is_that_of_all(size: int):
    drawn = np.random.default_rng(size)
    values, times = drawn.normal(size=size), drawn.integers(0, 4, size)
    times[0] += 1
    assert median_repeated(values, times) == np.median(np.repeat(values, times))
    assert median_repeated(values.tolist(), [2] * size) == np.median(values)


@pytest.mark.parametrize("size", [1, 2, 7, 8, 501])
@pytest.mark.parametrize("percent", [0.0, 3.0, 15.0, 50.0, 77.7, 99.9])
def test_a_percentile_is_numpys(size: int, percent: float):
    values = np.random.default_rng(size).normal(size=size)
    before = values.copy()
    assert percentile(values, percent) == np.percentile(values, percent)
    assert np.array_equal(values, before)


def test_nothing_has_no_median():
    with pytest.raises(ValueError, match="no values"):
        median([])


@pytest.mark.parametrize("turns", [0, 1, -3])
def test_angles_about_zero_have_their_middle_there(turns: int):
    unrolled = np.array([-4.0, 1.0, 2.5, 7.0, -0.5])
    rolled = unrolled % 360.0 + 360.0 * turns
    assert median_on_circle(rolled) % 360.0 == pytest.approx(np.median(unrolled) % 360.0)
