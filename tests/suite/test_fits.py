"""The fits kept during a run: looked up by all that they hang on, and another copy each time."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from suite_once import once


@pytest.fixture
def asked() -> list[tuple[float, int]]:
    return []


def test_a_fit_is_made_anew_for_whatever_else_is_given(
    tmp_path: Path, asked: list[tuple[float, int]]
) -> None:
    def fit(bar: np.ndarray, *, stage: int = 0) -> np.ndarray:
        asked.append((float(bar[0]), stage))
        return bar + stage

    kept = once(fit, tmp_path)
    for _ in range(3):
        assert kept(np.array([1.0, 2.0]), stage=1).tolist() == [2.0, 3.0]
        assert kept(np.array([1.0, 2.0]), stage=2).tolist() == [3.0, 4.0]
        assert kept(np.array([1.5, 2.0])).tolist() == [1.5, 2.0]
    assert asked == [(1.0, 1), (1.0, 2), (1.5, 0)]


def test_what_a_test_does_to_a_fit_no_other_sees(tmp_path: Path) -> None:
    kept = once(lambda bar: bar * 2, tmp_path)
    kept(np.ones(2))[:] = 7.0
    assert kept(np.ones(2)).tolist() == [2.0, 2.0]


def test_one_that_fails_is_not_kept(tmp_path: Path) -> None:
    def fit(bar: float) -> float:
        raise ValueError(bar)

    kept = once(fit, tmp_path)
    for _ in range(2):
        with pytest.raises(ValueError, match="1"):
            kept(1.0)
    assert not list(tmp_path.iterdir())
