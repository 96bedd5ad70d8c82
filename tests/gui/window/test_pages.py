import re
import threading
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QPalette
from PySide6.QtPrintSupport import QPrinter
from PySide6.QtWidgets import QApplication, QPushButton, QStyleOptionViewItem

from strokewise.analysis.profile import Profile, Sensor
from strokewise.daq.ports import Port
from strokewise.daq.profile.write import write_profile
from strokewise.daq.recording.container import Chunk
from strokewise.gui.models.classroom.classroom import Classroom
from strokewise.gui.models.figures.units import BAR
from strokewise.gui.models.palette import LIGHT
from strokewise.gui.models.run.live import LiveRun
from strokewise.gui.models.run.snapshot import Reading
from strokewise.gui.models.setup.profile_words import FORM_GROUPS
from strokewise.gui.models.setup.settings import Settings
from strokewise.gui.window.class_page import ClassPage
from strokewise.gui.window.opening import Opening
from strokewise.gui.window.page_controllers import COMPILES, ENGINE, Rooms
from strokewise.gui.window.profile_table import ERROR_COLUMN, LABEL_ROLE, VALUE_COLUMN
from strokewise.gui.window.setup_page import SetupPage

ENTRY_EDGES_PX = 12
"""What an entry of a list keeps free on both sides of its words."""
CRANKED = Path(__file__).parents[3] / "recordings" / "cranked.swr"


@pytest.fixture
def page(qtbot, toy):
    ports = [Port("/dev/ttyACM0", "a board"), Port("/dev/ttyUSB1", "")]
    made = SetupPage(Settings(), toy.profile(), lambda: list(ports))
    made.ports = ports
    qtbot.addWidget(made)
    return made


def row_of(page, label):
    for i in range(page.editor.table.rowCount()):
        if page.editor.table.item(i, 0).data(LABEL_ROLE) == label:
            return i
    raise AssertionError(label)


def test_ports_are_listed_with_descriptions_and_again(page):
    assert page.port_list.item(0).text() == "/dev/ttyACM0   a board"
    page.ports.append(Port("/dev/ttyUSB2", "new"))
    page.refresh_ports()
    assert page.port_list.count() == 3
    page.ports.clear()
    page.refresh_ports()
    assert "plug the board in" in page.port_list.item(0).text()


def test_a_board_plugged_in_comes_up_by_itself(page, wait):
    page._watch.setInterval(10)
    page.show()
    page.port_list.setCurrentRow(1)
    page.refresh_ports()
    assert page.port_list.currentRow() == 1  # nothing moves where nothing has changed
    page.ports.append(Port("/dev/ttyUSB9", "plugged in just now"))
    wait(lambda: page.port_list.count() == 3)
    page.hide()
    assert not page._watch.isActive()


def test_a_port_chosen_is_connected_to(qtbot, page):
    page._port_chosen(page.port_list.item(1))
    page.job.setText("Bench four")
    page.suspect.setChecked(True)
    with qtbot.waitSignal(page.connect_wanted) as said:
        page.connect_port()
    assert said.args == ["/dev/ttyUSB1", 115_200, "Bench four", True]


def test_without_a_port_it_says_what_to_do(qtbot, page):
    with qtbot.waitSignal(page.said) as said:
        page.connect_port()
    assert "Choose a port" in said.args[0]


def test_errors_stand_beside_their_key(page):
    i = row_of(page, "bore")
    page.editor.table.item(i, VALUE_COLUMN).setText("82")
    assert page.editor.table.item(i, ERROR_COLUMN).text().startswith("✗")
    assert not page.draft.sound
    page.editor.table.item(i, VALUE_COLUMN).setText("82 mm")
    assert page.editor.table.item(i, ERROR_COLUMN).text() == "mm or in"
    assert page.draft.profile.bore_mm == 82


def test_a_profile_with_errors_is_neither_used_nor_saved(qtbot, page, tmp_path):
    page.editor.table.item(row_of(page, "bore"), VALUE_COLUMN).setText("82")
    page.editor.path.setText(str(tmp_path / "x.toml"))
    for do in (page.editor.use_profile, page.editor.save_profile):
        with qtbot.waitSignal(page.said) as said:
            do()
        assert "cannot be" in said.args[0]
    assert not (tmp_path / "x.toml").exists()


