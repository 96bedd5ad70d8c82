"""A port recorded from the command line: what is kept, and how it ends."""

import io
import os
import random
import re
import select
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from strokewise.analysis.samples import Health
from strokewise.daq.recording.read import read_recording
from strokewise.gui import cli
from strokewise.gui.commands import record as record_command

pytestmark = pytest.mark.skipif(os.name != "posix", reason="needs pseudo terminals")
Said = pytest.CaptureFixture[str]


@pytest.fixture
def board(toy: SimpleNamespace, tmp_path: Path) -> Iterator[str]:
    """Run the toy board for two turns on a pseudo terminal, and return the port's name.

    Opening a port throws away what was waiting in it: the board speaks once ``out.swr`` is there,
    which is made right after the port was opened.
    """
    held, name = open_line()
    over = threading.Event()

    def speak() -> None:
        while not (tmp_path / "out.swr").exists():
            if over.wait(0.01):
                return
        send(held[0], toy.sent(toy.frames(turns=2)), over)

    speaking = threading.Thread(target=speak)
    speaking.start()
    yield name
    over.set()
    speaking.join()
    for descriptor in held:
        os.close(descriptor)


def test_bytes_profile_and_sensed_cylinder_go_into_the_file(
    board: str, toy: SimpleNamespace, tmp_path: Path, capsys: Said
) -> None:
    out, profile = tmp_path / "out.swr", tmp_path / "engine.toml"
    profile.write_text('cylinders = 4\nfiring_order = [1, 3, 4, 2]\nbore = "3.15 in"\n')
    argv = ["record", board, str(out), "--engine", str(profile), "--cylinder", "2"]
    assert cli.main([*argv, "--seconds", "2", "--note", "plugs out"]) == 0
    said = capsys.readouterr()
    assert said.out == ""
    recording = read_recording(out)
    frames = [frame for frame in toy.frames(turns=2) if type(frame).__name__ == "SampleBlock"]
    assert recording.health.samples == sum(len(frame.counts) for frame in frames)
    assert recording.health.lost_frames == 0
    assert recording.header["engine"] == {
        "cylinders": 4,
        "firing_order": [1, 3, 4, 2],
        "bore": "3.15 in",
        "sensor": {"cylinder": 2},
    }
    assert recording.header["operator_note"] == "plugs out"
    assert re.fullmatch(r"strokewise \S+", recording.header["software"])
    assert f"1,200 samples kept in {out}" in said.err


def test_the_cautions_come_before_the_engine_is_turned(
    board: str, tmp_path: Path, capsys: Said
) -> None:
    cli.main(["record", board, str(tmp_path / "out.swr"), "--seconds", "1.5"])
    said = capsys.readouterr().err
    assert said.startswith("Before the engine is turned")
    assert said.index("two full turns by hand") < said.index("samples")


def test_an_unknown_engine_stays_unknown_in_the_file(board: str, tmp_path: Path) -> None:
    out = tmp_path / "out.swr"
    assert cli.main(["record", board, str(out), "--seconds", "1.5"]) == 0
    assert "engine" not in read_recording(out).header


def test_a_file_that_is_there_is_not_written_over(board: str, tmp_path: Path, capsys: Said) -> None:
    out = tmp_path / "out.swr"
    out.write_bytes(b"precious")
    assert cli.main(["record", board, str(out)]) == 2
    said = capsys.readouterr().err
    assert "there already" in said
    assert said.count("\n") == 1
    assert out.read_bytes() == b"precious"


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["/dev/no-such-port", "out.swr"], "no port /dev/no-such-port"),
        (["/dev/no-such-port", "out.swr", "--engine", "none.toml"], "none.toml"),
        (["/dev/no-such-port", "out.swr", "--cylinder", "two"], "sensor.cylinder"),
        (["/dev/no-such-port", "out.swr", "--cylinder", "3"], "the engine has 1 cylinder"),
    ],
)
def test_bad_input_is_one_line_and_leaves_no_file(
    argv: list[str], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Said
) -> None:
    monkeypatch.chdir(tmp_path)
    assert cli.main(["record", *argv]) == 2
    line = capsys.readouterr().err
    assert said in line
    assert line.count("\n") == 1
    assert not (tmp_path / "out.swr").exists()


@pytest.mark.parametrize("seconds", ["0", "-1", "nan", "inf", "soon"])
def test_seconds_must_be_a_time(seconds: str, capsys: Said) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.main(["record", "port", "out.swr", f"--seconds={seconds}"])
    assert ended.value.code == 2
    assert "--seconds" in capsys.readouterr().err


def test_a_silent_port_is_code_3_and_says_what_to_check(tmp_path: Path, capsys: Said) -> None:
    held, name = open_line()
    try:
        assert cli.main(["record", name, str(tmp_path / "out.swr"), "--seconds", "0.2"]) == 3
    finally:
        for descriptor in held:
            os.close(descriptor)
    said = capsys.readouterr().err
    assert "nothing from the board yet" in said
    assert "--baud" in said


