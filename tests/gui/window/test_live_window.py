import threading

import numpy as np
import pytest
from PySide6.QtCore import Qt

from strokewise.analysis.errors import PortError
from strokewise.analysis.profile import Mark
from strokewise.daq.recording.container import Chunk
from strokewise.daq.recording.read import read_recording
from strokewise.gui.models.run.live import LiveRun
from strokewise.gui.models.sentence import Certainty
from strokewise.gui.models.setup.settings import Settings
from strokewise.gui.models.turn.tone import SILENCE, tone_for
from strokewise.gui.window.sound import Speaker


class Port:
    header = {}  # noqa: RUF012

    def __init__(self, chunks, breaks=False):
        self.chunks, self.breaks, self.stopped = chunks, breaks, threading.Event()

    def now_us(self):
        return 0

    def __iter__(self):
        for k, data in enumerate(self.chunks):
            yield Chunk(k * 10_000, data)
        if self.breaks:
            raise PortError("/dev/toy went away")
        while not self.stopped.wait(0.01):
            yield Chunk(10**9, b"")

    def stop(self):
        self.stopped.set()

    def close(self):
        pass


@pytest.fixture
def live(toy, monkeypatch):
    monkeypatch.setattr("strokewise.gui.models.run.live.RETRY_S", 0.05)
    # The toy port has said all that it has to say; that is no silence here.
    monkeypatch.setattr("strokewise.gui.models.run.silence.SHOWN_SILENT_S", 1e9)

    def make(*ports, **profile):
        left = list(ports)

        def open_source():
            if not left:
                raise PortError("no port /dev/toy")
            return left.pop(0)

        return LiveRun("/dev/toy", open_source, lambda board: toy.profile(**profile), toy.Tracker)

    return make


@pytest.fixture
def chunks(toy):
    return toy.bytes(np.linspace(-300, 950, 18_000))


def test_cautions_come_before_the_first_live_run_of_a_job(qtbot, window, live, chunks, wait, kept):
    opened = window(run=live(Port(chunks)))
    opened.begin_live("Bench four", "/dev/toy")
    assert "two full turns by hand" in opened.panel.words
    assert opened.snapshot.link.state == "opening"
    qtbot.keyClick(opened.panel, Qt.Key.Key_Return)
    wait(lambda: opened.snapshot.verdict is not None and opened.snapshot.verdict.decided)
    assert "Bench four" in kept[-1].cautions_read
    assert "Cylinder 1 is on its firing stroke" in opened.band.sentence.text


def test_the_second_run_of_a_job_begins_at_once(window, live, chunks, wait):
    opened = window(run=live(Port(chunks)), settings=Settings(cautions_read=("Bench four",)))
    opened.begin_live("Bench four", "/dev/toy")
    assert opened.panel.isHidden()
    wait(lambda: opened.snapshot.link.samples == 18_000)


def test_a_port_pulled_is_said_and_the_window_goes_on(window, live, chunks, wait):
    opened = window(run=live(Port(chunks, breaks=True), Port(chunks)))
    seen = []
    opened.row.show_words = lambda words, *rest: seen.append(words)
    opened.begin()
    wait(lambda: opened.snapshot.link.samples == 36_000)
    assert any("went away" in words for words in seen)
    assert "went away" not in seen[-1]


class Heard(Speaker):
    """Sounds for nobody, and remembers what it was told to play."""

    def __init__(self):
        super().__init__()
        self.played = []

    @property
    def on(self):
        return True

    def play(self, tone):
        self.played.append(tone)


def test_a_board_that_falls_silent_leaves_the_window(window, live, chunks, wait, monkeypatch):
    speaker = Heard()
    opened = window(run=live(Port(chunks)), speaker=speaker)
    opened.begin()
    wait(lambda: opened.band.sentence.certainty is Certainty.SURE)
    assert opened.band.sentence.sign == "SURE, TDC ± 0.1°"
    assert not opened.chart_page.chart._shown.greyed
    monkeypatch.setattr("strokewise.gui.models.run.silence.SHOWN_SILENT_S", 0.4)
    wait(lambda: opened.band.sentence.certainty is Certainty.WAITING)
    assert opened.band.sentence.first.startswith("Board silent for")
    assert opened.chart_page.chart._shown.greyed
    assert opened.chart_page.guide._shown.guidance is None
    assert "not known" in opened.chart_page.guide.words
    assert speaker.played[-1] is SILENCE


