"""The job's page: opened and made by mouse or key, filled, and carried to its sheet."""

import threading
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import pytest
from PIL import Image
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QLabel, QLineEdit, QPushButton

from strokewise.gui.cli import main
from strokewise.gui.job.add import add_note, create_job
from strokewise.gui.job.job import read_job
from strokewise.gui.models.run.sources import open_replay
from strokewise.gui.models.setup.settings import Settings
from strokewise.gui.sheet import sheet as sheet_made
from strokewise.gui.window.key_button import TARGET_PX

CRANKED = Path(__file__).parents[3] / "recordings" / "cranked.swr"
NOW = datetime(2025, 3, 4, 10, 30, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path):
    """A job of a name, made without the window."""
    create_job(tmp_path / "bench-four", "Bench four", now=NOW, version="0.1.0", made_for="a club")
    return tmp_path / "bench-four"


@pytest.fixture
def opened(window, folder):
    """A window on a recording, a job open on its page."""
    made = window(run=open_replay(CRANKED, playing=False))
    made.rooms.desk.open(str(folder / "job.toml"))
    made.rooms.desk.page.show_who("AB")
    return made


@pytest.fixture
def photo(tmp_path):
    """A photo of a camera held upright whose sensor lay."""
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.new("RGB", (400, 300), "gray").save(tmp_path / "notch.jpg", exif=exif)
    return tmp_path / "notch.jpg"


def page_of(opened):
    return opened.rooms.desk.page


def button(opened, words):
    return next(
        each
        for each in opened.findChildren(QPushButton)
        if each.text() == words and each.isVisible()
    )


def press(qtbot, opened, words):
    qtbot.mouseClick(button(opened, words), Qt.MouseButton.LeftButton)


def turned_to(opened, title):
    page = page_of(opened)
    at = next(i for i, part in enumerate(page.parts) if part.title == title)
    page.list.setCurrentRow(at)
    return page.parts[at]


def test_without_a_job_the_page_says_how_to_get_one(window, qtbot):
    opened = window()
    qtbot.keyClick(opened, Qt.Key.Key_K)
    assert opened.view == "job"
    assert "No job is open" in opened.bar.words
    press(qtbot, opened, "Open a job …")
    assert "job.toml" in opened.dialog.nameFilters()[0]
    opened.dialog.close()


def test_a_job_is_made_where_it_is_said_and_remembered(window, qtbot, kept, tmp_path):
    opened = window()
    qtbot.keyClick(opened, Qt.Key.Key_F8)
    page_of(opened).made_for.setText("a club")
    press(qtbot, opened, "New job …")
    (offered,) = opened.dialog.selectedFiles()
    assert Path(offered).name == f"job-{opened.rooms.desk.book.today}-1"
    qtbot.wait(1)
    assert opened.dialog.findChild(QLineEdit).selectedText() == Path(offered).name
    opened.dialog.filesSelected.emit([str(tmp_path / "head-on")])
    opened.dialog.close()
    assert read_job(tmp_path / "head-on").made_for == "a club"
    assert kept[-1].recent_jobs == (str(tmp_path / "head-on" / "job.toml"),)
    assert page_of(opened).recent.itemText(0) == "head-on"
    assert page_of(opened).name.text() == "Job: head-on"


def test_a_recent_job_is_opened_again(window, qtbot, folder):
    opened = window(settings=Settings(recent_jobs=(str(folder / "job.toml"), "/gone/job.toml")))
    opened.show_page("job")
    page = page_of(opened)
    click = partial(qtbot.mouseClick, page.recent_list.viewport(), Qt.MouseButton.LeftButton)
    spot = [page.recent_list.visualItemRect(page.recent_list.item(i)) for i in range(2)]
    assert all(each.height() >= TARGET_PX for each in spot)
    click(pos=spot[1].center())
    assert "no job in this folder" in opened.bar.words
    page.recent.activated.emit(1)
    assert "no job in this folder" in opened.bar.words
    click(pos=spot[0].center())
    assert page.name.text() == "Job: Bench four"


def test_a_task_is_ticked_and_taken_back(opened, qtbot, folder):
    part = turned_to(opened, "To do")
    part.lines.setCurrentRow(0)
    press(qtbot, opened, "Tick")
    assert read_job(folder).tick_of("oil-rockers").initials == "AB"
    assert opened.note.geometry().bottom() < part.lines.mapTo(opened, QPoint()).y()
    assert part.lines.item(0).text().startswith("☑")
    assert page_of(opened).list.item(0).text() == "To do: 6 left"
    press(qtbot, opened, "Tick")
    assert "ticked already" in opened.bar.words
    press(qtbot, opened, "Take the tick back")
    assert read_job(folder).tick_of("oil-rockers") is None


