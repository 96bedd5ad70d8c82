"""Sources: a real pseudo terminal, a network port, ports that vanish, replays at any pace."""

import errno
import os
import socket
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from typing import Any

import pytest
import serial

from strokewise.analysis.errors import PortError
from strokewise.daq.recording.container import (
    Chunk,
)
from strokewise.daq.sources import SerialSource
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Frame
from strokewise.daq.wire.intake import Intake

BoardRun = Callable[..., list[Frame]]

pty_only = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo terminals")


@pytest.fixture
def terminal() -> Iterator[tuple[int, str]]:
    """Return a pseudo terminal: the board's end, and the name of the port."""
    import pty
    import tty

    board, port = pty.openpty()
    tty.setraw(port)
    name = os.ttyname(port)
    yield board, name
    os.close(port)
    with suppress(OSError):  # a test may have pulled the plug
        os.close(board)


def board_bytes(frames: list[Frame]) -> bytes:
    encoder = FrameEncoder()
    return b"".join(encoder.encode(frame) for frame in frames)


@pty_only
def test_a_port_delivers_what_the_board_sends(
    terminal: tuple[int, str], board_run: BoardRun
) -> None:
    board, name = terminal
    sent = board_bytes(board_run(blocks=60))
    intake, got = Intake(), b""
    with SerialSource(name) as source:
        os.write(board, sent[:1500])
        for item in source:
            assert isinstance(item, Chunk)
            got += item.data
            intake.feed((item,))
            if len(got) == 1500:
                os.write(board, sent[1500:])
            if len(got) == len(sent):
                source.stop()
    assert got == sent
    assert intake.health.samples == 480
    assert intake.health.lost_frames == 0


@pty_only
def test_a_silent_port_gives_signs_of_life(terminal: tuple[int, str]) -> None:
    with SerialSource(terminal[1]) as source:
        assert next(iter(source)).data == b""


@pty_only
def test_what_arrived_before_the_stop_is_delivered(terminal: tuple[int, str]) -> None:
    board, name = terminal
    with SerialSource(name, sleep=lambda seconds: None) as source:
        items = iter(source)
        os.write(board, b"a")
        assert next(items).data == b"a"
        os.write(board, b"last words")
        while source._port.in_waiting < len(b"last words"):
            pass  # the system carries it over in its own time
        source.stop()
        assert [item.data for item in items] == [b"last words"]


@pty_only
def test_a_port_that_vanishes_says_so_and_nothing_is_lost(terminal: tuple[int, str]) -> None:
    board, name = terminal
    got = b""
    with SerialSource(name) as source:
        os.write(board, b"before")
        items = iter(source)
        while got != b"before":
            got += next(items).data
        os.close(board)
        with pytest.raises(PortError, match=f"{name} went away after .* check the plug"):
            list(items)


@pty_only
def test_a_port_is_ours_alone(terminal: tuple[int, str]) -> None:
    with (
        SerialSource(terminal[1]),
        pytest.raises(PortError, match="in use by another program; close that first"),
    ):
        SerialSource(terminal[1])


def test_a_network_port_delivers_until_the_other_end_goes() -> None:
    opened = threading.Event()
    got: list[bytes] = []
    with closing(socket.create_server(("127.0.0.1", 0))) as server:
        host, port = server.getsockname()

        def board() -> None:
            with closing(server.accept()[0]) as connection:
                assert opened.wait(5)  # opening throws away what was waiting
                connection.sendall(b"hello from far")

        thread = threading.Thread(target=board)
        thread.start()
        with SerialSource(f"socket://{host}:{port}") as source:
            opened.set()
            with pytest.raises(PortError, match="went away"):
                got.extend(item.data for item in source)
        thread.join()
    assert b"".join(got) == b"hello from far"


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("/dev/ttyNOWHERE", "no port /dev/ttyNOWHERE; `strokewise ports` lists"),
        ("", "no port"),
        ("/dev/null", "cannot be opened as a port"),
        ("ham://radio", "cannot be opened as a port: invalid URL"),
        ("socket://127.0.0.1:1", "cannot be opened as a port: .*refused"),
        ("nul\0name", "cannot be opened as a port"),
    ],
)
@pty_only
def test_a_port_that_cannot_be_opened_is_told_in_one_line(name: str, message: str) -> None:
    with pytest.raises(PortError, match=message) as caught:
        SerialSource(name)
    assert "\n" not in str(caught.value)


def test_no_permission_says_whom_to_join(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*args: Any, **more: Any) -> None:
        raise serial.SerialException(errno.EACCES, "could not open port: Permission denied")

    monkeypatch.setattr(serial, "serial_for_url", refuse)
    with pytest.raises(PortError, match=r"no permission for /dev/ttyX; .*dialout"):
        SerialSource("/dev/ttyX")


def faults() -> list[Exception]:
    found = [serial.SerialException("gone"), OSError(5, "Input/output error"), TypeError("None")]
    if sys.platform != "win32":
        import termios

        found.append(termios.error(5, "Input/output error"))
    return found


@pytest.mark.parametrize("fault", faults(), ids=lambda fault: type(fault).__name__)
@pytest.mark.parametrize("where", ["in_waiting", "read", "close"])
def test_every_way_a_port_can_fail_is_one_error(
    fault: Exception, where: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Port:
        @property
        def in_waiting(self) -> int:
            if where == "in_waiting":
                raise fault
            return 0

        def read(self, size: int) -> bytes:
            assert size >= 1
            if where == "read":
                raise fault
            return b"x"

        def close(self) -> None:
            if where == "close":
                raise fault

    monkeypatch.setattr(serial, "serial_for_url", lambda *args, **more: Port())
    source = SerialSource("COM9", sleep=lambda seconds: None)
    if where == "close":
        with pytest.raises(PortError, match="COM9 did not close"):
            source.close()
    else:
        with pytest.raises(PortError, match="COM9 went away after"):
            next(iter(source))


def test_a_port_is_never_asked_for_more_than_is_there(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []

    class Port:
        in_waiting = 17

        def read(self, size: int) -> bytes:
            asked.append(size)
            return bytes(size)

    monkeypatch.setattr(serial, "serial_for_url", lambda *args, **more: Port())
    pauses: list[float] = []
    source = SerialSource("COM9", clock=lambda: 2.0, sleep=pauses.append)
    items = iter(source)
    assert [next(items) for _ in range(3)] == [Chunk(0, bytes(17))] * 3
    assert asked == [17, 17, 17]
    assert len(pauses) == 2
