"""Where is a live run being recorded to? One file at a time; a disk that is full ends no run."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from strokewise.analysis.errors import StrokewiseError
from strokewise.daq.recording.container import Hole, Item
from strokewise.daq.recording.writer import RecordingWriter


class Keeping:
    """Keeps what comes while a recording is wanted.

    Attributes
    ----------
    name : str
        The file; empty while nothing is recorded.
    trouble : str
        Why the last recording ended before it was told to, or did not close.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._writer: RecordingWriter | None = None
        self._latest_us, self._latest_s, self._offset_us = 0, clock(), 0
        self.trouble = ""

    @property
    def name(self) -> str:
        """The file; empty while nothing is recorded."""
        return "" if self._writer is None else str(self._writer.path)

    def begin(self, path: Path, header: dict[str, Any]) -> None:
        """Record to a new file from now on.

        Raises
        ------
        RecordingError
            When it is there already or cannot be written.
        """
        self.end()
        self.trouble = ""
        self._writer = RecordingWriter(path, header, clock=self._clock)

    def write(self, item: Item) -> None:
        """Keep an item; host times in the file never run back, whatever those of a port do."""
        if not isinstance(item, Hole):
            self._latest_us = max(self._latest_us, item.host_us + self._offset_us)
            self._latest_s = self._clock()
            item = item._replace(host_us=self._latest_us)
        if self._writer is None:
            return
        try:
            self._writer.append(item)
        except StrokewiseError as error:
            self.end()
            self.trouble = str(error)

    def reopened(self) -> None:
        """The port was opened anew and counts from nothing: in the file its time goes on."""
        away_us = round((self._clock() - self._latest_s) * 1e6)
        self._offset_us = self._latest_us + max(0, away_us)

    def end(self) -> None:
        """Close the file, if one is open."""
        writer, self._writer = self._writer, None
        try:
            if writer is not None:
                writer.close()
        except StrokewiseError as error:
            self.trouble = str(error)
