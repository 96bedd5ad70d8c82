"""Peaks are those of ``scipy.signal.find_peaks``, to the last bit, whatever the values."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.signal import find_peaks

from strokewise.analysis.trace.peaks import peaks_of


def same_as_scipy(values: np.ndarray, least: float) -> int:
    peaks, found = find_peaks(values, prominence=least, plateau_size=1)
    of = ("prominences", "left_bases", "right_bases")
    wanted = list(zip(peaks.tolist(), *(found[each].tolist() for each in of), strict=True))
    assert [tuple(peak) for peak in peaks_of(values, least)] == wanted
    return len(wanted)


@given(
    arrays(float, st.integers(1, 40), elements=st.integers(0, 4).map(float)),
    st.sampled_from([0.0, 1.0, 2.0]),
)
def test_flat_tops_equal_heights_and_equal_valleys(values: np.ndarray, least: float) -> None:
    same_as_scipy(values, least)


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("least", [0.0, 0.3, 3.0])
def test_noise_and_waves(seed: int, least: float) -> None:
    rng = np.random.default_rng(seed)
    t = np.linspace(0.0, 60.0, int(rng.integers(200, 3_000)))
    values = np.round(5.0 * np.sin(t) + rng.normal(0.0, 0.3, len(t)), int(rng.integers(1, 6)))
    assert same_as_scipy(values, least) > 5


@pytest.mark.parametrize("values", [[1.0], [1.0, 2.0], [2.0, 2.0, 2.0], [1.0, 2.0, 3.0]])
def test_without_a_way_down_on_both_sides_there_is_none(values: list[float]) -> None:
    assert peaks_of(np.array(values), 0.0) == []
