"""What do these bytes come to? Decoder and assembler together, the one path of live and batch."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from strokewise.analysis.samples import Health, Segment
from strokewise.daq.recording.container import Chunk, Hole, Item, Jotting, Reopened
from strokewise.daq.wire.assemble import Assembler
from strokewise.daq.wire.decoder import Decoder

SLAB = 1 << 19
"""Bytes decoded at once when they are all there: enough to forget numpy's overhead for a call, few
enough that what is made of them stays near the processor."""


class Intake:
    """Turns what a source delivers into blocks of segments.

    Attributes
    ----------
    notes : list of str
        What the operator wrote, so far.
    """

    def __init__(self) -> None:
        self.notes: list[str] = []
        self._decoder = Decoder()
        self._assembler = Assembler()
        self._missing_bytes = 0
        self._chunks: list[Chunk] = []
        self._size = 0
        self._heard_us: int | None = None
        self._waiting_presses: list[Jotting] = []

    @property
    def health(self) -> Health:
        """How well the bytes came through so far."""
        tally = self._decoder.tally
        return Health(
            samples=self._assembler.samples,
            frames=tally.frames,
            lost_frames=self._assembler.lost.frames,
            lost_about=self._assembler.lost.about,
            left_out=self._assembler.left_out,
            bad_frames=tally.bad_frames,
            unchecked_lines=tally.unchecked_lines,
            missing_bytes=self._missing_bytes,
            segments=self._assembler.segments,
        )

    def feed(self, items: Iterable[Item]) -> list[Segment]:
        """Take what a source delivered next.

        Parameters
        ----------
        items : iterable of Item
            One chunk of a live port, or a whole recording; the samples are the same.

        Returns
        -------
        list of Segment
            Blocks in order; parts of one segment carry the same number, see
            :func:`strokewise.daq.wire.join.join`.
        """
        return list(self.blocks(items))

    def blocks(self, items: Iterable[Item]) -> Iterator[Segment]:
        """Take items and return the same as :meth:`feed`, one block after the other.

        Nothing of what is handed on is held here.
        """
        for item in items:
            match item:
                case Chunk():
                    self._chunks.append(item)
                    self._size += len(item.data)
                    if self._size >= SLAB or self._waiting_presses:
                        yield from self._decode()
                case Jotting():
                    yield from self._decode()
                    yield from self._jotting(item)
                case Reopened():
                    yield from self._decode()
                    yield from self._assembler.feed(self._decoder.skip())
                    yield from self._assembler.reopened()
                    self.notes += [item.words] if item.words else []
                case Hole():
                    yield from self._decode()
                    yield from self._assembler.feed(self._decoder.skip())
                    self._missing_bytes += item.size
        yield from self._decode()

    def finish(self) -> list[Segment]:
        """Say that nothing more comes, and return what was still held back."""
        return self._assembler.feed(self._decoder.finish()) + self._assembler.finish()

    def _decode(self) -> list[Segment]:
        chunks, self._chunks, self._size = self._chunks, [], 0
        if not chunks:
            return []
        blocks = self._assembler.feed(self._decoder.feed_many(b"".join(c.data for c in chunks)))
        # The latest time on the board had been read with the last delimiter, not with the bytes
        # of an unfinished frame behind it.
        unfinished = self._decoder.waiting
        for chunk in reversed(chunks):
            if unfinished < len(chunk.data):
                self._heard_us = chunk.host_us
                break
            unfinished -= len(chunk.data)
        if self._waiting_presses and self._assembler.latest_us is not None:
            presses, self._waiting_presses = self._waiting_presses, []
            blocks += [block for press in presses for block in self._jotting(press)]
        return blocks

    def _jotting(self, jotting: Jotting) -> list[Segment]:
        """Note what the operator did; a press is placed on the board's clock by the last frame.

        Bytes take some milliseconds from the board to here, a finger some hundred: no more is
        made of it than the time since the last frame.
        """
        if jotting.note is not None:
            self.notes.append(jotting.note)
        if jotting.mark is None:
            return []
        board_us = self._assembler.latest_us
        if board_us is None or self._heard_us is None:
            self._waiting_presses.append(Jotting(jotting.host_us, mark=jotting.mark))
            return []
        time_us = board_us + jotting.host_us - self._heard_us
        return [self._assembler.place_press(jotting.mark, time_us)]
