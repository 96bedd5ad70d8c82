import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLineEdit

from strokewise.analysis.compression.compression_curve import CompressionCurve
from strokewise.analysis.compression.cylinder_compression import CylinderCompression
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Atmosphere, Mark, ValveTiming
from strokewise.gui import compressions
from strokewise.gui.models.steps import step_book
from strokewise.gui.models.steps.asking import Unanswered
from strokewise.gui.models.steps.step_fields import fields_of
from strokewise.gui.pages import sign as step_sign
from strokewise.gui.registry import window_steps
from strokewise.gui.window import ink
from strokewise.gui.window.key_button import TARGET_PX
from strokewise.gui.window.steps.step_sheet import SHEET_LINE, set_headline

F4 = Qt.Key.Key_F4
TIMING = ValveTiming(12, 48, 46, 14)
LONG = "outermost notch on the crankshaft damper ring beside the water pump"
ORDER_12 = (1, 7, 5, 11, 3, 9, 6, 12, 2, 8, 4, 10)


@pytest.fixture
def page(window, toy, qtbot, wait):
    """Opens the page on a decided replay and waits for an answer of the step wanted."""

    def make(name="valves", profile=None, **more):
        profile = profile or toy.profile(valve_timing=TIMING, static_advance_btdc_deg=6.0)
        opened = window(profile=profile, **more)
        opened.begin()
        qtbot.keyClick(opened, F4)
        made = opened.pages["steps"]
        made.steps.setCurrentRow([step.name for step in window_steps()].index(name))
        wait(lambda: made.view.headline and not made.view.working)
        return made

    return make


def test_the_page_has_its_key_and_the_steps_are_gone_through(qtbot, page):
    made = page("marks")
    opened = made.window()
    assert opened.view == "steps"
    assert not opened.band.isVisible()
    assert opened.strip.isVisible()
    qtbot.keyClick(opened, F4)
    assert (made.book.chosen, made.steps.currentRow()) == ("cam", 1)
    for _ in range(2):
        qtbot.keyClick(opened, F4, Qt.KeyboardModifier.ShiftModifier)
    assert made.book.chosen == "compare"
    qtbot.keyClick(opened, Qt.Key.Key_Escape)
    assert opened.view == "chart"
    assert opened.band.isVisible()


def test_a_step_is_chosen_by_mouse(qtbot, page, wait):
    made = page("marks")
    item = made.steps.item(4)
    spot = made.steps.visualItemRect(item).center()
    qtbot.mouseClick(made.steps.viewport(), Qt.MouseButton.LeftButton, pos=spot)
    assert made.book.chosen == "static"
    assert list(made.form.fields) == [field.name for field in fields_of(made.book.step)]
    wait(lambda: made.answered)
    assert "at 6° before" in made.view.headline


@pytest.mark.parametrize("size", [(1366, 768), (1280, 800), (1920, 1080)])
def test_no_word_of_an_answer_is_torn_and_every_field_has_a_name(page, named_and_large, size, wait):
    made = page("drive", size=size)
    for step in ("drive", "cam", "valves", "marks", "static"):
        made.open(step)
        wait(lambda: made.answered)
        named_and_large(made.window())
        for entry in made.form.findChildren(QLineEdit):  # its example is seen whole
            example = entry.fontMetrics().horizontalAdvance(entry.placeholderText())
            assert example < entry.width() - entry.fontMetrics().height(), entry.placeholderText()
        row = made.steps.visualItemRect(made.steps.item(0))
        assert row.height() >= TARGET_PX
        made.answer.document().size()  # lays it out
        assert made.answer.horizontalScrollBar().maximum() == 0
        block = made.answer.document().begin()
        while block.isValid():
            lines = [block.layout().lineAt(i) for i in range(block.layout().lineCount())]
            for line in lines[:-1]:
                end = line.textStart() + line.textLength()
                assert not block.text()[end - 1 : end + 1].isalnum(), block.text()
            block = block.next()


def test_the_valves_follow_the_crank(page, wait):
    made = page("valves")
    assert made.view.sign == step_sign.SURE
    before = made.view.headline
    assert before.startswith("SET NOW")
    assert "to spare" in made.answer.toPlainText()
    made.window().replay.seek(6.0)
    wait(lambda: made.view.headline != before and not made.view.working)
    assert made.view.crank.split("°")[0].split()[-1] in made.view.words


def test_cautions_stand_beside_every_step(page):
    made = page("marks")
    for row in range(made.steps.count()):
        made.steps.setCurrentRow(row)
        made.look()
        assert "manual" in made.cautions.words


def test_what_is_missing_is_said_with_what_to_do(page):
    made = page("drive")
    assert made.view.headline.startswith("The profile does not say yet: Drive gear (teeth;")
    assert "_" not in made.view.headline  # no key as a file spells it
    assert "such as 25 mm, in mm or in" in made.answer.toPlainText()
    assert made.view.sign == step_sign.NONE


