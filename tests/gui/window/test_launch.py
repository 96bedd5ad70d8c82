"""The commands open the window, and end as commands do."""

import time

import numpy as np
import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication

from strokewise.daq.profile.write import profile_to_table
from strokewise.daq.recording.container import Chunk
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.gui.cli import main
from strokewise.gui.window import launch
from strokewise.gui.window.workbench import Workbench


@pytest.fixture
def recording(toy, tmp_path):
    path = tmp_path / "toy.swr"
    with RecordingWriter(path, {"engine": profile_to_table(toy.profile())}) as writer:
        for k, data in enumerate(toy.bytes(np.linspace(-300, 600, 4000))):
            writer.append(Chunk(k * 10_000, data))
    return path


@pytest.fixture
def look(qapp, monkeypatch, tmp_path):
    """Looks at the window until something is true of it, then closes it."""
    monkeypatch.setattr(launch, "load_settings", lambda: launch.Settings())
    monkeypatch.setattr(launch, "save_settings", lambda settings: "")
    seen = []
    timer = QTimer()

    def until(condition):
        def tick():
            for window in QApplication.topLevelWidgets():
                if isinstance(window, Workbench) and window.isVisible() and condition(window):
                    seen.append(window.run.name)
                    window.close()

        timer.timeout.connect(tick)
        timer.start(20)
        return seen

    yield until
    timer.stop()


def test_replay_opens_the_window_where_it_was_told_to(recording, look):
    seen = look(lambda w: w.snapshot.replay is not None and w.snapshot.replay.position_s >= 1.0)
    assert main(["replay", str(recording), "--at", "1.0", "--speed", "0.05", "--dark"]) == 0
    assert seen == ["toy.swr"]


def test_a_large_recording_is_read_with_the_window_open(recording, look, monkeypatch):
    monkeypatch.setattr(launch, "LARGE_BYTES", 1)
    said, replay = [], launch._replay

    def slowly(args, going):
        for share in (0.2, 0.5, 0.8):
            going(share)
            time.sleep(0.3)
        return replay(args, going)

    monkeypatch.setattr(launch, "_replay", slowly)

    def watch(window):
        said.append(window.work.words)
        return window.snapshot.link.samples > 100

    look(watch)
    assert main(["replay", str(recording)]) == 0
    assert any(words.startswith("Reading toy.swr, 0 MB: 50%") for words in said)
    assert said[-1] == ""


@pytest.mark.parametrize("by", ["mouse", "key"])
def test_the_reading_of_a_large_recording_is_stopped(recording, look, monkeypatch, qtbot, by):
    monkeypatch.setattr(launch, "LARGE_BYTES", 1)
    told = []

    def without_end(args, going):
        while True:
            going(0.4)
            time.sleep(0.01)

    monkeypatch.setattr(launch, "_replay", without_end)

    def watch(window):
        if window.work.isVisible() and not told:
            told.append(window.work.button.accessibleName())
            if by == "mouse":
                qtbot.mouseClick(window.work.button, Qt.MouseButton.LeftButton)
            else:
                window.work.button.setFocus(Qt.FocusReason.TabFocusReason)
                qtbot.keyClick(window.work.button, Qt.Key.Key_Space)
        return window.view == "setup"

    seen = look(watch)
    assert main(["replay", str(recording)]) == 0
    assert seen
    assert told[0].startswith("Stop: Reading toy.swr")


def test_a_large_file_that_is_no_recording_ends_with_one_line(tmp_path, look, monkeypatch, capsys):
    monkeypatch.setattr(launch, "LARGE_BYTES", 1)
    path = tmp_path / "picture.swr"
    path.write_bytes(b"\x89PNG\r\n" + bytes(range(256)) * 50)
    look(lambda window: False)
    assert main(["replay", str(path)]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_live_without_a_port_opens_the_set_up_page(look):
    seen = look(lambda w: w.view == "setup")
    assert main(["live"]) == 0
    assert seen


def test_live_with_a_port_shows_the_cautions_first(look):
    seen = look(lambda w: not w.panel.isHidden() and "by hand" in w.panel.words)
    assert main(["live", "/dev/no-such-port"]) == 0
    assert seen == ["/dev/no-such-port"]


def test_a_wrong_profile_is_said_before_a_window_opens(recording, tmp_path, capsys):
    path = tmp_path / "bad.toml"
    path.write_text("cylinders = 4\nfiring_order = [1, 3, 4, 4]\n")
    for command in (["live", "/dev/x"], ["replay", str(recording)]):
        assert main([*command, "--engine", str(path)]) == 2
        assert "firing_order" in capsys.readouterr().err
