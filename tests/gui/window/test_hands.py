"""Every action can be reached by key, by mouse or finger, and by who has it read out."""

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QListWidget

from strokewise.gui.models.keys import GROUPS, KEYS, VIEWS, foot_keys, keys_for
from strokewise.gui.models.turn.target import Target
from strokewise.gui.window import passing_note
from strokewise.gui.window.action_list import in_columns
from strokewise.gui.window.key_button import TARGET_PX

TITLE_BAR = 68
"""Of a screen of 768 lines, title bar and task bar take so many (common practice, no source)."""


def click(qtbot, widget, at=None):
    qtbot.mouseClick(widget, Qt.MouseButton.LeftButton, pos=at or widget.rect().center())


def large_enough(widget):
    return widget.width() >= TARGET_PX and widget.height() >= TARGET_PX


def listed(opened, qtbot):
    """The buttons of the list of all actions, opened by its own button."""
    click(qtbot, opened.row.buttons["show_keys"])
    return opened.panel.held.buttons


@pytest.fixture
def done(window, monkeypatch):
    """A window whose actions are put down instead of done, but for those that show a list."""
    opened, seen = window(), []
    monkeypatch.setattr(
        type(opened.actions_),
        "do",
        lambda self, name: self.show_keys() if name == "show_keys" else seen.append(name),
    )
    return opened, seen


def test_every_action_has_key_click_target_and_name(done, qtbot):
    opened, seen = done
    here = keys_for({"replay", "class"})
    for key in here:
        buttons = listed(opened, qtbot)
        assert key.keys
        button = buttons[key.action]
        assert button.accessibleName() == key.name != ""
        assert key.keys[0] in button.accessibleDescription()
        qtbot.wait(1)
        assert large_enough(button), key
        click(qtbot, button)
        if key.action != "show_keys":
            assert seen[-1] == key.action
    assert set(seen) == {key.action for key in here} - {"show_keys"}


def test_every_action_is_under_a_heading():
    assert {key.group for key in KEYS} == set(GROUPS)
    assert len({key.action for key in KEYS}) == len(KEYS)


def test_headings_are_shared_out_among_columns():
    groups = {"a": KEYS[:8], "b": KEYS[:7], "c": KEYS[:3], "d": KEYS[:2]}
    columns = in_columns(groups, 3)
    assert columns == [["a"], ["b"], ["c", "d"]]


@pytest.mark.parametrize("size", [(1366, 768), (1366, 768 - TITLE_BAR), (1280, 800), (900, 560)])
def test_the_most_needed_stand_at_the_foot_whole(window, qtbot, size):
    opened = window(size=size)
    seen = [action for action, button in opened.row.buttons.items() if button.isVisible()]
    for action in ("next_target", "show_cautions", "toggle_sound", "toggle_play", "show_keys"):
        assert action in seen
    for action in seen:
        button = opened.row.buttons[action]
        assert large_enough(button)
        assert opened.rect().contains(button.mapTo(opened, button.rect().bottomRight()))
        assert button.width() >= button.sizeHint().width()
    if size[0] >= 1280:
        assert len(seen) == len(foot_keys({"replay"}))


@pytest.mark.parametrize("size", [(1366, 768 - TITLE_BAR), (1920, 1080), (900, 560)])
def test_the_views_are_listed_beside_the_picture(window, qtbot, size):
    opened = window(size=size)
    for name, _ in VIEWS:
        button = opened.rail.buttons[f"view_{name}"]
        assert large_enough(button)
        assert opened.rail.rect().contains(button.geometry())
        click(qtbot, button)
        assert opened.view == name
        assert [action for action, each in opened.rail.buttons.items() if each.isChecked()] == [
            f"view_{name}"
        ]
        assert opened.focusWidget() is opened  # letters stay keys


def test_play_speed_and_target_react_to_a_click(window, qtbot, wait):
    opened = window(until_s=4.0)
    opened.begin()
    wait(lambda: opened.snapshot.replay.loaded == 1)
    at = opened.snapshot.replay.position_s
    strip = opened.strip
    click(qtbot, strip.faster)
    wait(lambda: opened.snapshot.replay.speed == 2)
    click(qtbot, strip.slower)
    wait(lambda: opened.snapshot.replay.speed == 1)
    assert opened.snapshot.replay.position_s == pytest.approx(at, abs=0.01)
    click(qtbot, strip.play)
    wait(lambda: opened.replay.playing)
    wait(lambda: strip.play.accessibleName() == "Pause")
    click(qtbot, strip.play)
    wait(lambda: not opened.replay.playing)
    for spot in (strip.play, strip.slower, strip.faster, opened.chart_page.guide.target):
        assert large_enough(spot)
        assert spot.accessibleName()
    click(qtbot, opened.chart_page.guide.target)
    choices = opened.panel.held.buttons
    click(qtbot, next(each for each in choices if each.text() == "firing TDC of 4"))
    assert opened.chosen == Target("firing", 4)


