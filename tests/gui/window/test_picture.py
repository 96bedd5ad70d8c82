import numpy as np
import pytest
from PySide6.QtGui import QImage

from strokewise.daq.profile.write import profile_to_table
from strokewise.daq.recording.container import Chunk
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.gui.cli import main


@pytest.fixture
def recording(toy, tmp_path):
    path = tmp_path / "toy.swr"
    with RecordingWriter(path, {"engine": profile_to_table(toy.profile())}) as writer:
        for k, data in enumerate(toy.bytes(np.linspace(-300, 1200, 8000))):
            writer.append(Chunk(k * 10_000, data))
    return path


@pytest.mark.usefixtures("qapp")
def test_a_moment_is_drawn_without_a_screen(recording, tmp_path):
    out = tmp_path / "a.png"
    code = main(
        [
            "replay",
            str(recording),
            "--at",
            "3.6",
            "--picture",
            str(out),
            "--view",
            "angle",
            "--size",
            "1366x768",
        ]
    )
    assert code in (0, 3)
    image = QImage(str(out))
    assert image.size().toTuple() == (1366, 768)
    colours = {image.pixel(x, y) for x in range(0, 1366, 7) for y in range(0, 768, 7)}
    assert len(colours) > 5


@pytest.mark.usefixtures("qapp")
def test_a_step_is_drawn_with_its_answer(recording, tmp_path, monkeypatch):
    from strokewise.gui.window import picture
    from strokewise.gui.window.steps.steps_page import StepsPage

    seen = []
    wait = picture._wait_for_answer

    def waited(window, app):
        wait(window, app)
        page = window.pages["steps"]
        assert isinstance(page, StepsPage)
        seen.append((page.book.chosen, page.answered, page.view.headline))

    monkeypatch.setattr(picture, "_wait_for_answer", waited)
    out = tmp_path / "steps.png"
    wanted = ("--view", "steps", "--step", "valves", "--size", "1366x768")
    assert main(["replay", str(recording), "--picture", str(out), *wanted]) in (0, 3)
    ((chosen, answered, headline),) = seen
    assert (chosen, answered) == ("valves", True)
    assert headline
    assert QImage(str(out)).size().toTuple() == (1366, 768)


@pytest.mark.usefixtures("qapp")
def test_what_cannot_be_drawn_is_one_line(recording, tmp_path, capsys):
    assert main(["replay", str(tmp_path / "none.swr"), "--picture", "x.png"]) == 2
    assert "no such file" in capsys.readouterr().err
    out = tmp_path / "no" / "folder.png"
    assert main(["replay", str(recording), "--at", "0.1", "--picture", str(out)]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    with pytest.raises(SystemExit):
        main(["replay", str(recording), "--size", "10x10", "--picture", "x.png"])
    assert "--size" in capsys.readouterr().err


def test_no_screen_is_said_before_qt_aborts(recording, monkeypatch, capsys):
    from strokewise.gui.window import launch

    monkeypatch.delenv("QT_QPA_PLATFORM", raising=False)
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    monkeypatch.setattr(launch.sys, "platform", "linux")
    assert launch.no_screen()


def test_a_recording_is_not_a_port(recording, capsys):
    assert main(["live", str(recording)]) == 2
    assert "strokewise replay" in capsys.readouterr().err
