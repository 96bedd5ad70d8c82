"""Simulated boards are listed as what they are, for as long as they run."""

import json
import os
import subprocess
import sys

import pytest

from strokewise.daq import ports as ports_of
from strokewise.daq.simulated_ports import CAN_TELL, SUFFIX, announced, announced_ports

pytestmark = pytest.mark.skipif(not CAN_TELL, reason="nothing is announced on this platform")


def test_a_board_is_listed_while_it_waits(tmp_path):
    with announced("/dev/pts/9", "simulated board, cranked", tmp_path):
        assert announced_ports(tmp_path) == [("/dev/pts/9", "simulated board, cranked")]
    assert announced_ports(tmp_path) == []
    assert list(tmp_path.iterdir()) == []


def test_of_a_process_that_is_gone_nothing_is_left(tmp_path):
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    file = tmp_path / f"{gone.pid}{SUFFIX}"
    file.write_text(json.dumps({"port": "/dev/pts/1", "about": "x"}))
    assert announced_ports(tmp_path) == []
    assert not file.exists()


@pytest.mark.parametrize("text", ["", "[]", '"x"', "{}", "{", '{"port": 1}'])
def test_a_damaged_file_tells_nothing(tmp_path, text):
    (tmp_path / f"{os.getpid()}{SUFFIX}").write_text(text)
    assert announced_ports(tmp_path) == []


def test_a_folder_that_cannot_be_written_stops_nobody(tmp_path):
    file = tmp_path / "file"
    file.write_text("")
    with announced("/dev/pts/9", "simulated", file / "in-it"):
        assert announced_ports(file / "in-it") == []


def test_they_stand_after_the_systems_own(monkeypatch):
    monkeypatch.setattr(ports_of.list_ports, "comports", list)
    with announced("socket://localhost:7", "simulated board, cranked (no engine)"):
        assert ports_of.ports() == [
            ("socket://localhost:7", "simulated board, cranked (no engine)")
        ]