def test_gaps_and_notes_are_put_down(opened, qtbot, folder):
    part = turned_to(opened, "Clearances")
    part.valve.setEditText("1E")
    part.found.setText("0.40 mm")
    part.wanted.setText("0.35 mm")
    press(qtbot, opened, "Put the gap down")
    assert read_job(folder).gaps()[0].before_mm == pytest.approx(0.40)
    part.found.setText("0.45 mm")
    part.valve.setEditText("1E")
    press(qtbot, opened, "Put the gap down")
    assert read_job(folder).gaps()[0].before_mm == pytest.approx(0.45)
    press(qtbot, opened, "Take it back")
    assert opened.bar.words == "Taken back: gaps 2 of 1E"
    assert read_job(folder).gaps()[0].before_mm == pytest.approx(0.40)
    assert part.lines.item(0).text().startswith("1E: ")
    press(qtbot, opened, "Take it back")
    assert read_job(folder).gaps() == ()
    part = turned_to(opened, "Notes, photos")
    part.text.setFocus()
    qtbot.keyClicks(part.text, "No. 2 plug thread repaired")
    qtbot.keyClick(part.text, Qt.Key.Key_Return)
    assert read_job(folder).notes[0].text == "No. 2 plug thread repaired"
    assert part.text.text() == ""


def test_a_torque_is_put_down_and_taken_back(opened, qtbot, folder):
    part = turned_to(opened, "Torques")
    for field, text in ((part.what, "Head bolts"), (part.value, "40"), (part.tool, "wrench 7")):
        field.setText(text)
    press(qtbot, opened, "Put the torque down")
    assert "needs a unit" in opened.bar.words
    part.value.setText("40 Nm + 90 deg")
    press(qtbot, opened, "Put the torque down")
    (kept,) = read_job(folder).torques
    assert (kept.what, kept.value, kept.tool) == ("Head bolts", "40 N·m + 90°", "wrench 7")
    assert kept.initials == "AB"
    press(qtbot, opened, "Take it back")
    assert read_job(folder).torques == ()
    press(qtbot, opened, "Take it back")
    assert "Choose in the list" in opened.bar.words


def test_an_own_task_is_added_and_taken_off(opened, qtbot, folder):
    part = turned_to(opened, "To do")
    part.text.setText("Bleed the cooling system")
    press(qtbot, opened, "Add the task")
    assert read_job(folder).to_do[-1].code == "bleed-the-cooling-system"
    press(qtbot, opened, "Take an own task off")
    assert len(read_job(folder).tasks) == 7
    part.lines.setCurrentRow(0)
    press(qtbot, opened, "Take an own task off")
    assert "Every job has this task" in opened.bar.words


def test_a_photo_is_chosen_shown_and_taken_back(opened, qtbot, folder, photo):
    part = turned_to(opened, "Notes, photos")
    part.shows.setEditText("pulley notch")
    press(qtbot, opened, "Photo …")
    opened.dialog.filesSelected.emit([str(photo)])
    opened.dialog.close()
    (kept,) = read_job(folder).photos
    assert read_job(folder).caption_of(kept) == "pulley notch"
    qtbot.wait(1)
    assert part.preview.isVisible()
    shown = part.preview.pixmap().size()
    assert shown.width() < shown.height()  # as it was held, not as the sensor lay
    press(qtbot, opened, "Take it back")
    assert read_job(folder).photos == ()
    assert not part.preview.isVisible()


def test_the_answer_shown_is_kept_with_its_recording(opened, qtbot, wait, folder):
    opened.show_view("chart")
    qtbot.keyClick(opened, Qt.Key.Key_K)
    wait(lambda: read_job(folder).answers)
    wait(lambda: opened.bar.words.startswith("Kept 002-answer-find.json"))
    opened.rooms.show_step("valves")
    opened.show_page("job")
    turned_to(opened, "Answers")
    press(qtbot, opened, "Keep the answer shown (K)")
    wait(lambda: len(read_job(folder).answers) == 2)
    assert [kept.command for kept in read_job(folder).answers] == ["find", "valves"]
    part = page_of(opened).answers
    wait(lambda: part.count_words == "2")
    part.lines.setCurrentRow(0)
    press(qtbot, opened, "Take it back")
    assert opened.bar.words.startswith("This stays in the job: Engine profile")
    part.lines.setCurrentRow(part.lines.count() - 1)
    press(qtbot, opened, "Take it back")
    assert opened.bar.words == "Taken back: answer 3"
    assert part.count_words == "1"
    part.lines.setCurrentRow(1)
    press(qtbot, opened, "Take it back")
    assert "is what answer 2 came from: take that back first" in opened.bar.words
    part.lines.setCurrentRow(2)
    press(qtbot, opened, "Take it back")
    part.lines.setCurrentRow(1)
    press(qtbot, opened, "Take it back")
    assert opened.bar.words == "Taken back: recording 1"
    assert read_job(folder).recordings == ()
    turned_to(opened, "Sheet")
    lines = page_of(opened).sheet.lines
    left = [lines.item(i).text() for i in range(lines.count())]
    assert any("answer 3 was taken back" in each for each in left)


