"""The live answer in a terminal: lines into a pipe, a calm screen for a person."""

import os
import pty
import re
import subprocess
import sys
import threading
import time
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace

import pytest

from strokewise.gui import cli
from strokewise.gui.commands import watch
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.models.run.sources import open_live
from strokewise.gui.models.terminal import told_apart

RECORDINGS = Path(__file__).parents[3] / "recordings"
LONG_S = 150.0  # on a loaded machine


def test_a_recording_is_watched_to_its_end(
    toy_file: Path, toy: SimpleNamespace, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["watch", str(toy_file), "--speed", "20"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[-1].startswith("SURE, TDC ± ")
    assert "turn" in lines[-1]
    assert all(one != other for one, other in pairwise(lines[:-1]))


def test_a_pipe_is_told_of_changes_and_not_of_each_degree() -> None:
    one, other = (f"SURE: Cylinder 2 fires: turn on {to_go}° to 1" for to_go in ("11", "10.5"))
    assert told_apart(one) == told_apart(other)
    assert told_apart(one) != told_apart(one.replace("Cylinder 2", "Cylinder 1"))


def test_a_rocked_recording_is_guided_to_enough(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["watch", str(RECORDINGS / "rocked.swr"), "--speed", "20"]) == 0
    last = capsys.readouterr().out.splitlines()[-1]
    assert "Enough: the middle of the peaks is known to ±" in last
    assert "take the spanner off" in last


def test_a_port_that_is_not_there_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["watch", "/dev/no-such-port"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "no port /dev/no-such-port" in said.err


def test_a_port_is_watched_with_the_cautions_first(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["watch", "loop://", "--seconds", "0.5", "--suspect"]) == 3
    said = capsys.readouterr()
    assert "two full turns by hand" in said.err
    assert said.out.startswith("WAITING")


def test_a_pipe_is_told_once_what_befell_the_port(capsys: pytest.CaptureFixture[str]) -> None:
    quiet = open_live("loop://").snapshot
    garbage = "/dev/x: not one whole frame in 2200 bytes at 115200 baud; trying 500000"
    shown = [replace(quiet, link=quiet.link.telling(garbage, 1e9))] * 3
    shown += [replace(quiet, link=replace(quiet.link, trouble="/dev/x went away"))] * 2
    shown += [replace(quiet, link=replace(quiet.link, state="ended"))] * 3
    coming = iter(shown)
    watched = SimpleNamespace(judging=False, snapshot=quiet)

    def look() -> Snapshot:
        watched.snapshot = next(coming)
        return watched.snapshot

    watched.look = look
    news = threading.Event()
    news.set()
    watch._show(watched, news, None)
    lines = capsys.readouterr().out.splitlines()
    assert [line for line in lines if "/dev/x" in line] == [garbage, "/dev/x went away"]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo terminals")
def test_a_terminal_of_eighty_columns_shows_a_whole_screen(toy_file: Path) -> None:
    host, terminal = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "strokewise.gui", "watch", str(toy_file), "--speed", "20"],
        stdout=terminal,
        stderr=subprocess.STDOUT,
        env={**os.environ, "COLUMNS": "80", "LINES": "24", "TERM": "xterm"},
    )
    os.close(terminal)
    seen = b""
    deadline = time.monotonic() + LONG_S
    while time.monotonic() < deadline:
        try:
            data = os.read(host, 4096)
        except OSError:  # the other end is closed
            break
        if not data:
            break
        seen += data
    os.close(host)
    assert process.wait(LONG_S) == 0
    # A screen begins at the top left; what is left at the end stands below the usual screen.
    screens = re.sub(r"\x1b\[([0-9;]*H|\?1049[hl])", "\n", seen.decode())
    text = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", screens)
    assert "to the next firing TDC" in text
    assert "fires in" in text
    assert max(len(line.rstrip("\r")) for line in text.split("\n")) <= 80
