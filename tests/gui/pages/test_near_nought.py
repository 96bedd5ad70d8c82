"""Which side is said, and how much, near nought and near the end of a turn: a degree is enough."""

import pytest

from strokewise.analysis.cam.cam_correction import CamChoice
from strokewise.analysis.estimate import Interval
from strokewise.analysis.ignition.drive_gear import DriveError
from strokewise.analysis.samples import Health
from strokewise.analysis.verdict.verdict import Tdc
from strokewise.gui.pages import drive, static
from strokewise.gui.pages.answers import _tdc
from strokewise.gui.pages.cam import choice_words
from strokewise.gui.pages.words import health_words


@pytest.mark.parametrize(("error_deg", "said"), [
    (0.4, "0.4° clockwise"), (-0.4, "0.4° counter-clockwise"), (-0.04, "nowhere"),
])  # fmt: skip
def test_a_rotor_a_little_off_is_off_to_its_own_side(error_deg: float, said: str):
    error = DriveError(error_deg, None, 0, error_deg, False, {}, ())
    assert drive._error(error)[0].text == said


@pytest.mark.parametrize(("btdc_deg", "said"), [
    (0.5, "0.5° before"), (-0.5, "0.5° after"), (0.0, "0° before"),
])  # fmt: skip
def test_half_a_degree_is_before_or_after(btdc_deg: float, said: str):
    assert static.side_words(btdc_deg) == said


@pytest.mark.parametrize(("earlier", "said"), [
    (1, "move the sprocket 1 tooth earlier"), (-1, "move the sprocket 1 tooth later"),
    (2, "move the sprocket 2 teeth earlier"), (-2, "move the sprocket 2 teeth later"),
])  # fmt: skip
def test_one_tooth_is_moved_to_its_own_side(earlier: int, said: str):
    choice = CamChoice(earlier, 1, Interval(0.2, -0.3, 0.7), 0.9)
    assert choice_words(choice).partition(": then")[0] == said


def test_a_share_that_may_be_none_is_said_by_its_most():
    assert static._share_words(Interval(0.08, -0.1, 0.26)) == "at most 26 %"


def test_about_belongs_to_what_was_lost_and_to_nothing_else():
    health = Health(samples=100, frames=10, lost_frames=5, bad_frames=2, lost_about=True)
    assert "about 5 frames lost, 2 frames damaged" in health_words(health, 0.0)
    none = Health(samples=100, frames=10, bad_frames=2, lost_about=True)
    assert "; 2 frames damaged" in health_words(none, 0.0)


def test_the_angle_after_the_index_ends_with_a_whole_turn():
    tdc = Tdc(Interval(10.0, 9.9, 10.1), 1, "fit", 4, after_index_deg=359.5)
    answer = _tdc(tdc)
    assert answer is not None
    assert answer["after_index"] == 359.5