def test_a_profile_is_saved_and_opened_again(qtbot, page, tmp_path, toy):
    path = tmp_path / "engine.toml"
    page.editor.table.item(row_of(page, "bore"), VALUE_COLUMN).setText("82 mm")
    page.editor.path.setText(str(path))
    with qtbot.waitSignal(page.profile_wanted) as wanted:
        page.editor.save_profile()
    assert wanted.args[1] == str(path)
    page.editor.edit(toy.profile())
    page.open_profile(str(path))
    assert page.draft.profile.bore_mm == 82
    with qtbot.waitSignal(page.said):
        page.open_profile(str(tmp_path / "none.toml"))


def test_a_profile_file_with_an_unknown_key_is_refused_in_words(qtbot, page, tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text("cylinderz = 4\n")
    with qtbot.waitSignal(page.said) as said:
        page.open_profile(str(path))
    assert "cylinderz" in said.args[0]


def test_readings_zero_and_turn(qtbot, page, window, toy):

    snapshot = window().snapshot
    for k in range(60):
        still = replace(snapshot, reading=Reading(1000, (310,), k))
        page.show_snapshot(still, BAR, LIGHT)
    assert "raw 310" in page.reading.text()
    assert "bar" in page.reading.text()
    assert "count 1000" in page.encoder.text()
    with qtbot.waitSignal(page.profile_wanted) as wanted:
        page.take_zero()
    moved = wanted.args[0].sensors[0].points[0][0] - toy.profile().sensors[0].points[0][0]
    assert moved == pytest.approx(310 - (100 + 1.013 / 20 * 3900), abs=0.01)
    page.press_turn()
    page.show_snapshot(replace(snapshot, reading=Reading(3400, (310,), 99)), BAR, LIGHT)
    page.press_turn()
    assert "2400 counts" in page.turn_words.text()
    with qtbot.waitSignal(page.profile_wanted) as wanted:
        page.take_turn()
    assert wanted.args[0].encoder.counts_per_rev == 2400


def test_without_a_reading_the_checks_say_so(qtbot, page, window):

    with qtbot.waitSignal(page.said):
        page.press_turn()
    page.show_snapshot(replace(window().snapshot, reading=None), BAR, LIGHT)
    assert page.reading.text() == "No reading yet"
    with qtbot.waitSignal(page.said) as said:
        page.take_turn()
    assert "No turn found" in said.args[0]


def test_a_sensor_without_points_shows_no_unit(page, window, toy):

    profile = toy.profile(sensors=(Sensor(),))
    snapshot = replace(window().snapshot, profile=profile, reading=Reading(1, (5,), 1))
    page.show_snapshot(snapshot, BAR, LIGHT)
    assert "no unit" in page.reading.text()


def test_another_sensor_is_chosen_read_and_zeroed(qtbot, page, window, toy):

    points = toy.profile().sensors[0].points
    sensors = (Sensor(0, cylinder=1, points=points), Sensor(1, "manifold", points=points))
    profile = toy.profile(sensors=sensors)
    snapshot = replace(window().snapshot, profile=profile)
    for k in range(30):
        page.show_snapshot(replace(snapshot, reading=Reading(1, (5, 310, 77), k)), BAR, LIGHT)
    labels = [page.channels.itemText(i) for i in range(page.channels.count())]
    assert labels == [
        "channel 0: plug hole, cylinder 1",
        "channel 1: manifold",
        "channel 2: not in the profile",
    ]
    assert "raw 5 " in page.reading.text()
    page.channels.setCurrentIndex(1)
    for k in range(30, 100):
        page.show_snapshot(replace(snapshot, reading=Reading(1, (5, 310, 77), k)), BAR, LIGHT)
    assert "raw 310 " in page.reading.text()
    with qtbot.waitSignal(page.profile_wanted) as wanted:
        page.take_zero()
    first, second = wanted.args[0].sensors
    assert first == sensors[0]
    assert second.points != points
    page.channels.setCurrentIndex(2)
    page.show_snapshot(replace(snapshot, reading=Reading(1, (5, 310, 77), 101)), BAR, LIGHT)
    assert "no sensor of the profile is on this channel" in page.reading.text()
    with qtbot.waitSignal(page.said) as said:
        page.take_zero()
    assert "names no sensor on channel 2" in said.args[0]


def test_a_sensor_is_added_and_taken_out_on_the_page(qtbot, page, window):
    page.show_snapshot(window().snapshot, BAR, LIGHT)
    page.editor.add_sensor()
    i = row_of(page, "sensor 2: place")
    page.editor.table.item(i, VALUE_COLUMN).setText("manifold")
    assert [sensor.place for sensor in page.draft.profile.sensors] == ["plug hole", "manifold"]
    page.editor.remove_sensor()
    assert [sensor.place for sensor in page.draft.profile.sensors] == ["manifold"]
    with qtbot.waitSignal(page.said) as said:
        page.editor.remove_sensor()
    assert "no sensor on channel 0" in said.args[0]


def test_the_profile_is_in_groups_in_the_workshop_s_words(page):
    words = [page.editor.table.item(i, 0).text() for i in range(page.editor.table.rowCount())]
    assert [word for word in words if word in FORM_GROUPS] == list(FORM_GROUPS)
    assert "Bore" in words
    assert "Rod, centre to centre" in words
    i = row_of(page, "firing_order")
    assert page.editor.table.item(i, VALUE_COLUMN).text() == "1-3-4-2"
    page.editor.table.item(i, VALUE_COLUMN).setText("1-2-4-3")
    assert page.draft.profile.firing_order == (1, 2, 4, 3)
    cycle = page.editor.table.item(row_of(page, "cycle"), ERROR_COLUMN).text()
    assert cycle == "assumed"
    page.editor.table.go_to(("cycle",))
    assert page.editor.about.text() == "Cycle: four-stroke, unless you say otherwise."


def test_a_first_start_needs_four_things(page, qtbot):
    first = page.first
    first.cylinders.setCurrentIndex(5)
    first.cylinders.activated.emit(5)
    typed = first.order.lineEdit()
    assert typed.text() == ""  # an order of another number is none
    assert "1-5-3-6-2-4" in typed.placeholderText()
    with qtbot.waitSignal(page.said) as said:
        page.port_entry.setText("/dev/ttyACM0")
        page.connect_port()
    assert "cannot be used yet" in said.args[0]
    assert first.order.itemText(0) == "1-5-3-6-2-4"
    typed.setText("1-4-2-6-3-5")
    typed.editingFinished.emit()
    assert [first.sensed.itemText(i) for i in (0, 5)] == ["sensor in 1", "sensor in 6"]
    first.sensed.setCurrentIndex(3)
    first.sensed.activated.emit(3)
    profile = page.draft.profile
    assert (profile.cylinders, profile.firing_order) == (6, (1, 4, 2, 6, 3, 5))
    assert profile.sensors[0].cylinder == 4
    assert (
        page.editor.table.item(row_of(page, "firing_order"), VALUE_COLUMN).text() == "1-4-2-6-3-5"
    )


def test_an_engine_of_which_nobody_said_anything_is_asked_for(qtbot):
    page = SetupPage(Settings(), Profile(1, (1,), (720.0,)), list)
    qtbot.addWidget(page)
    page.port_entry.setText("/dev/ttyACM0")
    assert page.first.cylinders.currentIndex() == -1
    with qtbot.waitSignal(page.said) as said:
        page.connect_port()
    assert "how many cylinders" in said.args[0]
    page.first.cylinders.setCurrentIndex(0)
    page.first.cylinders.activated.emit(0)  # a single cylinder, said by somebody
    with qtbot.waitSignal(page.connect_wanted):
        page.connect_port()
    assert page.draft.profile.firing_order == (1,)


def test_a_choice_is_chosen_from_a_list(page, qtbot):
    i = row_of(page, "rotation")
    index = page.editor.table.model().index(i, VALUE_COLUMN)
    delegate = page.editor.table.itemDelegateForColumn(VALUE_COLUMN)
    choice = delegate.createEditor(page.editor.table.viewport(), None, index)
    assert [choice.itemText(k) for k in range(choice.count())] == [
        "",
        "clockwise",
        "counter-clockwise",
    ]
    choice.setCurrentText("counter-clockwise")
    delegate.setModelData(choice, page.editor.table.model(), index)
    assert page.draft.profile.rotation == "counter-clockwise"


def test_a_reading_is_taken_as_a_known_point(page, qtbot, window):
    page.take_reading()
    snapshot = window().snapshot
    page.show_snapshot(replace(snapshot, reading=Reading(1, (307,), 100)), BAR, LIGHT)
    with qtbot.waitSignal(page.said) as said:
        page.take_reading()
    assert "Type the pressure" in said.args[0]
    page.pressure.setText("1.5 bar")
    page.take_reading()
    assert (307.0, 1.5) in page.draft.profile.sensors[0].points


def test_a_mark_is_added_and_taken_out(page, qtbot):
    before = len(page.draft.profile.marks)
    page.editor.add_mark()
    assert len(page.draft.profile.marks) == before + 1
    with qtbot.waitSignal(page.said) as said:
        page.editor.table.setCurrentCell(row_of(page, "bore"), 0)
        page.editor.remove_mark()
    assert "Choose a row of the mark" in said.args[0]
    page.editor.table.setCurrentCell(row_of(page, f"marks {before + 1}: name"), 0)
    page.editor.remove_mark()
    assert len(page.draft.profile.marks) == before


def test_files_are_dropped_and_chosen(window, tmp_path, toy, wait):
    opened = window()
    path = tmp_path / "dropped.toml"
    write_profile(toy.profile(name="Dropped"), path)
    opened.drops.take(path)
    assert opened.view == "setup"
    assert opened.pages["setup"].draft.profile.name == "Dropped"
    opened.drops.take(tmp_path / "none.swr")
    assert "none.swr" in opened.bar.words
    opened.actions_.open_overlay()
    assert opened.dialog.isVisible()
    opened.dialog.reject()
    opened.pages["setup"].editor.choose_profile()
    opened.pages["setup"].editor.dialog.filesSelected.emit([str(path)])
    assert opened.pages["setup"].editor.path.text() == str(path)
    opened.pages["setup"].editor.dialog.reject()


class Bench:
    """A board that turns the toy engine, with no physics behind it."""

    header = {}  # noqa: RUF012

    def __init__(self, chunks):
        self.chunks, self.stopped, self.changed = chunks, threading.Event(), []

    def change(self, bench):
        self.changed.append(bench)

    def now_us(self):
        return 0

    def __iter__(self):
        for k, data in enumerate(self.chunks):
            yield Chunk(k * 10_000, data)
        while not self.stopped.wait(0.01):
            yield Chunk(10**9, b"")

    def stop(self):
        self.stopped.set()

    def close(self):
        pass


@pytest.fixture
def classroom(window, toy, monkeypatch):
    import numpy as np

    opened = window()
    data = list(toy.bytes(np.linspace(-300, 950, 18_000)))
    opened.bench = Bench(data)
    room = Classroom(lambda wanted: opened.bench)
    choose = room.choose

    def choose_toy(name):
        choose(name)
        bench = Bench(data)  # one each: a bench that was stopped with the run before ends at once
        opened.bench = room._source = bench
        return LiveRun(f"bench: {name}", lambda: bench, lambda board: toy.profile(), toy.Tracker)

    room.choose = choose_toy
    opened._rooms = Rooms(opened)
    opened._rooms.classroom = room
    return opened


def test_a_scenario_runs_in_the_same_window(qtbot, classroom, wait):
    qtbot.keyClick(classroom, Qt.Key.Key_F3)
    page = classroom.pages["class"]
    names = [
        page.scenarios.item(i).data(Qt.ItemDataRole.UserRole) for i in range(page.scenarios.count())
    ]
    page.scenarios.setCurrentRow(names.index("burnt-valve"))
    page.run_chosen()
    wait(lambda: classroom.snapshot.verdict is not None and classroom.snapshot.verdict.decided)
    assert classroom.view == "chart"
    assert classroom.live is not None
    assert not classroom.strip.isVisible()


def test_a_fault_is_changed_in_the_table_while_it_runs(classroom, wait):
    classroom.show_page("class")
    page = classroom.pages["class"]
    classroom.rooms.run_scenario("cranked")
    keys = [
        page.faults.item(i, 0).data(Qt.ItemDataRole.UserRole) for i in range(page.faults.rowCount())
    ]
    i = keys.index("ring_leak")
    unit = page.faults.item(i, 2).text()
    page.faults.item(i, 1).setText(f"2 {unit}".strip())
    assert len(classroom.bench.changed) == 1
    assert page.faults.item(i, 0).text().startswith("●")
    page.faults.item(i, 1).setText("much")
    assert len(classroom.bench.changed) == 1
    assert "ring_leak" in classroom.bar.words


def test_the_verdict_hides_until_the_class_has_answered(qtbot, classroom, wait):
    classroom.rooms.run_scenario("cranked")
    wait(lambda: classroom.snapshot.verdict is not None and classroom.snapshot.verdict.decided)
    qtbot.keyClick(classroom, Qt.Key.Key_Q)
    assert classroom.band.sentence.certainty.value == "YOUR ANSWER?"
    assert not classroom.chart_page.chart.chart.decided
    assert not any(row.blocks for row in classroom.chart_page.chart.chart.rows)
    assert [button.text() for button in classroom.question_bar._buttons] == ["1", "2", "3", "4"]
    classroom.question_bar._buttons[2].click()
    assert "Not right: the class said 3. The answer: 1." in classroom.question_bar.words
    assert classroom.chart_page.chart.chart.decided
    assert len(classroom.rooms.classroom.answers) == 1
    classroom.question_bar._buttons[0].click()
    assert classroom.bar.words == ""


def test_answers_and_worksheet_are_kept(classroom, wait, tmp_path):
    classroom.show_page("class")
    classroom.rooms.run_scenario("cranked")
    wait(lambda: classroom.snapshot.verdict is not None and classroom.snapshot.verdict.decided)
    classroom.rooms.ask("fault")
    assert 6 <= len(classroom.answers.buttons) <= 8
    classroom.answers.buttons[0].click()
    classroom.rooms.questioning.go_on()
    page = classroom.pages["class"]
    assert page.answers.count() == 1
    page.answers_wanted.emit()
    table = next((tmp_path / "out").glob("class-answers*.csv")).read_text()
    assert ",yes" in table
    page.findChild(QPushButton, "save_worksheet").click()
    front, back = sorted((tmp_path / "out").glob("worksheet*.pdf"), key=lambda path: len(path.name))
    assert "answers" in back.name
    for path, pages in ((front, 2), (back, 1)):
        content = path.read_bytes()
        assert content.startswith(b"%PDF")
        assert len(re.findall(rb"/Type /Page\b", content)) == pages
        assert b"/Subtype /Image" not in content  # lines, not pixels


def test_traces_are_gathered_for_the_worksheet_by_key(qtbot, classroom, wait, tmp_path):
    classroom.show_page("class")
    page = classroom.pages["class"]
    assert "Empty" in page.worksheet.text()
    for name in ("cranked", "worn-rings"):
        classroom.rooms.run_scenario(name)
        wait(lambda: classroom.snapshot.verdict is not None and classroom.snapshot.verdict.decided)
        qtbot.keyClick(classroom, Qt.Key.Key_W)
    assert "2 traces" in classroom.bar.words
    assert page.worksheet.text().startswith("1. ")
    assert "; 2. " in page.worksheet.text()
    qtbot.keyClick(classroom, Qt.Key.Key_W, Qt.KeyboardModifier.ShiftModifier)
    assert "; 2. " not in page.worksheet.text()
    page.findChild(QPushButton, "keep_trace").click()
    page.findChild(QPushButton, "empty_worksheet").click()
    assert "Empty" in page.worksheet.text()
    page.findChild(QPushButton, "undo_worksheet").click()
    assert "; 2. " in page.worksheet.text()


def test_the_worksheet_is_in_gauge_pressure_by_choice_and_stays_so(qtbot, classroom, window):
    classroom.show_page("class")
    page = classroom.pages["class"]
    assert "Absolute pressure, 0 is a vacuum" in page.worksheet.text()
    classroom.show_view("chart")  # on its own page letters look for scenarios
    qtbot.keyClick(classroom, Qt.Key.Key_U, Qt.KeyboardModifier.ShiftModifier)
    assert "Gauge pressure, 0 is the air outside" in page.worksheet.text()
    assert "gauge pressure" in classroom.bar.words
    assert all(sheet.gauge for sheet in classroom.actions_._sheets(classroom.rooms.classroom))
    other = window(settings=classroom.settings)  # another day
    other.show_page("class")
    assert "Gauge pressure" in other.pages["class"].worksheet.text()
    classroom.show_page("class")
    page.findChild(QPushButton, "toggle_gauge").click()
    assert not classroom.settings.gauge


def test_the_worksheet_is_printed_from_the_window(qtbot, classroom, wait, tmp_path):
    classroom.rooms.run_scenario("cranked")
    wait(lambda: classroom.snapshot.verdict is not None and classroom.snapshot.verdict.decided)
    for action, pages in (("print_worksheet", 2), ("print_answers", 1)):
        classroom.actions_.do(action)
        dialog = classroom.dialog
        assert dialog.isVisible()
        path = tmp_path / f"{action}.pdf"
        dialog.printer().setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        dialog.printer().setOutputFileName(str(path))
        dialog.accepted.emit(dialog.printer())
        dialog.close()
        assert str(path) in classroom.bar.words
        assert len(re.findall(rb"/Type /Page\b", path.read_bytes())) == pages


class Slow:
    """Stands for modules that take long to load: each waits until it is let go."""

    def __init__(self, monkeypatch):
        self.gate, self.names, self.modules = threading.Event(), [], {}
        monkeypatch.setattr("strokewise.gui.window.opening.importlib", self)

    def import_module(self, name):
        assert threading.current_thread() is not threading.main_thread()
        self.gate.wait(60)
        self.names.append(name)
        return self.modules.get(name)


def test_the_class_room_opens_aside_and_the_window_lives_on(window, wait, monkeypatch):
    slow, needed = Slow(monkeypatch), ("no.such.module", "nor.this")
    opened = window()
    opened._rooms = Rooms(opened, needed)
    opened.show_page("class")
    assert isinstance(opened.pages["class"], Opening)
    before = opened.drawn
    opened.redraw()
    assert opened.drawn == before + 1
    opened.actions_.back()  # nobody has to wait for it
    assert opened.view == "chart"
    opened.show_page("class")
    slow.gate.set()
    wait(lambda: isinstance(opened.pages.get("class"), ClassPage))
    assert slow.names == [*needed, ENGINE]
    assert opened.stack.currentWidget() is opened.pages["class"]


def test_an_engine_not_compiled_yet_is_compiled_elsewhere_and_the_window_says_so(
    window, wait, monkeypatch
):
    slow, compiled = Slow(monkeypatch), threading.Event()
    engine = SimpleNamespace(is_kept=lambda: False, compile_aside=lambda: compiled.wait(60))
    slow.modules["the.engine"] = engine
    slow.gate.set()
    opened = window()
    opened._rooms = Rooms(opened, ("no.such.module",), "the.engine")
    opened.show_page("class")
    wait(lambda: opened.bar.words == COMPILES)
    assert isinstance(opened.pages["class"], Opening)
    compiled.set()
    wait(lambda: isinstance(opened.pages.get("class"), ClassPage))
    assert opened.bar.words != COMPILES


def test_a_question_asked_while_it_opens_is_asked_once_it_is_open(window, wait, monkeypatch):
    slow = Slow(monkeypatch)
    opened = window()
    opened._rooms = Rooms(opened, ("no.such.module",))
    opened.rooms.ask("firing")
    assert "Opening" in opened.bar.words
    slow.gate.set()
    wait(lambda: opened.band.sentence.certainty.value == "YOUR ANSWER?")


def test_closing_keeps_answers_that_nobody_has_kept(qtbot, classroom, wait, tmp_path):
    classroom.rooms.run_scenario("cranked")
    wait(lambda: classroom.snapshot.verdict is not None and classroom.snapshot.verdict.decided)
    classroom.rooms.ask("firing")
    classroom.rooms.questioning.answered("1")
    classroom.close()
    [table] = (tmp_path / "out").glob("class-answers*.csv")
    assert ",1,1,yes" in table.read_text()


def test_nothing_decided_nothing_asked(classroom):
    classroom.snapshot.link  # noqa: B018  the replay is decided; start one that is not
    classroom.run._deck.seek(0.2)
    classroom.run.newest.put(classroom.run._deck.snapshot())
    classroom.rooms.ask("firing")
    assert "Nothing to ask yet" in classroom.bar.words


def test_the_setup_page_connects_and_shows_cautions_first(classroom, monkeypatch, toy, wait):
    made = []

    def live_of(port, open_source, make_profile, *, suspect, **more):
        made.append((port, suspect))
        return LiveRun(port, lambda: classroom.bench, make_profile, toy.Tracker)

    monkeypatch.setattr("strokewise.gui.window.page_controllers.live_of", live_of)
    classroom.show_page("setup")
    page = classroom.pages["setup"]
    page.port_entry.setText("/dev/ttyACM0")
    page.job.setText("new job")
    page.connect_port()
    assert made == [("/dev/ttyACM0", False)]
    assert "two full turns by hand" in classroom.panel.words
    # The profile in use says that it may be turned back, and so do the cautions on connecting.
    assert "Turn back only past the play" in classroom.panel.words
    assert "Nobody said" not in classroom.panel.words
    classroom.panel.dismiss()
    wait(lambda: classroom.snapshot.link.samples > 0)
    assert classroom.settings.port == "/dev/ttyACM0"


def test_a_profile_used_begins_the_answer_anew(classroom, wait, tmp_path, toy):
    classroom.rooms.run_scenario("cranked")
    wait(lambda: classroom.snapshot.link.samples == 18_000)
    path = tmp_path / "e.toml"
    write_profile(toy.profile(), path)
    classroom.rooms._use_profile(toy.profile(name="Other"), str(path))
    wait(lambda: classroom.snapshot.profile.name == "Other")
    assert classroom.settings.recent_profiles == (str(path),)


def test_a_drawing_stands_by_where_a_word_is_not_enough(page):
    editor = page.editor
    assert editor.drawing.isHidden()
    editor.table.go_to(("pin_offset",))
    assert not editor.drawing.isHidden()
    assert editor.drawing.accessibleName() == "Drawing: Pin offset, to the thrust side"
    editor.table.go_to(("bore",))
    assert editor.drawing.isHidden()


def test_what_is_assumed_stands_grey_in_the_field(page):
    table = page.editor.table
    i = row_of(page, "cycle")
    assert table.item(i, VALUE_COLUMN).text() == ""  # nothing was said
    option = QStyleOptionViewItem()
    delegate = table.itemDelegateForColumn(VALUE_COLUMN)
    delegate.initStyleOption(option, table.model().index(i, VALUE_COLUMN))
    assert option.text == "four-stroke"
    assert option.palette.color(QPalette.ColorRole.Text) == table.faint
    said = QStyleOptionViewItem()
    delegate.initStyleOption(said, table.model().index(row_of(page, "cylinders"), VALUE_COLUMN))
    assert said.palette.color(QPalette.ColorRole.Text) != table.faint


def test_known_points_have_rows_of_their_own(page):
    table = page.editor.table
    known = len(page.draft.profile.sensors[0].points)
    table.item(row_of(page, f"sensor.points {known + 1}"), VALUE_COLUMN).setText("60000 = 90 bar")
    assert page.draft.profile.sensors[0].points[known] == (60000.0, 90.0)
    i = row_of(page, f"sensor.points {known + 2}")
    assert table.item(i, 0).text() == f"Sensor: known point {known + 2}, reading = pressure"


def test_a_recording_is_opened_from_the_page_and_remembered(window):
    opened = window()
    opened.show_page("setup")
    opened.pages["setup"].recording_wanted.emit()
    opened.dialog.dropped.take([str(CRANKED)])
    assert opened.run.name == CRANKED.name
    assert opened.view == "chart"
    assert opened.settings.recent_recordings == (str(CRANKED),)
    opened.actions_.open_recording()
    assert str(CRANKED.parent) in [each.toLocalFile() for each in opened.dialog.sidebarUrls()]
    opened.dialog.reject()


@pytest.mark.parametrize("size", [(1280, 800), (1366, 768), (1920, 1080)])
def test_each_scenario_is_described_in_a_line_that_is_not_cut(window, size):
    opened = window(size=size)
    opened.rooms.classroom  # noqa: B018 - loaded here, its page comes at once
    opened.show_page("class")
    opened.redraw()
    QApplication.processEvents()  # its type goes with the window's height
    list_ = opened.pages["class"].finder.list
    room = list_.viewport().width() - ENTRY_EDGES_PX
    said = [list_.item(i).text() for i in range(list_.count())]
    assert len(said) > 50
    assert not [words for words in said if list_.fontMetrics().horizontalAdvance(words) > room]
    assert len({list_.visualItemRect(list_.item(i)).height() for i in range(len(said))}) == 1


def test_letters_find_the_entry_whose_word_begins_so_first(window, qtbot):
    opened = window()
    opened.rooms.classroom  # noqa: B018 - loaded here, its page comes at once
    opened.show_page("class")
    finder = opened.pages["class"].finder
    for sign in "ring":
        qtbot.keyClick(opened.focusWidget(), sign)
    shown = [finder.list.item(i) for i in range(finder.list.count())]
    assert any("firing" in item.text() for item in shown if not item.isHidden())  # seen, below
    assert finder.current == "worn-rings"
    assert opened.view == "class"
