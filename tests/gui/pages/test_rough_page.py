"""A TDC that is rough is said so before anything is set by it: in find and the steps after it."""

from dataclasses import replace

import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import DriveGear, Profile, even_intervals_deg
from strokewise.analysis.verdict.find import FindAnswer
from strokewise.analysis.verdict.found import Standing
from strokewise.analysis.verdict.verdict import Tdc, Verdict
from strokewise.gui.pages.find import find_page
from strokewise.gui.pages.sign import STROKE_SURE, SURE
from strokewise.gui.sayings import as_said
from strokewise.gui.steps import ask

FOUR = Profile(
    4,
    (1, 3, 4, 2),
    even_intervals_deg(4, 720.0),
    static_advance_btdc_deg=6.0,
    distributor_rotation="clockwise",
    drive_gear=DriveGear(10, 45.0, 25.0, 12.0, "right"),
)


def found(half_deg, turning_back=None, method="fit"):
    tdc = Tdc(Interval(81.523, 81.523 - half_deg, 81.523 + half_deg), 1, method, 3)
    verdict = Verdict(
        True, as_said("seen"), tdc=tdc, firing_deg={1: 81.523, 3: 261.523, 4: 441.523, 2: 621.523}
    )
    return find_page(FindAnswer(verdict, replace(FOUR, turning_back=turning_back)))


@pytest.mark.parametrize(
    ("half", "headline"),
    [
        (0.031, "DECIDED, TDC ± 0.03°: cylinder 1 fires at 81.52°. Seen."),
        (0.62, "DECIDED, TDC ± 0.62°: cylinder 1 fires at 81.5°. Seen."),
        (0.99, "DECIDED, TDC ± 0.99°: cylinder 1 fires at 81.5°. Seen."),
    ],
)
def test_which_stroke_and_how_near_are_said_apart(half, headline):
    page = found(half, "allowed")
    assert (page.headline, page.sign) == (headline, SURE)


@pytest.mark.parametrize(
    ("turning_back", "asks"),
    [
        ("allowed", "Rock it through that TDC"),
        ("never", "Turn it on through more compressions"),
        (None, "May it be turned back?"),
    ],
)
def test_above_a_degree_it_asks_for_what_narrows_that(turning_back, asks):
    page = found(4.2, turning_back)
    assert page.headline.startswith(f"STROKE SURE, TDC ± 4.2°: cylinder 1 fires at 82°. {asks}")
    assert page.sign == STROKE_SURE
    assert page.headline.endswith("Seen.")


def test_a_way_known_to_be_off_is_never_near():
    page = found(0.2, method="peak")
    assert page.headline.startswith("STROKE SURE, angle to compare only (scatter ± 0.2°):")
    assert page.sign == STROKE_SURE


@pytest.mark.parametrize("step", ["static", "drive"])
def test_nothing_is_set_by_a_rough_tdc_without_a_word(step):
    standing = Standing(FOUR, 714.0, within_deg=0.4)
    near, rough = (ask(step, replace(standing, within_deg=each)).page for each in (0.4, 4.2))
    assert "TDC ±" not in near.headline
    assert near.sign == SURE
    assert rough.headline.startswith("TDC ± 4.2°, too rough to set this by. May it be turned back?")
    assert rough.sign == STROKE_SURE


def test_it_is_never_there_by_a_rough_tdc():
    standing = Standing(replace(FOUR, turning_back="allowed"), 714.0)
    assert "STOP: YOU ARE THERE: cylinder 1" in ask("static", standing).page.headline
    rough = ask("static", replace(standing, within_deg=4.2)).page.headline
    assert "YOU ARE THERE" not in rough
    assert "ABOUT THERE: cylinder 1" in rough


def test_where_the_crank_is_only_said_to_stand_no_tdc_is_rough():
    standing = Standing(FOUR, 714.0, within_deg=4.2)
    assert "TDC ±" not in ask("drive", standing, {"after_tdc_deg": "0"}).page.headline


def test_the_valves_page_says_that_it_looked_all_over_the_interval():
    page = ask("valves", Standing(FOUR, 0.0, within_deg=4.2)).page
    assert "TDC ± 4.2°: free are those that are so all over it" in str(page.parts[0])
