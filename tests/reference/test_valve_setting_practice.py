"""Valve setting held against the rules of the trade and published units."""

import pint
import pytest

from strokewise.analysis.profile import Profile, Valves, even_intervals_deg
from strokewise.analysis.valves.clearances import INCH_BLADES_MM, MM_PER_INCH
from strokewise.analysis.valves.valve_setting import rocking_rule, sum_rule, valve_setting


def engine(order_text, valves=None):
    order = tuple(map(int, order_text.split("-")))
    intervals = even_intervals_deg(len(order), 720)
    return Profile(len(order), order, intervals, valves=Valves(order=valves) if valves else None)


@pytest.mark.parametrize("order", ["1-3-4-2", "1-2-4-3"])
@pytest.mark.parametrize("valves", ["EIIEEIIE", "IEEIIEEI"])
def test_sum_of_nine(order, valves):
    """Common practice, no source: with valve n fully open, set valve 9 - n."""
    rule = sum_rule(engine(order, valves))
    assert rule.name == "sum of 9"
    assert rule.applies
    assert rule.agrees
    assert {int(watch) + int(to_set) for watch, to_set in rule.pairs} == {9}


def test_sum_of_thirteen():
    """Common practice, no source: the same for six in line."""
    rule = sum_rule(engine("1-5-3-6-2-4", "EIIEEIIEEIIE"))
    assert (rule.name, rule.applies, rule.agrees) == ("sum of 13", True, True)


@pytest.mark.parametrize(
    ("order", "pairs"),
    [
        ("1-3-4-2", "1:4 2:3 3:2 4:1"),
        ("1-2-4-3", "1:4 2:3 3:2 4:1"),
        ("1-5-3-6-2-4", "1:6 2:5 3:4 4:3 5:2 6:1"),
        ("1-8-4-3-6-5-7-2", "1:6 2:3 3:2 4:7 5:8 6:1 7:4 8:5"),
        ("1-4-2-5-3-6", "1:5 2:6 3:4 4:3 5:1 6:2"),
    ],
)
def test_rocking_pairs(order, pairs):
    """Common practice, no source: while the first rocks, set the second."""
    rule = rocking_rule(engine(order))
    expected = {tuple(reversed(pair.split(":"))) for pair in pairs.split()}
    assert set(rule.pairs) == expected
    assert rule.agrees


def test_two_position_method_of_a_four():
    """Common practice, no source: 1 firing: 1E 1I 2I 3E; a turn on, the other four (1-3-4-2)."""
    plan = valve_setting(engine("1-3-4-2"), 0, 0).plan
    sets = [{valve.key for valve in stop.valves} for stop in plan.stops]
    assert sets == [{"1E", "1I", "2I", "3E"}, {"2E", "3I", "4E", "4I"}]


def test_ten_thousandths_of_an_inch():
    """NIST SP 811 appendix B: 1 in = 25.4 mm exactly (from memory); pint agrees."""
    assert pytest.approx(0.254, abs=1e-15) == 0.010 * MM_PER_INCH
    assert pint.UnitRegistry().Quantity("0.010 in").to("mm").magnitude == pytest.approx(0.254)
    assert INCH_BLADES_MM[9] == pytest.approx(0.254)
