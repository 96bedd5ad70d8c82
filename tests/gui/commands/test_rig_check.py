"""Trying a rig on a port: what is printed, what a program gets, and how it ends."""

import json
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from strokewise.analysis.samples import Board
from strokewise.daq import sources
from strokewise.daq.recording.container import Chunk
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Event, Hello, sample_blocks
from strokewise.gui import cli

Said = pytest.CaptureFixture[str]

RATE_HZ = 1000
REST_S, SQUEEZED_S, TURN_FROM_S, TURNED_S, END_S = 3.2, 5.0, 5.5, 7.5, 8.0


def sent(*, squeeze: int = 300, counts: int = 2400) -> list[tuple[int, bytes]]:
    """Return what a board sends, with the time at which each message is ready."""
    time_s = np.arange(round(END_S * RATE_HZ)) / RATE_HZ
    turned = np.clip((time_s - TURN_FROM_S) / (TURNED_S - TURN_FROM_S), 0.0, 1.0)
    count = np.floor(counts * turned + 0.5).astype(int)
    reading = 600 + np.random.default_rng(1).integers(-2, 3, len(time_s))
    reading = reading + squeeze * ((time_s > 3.6) & (time_s < 4.2))
    encoder = FrameEncoder()
    messages = [(0, encoder.encode(Hello(Board("bench board", 2400, 12, ("pressure",), 7))))]
    index_us = round(1e6 * float(time_s[np.argmax(count >= 900)]))
    for block in sample_blocks(0, 1_000_000 // RATE_HZ, count, reading):
        if block.start_us <= index_us < block.start_us + 16_000:
            messages.append((index_us, encoder.encode(Event(index_us, 900, 0))))
        messages.append((block.start_us + 16_000, encoder.encode(block)))
    return messages


class Port:
    """A port whose time passes as it is read; ``at`` holds what happens when."""

    messages: list[tuple[int, bytes]] = []  # noqa: RUF012  set by each test
    at: list[tuple[float, Any]] = []  # noqa: RUF012

    def __init__(self, name: str, baud: int) -> None:
        self.asked = (name, baud)
        self._now_us = 0
        self._stopped = False

    def now_us(self) -> int:
        return self._now_us

    def __iter__(self) -> Iterator[Chunk]:
        waiting = list(self.at)
        for when_us, data in self.messages:
            self._now_us = when_us
            while waiting and when_us >= waiting[0][0] * 1e6:
                waiting.pop(0)[1]()
            yield Chunk(when_us, data)
            if self._stopped:
                return
        while not self._stopped:
            self._now_us += 100_000
            while waiting and self._now_us >= waiting[0][0] * 1e6:
                waiting.pop(0)[1]()
            yield Chunk(self._now_us, b"")

    def stop(self) -> None:
        self._stopped = True

    def close(self) -> None:
        pass


@pytest.fixture
def port(monkeypatch: pytest.MonkeyPatch) -> type[Port]:
    """Put such a port in the place of a real one."""

    class Mine(Port):
        messages = sent()

    monkeypatch.setattr(sources, "SerialSource", Mine)
    return Mine


def test_a_good_rig_ends_with_0(port: type[Port], capsys: Said) -> None:
    assert cli.main(["check", "COM7", "--seconds", "9"]) == 0
    said = capsys.readouterr()
    words = " ".join(said.out.split())
    assert "COM7: FIT TO MEASURE" in words
    assert "good counts 2,400 counts over 1 turn, 2,400 expected." in words
    assert "Bench board; 2,400 counts a turn; 12 bits; channels pressure" in words
    before = " ".join(said.err.split())
    assert before.index("Take the spanner off the crank") < before.index("Listening for 9 s")
    assert "starter" not in before.split("Listening")[1]


def test_what_is_odd_or_missing_ends_with_3_and_says_what_to_do(
    port: type[Port], capsys: Said
) -> None:
    port.messages = sent(squeeze=0, counts=1200)
    assert cli.main(["check", "COM7", "--seconds", "9"]) == 3
    words = " ".join(capsys.readouterr().out.split())
    assert "COM7: NOT FIT YET: 2 things to look at. Begin with the first." in words
    assert "missing squeeze The reading never moved" in words
    assert "only two of the four edges are counted" in words
    assert "To do: mend counts_per_rev or drive_ratio under [encoder]." in words


def test_a_program_gets_one_object_a_line(port: type[Port], capsys: Said) -> None:
    assert cli.main(["check", "COM7", "--seconds", "9", "--json"]) == 0
    answers = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [answer["check"] for answer in answers] == [
        "board", "line", "pace", "rest", "noise", "squeeze", "counts", "direction", "index",
    ]  # fmt: skip
    for answer in answers:
        assert {"decided", "reason", "warnings", "version"} <= set(answer)
        assert (answer["decided"], answer["state"], answer["remedy"]) == (True, "good", None)
    assert answers[6]["figures"] == {"counts": 2400, "expected": 2400}


def test_a_profile_that_contradicts_the_board_is_odd(port: type[Port], capsys: Said) -> None:
    words = ["check", "COM7", "--seconds", "9", "--set", "encoder.counts_per_rev=1200", "--json"]
    assert cli.main(words) == 3
    found = {a["check"]: a for a in map(json.loads, capsys.readouterr().out.splitlines())}
    assert "hello 2400" in found["profile"]["reason"]
    assert found["counts"]["state"] == "odd"


def test_marks_the_board_names_need_not_be_wired_those_of_the_profile_must(
    port: type[Port], tmp_path: Path, capsys: Said
) -> None:
    board = Board("bench board", 2400, 12, ("pressure",), 7, marks=("mark 1",))
    port.messages = [(0, FrameEncoder().encode(Hello(board))), *sent()[1:]]
    assert cli.main(["check", "COM7", "--seconds", "9"]) == 0
    profile = tmp_path / "bench.toml"
    profile.write_text(
        'cylinders = 1\nfiring_order = [1]\n[[marks]]\nname = "pulley notch"\ninput = 1\n'
        'stated = "0 deg ATDC"\n'
    )
    capsys.readouterr()
    assert cli.main(["check", "COM7", "--seconds", "9", "--engine", str(profile)]) == 3
    assert "missing mark 1 Pulley notch (input 1)" in " ".join(capsys.readouterr().out.split())


def test_nothing_from_the_board_is_missing_not_an_error(port: type[Port], capsys: Said) -> None:
    port.messages = []
    assert cli.main(["check", "COM7", "--seconds", "2", "--json"]) == 3
    [answer] = map(json.loads, capsys.readouterr().out.splitlines())
    assert (answer["check"], answer["state"]) == ("line", "missing")


class Keyboard:
    """Somebody who presses Enter when told to."""

    def __init__(self) -> None:
        self._pressed = threading.Semaphore(0)

    def isatty(self) -> bool:
        return True

    def readline(self) -> str:
        self._pressed.acquire()
        return "\n"

    def press(self) -> None:
        """Press, and wait until it has been noticed."""
        self._pressed.release()
        for thread in threading.enumerate():
            if thread.name == "enter":
                thread.join(5.0)


def test_on_a_terminal_a_person_is_led_through_it(
    port: type[Port], monkeypatch: pytest.MonkeyPatch, capsys: Said
) -> None:
    keyboard = Keyboard()
    monkeypatch.setattr(sys, "stdin", keyboard)
    port.at = [(at_s, keyboard.press) for at_s in (SQUEEZED_S, TURN_FROM_S - 0.1, END_S)]
    assert cli.main(["check", "COM7", "--json"]) == 0
    said = capsys.readouterr()
    asked = " ".join(said.err.split())
    order = ["Leave everything at rest", "Squeeze:", "Turn the crank until", "exactly one turn"]
    assert [asked.index(text) for text in order] == sorted(asked.index(text) for text in order)
    found = {a["check"]: a for a in map(json.loads, said.out.splitlines())}
    assert {answer["state"] for answer in found.values()} == {"good"}


def test_a_bad_port_is_one_line_and_2(capsys: Said) -> None:
    assert cli.main(["check", "/dev/no-such-board"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert "no port /dev/no-such-board" in said.err


def test_a_file_that_is_not_there_is_still_a_file(capsys: Said) -> None:
    assert cli.main(["check", "nope.swr"]) == 2
    assert "no such file" in capsys.readouterr().err
