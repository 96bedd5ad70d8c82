"""Strobe readings: the mark or the advance?"""

import pytest

from strokewise.analysis.errors import InputError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.ignition.strobe import StrobeReading, check_strobe, curve_at
from strokewise.gui.pages.static import strobe_words

CURVE = ((800.0, 0.0), (3000.0, 20.0))
STATIC = 6.0
SPEEDS = (600, 1500, 2500, 3500)


def readings(offset=0.0, share=1.0, speeds=SPEEDS):
    return [
        StrobeReading(speed, STATIC + offset + share * curve_at(CURVE, speed)) for speed in speeds
    ]


def test_curve_is_straight_between_points_and_flat_outside():
    assert curve_at(CURVE, 1900) == pytest.approx(10)
    assert (curve_at(CURVE, 0), curve_at(CURVE, 9000)) == (0, 20)
    assert curve_at((), 3000) == 0
    with pytest.raises(InputError, match="speeds must rise"):
        curve_at(((800, 0), (800, 4)), 900)


def test_nothing_wrong():
    check = check_strobe(readings(), STATIC, CURVE)
    assert check.culprits == ("nothing",)
    assert check.offset.value == pytest.approx(0, abs=1e-9)
    assert check.advance_share.value == pytest.approx(1)


def test_all_off_alike_is_the_mark_or_the_setting():
    check = check_strobe(readings(offset=7), STATIC, CURVE)
    assert check.culprits == ("mark or static setting",)
    assert check.offset.value == pytest.approx(7)
    assert "find the mark against true TDC" in strobe_words(check)


def test_true_tdc_tells_mark_from_setting():
    late = Interval(7.1, 6.8, 7.4)
    mark = check_strobe(readings(offset=7), STATIC, CURVE, mark_late=late)
    assert mark.culprits == ("mark",)
    assert mark.static_offset.value == pytest.approx(-0.1)
    setting = check_strobe(readings(offset=7), STATIC, CURVE, mark_late=Interval(0, -0.3, 0.3))
    assert setting.culprits == ("static setting",)
    both = check_strobe(readings(offset=2), STATIC, CURVE, mark_late=late)
    assert both.culprits == ("mark", "static setting")
    assert both.static_offset.value == pytest.approx(-5.1)
    assert strobe_words(both).startswith(
        "The mark itself is off, as found against true TDC; the static setting is off."
    )


def test_a_stuck_advance():
    check = check_strobe(readings(share=0.0), STATIC, CURVE)
    assert check.culprits == ("advance",)
    assert check.advance_share.value == pytest.approx(0)


def test_mark_and_advance_both():
    check = check_strobe(readings(offset=6, share=0.5), STATIC, CURVE)
    assert check.culprits == ("mark or static setting", "advance")
    assert (
        "to tell which; the advance does not follow its curve: 50 % (37 to 63) of it is there."
        in (strobe_words(check))
    )


def test_a_curve_of_another_shape_is_the_advance():
    bent = readings()
    bent[1] = StrobeReading(1500, bent[1].btdc_deg + 9)
    bent[2] = StrobeReading(2500, bent[2].btdc_deg - 9)
    assert "advance" in check_strobe(bent, STATIC, CURVE).culprits


def test_one_reading_up_the_curve_cannot_tell():
    check = check_strobe(readings(offset=7, speeds=(2500,)), STATIC, CURVE)
    assert check.culprits == ("unknown",)
    assert check.advance_share is None
    assert "cannot tell" in strobe_words(check)


def test_idle_alone_leaves_the_advance_untested():
    check = check_strobe(readings(offset=7, speeds=(600, 650)), STATIC, CURVE)
    assert check.culprits == ("mark or static setting",)
    assert "advance was not tested" in strobe_words(check)
    fine = check_strobe(readings(speeds=(600,)), STATIC, CURVE)
    assert fine.culprits == ("nothing",)
    assert "advance was not tested" in strobe_words(fine)


def test_without_a_curve_a_reading_off_convicts_nobody():
    check = check_strobe([StrobeReading(2000, 25)], STATIC, ())
    assert check.culprits == ("unknown",)
    assert "no advance curve was given" in strobe_words(check)
    fine = check_strobe([StrobeReading(700, STATIC)], STATIC, ())
    assert fine.culprits == ("nothing",)
    assert "no curve was given" in strobe_words(fine)


def test_scatter_that_explains_it_convicts_nobody():
    loose = [StrobeReading(600, STATIC + 3, sigma_deg=4)]
    assert check_strobe(loose, STATIC, CURVE).culprits == ("nothing",)


def test_no_reading_is_refused():
    with pytest.raises(InputError, match="at least one reading"):
        check_strobe([], STATIC, CURVE)
    with pytest.raises(InputError, match="scatter above 0"):
        check_strobe([StrobeReading(600, 6, sigma_deg=0)], STATIC, CURVE)
