"""The list of ports: in order, with what the system says of each."""

import pytest
from serial.tools import list_ports
from serial.tools.list_ports_common import ListPortInfo

from strokewise.daq.ports import Port, ports


def test_lists_ports_in_order_with_what_is_known(monkeypatch: pytest.MonkeyPatch) -> None:
    found = [
        ListPortInfo("/dev/ttyUSB10"),
        ListPortInfo("/dev/ttyUSB2"),
        ListPortInfo("/dev/ttyS0"),
    ]
    found[0].description = "USB serial"
    found[1].description = None
    monkeypatch.setattr(list_ports, "comports", lambda: iter(found))
    assert ports() == [
        Port("/dev/ttyS0", ""),
        Port("/dev/ttyUSB2", ""),
        Port("/dev/ttyUSB10", "USB serial"),
    ]


def test_no_port_is_an_empty_list(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(list_ports, "comports", lambda: iter(()))
    assert ports() == []
