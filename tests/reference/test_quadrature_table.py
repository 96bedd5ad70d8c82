"""The quadrature state table against square waves of a turning shaft.

The table that encoder interfaces print (state, next state, +1/-1/0/fault) is common practice, no
source. So it is also derived here from its definition alone: two square waves of one line, a
quarter of a period apart, and a count that says in which quarter the shaft stands.
"""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import square
from suite_quadrature import RISING, STEPS, count_steps

TABLE = {  # common practice, no source: "BA" before, "BA" after → count, A leading B when rising
    ("00", "01"): +1, ("01", "11"): +1, ("11", "10"): +1, ("10", "00"): +1,
    ("00", "10"): -1, ("10", "11"): -1, ("11", "01"): -1, ("01", "00"): -1,
}  # fmt: skip
STATES = ("00", "01", "10", "11")
SIGNS = {1: "+1", -1: "−1", 0: "0"}


def levels(quarter: np.ndarray) -> np.ndarray:
    """Return the state of both channels at a shaft position in quarters of a line, by scipy."""
    phase = quarter * np.pi / 2
    a = square(phase - np.pi / 2 + 1e-9) > 0  # high for quarters 1 and 2
    b = square(phase - np.pi + 1e-9) > 0  # high for quarters 2 and 3
    return a.astype(int) | b.astype(int) << 1


def test_the_table_is_the_usual_one() -> None:
    for before in range(4):
        for after in range(4):
            usual = TABLE.get((f"{before:02b}", f"{after:02b}"), 0)
            assert STEPS[before, after] == usual


def test_neighbours_differ_in_one_channel() -> None:
    for before, after in zip(RISING, RISING[1:] + RISING[:1], strict=True):
        assert (before ^ after).bit_count() == 1


@settings(deadline=None)
@given(st.lists(st.integers(-1, 1), max_size=200), st.integers(-7, 7))
def test_counts_the_quarter_in_which_the_shaft_stands(moves: list[int], start: int) -> None:
    cells = start + np.cumsum([0, *moves])
    count, skipped = count_steps(levels(cells + 0.5))
    assert np.array_equal(count, cells - start)
    assert not skipped.any()


def test_a_step_of_two_quarters_is_a_fault_and_no_count() -> None:
    count, skipped = count_steps(levels(np.array([0.5, 2.5, 3.5])))
    assert count.tolist() == [0, 0, 1]
    assert skipped.tolist() == [False, True, False]


def test_nothing_counts_nothing() -> None:
    count, skipped = count_steps([])
    assert len(count) == len(skipped) == 0


def test_refuses_what_is_no_state() -> None:
    with pytest.raises(ValueError, match="two bits"):
        count_steps([0, 4])


def test_the_firmware_notes_print_this_table() -> None:
    notes = Path(__file__).parents[2] / "firmware_notes" / "README.md"
    rows = [
        line.split("|") for line in notes.read_text("utf-8").splitlines() if line.startswith("| `")
    ]
    table = [[cell.strip(" `") for cell in row[1:-1]] for row in rows if len(row) == 7]
    printed = {(row[0], after): row[1 + i] for row in table for i, after in enumerate(STATES)}
    assert len(printed) == 16
    for (before, after), cell in printed.items():
        skips = int(before, 2) ^ int(after, 2) == 0b11
        assert cell == ("skipped" if skips else SIGNS[TABLE.get((before, after), 0)])
