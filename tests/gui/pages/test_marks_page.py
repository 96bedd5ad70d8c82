"""What the page of the timing marks says, from answers made up for it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from strokewise.analysis.cam.cam_seen import CamSeen
from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.half_turn import HalfTurn
from strokewise.analysis.marks.mark_causes import NO_CAUSES, Cause, MarkCauses
from strokewise.analysis.marks.mark_evidence import (
    CLAMP,
    CLAMP_HELD,
    FOREIGN,
    HALF,
    HELD_SINCE,
    MARK_RIGHT,
    ON_TOOTH,
    OTHER,
    POINTER,
    RING,
)
from strokewise.analysis.marks.marks import MarkPlace, Offset
from strokewise.analysis.profile import Mark, Profile, even_intervals_deg
from strokewise.analysis.remark import Notice
from strokewise.analysis.timing.marks_answer import MarksAnswer
from strokewise.analysis.timing.timing import Timing
from strokewise.gui.pages.mark_causes import LOOK_WORDS, because, late_words
from strokewise.gui.pages.marks import marks_figures, marks_page
from strokewise.gui.pages.page import Page, Table
from strokewise.gui.pages.sign import CAUSE_OPEN, NOT_SURE, SURE, Certainty
from strokewise.gui.pages.text import page_text
from strokewise.gui.sayings import as_said, told

FOUR = Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720))
NOTCH = Mark("pulley notch", 1, "pulley", 0.0)
WHEEL = Mark("flywheel line", 2, "flywheel", 0.0)
DOT = Mark("cam dot", 4, "cam sprocket", 0.0, "firing")
ROTOR = Mark("rotor", 3, "distributor", 0.0, "firing")


def at(mark: Mark, late: float, half: float = 0.3, **more: object) -> MarkPlace:
    interval = Interval(late, late - half, late + half)
    return replace(MarkPlace(mark, 5, interval, interval, "both"), **more)


def timing(*places: MarkPlace, **more: Any) -> Timing:
    plain = Timing(places, CamSeen(), None, MarkCauses((), False, ""), HalfTurn(), "unknown")
    return replace(plain, **more)


def answer_of(
    *places: MarkPlace,
    causes: MarkCauses = NO_CAUSES,
    slipped_deg: float | None = None,
    **more: Any,
) -> MarksAnswer:
    weighed = timing(*places, causes=causes, slipped_deg=slipped_deg)
    return replace(MarksAnswer(FOUR, "", None, weighed, ()), **more)


def tables(page: Page) -> list[Table]:
    return [part for part in page.parts if isinstance(part, Table)]


@pytest.mark.parametrize(
    ("late", "said"),
    [
        (-0.04, "dot is on its figure within 0.3°"),
        (0.06, "dot is 0.1° late ("),
        (-7.4, "dot is 7.4° early ("),
    ],
)
def test_a_mark_on_its_figure_is_neither_late_nor_early(late: float, said: str) -> None:
    place = MarkPlace(Mark("dot", 1), 4, late=Interval(late, late - 0.2, late + 0.2))
    assert late_words(place).startswith(said)


def test_each_cause_has_its_figures() -> None:
    steady, unknown, slipped = (timing(clamp=c) for c in ("steady", "unknown", "slipped"))
    right = because(Cause("pulley", MARK_RIGHT, (), 0.9, (at(NOTCH, 0.4),)), steady)
    assert "pulley notch is 0.4° late (0.1 to 0.7)" in right
    drifting = at(NOTCH, 25.0, drift=Interval(4.0, 3.5, 4.5))
    assert "moved by 4.0° later while" in because(
        Cause("pulley", RING, (), 0.9, (drifting,)), steady
    )
    still = at(NOTCH, 25.0, drift=Interval(0.0, -0.5, 0.5))
    assert "this one did not" in because(Cause("pulley", RING, (), 0.9, (still,)), steady)
    alone = because(Cause("encoder", CLAMP, (), 0.1, (at(NOTCH, 25.0),)), unknown)
    assert "can't show it" in alone
    places = (at(NOTCH, 25.0), at(WHEEL, 5.0))
    both = because(Cause("encoder", CLAMP, (), 0.1, places), slipped)
    assert both.endswith("it slipped; marks on different parts differ by 20.0°")
    since = because(Cause("encoder", HELD_SINCE, (), 0.99, ()), timing(clamp="held since"))
    assert since == "the recording shows the slip; only marks met after it count"


def test_how_far_marks_on_different_parts_differ_is_said() -> None:
    """5° early and 8° late: no slip of one clamp makes that."""
    places = (at(NOTCH, -5.0), at(WHEEL, 8.0))
    words = because(Cause("encoder", CLAMP, (), 0.1, places), timing(clamp="slipped"))
    assert words.startswith("pulley notch is 5.0° early (")
    assert "; flywheel line is 8.0° late (" in words
    assert words.endswith(
        "; the recording shows that it slipped; marks on different parts differ by 13.0°"
    )


def test_the_cams_shift_is_named_where_it_speaks() -> None:
    shown = timing(cam_shift=Interval(17.0, 15.0, 19.0))
    tooth = because(Cause("cam", "cam sprocket 1 tooth late", (), 0.9, ()), shown)
    assert tooth == "from pressure the cam is 17.0° late (15.0 to 19.0)"
    pulley = because(Cause("pulley", POINTER, (), 0.1, (at(NOTCH, 3.0),)), shown)
    assert "from pressure" not in pulley
    other = because(Cause("cam", OTHER, (), 0.1, ()), shown)
    assert other.endswith("better than chance")


def test_a_dot_of_another_engine_is_no_reason_to_move_the_cam() -> None:
    dot = at(DOT, 17.2)
    foreign = Cause("cam sprocket", FOREIGN, ("cam dot",), 0.98, (dot,))
    right = Cause("cam", ON_TOOTH, ("cam dot",), 0.99, (dot,))
    weighed = timing(
        dot,
        cam_shift=Interval(-0.04, -2.1, 2.1),
        causes=MarkCauses((foreign, right), True, "", (0, 0.99)),
    )
    assert "from pressure the cam is right within" in because(foreign, weighed)
    assert because(foreign, weighed).endswith("and tells nothing of it")
    page = marks_page(replace(answer_of(), timing=weighed))
    assert page.headline.startswith("Cam dot does not go with the cam that pressure shows")
    assert "late" not in page.headline.partition(")")[0]
    untold = replace(weighed, cam_shift=None)
    assert "nothing but this mark tells" in because(foreign, untold)


def test_what_may_do_harm_is_said_before_where_the_marks_stand() -> None:
    notch, dot = at(NOTCH, -9.0), at(DOT, 0.1)
    half = Cause("cam sprocket", HALF, ("cam dot",), 0.85, (dot,))
    pointer = Cause("pulley", POINTER, ("pulley notch",), 0.5, (notch,))
    made = answer_of(notch, dot, causes=MarkCauses((half, pointer), False, "rotor"))
    assert marks_page(made).headline.startswith(
        "HALF A TURN OF THE CAM: cam dot comes a whole turn of the crank from where it should"
        " (85.0 %). Pulley notch 9.0° early"
    )
    away = Cause("sensor", "sensor in cylinder 3, not in 1", (), 0.94, (notch,))
    right = Cause("pulley", MARK_RIGHT, ("pulley notch",), 0.99, (notch,))
    made = answer_of(notch, causes=MarkCauses((away, right), False, "sensed cylinder"))
    assert marks_page(made).headline.startswith("Sensor in cylinder 3, not in 1 (94.0 %): all")
    assert because(right, made.timing).endswith(
        "right as seen from cylinder 1's TDC with the sensor in cylinder 3, not in 1"
    )


def test_a_mark_met_turning_back_only_says_why_it_is_so_wide() -> None:
    place = replace(at(NOTCH, -1.8, 5.5), backward_only=True)
    [table] = tables(marks_page(answer_of(place)))
    assert table.narrow is not None
    assert "the other side of its tooth was read" in table.narrow.rows[0].text


def test_of_a_part_that_is_right_one_line_is_enough() -> None:
    """And of a rig that is as it should be, none; a program gets all of them."""
    place = at(NOTCH, 0.1)
    causes = (
        Cause("pulley", MARK_RIGHT, ("pulley notch",), 0.98, (place,)),
        Cause("pulley", POINTER, ("pulley notch",), 0.02, (place,)),
        Cause("encoder", CLAMP_HELD, (), 0.99, (place,)),
        Cause("encoder", CLAMP, (), 0.01, (place,)),
    )
    made = answer_of(place, causes=MarkCauses(causes, True, ""))
    page = marks_page(made)
    assert [row[:2] for row in tables(page)[1].rows] == [("pulley", MARK_RIGHT)]
    assert page.reason == f"most probable: {MARK_RIGHT}"
    found = [(each["part"], each["cause"]) for each in marks_figures(made)["findings"]]
    assert found == [(cause.part, cause.cause) for cause in causes]


@pytest.mark.parametrize("cause", [MARK_RIGHT, POINTER])
def test_a_slip_before_stands_in_the_headline(cause: str) -> None:
    """Who reads only that would take marks met before it to be as right."""
    place = at(NOTCH, 0.1 if cause == MARK_RIGHT else 7.4)
    causes = (
        Cause("encoder", HELD_SINCE, (), 0.999, (place,)),
        Cause("pulley", cause, ("pulley notch",), 0.98, (place,)),
    )
    page = marks_page(answer_of(place, causes=MarkCauses(causes, True, "")))
    assert page.headline.endswith(f"Most probable: {cause}; {HELD_SINCE}.")


def test_every_look_is_said() -> None:
    assert LOOK_WORDS[""] == ""
    assert "hub and outer ring" in LOOK_WORDS["line across the pulley"]
    assert "count the teeth" in LOOK_WORDS["count teeth"]
    assert "how mark and pointer are fixed" in LOOK_WORDS["fixing"]
    assert all(look.endswith(".") for code, look in LOOK_WORDS.items() if code)


def test_a_cause_that_is_open_is_no_sure_page() -> None:
    place = at(NOTCH, 7.4, 0.2)
    two = (
        Cause("pulley", POINTER, ("pulley notch",), 0.5, (place,)),
        Cause("pulley", RING, ("pulley notch",), 0.45, (place,)),
    )
    made = answer_of(place, causes=MarkCauses(two, False, "line across the pulley"))
    page = marks_page(made)
    assert page.sign == CAUSE_OPEN
    assert page.headline.startswith(
        "Pulley notch 7.4° late (7.2 to 7.6). Marks measured; the cause"
    )
    assert page.next_look == LOOK_WORDS["line across the pulley"]
    assert page.headline.endswith(page.next_look)
    assert marks_figures(made)["next_look"] == page.next_look
    _, causes = tables(page)
    assert [row[:2] for row in causes.rows] == [("pulley", POINTER), ("pulley", RING)]
    assert causes.narrow is not None
    assert causes.narrow.rows[0].text.startswith(f"pulley: {POINTER} (pulley notch): pulley notch")
    assert "What would tell: Paint a line" in " ".join(page_text(page).split())


def test_one_cause_that_stands_out_is_weighed_and_not_seen() -> None:
    place = at(ROTOR, 0.0, turn="overlap", firing_cylinder=4)
    half = Cause("distributor", HALF, ("rotor",), 0.97, (place,))
    page = marks_page(answer_of(place, causes=MarkCauses((half,), True, "")))
    assert (page.sign.certainty, page.sign.word) == (Certainty.NOT_YET, "MOST PROBABLE")
    assert page.sign.share == pytest.approx(0.97)
    words = " ".join(page_text(page).split())
    assert "here cylinder 1 is at overlap and cylinder 4 is at firing TDC" in words
    assert page.reason == f"most probable: {HALF}"


def test_marks_that_state_nothing_are_measured_and_sure() -> None:
    place = replace(at(NOTCH, 5.0), late=None)
    page = marks_page(answer_of(place))
    assert page.sign == SURE
    assert page.headline.startswith("Marks measured; none states")
    assert tables(page)[0].rows[0][3] == "not known"


def test_the_table_has_a_row_for_each_mark() -> None:
    rim = Interval(-0.01, -0.2, 0.2)
    place = at(NOTCH, -0.01, 0.2, offset=Offset(rim, None, None))
    [table] = tables(marks_page(answer_of(place, MarkPlace(WHEEL, 0))))
    assert table.rows == (
        (
            "pulley notch",
            "5",
            "0.0° (0.2 before to 0.2 after)",
            "0.0° (0.2 early to 0.2 late)",
            "0.0",
            "both",
            "",
        ),
        ("flywheel line", "0", "not known", "not known", "", "", ""),
    )
    assert table.narrow is not None
    assert [row.known for row in table.narrow.rows] == [True, False]


def test_what_is_open_is_said_with_its_reason() -> None:
    page = marks_page(answer_of(open="turn open", why_open=as_said("turn on")))
    assert page.headline == "NOT SURE. A half-speed mark's turn is open: turn on."
    assert page.sign == NOT_SURE
    assert "[[marks]]" in marks_page(answer_of(open="no marks")).reason
    assert "press its key" in marks_page(answer_of(open="not met")).reason


def test_a_clamp_seen_to_slip_is_warned_of_once() -> None:
    [notice] = marks_page(answer_of(slipped_deg=3.04)).warnings
    assert notice.code == "clamp-slip"
    assert "jumped together, 3.0° later:" in notice.text
    warned = (Notice("clamp-slip", as_said("the clamp slipped")),)
    assert marks_page(answer_of(slipped_deg=3.0, warnings=warned)).warnings == told(warned)
