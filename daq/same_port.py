"""How is one board's port opened again and again, whatever befalls name, rate and computer?

A board is known again by what its USB bridge says of itself: maker, kind and serial number. Where
two alike are plugged in that say the same, none is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import NamedTuple

from serial.tools import list_ports
from serial.tools.list_ports_common import ListPortInfo

from strokewise.analysis.errors import PortError
from strokewise.daq.clock_watch import ClockWatch, ClockWatched
from strokewise.daq.right_baud import RightBaud, Tunable
from strokewise.daq.sources import SerialSource, Source


class Bridge(NamedTuple):
    """What a USB bridge says of itself."""

    maker: int
    kind: int
    serial: str | None


class SamePort:
    """Opens one board's port, also when it comes back by another name or speaks at another rate.

    What it opens puts a note where the computer slept or its clock was set meanwhile.

    Parameters
    ----------
    name, baud
        As the person said.
    tell : callable
        Is told in one line when the name or the rate is another.
    listed : callable
        The ports of this machine now.
    open_at : callable
        Opens a port by name and rate.
    """

    def __init__(
        self,
        name: str,
        baud: int,
        *,
        tell: Callable[[str], None] = lambda words: None,
        listed: Callable[[], Iterable[ListPortInfo]] = list_ports.comports,
        open_at: Callable[[str, int], Tunable] = SerialSource,
        clocks: ClockWatch | None = None,
    ) -> None:
        self._name, self._baud = name, baud
        self._tell, self._listed, self._open_at = tell, listed, open_at
        self._clocks = clocks or ClockWatch()
        self._befell: list[str] = []
        self._bridge: Bridge | None = None

    def __call__(self) -> Source:
        """Open it.

        Raises
        ------
        PortError
            When it is not there by any name.
        """
        self._befell += self._clocks.look()  # also while it is away
        there = {port.device: bridge_of(port) for port in self._listed()}
        name = self._name_now(there)
        source = RightBaud(self._open_at(name, self._baud), tell=self._tell)
        if name != self._name:
            self._tell(f"the board on {self._name} is back as {name}")
            self._name = name
        self._bridge = there.get(name) or self._bridge
        return ClockWatched(source, self._look, self._tell)

    def _look(self) -> list[str]:
        befell, self._befell = self._befell + self._clocks.look(), []
        return befell

    def _name_now(self, there: dict[str, Bridge | None]) -> str:
        """Return the name it had, unless that is gone or another's and the board has one more."""
        if self._bridge is None or there.get(self._name) == self._bridge:
            return self._name
        alike = [name for name, bridge in there.items() if bridge == self._bridge]
        if len(alike) == 1:
            return alike[0]
        if there.get(self._name) is not None:
            raise PortError(f"{self._name} is another board's now; plug the board in again")
        return self._name


def bridge_of(port: ListPortInfo) -> Bridge | None:
    """Return what a port's USB bridge says of itself; None for what is no USB."""
    if port.vid is None or port.pid is None:
        return None
    return Bridge(port.vid, port.pid, port.serial_number)