@pytest.mark.parametrize(
    ("step", "button", "row"),
    [
        ("drive", "Fill in: Drive gear: teeth …", "Drive gear: teeth"),
        ("static", "Fill in: Static timing …", "Static timing"),
        ("marks", "Name a mark in the profile …", "Mark 1: name"),
    ],
)
@pytest.mark.parametrize("by", ["mouse", "key"])
def test_the_way_leads_to_the_form_where_it_is_filled_in(
    qtbot, page, toy, wait, step, button, row, by
):
    made = page(step, toy.profile())
    wait(lambda: made.fill_in.isVisible())
    assert made.fill_in.text() == button
    if by == "mouse":
        qtbot.mouseClick(made.fill_in, Qt.MouseButton.LeftButton)
    else:
        made.fill_in.setFocus(Qt.FocusReason.TabFocusReason)
        qtbot.keyClick(made.fill_in, Qt.Key.Key_Space)
    window = made.window()
    assert window.view == "setup"
    table = window.pages["setup"].editor.table
    assert table.hasFocus()
    assert table.item(table.currentRow(), 0).text() == row


def test_what_is_not_missing_has_no_way_to_the_form(page):
    made = page("valves")
    assert not made.fill_in.isVisible()
    assert made.view.lacks == ()


def test_how_sure_is_said_in_a_word_as_well_as_in_a_shape(page, wait):
    made = page("marks")
    assert made.view.sign == step_sign.NOT_SURE  # no mark was met
    assert made.head.accessibleDescription().startswith("NOT SURE YET: ")
    made.open("valves")
    wait(lambda: made.answered)
    made.look()
    assert made.head.accessibleDescription().startswith("SURE: SET NOW")


def test_a_field_changes_the_answer(qtbot, page, wait):
    made = page("valves")
    first = made.view.headline.split(": ")[1].split(",")[0].strip(".")
    entry = made.form.fields["done"]
    entry.setFocus()
    qtbot.keyClicks(entry, first)
    qtbot.keyClick(entry, Qt.Key.Key_Return)
    wait(lambda: made.view.words.count("Done"))
    assert first not in made.view.headline
    assert made.window().view == "steps"  # the letters typed were no keys of the window


def test_a_field_that_cannot_be_says_why(page):
    made = page("static")
    entry = made.form.fields["cylinder"]
    entry.setText("one")
    entry.editingFinished.emit()
    assert "is not a whole number" in made.window().bar.words
    assert made.book.said("cylinder") == ""


