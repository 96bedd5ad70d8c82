"""Whole jobs in a real window on a virtual screen, by key and mouse alone."""

import csv
import re
import time

import numpy as np
import pytest

from strokewise.analysis.samples import Board
from strokewise.daq.recording.container import Chunk
from strokewise.daq.recording.read import read_recording
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Hello, SampleBlock
from strokewise.gui import SaidOfEngine, ask, found_in

SURE = "· SURE, TDC ±"  # not a part of "NOT SURE YET" or "STROKE SURE"
READ, ALL = "Read (Enter)", "All actions and their keys"
RECORD = "Record, or stop recording"


def test_a_first_start_to_a_verdict_by_the_mouse_alone(open_window, bench):
    board = bench("cranked")
    hands = open_window("live")
    hands.until_title("no port yet")
    hands.click(f"*{board.port}*")
    hands.choose("Cylinders", "4 cylinders")
    hands.choose("Firing order", "1-3-4-2")
    hands.click("Connect")
    hands.until_title("socket://")
    hands.click(READ)
    hands.until_title(SURE, "running")
    hands.close()


def test_a_first_start_to_a_verdict_by_the_keys_alone(open_window, bench):
    port = bench("cranked").port
    hands = open_window("live")
    hands.until_title("no port yet")
    hands.key("Tab")  # from the list into the field beside it
    hands.type(port)
    hands.key("Tab", "Tab", "4", "Tab")  # over the baud to the cylinders, and on
    hands.type("1-3-4-2")
    hands.key("Tab", "Tab", "Tab", "Tab", "space")  # sensor, job, suspicion, connect
    hands.until_title("socket://")
    hands.key("Return")
    hands.until_title(SURE, "running")
    hands.close()


def test_a_live_run_to_a_verdict_by_the_mouse_alone(open_window, bench):
    hands = open_window("live", bench("cranked").port, "--job", "mouse")
    hands.until_title("WAITING")
    hands.click(READ)
    hands.until_title(SURE, "running")
    hands.click(RECORD)
    hands.until_title("recording")
    hands.click(RECORD)
    hands.wait(lambda: "recording" not in hands.title(), "the end of the recording")
    hands.click("Pressure over crank angle")
    hands.click(ALL)
    hands.click("Save as a picture (PNG)")
    assert hands.saved("*-angle-1.png").stat().st_size > 10_000
    assert read_recording(hands.saved("recording-*.swr")).health.samples > 0
    hands.close()


def test_a_live_run_to_a_decided_verdict_and_a_recording(open_window, bench):
    hands = open_window("live", bench("cranked").port, "--job", "journey")
    hands.until_title("WAITING")  # the cautions are read first
    hands.key("Return")
    hands.until_title(SURE, "running")
    hands.key("r")
    hands.until_title("recording")
    time.sleep(2.0)
    hands.key("r")
    hands.wait(lambda: "recording" not in hands.title(), "the end of the recording")
    hands.key("t", "2", "p", "Escape")
    assert hands.saved("*.png").stat().st_size > 10_000
    recording = read_recording(hands.saved("recording-*.swr"))
    assert recording.health.samples > 500
    assert recording.health.bad_frames == 0
    hands.close()


def test_a_port_pulled_and_put_back(open_window, bench):
    board = bench("hand-turned")
    hands = open_window("live", board.port, "--job", "pulled")
    hands.until_title("WAITING")
    hands.key("Return")
    hands.until_title("running")
    board.kill()
    board.wait()
    hands.until_title("lost")
    hands.key("2", "1")  # the window goes on meanwhile
    bench("hand-turned", board.port.rpartition(":")[2])
    hands.until_title("running")
    hands.close()


def test_replay_scrub_and_export(open_window, recording):
    hands = open_window("replay", recording)
    hands.until_title(SURE, "ended")
    hands.key("space")  # at the end it begins anew
    hands.until_title("running")
    hands.key("space")
    hands.until_title("paused")
    hands.drag("Recording", (0.3, 0.5), (0.8, 0.5))
    hands.until_title(SURE, "paused")
    hands.key("x")
    chart = list(csv.reader(hands.saved("*-chart-1.csv").read_text().splitlines()))
    assert len(chart) == 1 + 4 * 4
    hands.key("n", "shift+Right", "Left", "4", "g", "x")
    assert b"<svg" in hands.saved("*-loglog-1.svg").read_bytes()
    assert hands.saved("*-loglog-1.csv").read_text().startswith("curve,")
    hands.key("F1", "Escape", "l", "u", "F2", "Escape", "F11", "F11")
    hands.until_title("paused")
    hands.close()


