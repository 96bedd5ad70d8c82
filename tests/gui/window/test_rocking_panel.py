"""The rocking guide in the turn guide's place."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QImage, QPainter

from strokewise.analysis.estimate import Interval
from strokewise.analysis.remark import remark
from strokewise.analysis.tdc.rocking_guide import RockingGuidance, cautions_for
from strokewise.gui.models.palette import DARK, LIGHT
from strokewise.gui.models.turn.first_turns import FirstTurns
from strokewise.gui.models.turn.rocking import Rocking
from strokewise.gui.sayings import as_said, say
from strokewise.gui.window import ink
from strokewise.gui.window.chart.rocking_painting import (
    CAUTION_SHARE,
    GUIDE_LINE,
    paint_rocking,
    set_words,
    tally,
)

LONGEST = remark("rocking-no-longer-helps", half_width_deg=12.25)
NEVER = remark("never-rock-this")


def rocking(profile, under_way=False, instruction=LONGEST, enough=False):
    guidance = RockingGuidance(
        False, enough, instruction, 40.0, 70.0, 3, 2, 14.0, 9.0, Interval(100, 99, 101),
        cautions_for(profile),
    )  # fmt: skip
    return Rocking(guidance, True, under_way, "TDC only ± 1.4°, turned one way by hand", 100.0)


@pytest.fixture
def shown(window, toy):
    opened = window()

    def show(**changes):
        opened.chart_page.show_snapshot(
            replace(opened.snapshot, **changes), opened.unit, opened.colours
        )
        return opened.chart_page.guide

    show.window = opened
    return show


def test_offered_at_the_foot_with_its_key(shown, toy):
    guide = shown(rocking=rocking(toy.profile()))
    assert guide.rocking is None
    assert guide.words.endswith("rocking would narrow that: key H")


def test_rocked_now_it_takes_the_place_of_the_turn_guide(shown, toy):
    guide = shown(rocking=rocking(toy.profile(), under_way=True))
    assert guide.rocking is not None
    assert guide.accessibleDescription().startswith("More of the same no longer helps")
    done = shown(
        rocking=rocking(toy.profile(), under_way=True, enough=True, instruction=as_said("enough"))
    )
    assert done.rocking is None
    assert done.words == "Rocked: enough"


def test_two_turns_by_hand_come_first(shown, toy):
    guide = shown(
        rocking=rocking(toy.profile(), under_way=True), first_turns=FirstTurns(suspect=True)
    )
    assert guide.rocking is None
    assert "two full turns by hand" in guide.words


def test_the_key_brings_it_and_takes_it_away(qtbot, shown):
    window = shown.window
    qtbot.keyClick(window, Qt.Key.Key_H)
    assert window.chart_page.guide.rocking is not None
    qtbot.keyClick(window, Qt.Key.Key_H)
    assert window.chart_page.guide.rocking is None


def test_where_it_must_not_be_turned_back_the_key_says_what_goes_instead(qtbot, window, toy):
    opened = window(profile=toy.profile(turning_back="never"))
    qtbot.keyClick(opened, Qt.Key.Key_H)
    assert opened.chart_page.guide.rocking is None
    assert say(NEVER)[1:] in opened.bar.words


@pytest.mark.usefixtures("qapp")
@pytest.mark.parametrize("size", [(410, 330), (576, 560), (1152, 1200), (270, 240)])
@pytest.mark.parametrize("turning_back", ["allowed", None])
def test_every_caution_fits_whole(toy, size, turning_back):
    said = rocking(toy.profile(turning_back=turning_back))
    width, room = size[0] * 0.9, size[1] * 0.6
    pixels, lines, cautions = set_words(said.instruction, said.cautions, width, room, size[1])
    assert " ".join(lines) == said.instruction
    assert " ".join(cautions) == " ".join(f"• {text}." for text in said.cautions)
    if size[0] > 300:
        high = GUIDE_LINE * pixels * (len(lines) + CAUTION_SHARE * len(cautions))
        assert high <= room
    for line in cautions:
        assert ink.width_of(line, ink.font(pixels * CAUTION_SHARE)) <= width + 1


@pytest.mark.usefixtures("qapp")
@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
def test_it_shows_where_the_crank_stands(toy, colours):
    said = rocking(toy.profile())
    pictures = []
    for angle in (100.0, 130.0, None):
        image = QImage(410, 400, QImage.Format.Format_RGB32)
        painter = QPainter(image)
        paint_rocking(painter, QRectF(QPointF(0, 0), image.size().toSizeF()), said, angle, colours)
        painter.end()
        pictures.append(image)
    assert pictures[0] != pictures[1]
    assert pictures[1] != pictures[2]
    assert tally(said) == "turned on 3× at 14 rev/min, back 2× at 9 rev/min"


def test_a_question_of_the_class_gives_nothing_away(shown, toy):
    from strokewise.gui.models.classroom.questions import masked

    moment = replace(shown.window.snapshot, rocking=rocking(toy.profile(), under_way=True))
    for kind in ("firing", "fault"):
        assert masked(moment, kind).rocking is None


def test_no_judgement_no_guide(shown):
    assert shown(rocking=None).rocking is None