def test_an_answer_of_a_live_run_needs_its_recording(opened, folder, monkeypatch):
    opened.show_view("chart")
    opened.run.file = None
    opened.actions_.keep_answer()
    assert opened.bar.words == "Record it first (R): an answer is kept with what it rests on"
    assert read_job(folder).answers == ()


def test_the_sheet_is_that_of_the_command(opened, qtbot, wait, folder, capsys):
    add_note(folder, "No. 2 plug thread repaired", now=NOW)
    turned_to(opened, "Sheet")
    press(qtbot, opened, "Make the sheet")
    wait(lambda: opened.bar.words.startswith("Made "))
    html, pdf = (folder.with_name(f"bench-four-sheet{suffix}") for suffix in (".html", ".pdf"))
    assert pdf.read_bytes()[:5] == b"%PDF-"
    mine = html.read_text(encoding="utf-8")
    assert main(["sheet", str(folder), "--force"]) == 0
    assert without_time(mine) == without_time(html.read_text(encoding="utf-8"))
    pdf.unlink()
    press(qtbot, opened, "Make the sheet")
    assert "bench-four-sheet.html is there already" in opened.bar.accessibleDescription()
    press(qtbot, opened, "Write it anew")
    wait(lambda: opened.bar.words.startswith("Made "))
    assert pdf.exists()


def test_the_making_of_the_sheet_is_stopped_before_anything_is_written(
    opened, qtbot, wait, folder, monkeypatch
):
    stopped, whole = threading.Event(), sheet_made.sheet_of
    monkeypatch.setattr(
        sheet_made, "sheet_of", lambda *said, **more: stopped.wait(60) and whole(*said, **more)
    )
    turned_to(opened, "Sheet")
    press(qtbot, opened, "Make the sheet")
    assert opened.work.words == "Making the sheet …"
    qtbot.mouseClick(opened.work.button, Qt.MouseButton.LeftButton)
    stopped.set()
    wait(lambda: opened.bar.words == "Making the sheet: stopped")
    assert not list(folder.parent.glob("bench-four-sheet*"))


def test_recordings_are_put_in_by_mouse(opened, qtbot, wait, folder, tmp_path):
    turned_to(opened, "Answers")
    (tmp_path / "none.swr").write_bytes(b"no recording")
    for paths, said in (((CRANKED, "none.swr"), "none.swr"), ((CRANKED,), "Kept 001-recording")):
        press(qtbot, opened, "Recordings …")
        opened.dialog.filesSelected.emit([str(tmp_path / each) for each in paths])
        opened.dialog.close()
        wait(lambda said=said: said in opened.bar.words)
    assert [each.number for each in read_job(folder).recordings] == [1]


def without_time(html):
    return [line for line in html.splitlines() if "Made 20" not in line]


def test_a_job_dropped_on_the_window_is_opened(window, folder):
    opened = window()
    opened.drops.take(Path(folder) / "job.toml")
    assert opened.view == "job"
    assert page_of(opened).name.text() == "Job: Bench four"


@pytest.mark.parametrize("size", [(1366, 768), (1280, 800), (1920, 1080), (900, 560)])
def test_nothing_on_the_page_is_cut(opened, qtbot, named_and_large, size):
    opened.resize(*size)
    for part in page_of(opened).parts:
        turned_to(opened, part.title)
        qtbot.wait(1)
        named_and_large(opened)
        assert page_of(opened).rect().width() <= opened.stack.width()
        for label in page_of(opened).findChildren(QLabel):
            if label.isVisible() and not label.wordWrap():
                assert label.sizeHint().width() <= label.width() + 1, label.text()
        for each in page_of(opened).findChildren(QPushButton):
            if each.isVisible():
                assert each.sizeHint().width() <= each.width() + 1, each.text()
                assert opened.rect().contains(each.mapTo(opened, each.rect().bottomRight()))
