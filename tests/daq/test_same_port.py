"""A board that comes back by another name is found; another board by its name is not taken."""

from typing import Any

import pytest
from serial.tools.list_ports_common import ListPortInfo

from strokewise.analysis.errors import PortError
from strokewise.daq.same_port import SamePort

BAUD = 115_200


def plugged(name: str, serial: str | None = "A1", vid: int | None = 0x2341) -> ListPortInfo:
    port = ListPortInfo(name)
    port.vid, port.pid, port.serial_number = vid, 0x43, serial
    return port


class Opened:
    """A port that is open and silent."""

    header: dict[str, object] = {}  # noqa: RUF012

    def __init__(self, name: str, baud: int) -> None:
        self.name, self.baud = name, baud


class Bench:
    """What is plugged in, what was opened, and what was told."""

    def __init__(self, *there: ListPortInfo) -> None:
        self.there = list(there)
        self.opened: list[str] = []
        self.told: list[str] = []
        self.port = SamePort(
            "/dev/toy0", BAUD, tell=self.told.append, listed=lambda: self.there, open_at=self._open
        )

    def _open(self, name: str, baud: int) -> Any:
        assert baud == BAUD
        if name not in {port.device for port in self.there}:
            raise PortError(f"no port {name}")
        self.opened.append(name)
        return Opened(name, baud)


def test_the_board_is_found_by_another_name() -> None:
    bench = Bench(plugged("/dev/toy0"), plugged("/dev/toy5", "B2"))
    bench.port()
    bench.there = [plugged("/dev/toy5", "B2")]
    with pytest.raises(PortError):
        bench.port()
    bench.there += [plugged("/dev/toy1")]
    bench.port()
    assert bench.told == ["the board on /dev/toy0 is back as /dev/toy1"]
    bench.port()  # and by that name from now on
    assert bench.opened == ["/dev/toy0", "/dev/toy1", "/dev/toy1"]
    assert len(bench.told) == 1


def test_another_board_by_its_name_is_not_taken() -> None:
    bench = Bench(plugged("/dev/toy0"))
    bench.port()
    bench.there = [plugged("/dev/toy0", "B2")]
    with pytest.raises(PortError, match="another board's now"):
        bench.port()
    bench.there += [plugged("/dev/toy1")]
    bench.port()
    assert bench.opened == ["/dev/toy0", "/dev/toy1"]


def test_of_two_alike_none_is_taken() -> None:
    bench = Bench(plugged("/dev/toy0", None))
    bench.port()
    bench.there = [plugged("/dev/toy1", None), plugged("/dev/toy2", None)]
    with pytest.raises(PortError):
        bench.port()
    assert bench.opened == ["/dev/toy0"]


def test_a_port_that_is_no_usb_has_its_name_alone() -> None:
    bench = Bench(plugged("/dev/toy0", None, None))
    bench.port()
    bench.there = [plugged("/dev/toy1", None, None)]
    with pytest.raises(PortError):
        bench.port()
    bench.there = [plugged("/dev/toy0", None, None)]
    bench.port()
    assert bench.opened == ["/dev/toy0"] * 2
