"""What the page of the timing marks says, from answers made up for it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.mark_causes import Cause, MarkCauses
from strokewise.analysis.marks.mark_evidence import CLAMP, HALF, MARK_RIGHT, OTHER, POINTER, RING
from strokewise.analysis.marks.marks import MarkPlace, Offset
from strokewise.analysis.marks.marks_answer import MarksAnswer
from strokewise.analysis.profile import Mark, Profile, even_intervals_deg
from strokewise.analysis.remark import Notice
from strokewise.gui.pages.mark_causes import LOOK_WORDS, because, late_words
from strokewise.gui.pages.marks import marks_figures, marks_page
from strokewise.gui.pages.page import Page, Table
from strokewise.gui.pages.sign import CAUSE_OPEN, NOT_SURE, SURE, Certainty
from strokewise.gui.pages.text import page_text
from strokewise.gui.sayings import as_said, told

FOUR = Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720))
NOTCH = Mark("pulley notch", 1, "pulley", 0.0)
WHEEL = Mark("flywheel line", 2, "flywheel", 0.0)
ROTOR = Mark("rotor", 3, "distributor", 0.0, "firing")


def at(mark: Mark, late: float, half: float = 0.3, **more: object) -> MarkPlace:
    interval = Interval(late, late - half, late + half)
    return replace(MarkPlace(mark, 5, interval, interval, "both"), **more)


def answer_of(*places: MarkPlace, causes: MarkCauses | None = None, **more: object) -> MarksAnswer:
    made = MarksAnswer(
        profile=FOUR,
        open="",
        why_open=None,
        places=places,
        causes=causes or MarkCauses((), False, ""),
        cam_shift=None,
        clamp="unknown",
        slipped_deg=None,
        warnings=(),
    )
    return replace(made, **more)


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
    right = because(Cause(MARK_RIGHT, (), 0.9, (at(NOTCH, 0.4),)), None, "steady")
    assert "pulley notch is 0.4° late (0.1 to 0.7)" in right
    drifting = at(NOTCH, 25.0, drift=Interval(4.0, 3.5, 4.5))
    assert "moved by 4.0° later while" in because(Cause(RING, (), 0.9, (drifting,)), None, "steady")
    still = at(NOTCH, 25.0, drift=Interval(0.0, -0.5, 0.5))
    assert "this one did not" in because(Cause(RING, (), 0.9, (still,)), None, "steady")
    alone = because(Cause(CLAMP, (), 0.1, (at(NOTCH, 25.0),)), None, "unknown")
    assert "can't show it" in alone
    both = because(Cause(CLAMP, (), 0.1, (at(NOTCH, 25.0), at(WHEEL, 5.0))), None, "slipped")
    assert both.endswith("it slipped; marks on different parts differ by 20.0°")


def test_how_far_marks_on_different_parts_differ_is_said() -> None:
    """5° early and 8° late: no slip of one clamp makes that."""
    places = (at(NOTCH, -5.0), at(WHEEL, 8.0))
    words = because(Cause(CLAMP, (), 0.1, places), None, "slipped")
    assert words.startswith("pulley notch is 5.0° early (")
    assert "; flywheel line is 8.0° late (" in words
    assert words.endswith(
        "; the recording shows that it slipped; marks on different parts differ by 13.0°"
    )


def test_the_cams_shift_is_named_where_it_speaks() -> None:
    shift = Interval(17.0, 15.0, 19.0)
    tooth = because(Cause("cam sprocket 1 tooth late", (), 0.9, ()), shift, "steady")
    assert tooth == "from pressure the cam is 17.0° late (15.0 to 19.0)"
    pulley = because(Cause(POINTER, (), 0.1, (at(NOTCH, 3.0),)), shift, "steady")
    assert "from pressure" not in pulley
    assert because(Cause(OTHER, (), 0.1, ()), shift, "steady").endswith("better than chance")


def test_every_look_is_said() -> None:
    assert LOOK_WORDS[""] == ""
    assert "hub and outer ring" in LOOK_WORDS["line across the pulley"]
    assert "count the teeth" in LOOK_WORDS["count teeth"]
    assert "how mark and pointer are fixed" in LOOK_WORDS["fixing"]
    assert all(look.endswith(".") for code, look in LOOK_WORDS.items() if code)


def test_a_cause_that_is_open_is_no_sure_page() -> None:
    place = at(NOTCH, 7.4, 0.2)
    two = (
        Cause(POINTER, ("pulley notch",), 0.5, (place,)),
        Cause(RING, ("pulley notch",), 0.45, (place,)),
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
    assert [row[:2] for row in causes.rows] == [(POINTER, "50.0 %"), (RING, "45.0 %")]
    assert causes.narrow is not None
    assert causes.narrow.rows[0].text.startswith(f"{POINTER} (pulley notch): pulley notch is 7.4°")
    assert "What would tell: Paint a line" in " ".join(page_text(page).split())


def test_one_cause_that_stands_out_is_weighed_and_not_seen() -> None:
    place = at(ROTOR, 0.0, turn="overlap", firing_cylinder=4)
    half = Cause(HALF, ("rotor",), 0.97, (place,))
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
