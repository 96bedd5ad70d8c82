"""When may compressions be compared? The judging behind what is said."""

import re
from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.compression.compare_answer import (
    CompareQuestion,
    Measured,
    compare_answer,
)
from strokewise.analysis.compression.compression_curve import CompressionCurve
from strokewise.analysis.compression.cylinder_compression import Conditions, CylinderCompression
from strokewise.analysis.errors import InputError, SaidError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Atmosphere
from strokewise.analysis.remark import Notice
from strokewise.gui.sayings import as_said

GOOD = CompareQuestion(
    throttle_open=True, plugs_out=True, decompressor_off=True, battery_good=True, warm=True
)


def cylinder(number, peak, rpm=200.0):
    return CylinderCompression(
        number, Interval(peak, peak - 0.1, peak + 0.1), rpm, Atmosphere(), 6, passes_to_peak=2
    )


def measured(*peaks, rpm=200.0, **more):
    dry = tuple(cylinder(number, peak, rpm) for number, peak in enumerate(peaks, start=1))
    return Measured(dry, **{"asked": len(peaks), **more})


def test_all_measured_are_compared():
    told = compare_answer(GOOD, measured(12.0, 12.2, 7.5, 12.1))
    assert told.decided
    assert [finding.code for finding in told.comparison.findings] == ["one-low"]
    assert {notice.code for notice in told.warnings} == set()


def test_conditions_come_from_the_question():
    told = compare_answer(replace(GOOD, warm=None), measured(12.0, 12.1))
    assert {one.conditions for one in told.measured} == {Conditions(True, True, True, True, None)}
    assert [n.code for n in told.warnings if n.code.startswith("cond")] == ["condition-unknown"]


def test_speed_and_neighbours_come_from_the_question():
    said = replace(GOOD, speed_rpm=180.0, neighbours=((1, 3), (2, 4)))
    told = compare_answer(said, measured(12.0, 7.0, 7.2, 12.1))
    assert told.comparison.speed_rpm == 180.0
    assert "neighbours-low" not in [f.code for f in told.comparison.findings]
    plain = compare_answer(GOOD, measured(12.0, 7.0, 7.2, 12.1))
    assert [f.code for f in plain.comparison.findings] == ["neighbours-low"]


def test_too_few_are_not_compared():
    warned = (Notice("no-compression", as_said("b.swr: turn on")),)
    told = compare_answer(GOOD, measured(12.0, asked=2, warnings=warned))
    assert (told.open, told.decided, told.comparison) == ("few", False, None)
    assert told.warnings == warned


def test_one_that_is_missing_leaves_it_open():
    told = compare_answer(GOOD, measured(12.0, 12.1, asked=3))
    assert told.open == "missing"
    assert told.comparison is not None


def test_turned_by_hand_goes_before_one_that_is_missing():
    assert compare_answer(GOOD, measured(12.0, 12.1, asked=3, rpm=40.0)).open == "slow"


def test_oiled_ones_are_held_against_the_same_cylinder_dry():
    told = compare_answer(GOOD, measured(12.0, 7.5, oiled=(cylinder(2, 10.6),)))
    [pair] = told.oiled
    assert (pair.cylinder, pair.finding.code) == (2, "oil-raises")
    with pytest.raises(SaidError, match="cylinder 9 was not measured dry"):
        compare_answer(GOOD, measured(12.0, 7.5, oiled=(cylinder(9, 10.6),)))


def test_one_cylinder_twice_is_refused():
    twice = Measured((cylinder(1, 12.0), cylinder(1, 11.0)), asked=2)
    with pytest.raises(InputError, match="each measured once"):
        compare_answer(GOOD, twice)


def with_curves(number, peak, *curves):
    """Return a cylinder with a curve of each of these peaks."""
    angle = np.linspace(-100, 100, 201)
    return replace(
        cylinder(number, peak),
        curves=tuple(
            CompressionCurve(number, place, angle, top * np.exp(-((angle / 40) ** 2)), 200.0)
            for place, top in enumerate(curves, start=1)
        ),
    )


@pytest.fixture
def three():
    low = with_curves(3, 7.5, 5.0, 7.3, 7.5, 7.6)
    return Measured((with_curves(1, 12.0, 12.0, 11.9), with_curves(2, 12.2, 12.2), low), asked=3)


def laid(told):
    return [(one.cylinder, one.number) for one in told.laid]


def test_the_lowest_is_laid_over_the_best_each_by_its_usual_compression(three):
    assert laid(compare_answer(GOOD, three)) == [(3, 3), (2, 1)]


def test_what_is_laid_over_what_is_chosen(three):
    said = replace(GOOD, lay=1, lay_pass=2, over=3, over_pass=1)
    assert laid(compare_answer(said, three)) == [(1, 2), (3, 1)]
    assert laid(compare_answer(replace(GOOD, lay=2), three)) == [(2, 1), (1, 1)]  # the next best
    both = compare_answer(replace(GOOD, lay=3, lay_pass=1, over=3), three)
    assert laid(both) == [(3, 1), (3, 3)]  # one cylinder's first and its usual


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"lay": 4}, "lay: cylinder 4 was not measured"),
        ({"over": 9}, "over: cylinder 9 was not measured"),
        ({"lay_pass": 5}, "lay pass: cylinder 3 has compressions 1 to 4"),
        ({"over_pass": 0}, "over pass: cylinder 2 has compressions 1 to 1"),
    ],
)
def test_what_was_not_measured_is_laid_over_nothing(three, said, why):
    with pytest.raises(SaidError, match=f"^{re.escape(why)}$"):
        compare_answer(replace(GOOD, **said), three)


def test_without_curves_nothing_is_laid_over_anything():
    assert compare_answer(GOOD, measured(12.0, 12.1)).laid == ()
