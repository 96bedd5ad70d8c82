"""A source of bytes that delivers what it was given, at once."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from strokewise.daq.closing import Closing
from strokewise.daq.recording.container import Hole, Item


class GivenSource(Closing):
    """Delivers the items of a recording, one after the other."""

    def __init__(self, *items: Item) -> None:
        self.header: dict[str, Any] = {}
        self._items = items
        self._now_us = 0
        self._stopped = False

    def now_us(self) -> int:
        return self._now_us

    def __iter__(self) -> Iterator[Item]:
        for item in self._items:
            if self._stopped:
                return
            self._now_us = self._now_us if isinstance(item, Hole) else item.host_us
            yield item

    def stop(self) -> None:
        self._stopped = True
