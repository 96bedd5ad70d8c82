"""Firing orders met in practice and their companion cylinders (common practice, no source)."""

import pytest

from strokewise.analysis.crank.strokes import companions, firing_tdcs, phase_at
from strokewise.analysis.profile import Profile, even_intervals_deg

PAIRS = {
    "1-3-4-2": "1+4 2+3",
    "1-2-4-3": "1+4 2+3",
    "1-5-3-6-2-4": "1+6 2+5 3+4",
    "1-4-2-6-3-5": "1+6 2+5 3+4",
    "1-4-2-5-3-6": "1+5 3+4 2+6",
    "1-6-5-4-3-2": "1+4 3+6 2+5",
    "1-2-3-4-5-6": "1+4 2+5 3+6",
    "1-8-4-3-6-5-7-2": "1+6 5+8 4+7 2+3",
    "1-2": "1+2",
}
"""Each pair fires a crank turn apart: one fires while the other's valves rock."""


def engine(order_text):
    order = tuple(int(c) for c in order_text.split("-"))
    return Profile(len(order), order, even_intervals_deg(len(order), 720))


@pytest.mark.parametrize(("order", "pairs"), PAIRS.items())
def test_companions(order, pairs):
    expected = {frozenset(map(int, pair.split("+"))) for pair in pairs.split()}
    found = companions(engine(order))
    assert {frozenset((one, *others)) for one, others in found.items()} == expected


@pytest.mark.parametrize(("order", "pairs"), PAIRS.items())
def test_while_one_fires_its_companion_rocks(order, pairs):
    profile = engine(order)
    tdcs = firing_tdcs(profile, 0)
    for pair in pairs.split():
        one, other = map(int, pair.split("+"))
        assert phase_at(profile, 0, tdcs[one]).rocking[0] == other
        assert phase_at(profile, 0, tdcs[other]).rocking[0] == one
        assert abs(tdcs[one] - tdcs[other]) == 360


@pytest.mark.parametrize("order", ["1-3-2", "1-2-3", "1-2-4-5-3"])
def test_odd_cylinder_counts_have_no_companions(order):
    assert all(others == () for others in companions(engine(order)).values())


def test_even_firing_three_and_five():
    assert firing_tdcs(engine("1-3-2"), 0) == {1: 0, 3: 240, 2: 480}
    assert firing_tdcs(engine("1-2-4-5-3"), 0) == {1: 0, 2: 144, 4: 288, 5: 432, 3: 576}


def test_sum_rule_of_four_in_line_companions_add_to_five():
    for order in ("1-3-4-2", "1-2-4-3"):
        assert all(one + others[0] == 5 for one, others in companions(engine(order)).items())