def test_closing_while_recording_asks_and_loses_nothing(
    qtbot, window, live, chunks, wait, tmp_path
):
    opened = window(run=live(Port(chunks)))
    opened.begin()
    wait(lambda: opened.snapshot.link.state == "running")
    qtbot.keyClick(opened, Qt.Key.Key_R)
    wait(lambda: opened.snapshot.link.recording)
    assert "RECORDING" in opened.row.words
    path = opened.snapshot.link.recording
    wait(lambda: opened.snapshot.link.samples == 18_000)
    opened.close()
    assert opened.isVisible()
    assert "Still recording" in opened.bar.words
    assert opened.snapshot.link.state == "running"
    opened.bar._buttons[0].click()
    assert opened.isVisible()
    opened.close()
    opened.bar._buttons[1].click()
    assert not opened.isVisible()
    assert read_recording(path).header["started"]


def test_the_mark_key_puts_a_press_into_the_recording(qtbot, window, live, chunks, wait, tmp_path):
    opened = window(run=live(Port(chunks)))
    opened.run.record(tmp_path / "r.swr")
    opened.begin()
    wait(lambda: opened.snapshot.link.samples == 18_000)
    qtbot.keyClick(opened, Qt.Key.Key_M)
    wait(lambda: "put down" in opened.bar.words)
    opened.run.stop_recording()
    wait(lambda: not opened.snapshot.link.recording)
    recording = read_recording(tmp_path / "r.swr")
    assert [p.name for s in recording.segments for p in s.presses] == ["mark"]


def test_sound_is_off_until_its_key_and_says_why_it_is_silent(qtbot, window):
    opened = window(speaker=Speaker(backends=[]))
    assert not opened.speaker.on
    opened.speaker.why_silent = ""
    opened.speaker.switch_on = lambda: setattr(opened.speaker, "why_silent", "no sound: x") or False
    qtbot.keyClick(opened, Qt.Key.Key_S)
    assert opened.bar.words == "no sound: x"


def test_sound_plays_the_tone_of_the_guide(qtbot, window):
    import miniaudio

    opened = window(speaker=Speaker(backends=[miniaudio.Backend.NULL]))
    qtbot.keyClick(opened, Qt.Key.Key_S)
    assert opened.speaker.on
    assert opened.snapshot.guidance.remaining_deg == pytest.approx(40, abs=0.5)
    assert opened.speaker._stream.tone == tone_for(opened.snapshot.guidance)
    assert opened.speaker._stream.tone.pitch_hz > 0
    opened.actions_.toggle_sound()
    assert not opened.speaker.on


def test_a_wrong_sound_device_is_said_not_raised():
    import miniaudio

    speaker = Speaker(backends=[miniaudio.Backend.WASAPI])  # not on this platform
    assert not speaker.switch_on()
    assert "no sound device" in speaker.why_silent


def test_an_uninstalled_sound_package_is_said(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "miniaudio", None)
    speaker = Speaker()
    assert not speaker.switch_on()
    assert "not installed" in speaker.why_silent


def test_which_mark_the_key_is_for_is_chosen_and_said(qtbot, window, live, chunks, wait, tmp_path):
    marks = (Mark("pulley notch"), Mark("pickup", 1), Mark("flywheel line"), Mark("cam dot"))
    opened = window(run=live(Port(chunks), marks=marks))
    opened.run.record(tmp_path / "r.swr")
    opened.begin()
    wait(lambda: opened.snapshot.link.samples == 18_000)
    opened.redraw()
    assert ("M", "“pulley notch”") in opened.row._keys
    shift = Qt.KeyboardModifier.ShiftModifier
    qtbot.keyClick(opened, Qt.Key.Key_M, shift)
    assert "M is now for “flywheel line”" in opened.bar.words
    assert "“cam dot”" in opened.bar.words
    assert ("M", "“flywheel line”") in opened.row._keys
    qtbot.keyClick(opened, Qt.Key.Key_M)
    qtbot.keyClick(opened, Qt.Key.Key_M)
    assert opened.bar.words.startswith("Mark “flywheel line” put down")
    qtbot.keyClick(opened, Qt.Key.Key_M, shift)
    qtbot.keyClick(opened, Qt.Key.Key_M)
    qtbot.keyClick(opened, Qt.Key.Key_M, shift)
    assert opened.mark == "pulley notch"  # round again, and the pickup's is none of them
    opened.run.stop_recording()
    wait(lambda: not opened.run.snapshot.link.recording)
    pressed = [p.name for s in read_recording(tmp_path / "r.swr").segments for p in s.presses]
    assert pressed == ["flywheel line", "flywheel line", "cam dot"]


def test_with_one_mark_there_is_nothing_to_choose(qtbot, window, live, chunks):
    opened = window(run=live(Port(chunks), marks=(Mark("notch"),)))
    qtbot.keyClick(opened, Qt.Key.Key_M, Qt.KeyboardModifier.ShiftModifier)
    assert "“notch” is the only one" in opened.bar.words
    nameless = window(run=live(Port(chunks)))
    qtbot.keyClick(nameless, Qt.Key.Key_M, Qt.KeyboardModifier.ShiftModifier)
    assert "the profile names none" in nameless.bar.words
    assert nameless.mark == "mark"
