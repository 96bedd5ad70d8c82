"""A page is made once: its headline keeps the rule, and every renderer says all of it."""

import json
from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.remark import Notice
from strokewise.gui.pages.cautions import MANUAL_FIRST, STARTER
from strokewise.gui.pages.headline import (
    Claim,
    Ground,
    HeadlineError,
    Rank,
    decimals_of,
    exactly,
    headline,
    off_words,
    spread,
)
from strokewise.gui.pages.page import Facts, Row, Table, Text, facts_of, page_of, words_of
from strokewise.gui.pages.sign import NOT_SURE, SURE, most_probable
from strokewise.gui.pages.stored import page_from, page_table
from strokewise.gui.pages.text import page_text
from strokewise.gui.sayings import as_said

FIRING = Row("Firing", "in order", columns=(("1", "3"), ("0°", "180°")))
PAGE = page_of(
    "toy",
    (
        Claim("All is well."),
        Claim("HALF A TURN OUT.", Rank.HARM),
        Claim("One tooth late.", Rank.WRONG),
    ),
    decided=True,
    parts=(
        Facts(
            (
                Row("Crank", "12° on"),
                Row("Firing", "in order", columns=(("1", "3"), ("0°", "180°"))),
            )
        ),
        Table("", ("Speed", "Angle"), (("700", "13"),), narrow=Facts((Row("At 700", "13°"),))),
        Facts((Row("Leaks", "not known", known=False),), "Beside it"),
        Table("Figures", ("Name", "Low", "High"), (("dot", "1", ""), ("notch", "2", "3"))),
        Text("Turn on."),
        Text("Paint a line.", "What would tell"),
    ),
    warnings=(Notice("clipped", as_said("peaks are cut off")),),
    cautions=(STARTER, MANUAL_FIRST),
    foot=(Text("Angles are crank degrees."),),
    pictures=("a drawing",),
    next_look="Paint a line",
)


def test_the_worst_finding_comes_first():
    assert PAGE.headline == "HALF A TURN OUT. One tooth late. All is well."
    assert headline([Claim("a", Rank.WRONG), Claim("b", Rank.WRONG)]) == "a b"


def test_the_printed_page_has_everything_in_its_order():
    assert page_text(PAGE).splitlines()[:19] == [
        "HALF A TURN OUT. One tooth late. All is well.",
        "",
        "  Crank                12° on",
        "  Firing               in order",
        "                       1        3",
        "                       0°       180°",
        "  At 700               13°",
        "",
        "Beside it",
        "  Leaks                not known",
        "",
        "Figures",
        "  dot                  Low: 1",
        "  notch                Low: 2; High: 3",
        "",
        "Turn on.",
        "",
        "What would tell: Paint a line.",
        "",
    ]
    said = page_text(PAGE)
    order = [
        "  ! Peaks are cut off.",
        "Angles are crank degrees.",
        "Before the next step",
        "starter",
    ]
    places = [said.index(part) for part in order]
    assert places == sorted(places)


def test_a_page_survives_being_kept():
    assert page_from(json.loads(json.dumps(page_table(PAGE)))) == PAGE
    probable = replace(PAGE, sign=most_probable(0.9), parts=(), foot=())
    assert page_from(json.loads(json.dumps(page_table(probable)))) == probable


@pytest.mark.parametrize("key", ["headline", "sign", "parts", "warnings"])
def test_what_is_no_page_is_refused(key):
    kept = page_table(PAGE)
    del kept[key]
    with pytest.raises(LookupError):
        page_from(kept)


def test_an_undecided_page_never_wears_a_sure_sign():
    assert page_of("toy", (), decided=False, sign=SURE).sign == NOT_SURE
    assert page_of("toy", (), decided=True).sign == SURE


def test_what_is_empty_takes_no_room():
    assert page_of("toy", (Claim("x"),), decided=True, parts=(Facts(()), Text(""))).parts == ()


def test_columns_are_said_in_pairs_where_there_are_none():
    assert words_of(FIRING) == "in order; 1: 0°; 3: 180°"
    assert facts_of(PAGE.parts[1]) == Facts((Row("At 700", "13°"),))