@pytest.mark.usefixtures("heeds_ctrl_c")
def test_ctrl_c_ends_in_order_with_all_that_came(toy: SimpleNamespace, tmp_path: Path) -> None:
    out = tmp_path / "out.swr"
    held, name = open_line()
    command = [sys.executable, "-m", "strokewise.gui", "record", name, str(out)]
    running = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    try:
        wait_for(running, "nothing from the board yet")
        send(held[0], toy.sent(toy.frames(turns=1)))
        wait_for(running, "600 samples")
        running.send_signal(signal.SIGINT)
        _, rest = running.communicate(timeout=20)
    finally:
        running.kill()
        running.communicate()
        for descriptor in held:
            os.close(descriptor)
    assert running.returncode == 0
    assert "Traceback" not in rest
    assert f"600 samples kept in {out}" in rest
    assert read_recording(out).health.samples == 600


def test_a_port_that_goes_away_is_waited_for_and_keeps_what_came(
    toy: SimpleNamespace, tmp_path: Path, capsys: Said
) -> None:
    out = tmp_path / "out.swr"
    held, name = open_line()

    def pull_the_plug() -> None:
        while not out.exists():
            time.sleep(0.01)
        send(held[0], toy.sent(toy.frames(turns=1)))
        time.sleep(0.5)
        for descriptor in held:
            os.close(descriptor)

    plug = threading.Thread(target=pull_the_plug)
    plug.start()
    try:
        code = cli.main(["record", name, str(out), "--seconds", "3"])
    finally:
        plug.join()
    said = capsys.readouterr().err
    assert code == 0
    assert "went away" in said
    assert "waiting for it" in said
    assert f"600 samples kept in {out}" in said
    assert read_recording(out).health.samples == 600


def test_a_wrong_baud_is_said_and_put_right(
    toy: SimpleNamespace, tmp_path: Path, capsys: Said
) -> None:
    """The board speaks 500,000 baud: whoever has set the line to another rate reads noise."""
    import termios

    ends, name = open_line()
    out, over = tmp_path / "out.swr", threading.Event()
    noise = random.Random(19)

    def speak() -> None:
        while not over.wait(0.02):
            if not out.exists():
                continue
            if termios.tcgetattr(ends[1])[4] == termios.B500000:
                send(ends[0], toy.sent(toy.frames(turns=2)), over)
                return
            send(ends[0], noise.randbytes(300), over)

    speaking = threading.Thread(target=speak)
    speaking.start()
    try:
        assert cli.main(["record", name, str(out), "--seconds", "4"]) == 0
    finally:
        over.set()
        speaking.join()
        for descriptor in ends:
            os.close(descriptor)
    said = capsys.readouterr().err
    garbage, right = (line for line in said.splitlines() if " baud" in line)
    assert garbage.startswith(f"{name}: not one whole frame in ")
    assert garbage.endswith("bytes at 115200 baud; trying 500000")
    assert right.startswith("the board speaks 500000 baud, not 115200")
    recording = read_recording(out)
    assert recording.notes == (garbage,)
    assert recording.health.samples == 1_200
    assert recording.health.segments == 1


def test_progress_on_a_screen_writes_over_its_own_line() -> None:
    class Screen(io.StringIO):
        def isatty(self) -> bool:
            return True

    class Clock:
        def now_us(self) -> int:
            return 1_000_000

        def stop(self) -> None:
            raise AssertionError("nobody asked for it")

    class Nothing:
        health = Health()

        def blocks(self) -> Iterator[list[Any]]:
            yield []

    screen = Screen()
    record_command.follow(Nothing(), Clock(), screen)
    assert "\n" not in screen.getvalue()
    assert screen.getvalue().startswith("\r")


def open_line() -> tuple[tuple[int, int], str]:
    """Open a pseudo terminal; returns both ends, the board's first, and the name of the other."""
    import tty

    ends = os.openpty()
    tty.setraw(ends[1])
    return ends, os.ttyname(ends[1])


def send(descriptor: int, data: bytes, over: threading.Event | None = None) -> None:
    """Send bytes as fast as the line takes them, until nobody wants them any more."""
    os.set_blocking(descriptor, False)
    while data and not (over is not None and over.is_set()):
        if select.select([], [descriptor], [], 0.1)[1]:
            data = data[os.write(descriptor, data[:1024]) :]


def wait_for(running: "subprocess.Popen[str]", text: str) -> None:
    """Read a running command's progress until it says something."""
    assert running.stderr is not None
    for line in running.stderr:
        if text in line:
            return
    raise AssertionError(f"it never said {text!r}")
