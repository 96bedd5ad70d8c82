"""How does a recording get onto the disk so that a power cut cannot take it?

Every frame is one append to an unbuffered file; a thread of its own forces the file to the disk
at least once a second, so that a slow disk never keeps the port waiting.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

from strokewise.analysis.errors import RecordingError
from strokewise.daq.closing import Closing
from strokewise.daq.recording.atomic import flush_folder
from strokewise.daq.recording.container import Hole, Item, encode_header, encode_item

SYNC_EVERY_S = 0.5
"""How often the file is forced to the disk: a power cut may cost a second, and the disk needs its
share of it."""


class RecordingWriter(Closing):
    """Writes a recording, append by append.

    Parameters
    ----------
    path : path
        A file that does not exist yet: a recording is never written over.
    header : dict
        Whatever the recorder knows: ``started``, ``engine``, ``software``, ``operator_note``.
    start_us : int
        Host time of the source at which the recording starts: the file counts from there.
    clock : callable
        Returns seconds, rising.

    Raises
    ------
    RecordingError
        When the file is there already or cannot be written.
    """

    def __init__(
        self,
        path: str | os.PathLike[str],
        header: dict[str, Any],
        *,
        start_us: int = 0,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._start_us = start_us
        self.path = Path(path)
        self._clock = clock
        first = encode_header(header)
        try:
            self._file = self.path.open("xb", buffering=0)
        except FileExistsError:
            raise RecordingError(
                f"{path} is there already and is not written over; choose another name"
            ) from None
        except OSError as error:
            raise RecordingError(f"{path} cannot be written: {error.strerror}") from None
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="recording-sync")
        self._syncing: Future[None] | None = None
        self._dirty = False
        self._synced_s = clock()
        try:
            self._write(first)
        except RecordingError:
            self._file.close()
            self.path.unlink(missing_ok=True)  # nothing is in it, and its name must not be taken
            raise
        self._sync()
        # Else a power cut may take the file's name.
        self._thread.submit(flush_folder, self.path.parent)

    def append(self, item: Item) -> None:
        """Add what a source delivered.

        Empty chunks leave no trace, but keep the disk up to date while nothing comes.

        Raises
        ------
        RecordingError
            When the disk takes no more.
        """
        if not isinstance(item, Hole):
            self._write(encode_item(item._replace(host_us=max(0, item.host_us - self._start_us))))
        if self._dirty and self._clock() - self._synced_s >= SYNC_EVERY_S:
            self._sync()

    def close(self) -> None:
        """Force the rest to the disk and close the file.

        Raises
        ------
        RecordingError
            When the disk did not take it.
        """
        if self._file.closed:
            return
        self._thread.shutdown(wait=True)
        try:
            os.fsync(self._file.fileno())
        except OSError as error:
            raise self._failed(error) from None
        finally:
            self._file.close()

    def _write(self, frames: bytes) -> None:
        rest = memoryview(frames)
        try:
            while rest:
                rest = rest[self._file.write(rest) :]
                self._dirty = True
        except OSError as error:
            raise self._failed(error) from None

    def _sync(self) -> None:
        """Start forcing the file to the disk, unless that is still going on."""
        if self._syncing is not None:
            if not self._syncing.done():
                return
            if isinstance(error := self._syncing.exception(), OSError):
                raise self._failed(error)
        self._dirty = False
        self._synced_s = self._clock()
        self._syncing = self._thread.submit(os.fsync, self._file.fileno())

    def _failed(self, error: OSError) -> RecordingError:
        return RecordingError(
            f"{self.path}: writing failed ({error.strerror}); what was written before is kept"
        )