def test_a_lesson_by_key_from_a_recording_to_the_worksheet(open_window, recording):
    hands = open_window("replay", recording)
    hands.until_title("running")
    hands.key("w")  # the class-room opens for it aside
    hands.key("F3")

    def run_the_first():
        hands.key("Return")
        return "bench: cranked" in hands.title()

    hands.wait(run_the_first, "the first scenario to run")
    hands.until_title(SURE, "running")
    hands.key("q")
    hands.until_title("YOUR ANSWER?")
    hands.key("Return")  # says the first answer, right or wrong
    hands.until_title("HELD")
    hands.key("Return")  # goes on
    hands.until_title(SURE)
    hands.key("w", "F3")
    hands.click("Worksheet, answers: PDF")
    page = hands.saved("worksheet-2*.pdf").read_bytes()
    assert len(re.findall(rb"/Type /Page\b", page)) == 2 * 2
    answers = hands.saved("worksheet-answers-*.pdf").read_bytes()
    assert len(re.findall(rb"/Type /Page\b", answers)) == 2
    hands.close()


def newest_answer(hands):
    """Save the step that is shown as a table, and return its rows."""
    hands.key("x")
    saved = sorted(hands.folder.glob("*-steps-*.csv"), key=lambda file: file.stat().st_mtime_ns)
    return list(csv.reader(saved[-1].read_text().splitlines())) if saved else []


def test_the_steps_after_tdc_are_asked_by_key_and_mouse(open_window, recording):
    hands = open_window("replay", recording)
    hands.until_title(SURE, "ended")
    hands.key("F4", "F4", "F4")

    def valves():
        return any("SET NOW" in row[2] for row in newest_answer(hands))

    hands.wait(valves, "the valves that can be set")
    hands.click("Static timing")
    hands.click("Advance")
    hands.type("6 deg BTDC")
    hands.key("Return")
    hands.click("Static timing")  # out of the field: letters are keys again

    def timing():
        answer = newest_answer(hands)
        return answer if any("6° before" in text for _, _, text in answer) else None

    _, headline, *rest = hands.wait(timing, "where to stop for the ignition")
    # The very answer of the command line, for the place where the replay stands.
    command = ask("static", found_in(recording, SaidOfEngine()), {"advance_btdc_deg": "6 deg BTDC"})
    assert command.decided
    assert headline[:2] == ["headline", "SURE"]
    shown, said = (first_number(words) for words in (headline[2], command.page.headline))
    assert shown == pytest.approx(said, abs=0.3)
    assert any(part.startswith("Before the next step") for part, _, _ in rest)  # the cautions
    hands.key("shift+F4")  # and back to what was asked before it
    hands.wait(lambda: "drive gear" in newest_answer(hands)[1][2].lower(), "the step before")
    hands.close()


def first_number(words):
    return float(re.search(r"\d+(\.\d+)?", words)[0])


def test_rocked_live_the_guide_comes_and_says_when_it_is_enough(open_window, bench):
    hands = open_window("live", bench("rocked").port, "--job", "rocked")
    hands.until_title("WAITING")
    hands.key("Return")
    hands.until_title(" · rock")  # rocking, or on a busy machine rocked enough by the next title
    hands.key("h", "h", "p")  # away, back again, and a picture of it
    assert hands.saved("*-chart-1.png").stat().st_size > 10_000
    hands.until_title("rocked enough")
    hands.close()


@pytest.fixture(scope="module")
def ten_minutes(tmp_path_factory):
    """Ten minutes of an engine turned by hand, at five hundred samples a second."""
    rate_hz, block = 500, 50
    t = np.arange(600 * rate_hz) / rate_hz
    angle = 90.0 * t + 30.0 * np.sin(t)
    after = (angle - 100 + 360) % 720 - 360
    pressure = np.where(
        np.abs(after) < 150, (5.0 - 4.0 * np.cos(np.radians(after / 2)) ** 2) ** -1 * 9.0, 1.0
    )
    count = np.floor(angle * 2400 / 360).astype(np.int64)
    reading = np.round(100 + np.clip(pressure, 0, 20) * 190).astype(np.int64)
    path = tmp_path_factory.mktemp("long") / "ten-minutes.swr"
    engine = {
        "cylinders": 4,
        "firing_order": [1, 3, 4, 2],
        "sensor": {"cylinder": 1, "points": [[100, "0 bar"], [3900, "20 bar"]]},
    }
    encoder = FrameEncoder()
    with RecordingWriter(path, {"engine": engine}) as writer:
        writer.append(Chunk(0, encoder.encode(Hello(Board("long", 2400, 12, ("a",), boot=1)))))
        for i in range(0, len(t), block):
            part = slice(i, i + block)
            frame = SampleBlock.pack(i * 2000, 2000, count[part], reading[part, None])
            writer.append(Chunk(i * 2000, encoder.encode(frame)))
    return path


def test_ten_minutes_at_twenty_times_speed_without_growing(open_window, ten_minutes):
    hands = open_window("replay", ten_minutes, "--speed", "20")
    hands.until_title("ended")  # the first round fills bookmarks and caches
    before = hands.resident_kb()
    hands.key("space")
    hands.until_title("running")
    hands.until_title("ended")
    grown = hands.resident_kb() - before
    print(f"{before / 1e3:.0f} MB after the first ten minutes, {grown / 1e3:+.1f} MB by the second")
    assert grown < 25_000
    hands.close()
