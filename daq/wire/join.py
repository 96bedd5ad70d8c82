"""How do blocks become whole segments? End to end as they come, without a second copy of all."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.samples import Board, Events, Press, Samples, Segment

GROWTH = 1.5
"""Where it is not known how many there can be, room is made for half as many again."""


def join(blocks: Iterable[Segment], most: int = 0) -> tuple[Segment, ...]:
    """Put the blocks of each segment together.

    Parameters
    ----------
    blocks : iterable of Segment
        As they arrived: parts of one segment carry the same number. None is held longer than until
        the next is asked for.
    most : int, optional
        Samples that there can be at the most. Room for them is asked for at once; what is not
        written to takes no memory, and is given back in the end.

    Returns
    -------
    tuple of Segment
        One for each number, in order of number, with what the board said last.
    """
    parts: dict[int, _Joined] = {}
    latest: int | None = None
    for block in blocks:
        if latest is not None and latest != block.number:
            parts[latest].trim()
        latest = block.number
        parts.setdefault(latest, _Joined(most)).add(block)
    return tuple(parts[number].whole(number) for number in sorted(parts))


class _Joined:
    """What came of one segment so far."""

    def __init__(self, most: int) -> None:
        self.most = most
        self.board: Board | None = None
        self.first: Samples | None = None
        self.columns: list[_Column] | None = None
        self.events: list[Events] = []
        self.presses: list[Press] = []

    def add(self, block: Segment) -> None:
        self.board = block.board or self.board
        self.presses += block.presses
        if len(block.events):
            self.events.append(block.events)
        if not len(block.samples):
            return
        if self.first is None and self.columns is None:
            self.first = block.samples
            return
        if self.columns is None:
            assert self.first is not None
            self.columns = [_Column(values, self.most) for values in _values(self.first)]
            self.first = None
        for column, values in zip(self.columns, _values(block.samples), strict=True):
            column.add(values)

    def trim(self) -> None:
        for column in self.columns or ():
            column.trim()

    def whole(self, number: int) -> Segment:
        if self.columns is not None:
            samples = Samples(*[column.whole() for column in self.columns])
        else:
            samples = Samples.empty() if self.first is None else self.first
        return Segment(number, self.board, samples, Events.joined(self.events), tuple(self.presses))


def _values(samples: Samples) -> tuple[NDArray[Any], ...]:
    return samples.time_us, samples.count, samples.readings, samples.after_gap


class _Column:
    """An array that grows at its end, of as many channels as every part has."""

    def __init__(self, first: NDArray[Any], most: int) -> None:
        self._held, self._length, self._most = first, len(first), most

    def add(self, values: NDArray[Any]) -> None:
        if values.shape[1:] != self._held.shape[1:]:
            channels = min(values.shape[1], self._held.shape[1])
            self._held, values = self._held[:, :channels], values[:, :channels]
            self._make_room(len(self._held))
        length = self._length + len(values)
        if length > len(self._held):
            self._make_room(max(self._most, round(length * GROWTH)))
        self._held[self._length : length] = values
        self._length = length

    def trim(self) -> None:
        """Give back the room that nothing came for."""
        self._held.resize((self._length, *self._held.shape[1:]), refcheck=False)

    def whole(self) -> NDArray[Any]:
        self.trim()
        return self._held

    def _make_room(self, length: int) -> None:
        before, self._held = self._held, np.empty((length, *self._held.shape[1:]), self._held.dtype)
        self._held[: self._length] = before[: self._length]
