"""Which frames are in these bytes? The one decoder of live ports, replays and whole recordings.

A pure state machine: bytes in, frames and counted faults out, the same however the bytes are cut.
It tells binary frames and lines apart by reading both ways until one way proves itself.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from strokewise.daq.wire.binary import BinaryReader
from strokewise.daq.wire.frames import Frame
from strokewise.daq.wire.lines import LineReader
from strokewise.daq.wire.runs import FrameRun

_PORT_PARTS = re.compile(rb"[^\0\n]*[\0\n]|[^\0\n]+")
"""Parts that end at a delimiter, so that only one of the two readings can prove itself in each."""


@dataclass(frozen=True, slots=True)
class Tally:
    """What the decoder made of the bytes so far.

    Attributes
    ----------
    frames, bad_frames, unchecked_lines : int
        As in :class:`strokewise.analysis.samples.Health`.
    """

    frames: int = 0
    bad_frames: int = 0
    unchecked_lines: int = 0


class Decoder:
    """Decodes one port's stream, binary or lines."""

    def __init__(self) -> None:
        self._readers: list[BinaryReader | LineReader] = [BinaryReader(), LineReader()]

    @property
    def waiting(self) -> int:
        """Bytes held back because their frame or line is not complete."""
        return min(reader.waiting for reader in self._readers)

    @property
    def tally(self) -> Tally:
        """Counts so far; while neither form has proven itself, of the one that looks worse."""
        worst = max(self._readers, key=lambda reader: reader.bad)
        return Tally(worst.good, worst.bad, worst.unchecked)

    def feed(self, data: bytes) -> list[Frame]:
        """Take the next bytes of the stream.

        Parameters
        ----------
        data : bytes
            Any bytes, in parts of any size.

        Returns
        -------
        list of Frame
            The frames that are complete now, in order, with a ``Loss`` where something is missing
            that no sequence number will tell of.
        """
        if len(self._readers) == 1:
            return self._readers[0].feed(data)
        heard, rest = self._first_heard(data)
        return heard + (self._readers[0].feed(rest) if rest else [])

    def feed_many(self, data: bytes) -> list[Frame | FrameRun]:
        """Take the next bytes of the stream, where many come at once.

        Returns
        -------
        list of Frame or FrameRun
            What :meth:`feed` returns, in runs where nothing is the matter.
        """
        heard: list[Frame] = []
        if len(self._readers) > 1:
            heard, data = self._first_heard(data)
        reader = self._readers[0]
        if len(self._readers) > 1 or not data:
            return [*heard]
        if isinstance(reader, BinaryReader):
            return [*heard, *reader.feed_many(data)]
        return [*heard, *reader.feed(data)]

    def _first_heard(self, data: bytes) -> tuple[list[Frame], bytes]:
        """Read both ways until one proves itself; returns its frames, and the bytes behind them."""
        for part in _PORT_PARTS.finditer(data):
            for reader in self._readers:
                frames = reader.feed(part[0])
                if reader.good:
                    self._readers = [reader]
                    return frames, data[part.end() :]
        return [], b""

    def skip(self) -> list[Frame]:
        """Bytes are missing here; whatever was half heard is dropped.

        A frame pieced together across the hole could be one that no board ever sent.

        Returns
        -------
        list of Frame
            What was heard before the hole and had to wait, and a ``Loss`` for the hole.
        """
        return [reader.skip() for reader in self._readers][-1]

    def finish(self) -> list[Frame]:
        """Say that no more bytes come, and return what had to wait for some."""
        return [frame for reader in self._readers for frame in reader.finish()]
