"""Gaps, shims and feelers."""

import pytest

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile, Valves
from strokewise.analysis.valves.clearances import (
    Gap,
    check_gap,
    choose_shims,
    feeler_stacks,
    holds_otherwise,
    target_mm,
)
from strokewise.gui.pages.gap_words import result_words


@pytest.mark.parametrize(
    ("gap", "status", "text"),
    [
        (Gap("1E", 0.35), "not measured", "not measured"),
        (Gap("1E", 0.35, before_mm=0.36), "good", "as found right"),
        (Gap("1E", 0.35, before_mm=0.20), "to set", "as found 0.150 mm too tight"),
        (Gap("1E", 0.35, before_mm=0.20, after_mm=0.35), "remeasure", "nip up the locknut"),
        (Gap("1E", 0.35, 0.20, 0.35, 0.34), "good", "right; the locknut moved it by −0.010 mm"),
        (Gap("1E", 0.35, 0.20, 0.35, 0.42), "out", "0.070 mm too wide; the locknut moved it"),
        (Gap("1E", 0.35, nipped_mm=0.35), "good", "right"),
    ],
)
def test_what_a_gap_asks_for(gap, status, text):
    check = check_gap(gap)
    assert check.status == status
    assert text in result_words(check)


def test_the_last_measurement_counts_and_the_locknut_is_told_apart():
    check = check_gap(Gap("2I", 0.30, before_mm=0.5, after_mm=0.30, nipped_mm=0.27))
    assert check.off_mm == pytest.approx(-0.03)
    assert check.moved_mm == pytest.approx(-0.03)
    assert check.status == "out"


def test_a_shim_has_no_locknut():
    assert check_gap(Gap("2I", 0.30, 0.5, 0.31), adjust="shim").status == "good"
    assert check_gap(Gap("2I", 0.30, 0.5, 0.36), adjust="shim").status == "out"


def test_thousandths_typed_as_millimetres_are_caught():
    with pytest.raises(InputError, match="cannot be a valve gap"):
        Gap("1E", 0.30, before_mm=12)


def test_targets():
    solid = Valves(clearance_inlet_mm=0.3, clearance_exhaust_mm=0.35)
    wet = Valves(clearance_inlet_mm=0.3, clearance_exhaust_mm=0.35, lifters="hydraulic")
    base = {"cylinders": 1, "firing_order": (1,), "firing_intervals_deg": (720.0,)}
    assert target_mm(Profile(**base, valves=solid), "inlet") == 0.3
    assert target_mm(Profile(**base, valves=solid), "exhaust") == 0.35
    assert target_mm(Profile(**base, valves=wet), "exhaust") is None
    assert target_mm(Profile(**base), "exhaust") is None


def test_cold_figures_on_a_hot_engine_are_not_converted():
    assert not holds_otherwise(Valves(state="cold"), "cold")
    assert holds_otherwise(Valves(state="cold"), "hot")
    assert not holds_otherwise(Valves(state="either"), "hot")
    assert holds_otherwise(Valves(state="hot"), None)
    assert not holds_otherwise(Valves(state="hot", lifters="hydraulic"), "cold")


def test_shim_is_fitted_plus_gap_less_target():
    best, *others = choose_shims(2.50, 0.15, 0.25)
    assert best.shim_mm == pytest.approx(2.40)
    assert best.gap_mm == pytest.approx(0.25)
    assert best.off_mm == 0
    assert sorted(c.shim_mm for c in others) == [2.35, 2.45]


def test_of_two_equal_shims_the_thinner_is_first():
    choices = choose_shims(2.50, 0.20, 0.25, sizes_mm=(2.40, 2.50))
    assert [c.shim_mm for c in choices] == [2.40, 2.50]
    assert [c.gap_mm for c in choices] == [0.30, 0.20]


def test_an_impossible_shim_is_refused():
    with pytest.raises(InputError, match="above 0 mm"):
        choose_shims(0, 0.2, 0.25)


def test_one_blade_goes_before_a_stack_of_equal_thickness():
    best = feeler_stacks(0.30)[0]
    assert best.blades_mm == (0.30,)
    assert best.off_mm == 0


def test_a_stack_where_no_blade_fits():
    best = feeler_stacks(0.33, blades_mm=(0.05, 0.08, 0.10, 0.25, 0.40))[0]
    assert best.blades_mm == (0.08, 0.25)
    assert best.total_mm == pytest.approx(0.33)
    assert feeler_stacks(0.3, blades_mm=()) == ()
    with pytest.raises(InputError, match="cannot be measured"):
        feeler_stacks(0.0)