def test_a_click_beside_the_track_goes_nowhere(window, qtbot):
    opened = window(until_s=4.0)
    went = []
    opened.strip.wanted.connect(went.append)
    for x in (3, opened.strip.width() - 3):
        click(qtbot, opened.strip, QPoint(x, 2))
    assert went == []


@pytest.mark.parametrize("asks", ["ask_advance", "list_targets", "show_cautions"])
def test_after_esc_letters_are_keys_again(window, qtbot, asks):
    opened = window()
    getattr(opened.actions_, asks)()
    focus = opened.focusWidget()
    qtbot.keyClick(focus, Qt.Key.Key_Escape)
    assert opened.bar.words == ""
    assert opened.panel.isHidden()
    theme = opened.settings.theme
    qtbot.keyClick(opened.focusWidget(), Qt.Key.Key_L)
    assert opened.settings.theme != theme


def test_letters_in_a_list_find_entries(window, qtbot):
    opened = window()
    entries = QListWidget(opened.chart_page)
    entries.addItems(["cranked", "hand turned", "two stroke"])
    entries.show()
    entries.setFocus()
    theme = opened.settings.theme
    qtbot.keyClick(entries, Qt.Key.Key_T)
    assert entries.currentItem().text() == "two stroke"
    qtbot.keyClick(entries, Qt.Key.Key_L)
    assert opened.settings.theme == theme
    qtbot.keyClick(entries, Qt.Key.Key_3)
    assert opened.view == "chart"


def test_space_presses_the_button_that_has_the_keyboard(window, qtbot):
    opened = window()
    button = opened.row.buttons["next_target"]
    button.setFocus()
    chosen = opened.chosen
    qtbot.keyClick(button, Qt.Key.Key_Space)
    assert opened.chosen != chosen
    assert not opened.replay.playing


def test_what_is_said_in_passing_moves_nothing_and_leaves(window, qtbot, wait, monkeypatch):
    monkeypatch.setattr(passing_note, "LEAST_MS", 50)
    monkeypatch.setattr(passing_note, "MS_A_LETTER", 0)
    opened = window()
    place = opened.stack.geometry()
    opened.say("Saved as /tmp/x.png")
    assert opened.note.isVisible()
    assert opened.note.accessibleDescription() == "Saved as /tmp/x.png"
    qtbot.wait(1)
    assert opened.stack.geometry() == place
    assert opened.note.geometry().bottom() < opened.row.geometry().top()
    wait(lambda: opened.bar.words == "")
    opened.say("Reading …", stays=True)
    qtbot.wait(120)
    assert opened.bar.words == "Reading …"
    click(qtbot, opened.note)
    assert opened.bar.words == ""


@pytest.mark.parametrize("size", [(1366, 768), (1280, 800), (1920, 1080)])
def test_what_is_said_on_the_job_s_page_covers_no_field(window, qtbot, size, tmp_path):
    opened = window(size=size)
    opened.show_page("job")
    opened.rooms.desk.make("a club", str(tmp_path / "bench-four"))
    opened.say("Job “Bench four” is open")
    qtbot.wait(1)
    page = opened.rooms.desk.page
    day = page.day.mapTo(opened, page.day.rect().topLeft())
    assert opened.note.isVisible()
    assert opened.note.geometry().bottom() < day.y()


def test_what_is_said_on_a_step_s_page_covers_no_word_of_the_answer(window, qtbot):
    opened = window(size=(1280, 800))
    page = opened.rooms.show_step("static")
    opened.say("Saved as /tmp/x.png")
    qtbot.wait(1)
    end = page.answer.mapTo(opened, page.answer.rect().bottomLeft())
    assert opened.strip.isVisible()
    assert opened.note.y() > end.y()
    assert opened.note.geometry().bottom() < opened.row.y()


def test_the_list_of_actions_hides_no_more_than_it_needs(window, qtbot):
    opened = window(size=(1920, 1080))
    opened.actions_.show_keys()
    qtbot.wait(1)
    held = opened.panel._held
    assert held.verticalScrollBar().maximum() == 0
    assert opened.panel.y() > opened.band.geometry().bottom() * 0.8
    assert held.height() < held.widget().sizeHint().height() + TARGET_PX


@pytest.mark.parametrize("page", ["chart", "setup", "class", "steps", "job"])
def test_whatever_takes_the_keyboard_has_a_name(window, qtbot, named_and_large, page):
    opened = window()
    opened.rooms.classroom  # noqa: B018 - loaded now, its page comes at once
    opened.show_page(page) if page != "chart" else opened.show_view(page)
    qtbot.wait(1)
    named_and_large(opened)