def test_the_answer_is_copied_as_text_and_saved(qtbot, page, tmp_path):
    made = page("valves")
    opened = made.window()
    qtbot.keyClick(opened, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    data = QApplication.clipboard().mimeData()
    assert data.text() == made.view.words
    assert data.hasImage()
    assert "text" in opened.bar.words
    for key in (Qt.Key.Key_X, Qt.Key.Key_P):
        qtbot.keyClick(opened, key)
    assert "SET NOW" in next((tmp_path / "out").glob("*steps*.csv")).read_text()
    assert next((tmp_path / "out").glob("*steps*.png")).stat().st_size > 10_000


def test_a_long_question_holds_up_neither_picture_nor_keys(qtbot, page, wait, monkeypatch):
    made = page("valves")
    opened, going, ask = made.window(), threading.Event(), step_book._ask

    def slow(*args):
        going.wait(20)
        return Unanswered("DECIDED: at last.")

    monkeypatch.setattr(step_book, "_ask", slow)
    try:
        qtbot.keyClick(opened, F4, Qt.KeyboardModifier.ShiftModifier)
        assert made.book.chosen == "cam"
        wait(lambda: "working" in made.view.working)
        drawn = opened.drawn
        opened.replay.step_samples(3)
        wait(lambda: opened.drawn > drawn)
        qtbot.keyClick(opened, Qt.Key.Key_L)
        assert opened.colours.theme == "dark"
        monkeypatch.setattr(step_book, "_ask", ask)
        qtbot.keyClick(opened, F4)
        opened.replay.seek(6.0)  # the valves do not wait for the cam
        wait(lambda: "SET NOW" in made.view.headline and not made.book.behind)
        qtbot.keyClick(opened, F4, Qt.KeyboardModifier.ShiftModifier)
    finally:
        going.set()
    wait(lambda: made.view.headline == "DECIDED: at last.")


def test_recordings_are_chosen_without_stopping_the_run(qtbot, page, wait, monkeypatch, tmp_path):
    asked = []

    def compared(compressions, files, oiled, typed):
        asked.append((files, dict(typed)))
        return Unanswered("The cylinders agree.")

    monkeypatch.setattr(step_book, "_compare", compared)
    made = page("compare")
    opened = made.window()
    assert "Choose the recordings" in made.view.headline
    qtbot.mouseClick(made.form.fields["files"], Qt.MouseButton.LeftButton)
    dialog = made.form.dialog
    assert dialog.isVisible()
    assert not dialog.isModal()
    drawn = opened.drawn
    opened.replay.step_samples(3)
    wait(lambda: opened.drawn > drawn)
    dialog.filesSelected.emit([str(tmp_path / "2.swr"), str(tmp_path / "1.swr")])
    dialog.close()
    wait(lambda: made.view.headline == "The cylinders agree.")
    made.form.fields["warm"].setCurrentText("yes")
    wait(lambda: len(asked) == 2 and not made.view.working)
    assert asked[-1] == ((tmp_path / "1.swr", tmp_path / "2.swr"), {"warm": ["yes"]})


def test_the_class_is_told_nothing(page, wait):
    from strokewise.gui.models.classroom.questions import masked

    made = page("valves")
    made._timer.stop()
    hidden = masked(made.window().snapshot)
    made.book.look(hidden)
    assert made.book.view(hidden).words == ""  # at once, not when the next answer is there
    wait(lambda: made.book.look(hidden) or "Hidden" in made.book.view(hidden).headline)
    assert "SET NOW" not in made.book.view(hidden).words


@pytest.mark.parametrize("size", [(1366, 768), (1920, 1080), (3840, 2160)])
@pytest.mark.parametrize("name", ["marks", "valves", "static"])
def test_nothing_is_cut_off(page, toy, name, size):
    marks = (Mark(LONG, 1, stated_atdc_deg=0.0), Mark("x" * 60, stated_atdc_deg=0.0))
    profile = toy.profile(
        12, ORDER_12, valve_timing=TIMING, static_advance_btdc_deg=6.0, marks=marks
    )
    made = page(name, profile, size=size)
    opened = made.window()
    opened.settle()
    opened.redraw()
    QApplication.processEvents()
    view, height = made.view, opened.height()
    room = made.head.height() - height * 0.034 * 1.5
    pixels, lines = set_headline(view.headline, made.head.width() * 0.88, room, height)
    assert " ".join(lines) == view.headline
    assert len(lines) * pixels * SHEET_LINE <= room
    assert all(
        ink.width_of(line, ink.font(pixels, bold=True)) <= made.head.width() * 0.9 for line in lines
    )
    assert made.answer.horizontalScrollBar().maximum() == 0
    assert made.cautions.verticalScrollBar().maximum() == 0
    for widget in (made.steps, made.answer, made.cautions, made.form):
        assert widget.width() <= opened.width()
    assert made.steps.verticalScrollBar().maximum() == 0


def test_another_run_is_not_answered_with_the_last_ones_figures(page, window, deck, toy):
    from strokewise.gui.models.run.replay import ReplayRun

    made = page("valves")
    other = deck(toy.profile(6, (1, 5, 3, 6, 2, 4)), until_s=0.1, judged=False)
    made._timer.stop()
    snapshot = replace(ReplayRun(other, playing=False).snapshot)
    made.book.look(snapshot)
    assert made.book.view(snapshot).headline == ""


def test_two_compressions_are_laid_over_each_other_as_chosen(qtbot, page, wait, monkeypatch):
    angle = np.linspace(-100, 100, 201)

    def measured_in(file, said, cylinder):
        number = int(file.stem)
        top = 13.0 - number
        curves = tuple(
            CompressionCurve(number, k, angle, top * np.exp(-((angle / 40) ** 2)), 200.0)
            for k in (1, 2)
        )
        peak = Interval(top, top - 0.1, top + 0.1)
        return CylinderCompression(number, peak, 200.0, Atmosphere(), 2, curves=curves), ()

    monkeypatch.setattr(compressions, "measured_in", measured_in)
    monkeypatch.setattr(compressions, "recordings_named", lambda names: list(map(Path, names)))
    made = page("compare")
    made.form.take_files(["1.swr", "2.swr", "3.swr"])
    wait(lambda: "compression 1" in made.answer.accessibleDescription())
    assert "Cylinder 3, compression 1" in made.answer.accessibleDescription()
    lay = made.form.fields["lay"]
    assert lay.accessibleName() == "Lay cylinder"
    assert [lay.itemText(at) for at in range(lay.count())] == ["the lowest", "1", "2", "3"]
    lay.setFocus()
    qtbot.keyClick(lay, Qt.Key.Key_Down)
    qtbot.keyClick(lay, Qt.Key.Key_Down)
    wait(lambda: "Cylinder 2, compression 1" in made.answer.accessibleDescription())
    lay.showPopup()
    spot = lay.view().visualRect(lay.model().index(3, 0)).center()
    qtbot.mouseClick(lay.view().viewport(), Qt.MouseButton.LeftButton, pos=spot)
    made.form.fields["lay_pass"].setCurrentText("2")
    wait(lambda: "Cylinder 3, compression 2" in made.answer.accessibleDescription())
    made.form.take_files(["1.swr", "2.swr"])  # cylinder 3 is not among them
    wait(lambda: "Cylinder 2, compression 1" in made.answer.accessibleDescription())
    assert made.form.fields["lay"].currentText() == "the lowest"
