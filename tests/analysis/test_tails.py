"""Tails of distributions, against the tables of every textbook (from memory)."""

import subprocess
import sys

import pytest
from scipy.special import ndtr

from strokewise.analysis.tails import normal_below, student_at, student_below


def test_the_normal_table() -> None:
    assert normal_below(0.0) == 0.5
    assert normal_below(1.96) == pytest.approx(0.975, abs=5e-5)
    assert normal_below(-2.326) == pytest.approx(0.01, abs=5e-5)


@pytest.mark.parametrize("share", [0.001, 0.025, 0.3, 0.5, 0.8, 0.975, 0.999])
def test_the_normal_one_is_that_of_scipy(share: float) -> None:
    assert normal_below(3.0 * share) == pytest.approx(ndtr(3.0 * share), rel=1e-14)


@pytest.mark.parametrize(("freedom", "t"), [(1, 12.706), (4, 2.776), (10, 2.228), (30, 2.042)])
def test_the_table_of_students_t(freedom: int, t: float) -> None:
    assert student_at(freedom, 0.975) == pytest.approx(t, abs=5e-4)
    assert student_below(freedom, t) == pytest.approx(0.975, abs=5e-5)


def test_the_live_answer_begins_without_loading_them() -> None:
    """All of ``scipy.special`` would take a third of the time until the window's first picture."""
    code = (
        "import sys; from strokewise.analysis.verdict.tracker import Tracker;"
        "print(sorted(name for name in sys.modules if name.startswith('scipy')))"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout == "[]\n"
