"""Which ports could a board be on?"""

from __future__ import annotations

from typing import NamedTuple

from serial.tools import list_ports


class Port(NamedTuple):
    """A serial port of this machine.

    ``device`` is what to record from, ``description`` what the system says of it, empty if nothing.
    """

    device: str
    description: str


def ports() -> list[Port]:
    """Return the serial ports of this machine in order of name, none when there are none."""
    found = sorted(list_ports.comports())
    return [
        Port(port.device, "" if port.description in (None, "n/a") else port.description)
        for port in found
    ]