@pytest.mark.parametrize(
    ("half", "decimals"),
    [(0.004, 2), (0.06, 2), (0.2, 2), (0.4, 1), (0.9, 1), (1.0, 1), (3.5, 1), (4.0, 0), (40.0, 0)],
)
def test_no_word_is_more_exact_than_its_interval(half, decimals):
    about = Interval(7.123, 7.123 - half, 7.123 + half)
    assert decimals_of(about) == decimals
    assert exactly(about, "°") == f"{7.123:.{decimals}f}°"


def test_a_printed_interval_is_never_much_narrower_than_the_real_one():
    """One digit of ± 1.49 would be ± 1: surer by a third."""
    for half in np.geomspace(0.05, 30, 400):
        about = Interval(7.0, 7.0 - half, 7.0 + half)
        low, high = (
            float(end) for end in spread(about).partition("(")[2].rstrip(")").split(" to ")
        )
        assert (high - low) / (2 * half) > 0.85
        coarse = spread(about, most=0).partition("(")[2].rstrip(")").split(" to ")
        assert float(coarse[1]) - float(coarse[0]) > 0.85 * 2 * half


@pytest.mark.parametrize(
    ("late", "said"),
    [
        (Interval(7.4, 7.04, 7.76), "7.4° late (7.0 to 7.8)"),
        (Interval(-7.4, -7.76, -7.04), "7.4° early (7.0 to 7.8)"),
        (Interval(-0.5, -2.3, 1.3), "0.5° early (2.3 early to 1.3 late)"),
        (Interval(0.02, -0.36, 0.44), "right within 0.4°"),
        (Interval(0.02, -4.9, 4.9), "right within 5°"),
    ],
)
def test_a_side_is_said_in_words_and_never_by_a_sign(late, said):
    assert off_words(late) == said


SOME = Interval(81.52, 80.9, 82.1)


@pytest.mark.parametrize(
    ("claims", "ground", "decided", "why"),
    [
        ((Claim("At 81.52°.", about=(SOME,)),), Ground(), True, "more exact"),
        ((Claim("Right to a tenth of a degree.", about=(SOME,)),), Ground(), True, "tenth"),
        ((Claim("All is well."),), Ground(earlier="the board restarted"), True, "before"),
        ((Claim("All is well."),), Ground(half_turn=True), True, "half a turn"),
        (
            (Claim("One tooth late.", Rank.HARM), Claim("HALF.", Rank.WRONG, half_turn=True)),
            Ground(half_turn=True),
            True,
            "half a turn",
        ),
        ((Claim("2 fires.", cylinder=2),), Ground(cylinders=(1,)), True, "cylinder 2"),
        ((Claim("2 fires.", cylinder=2),), Ground(), True, "cylinder 2"),
        ((Claim("SET NOW: 1E."),), Ground(), False, "that is sure"),
        ((Claim("NOT SURE: no."),), Ground(), True, "is not sure"),
    ],
)
def test_a_headline_that_its_facts_contradict_cannot_be_made(claims, ground, decided, why):
    with pytest.raises(HeadlineError, match=why):
        page_of("toy", claims, decided=decided, ground=ground)


def test_a_headline_that_its_facts_bear_out_is_made():
    of_before = Ground("the board restarted", half_turn=False, cylinders=(1, 2))
    claims = (
        Claim("OF BEFORE.", Rank.UNKNOWN, earlier=True),
        Claim("1 fires at 81.5°.", about=(SOME,), cylinder=1),
    )
    assert page_of("toy", claims, decided=True, ground=of_before).headline.startswith("OF BEFORE.")


def test_what_a_warning_denies_is_said_first():
    warned = (Notice("clamp-unchecked", as_said("flat")),)
    page = page_of("toy", (Claim("SET NOW: 1E."),), decided=True, warnings=warned)
    assert page.headline.startswith("ONLY IF NOTHING MOVED: nothing has checked the clamp since")
    assert page.headline.endswith("SET NOW: 1E.")
