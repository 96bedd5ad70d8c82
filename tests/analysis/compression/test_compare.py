"""Compressions compared across cylinders."""

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.compression.compare import compare, wet_and_dry
from strokewise.analysis.compression.cylinder_compression import Conditions, CylinderCompression
from strokewise.analysis.errors import InputError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Atmosphere
from strokewise.gui.sayings import say

GOOD = Conditions(True, True, True, True, True)


def cylinder(number, peak, *, rpm=200.0, half=0.15, needed=None, conditions=GOOD, air=1.013):
    return CylinderCompression(
        number,
        Interval(peak, peak - half, peak + half),
        rpm,
        Atmosphere(air),
        6,
        conditions,
        needed,
    )


def four(*peaks, **options):
    return [cylinder(n, peak, **options) for n, peak in enumerate(peaks, start=1)]


def codes(things):
    return [thing.code for thing in things]


def test_alike_cylinders_raise_no_finding_but_alike_is_not_good():
    result = compare(four(12.0, 12.2, 11.8, 12.1))
    assert result.findings == ()
    assert result.spread.value == pytest.approx(0.4 / 12.2)
    assert result.spread.low <= result.spread.value <= result.spread.high
    assert not result.odd.stands_out
    assert codes(result.notices) == ["alike-only"]


def test_one_low_stands_out_with_its_interval():
    result = compare(four(12.0, 12.2, 7.5, 12.1))
    assert result.odd.cylinder == 3
    assert result.odd.stands_out
    assert result.odd.share.value == pytest.approx(7.5 / 12.1 - 1, abs=0.002)
    assert result.odd.share.high < 0
    assert codes(result.findings) == ["one-low"]
    assert result.findings[0].share == result.odd.share


def test_one_high():
    assert codes(compare(four(12.0, 12.2, 15.5, 12.1)).findings) == ["one-high"]


def test_an_unsure_low_one_does_not_stand_out():
    shaky = [*four(12.0, 12.2, 12.1), cylinder(4, 10.0, half=2.5)]
    result = compare(shaky)
    assert result.odd.cylinder == 4
    assert not result.odd.stands_out
    assert result.findings == ()


def test_two_neighbours_low_suggest_the_gasket_between():
    result = compare(four(12.0, 7.0, 7.2, 12.1))
    (finding,) = result.findings
    assert (finding.code, finding.cylinders) == ("neighbours-low", (2, 3))
    assert not finding.neighbours_said
    asked = compare(four(12.0, 7.0, 7.2, 12.1), side_by_side=[(1, 2), (2, 3), (3, 4)])
    assert asked.findings[0].neighbours_said


def test_two_low_apart_are_not_called_neighbours():
    result = compare(four(7.1, 12.0, 12.1, 7.0))
    assert "neighbours-low" not in codes(result.findings)
    others = compare(four(12.0, 7.0, 7.2, 12.1), side_by_side=[(1, 2), (3, 4)])
    assert "neighbours-low" not in codes(others.findings)


def test_speed_and_altitude_do_not_make_a_cylinder_odd():
    """The same engine: cylinder 4 measured elsewhere and slower."""
    loss = 35.0
    away = 12.0 * 0.85 / 1.013 * np.exp(-loss * (1 / 160 - 1 / 200))
    plain = four(12.0, 12.1, 11.9)
    result = compare([*plain, cylinder(4, float(away), rpm=160, air=0.85)])
    assert result.cylinders[3].peak.value == pytest.approx(12.0, rel=1e-6)
    assert not result.odd.stands_out
    assert result.speed_rpm == 200


def test_speeds_far_apart_are_said_when_the_loss_is_assumed():
    mixed = [cylinder(1, 12, rpm=120), cylinder(2, 12.5, rpm=220)]
    assert "speeds-differ" in codes(compare(mixed).notices)
    known = [replace(c, loss_rpm=Interval(30, 25, 35)) for c in mixed]
    assert "speeds-differ" not in codes(compare(known).notices)


def test_turned_by_hand_is_said():
    assert "hand-speed" in codes(compare([cylinder(1, 12, rpm=45), cylinder(2, 12)]).notices)
    assert "hand-speed" not in codes(compare(four(12, 12)).notices)


def test_of_two_cylinders_neither_is_the_odd_one():
    assert compare(four(12, 7)).odd is None


def test_slow_to_build():
    peaks = [cylinder(n, 12.0, needed=6 if n == 2 else 2) for n in (1, 2, 3, 4)]
    (finding,) = compare(peaks).findings
    assert (finding.code, finding.cylinders) == ("slow-to-build", (2,))
    assert (finding.passes, finding.usual_passes) == (6, 2)


def test_conditions_are_asked_and_noted():
    unknown = four(12, 12, 12, conditions=Conditions())
    assert codes(compare(unknown).notices).count("condition-unknown") == 5
    shut = four(12, 12, 12, conditions=replace(GOOD, throttle_open=False))
    assert "measured without: throttle held open" in [say(n.remark) for n in compare(shut).notices]
    cold = four(12, 12, 12, conditions=replace(GOOD, warm=False))
    assert "condition-poor" not in codes(compare(cold).notices)
    mixed = [*four(12, 12), cylinder(3, 12, conditions=replace(GOOD, battery_good=None))]
    assert "conditions-differ" in codes(compare(mixed).notices)


def test_oil_that_raises_it_points_to_the_rings():
    result = wet_and_dry(cylinder(3, 7.5), cylinder(3, 10.5))
    assert result.gain.value == pytest.approx(0.4, abs=1e-9)
    assert result.finding.code == "oil-raises"


def test_oil_that_changes_little_points_elsewhere():
    result = wet_and_dry(cylinder(3, 7.5, half=0.1), cylinder(3, 7.6, half=0.1))
    assert result.finding.code == "oil-changes-little"
    assert result.finding.share == result.gain


def test_oil_near_what_its_own_room_does_says_nothing():
    result = wet_and_dry(cylinder(3, 7.5, half=0.3), cylinder(3, 8.2, half=0.3))
    assert result.finding.code == "oil-unclear"
    with pytest.raises(InputError, match="two cylinders: 3 and 4"):
        wet_and_dry(cylinder(3, 7.5), cylinder(4, 8.2))


def test_input_that_cannot_be_compared():
    with pytest.raises(InputError, match="two cylinders or more"):
        compare(four(12))
    with pytest.raises(InputError, match="each measured once"):
        compare([cylinder(1, 12), cylinder(1, 11)])


def test_odd_ones_are_rarely_found_among_equals():
    """Looking through all for the oddest must not make false alarms."""
    random = np.random.default_rng(8)
    alarms = 0
    for _ in range(200):
        peaks = random.normal(12, 0.5, 8)
        engine = [cylinder(n, p, half=0.5 * 1.96) for n, p in enumerate(peaks, start=1)]
        share = compare(engine).odd.share
        alarms += share.low > 0 or share.high < 0
    assert alarms <= 0.10 * 200
