"""Tooth and keyway that bring a shifted cam nearest."""

import pytest

from strokewise.analysis.cam.cam_correction import corrections
from strokewise.analysis.errors import InputError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import CamDrive

PLAIN = CamDrive(21, 42)
THREE_KEYS = CamDrive(21, 42, (0.0, 2.0, -3.0))


def test_a_cam_one_tooth_late_comes_back():
    best, *others = corrections(PLAIN, Interval(17.0, 15.5, 18.5))
    assert best.teeth_earlier == 1
    assert best.residual.value == pytest.approx(17.0 - 720 / 42)
    assert best.residual.high - best.residual.low == pytest.approx(3.0)
    assert best.probability > 0.999
    assert {other.teeth_earlier for other in others} == {0, 2}


def test_an_early_cam_goes_the_other_way():
    assert corrections(PLAIN, Interval(-35, -36, -34))[0].teeth_earlier == -2


def test_a_right_cam_stays():
    best = corrections(PLAIN, Interval(0.5, -1, 2))[0]
    assert (best.teeth_earlier, best.keyway) == (0, 1)


def test_a_keyway_takes_up_what_a_tooth_cannot():
    # keyway 3 makes the cam 3 cam degrees, 6 crank degrees, earlier
    best, *_ = corrections(THREE_KEYS, Interval(6.2, 5.0, 7.4))
    assert (best.teeth_earlier, best.keyway) == (0, 3)
    assert best.residual.value == pytest.approx(0.2)
    both, *_ = corrections(THREE_KEYS, Interval(-21.0, -22.0, -20.0))
    assert (both.teeth_earlier, both.keyway) == (-1, 2)
    assert both.residual.value == pytest.approx(-21 + 720 / 42 + 4)


def test_the_keyway_it_sits_on_counts():
    best, *_ = corrections(THREE_KEYS, Interval(4.0, 3.0, 5.0), keyway_now=2)
    assert (best.teeth_earlier, best.keyway) == (0, 1)
    assert best.residual.value == pytest.approx(0.0)
    assert corrections(THREE_KEYS, Interval(0, -1, 1), keyway_now=3)[0].keyway == 3
    for none in (0, 4):
        with pytest.raises(InputError, match=f"keyway {none}: this sprocket has keyways 1 to 3"):
            corrections(THREE_KEYS, Interval(0, 0, 0), keyway_now=none)


def test_between_two_teeth_it_is_not_sure():
    middle = 720 / 42 / 2
    first, second, _ = corrections(PLAIN, Interval(middle + 0.1, middle - 3, middle + 3.1))
    assert {first.teeth_earlier, second.teeth_earlier} == {0, 1}
    assert first.probability == pytest.approx(0.526, abs=0.01)
    assert first.probability + second.probability == pytest.approx(1, abs=1e-4)


def test_two_keyways_alike_share_the_chance_and_the_less_work_is_first():
    alike = CamDrive(21, 42, (0.0, 0.0))
    first, second, _ = corrections(alike, Interval(0, -1, 1))
    assert (first.keyway, second.keyway) == (1, 2)
    assert first.probability == pytest.approx(second.probability) == pytest.approx(0.5)


@pytest.mark.parametrize("now", [1, 2, 3])
def test_of_keyways_alike_the_one_it_sits_on_comes_first(now):
    """To change a keyway for nothing is work, and a chance to do it wrong."""
    alike = CamDrive(21, 42, (0.0, 0.0, 0.0))
    assert corrections(alike, Interval(0, -1, 1), keyway_now=now)[0].keyway == now


def test_a_sprocket_without_teeth_is_refused():
    with pytest.raises(InputError, match="cam_teeth must be 1 or more"):
        corrections(CamDrive(0, 0), Interval(0, 0, 0))


def test_no_choice_is_called_surer_than_an_interval_can_tell():
    best, *others = corrections(PLAIN, Interval(0.0, -0.5, 0.5))
    assert best.probability == 0.9999
    assert all(choice.probability < 1e-9 for choice in others)
