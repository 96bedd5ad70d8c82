"""How is a job recorded and watched in one pass?

What a source delivers goes to the disk first and to the decoder after, so nothing is ever shown
that was not kept.
"""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from queue import Empty, SimpleQueue
from types import FrameType
from typing import Any

from strokewise.analysis.samples import Health, Segment
from strokewise.daq.recording.container import Jotting
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.daq.sources import Source
from strokewise.daq.wire.intake import Intake


class Recorder:
    """Runs a source into a recording and hands on the decoded blocks.

    Parameters
    ----------
    source : Source
        A port, a recording, or a simulated board.
    writer : RecordingWriter, optional
        Left out, the source is only watched.
    """

    def __init__(self, source: Source, writer: RecordingWriter | None = None) -> None:
        self._source = source
        self._writer = writer
        self._intake = Intake()
        self._jottings: SimpleQueue[Jotting] = SimpleQueue()

    @property
    def health(self) -> Health:
        """How well the bytes came through so far."""
        return self._intake.health

    def note(self, text: str) -> None:
        """Put down a note with the time it was made; from any thread."""
        self._jottings.put(Jotting(self._source.now_us(), note=text))

    def mark(self, name: str) -> None:
        """Put down that a mark was pressed now; from any thread."""
        self._jottings.put(Jotting(self._source.now_us(), mark=name))

    def blocks(self) -> Iterator[list[Segment]]:
        """Run until the source ends or is stopped.

        Yields
        ------
        list of Segment
            What each item added; empty when it completed nothing, at least ten times a second
            from a live port.

        Raises
        ------
        PortError
            When the port goes away; all that came before is written.
        RecordingError
            When the disk takes no more.
        """
        try:
            for item in self._source:
                if self._writer is not None:
                    self._writer.append(item)
                yield self._intake.feed((item,)) + self._take_remarks()
        finally:
            rest = self._take_remarks()
        yield rest + self._intake.finish()

    def _take_remarks(self) -> list[Segment]:
        blocks: list[Segment] = []
        while True:
            try:
                jotting = self._jottings.get_nowait()
            except Empty:
                return blocks
            if self._writer is not None:
                self._writer.append(jotting)
            blocks += self._intake.feed((jotting,))


def recording_header(
    *,
    engine: dict[str, Any] | None = None,
    operator_note: str | None = None,
    now: datetime | None = None,
) -> dict[str, Any]:
    """Return the first frame of a new recording.

    Parameters
    ----------
    engine : dict, optional
        The engine profile's table, with the sensed cylinder in it.
    operator_note : str, optional
        Whatever the operator wants to have on record.
    now : datetime, optional
        With its time zone; the present when left out.
    """
    from importlib import metadata  # loads the reading of mail: not before the first picture

    started = (now or datetime.now(UTC)).astimezone(UTC)
    said = {
        "started": started.isoformat(timespec="seconds").replace("+00:00", "Z"),
        "software": f"strokewise {metadata.version('strokewise')}",
        "engine": engine,
        "operator_note": operator_note,
    }
    return {key: value for key, value in said.items() if value is not None}


@contextmanager
def stopped_by_interrupt(source: Source) -> Iterator[None]:
    """Let Ctrl-C end the source in order, so that no byte read is lost.

    A second Ctrl-C interrupts as ever. Only in the main thread, as signals are.
    """

    def stop(number: int, frame: FrameType | None) -> None:
        source.stop()
        signal.signal(signal.SIGINT, before)

    before = signal.signal(signal.SIGINT, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
