"""Which ports could a board be on?"""

from __future__ import annotations

from typing import NamedTuple

from serial.tools import list_ports

from strokewise.daq.simulated_ports import announced_ports


class Port(NamedTuple):
    """A serial port of this machine, or one behind which a board is simulated.

    ``device`` is what to record from, ``description`` what the system says of it, empty if nothing.
    """

    device: str
    description: str


def ports() -> list[Port]:
    """Return the serial ports of this machine in order of name, then those that are simulated."""
    found = sorted(list_ports.comports())
    devices = [
        Port(port.device, "" if port.description in (None, "n/a") else port.description)
        for port in found
    ]
    return devices + [Port(port, about) for port, about in announced_ports()]
