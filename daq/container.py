"""What is in a recording file? The bytes of a port with their times, and what the operator did.

A recording is a run of frames, each proven by its own CRC, so a cut or damaged file loses only
what is damaged. Writing only ever appends.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Self

from strokewise.analysis.errors import RecordingError
from strokewise.daq.frames import FORMAT
from strokewise.daq.framing import unwrap, wrap
from strokewise.daq.jsontext import parse_object, write_object

MAX_CHUNK = 4096
"""Most bytes of the port that one chunk holds."""

SYNC_EVERY_S = 0.5
"""How often the file is forced to the disk: a power cut may cost one second, this leaves a margin
for a slow disk."""

_HOST_TIME_BYTES = 8
_HEADER, _CHUNK, _NOTE = b"RCN"


class Chunk(NamedTuple):
    """Bytes exactly as they came from a port; none at all is a sign of life while nothing came.

    ``host_us`` is the host's time since the start at which they had been read.
    """

    host_us: int
    data: bytes


class Remark(NamedTuple):
    """Something the operator did: a note written, or a mark pressed on the screen by its name."""

    host_us: int
    note: str | None = None
    mark: str | None = None


class Hole(NamedTuple):
    """Bytes of the file that belong to nothing whole; the port's bytes do not connect here."""

    size: int


Item = Chunk | Remark | Hole
"""What a source delivers, be it a port, a recording or a simulated board."""


@dataclass(frozen=True, slots=True)
class Contents:
    """A recording file, opened.

    Attributes
    ----------
    header : dict
        The first frame; empty when it was lost.
    items : tuple of Item
        In the order of the file.
    """

    header: dict[str, Any] = field(default_factory=dict)
    items: tuple[Item, ...] = ()


def read_file(path: str | os.PathLike[str]) -> bytes:
    """Return the file's bytes.

    Raises
    ------
    RecordingError
        When there is no such file, it may not be read, or it is empty.
    """
    name = os.fspath(path)
    try:
        data = Path(name).read_bytes()
    except FileNotFoundError:
        raise RecordingError(f"{name}: no such file; check the name and the folder") from None
    except IsADirectoryError:
        raise RecordingError(f"{name} is a folder; name a recording in it") from None
    except PermissionError:
        raise RecordingError(
            f"{name}: no permission to read it; ask its owner or copy it as one who may"
        ) from None
    except (OSError, ValueError) as error:
        raise RecordingError(f"{name} cannot be read: {error}") from None
    if not data:
        raise RecordingError(f"{name} is empty; nothing was recorded into it")
    return data


def open_contents(data: bytes) -> Contents | None:
    """Take the bytes of a recording apart.

    Returns
    -------
    Contents or None
        None when not one whole frame of a recording is in them, and they are not the beginning of
        one either.
    """
    pieces = data.split(b"\0")
    header: dict[str, Any] | None = None
    items: list[Item] = []
    whole = False
    lost = 0
    for number, piece in enumerate(pieces):
        last = number == len(pieces) - 1
        found = _parse(piece)
        if found is None:
            lost += len(piece) + (not last)
            continue
        whole = True
        if lost or isinstance(found, dict):  # behind another header another recording begins
            if items or lost:
                items.append(Hole(lost))
            lost = 0
        if not isinstance(found, dict):
            items.append(found)
        elif header is None:
            header = found
    if lost:
        items.append(Hole(lost))
    if not whole and not _may_begin(data):
        return None
    return Contents(header or {}, tuple(items))


def _parse(piece: bytes) -> dict[str, Any] | Chunk | Remark | None:
    payload = unwrap(piece)
    if payload is None:
        return None
    if payload[0] == _HEADER:
        return parse_object(payload[1:])
    if len(payload) < 1 + _HOST_TIME_BYTES:
        return None
    host_us = int.from_bytes(payload[1:9], "little")
    if payload[0] == _CHUNK:
        return Chunk(host_us, payload[9:])
    said = parse_object(payload[9:]) if payload[0] == _NOTE else None
    if said is None:
        return None
    note, mark = said.get("note"), said.get("mark")
    return Remark(
        host_us, note if isinstance(note, str) else None, mark if isinstance(mark, str) else None
    )


def _may_begin(data: bytes) -> bool:
    """Tell whether a file without one whole frame can be a recording cut inside its header."""
    return b"\0" not in data and b"R{".startswith(data[1:3])


class RecordingWriter:
    """Writes a recording that a power cut leaves readable up to the last second.

    Every frame is one append to an unbuffered file. Call :meth:`append` for each item, empty
    chunks included: they keep the disk up to date while nothing comes.

    Parameters
    ----------
    path : path
        A file that does not exist yet: a recording is never written over.
    header : dict
        Whatever the recorder knows: ``started``, ``engine``, ``software``, ``operator_note``.
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
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.path = Path(path)
        self._clock = clock
        try:
            self._file = self.path.open("xb", buffering=0)
        except FileExistsError:
            raise RecordingError(
                f"{path} is there already and is not written over; choose another name"
            ) from None
        except OSError as error:
            raise RecordingError(f"{path} cannot be written: {error.strerror}") from None
        self._synced_s = clock()
        self._unsynced = False
        self._write(bytes((_HEADER,)) + write_object({"format": FORMAT, **header}))
        self.sync()

    def append(self, item: Item) -> None:
        """Add what a source delivered; a hole leaves no trace but the missing bytes.

        Raises
        ------
        RecordingError
            When the disk takes no more.
        """
        match item:
            case Chunk(host_us=host_us, data=data):
                for first in range(0, len(data), MAX_CHUNK):
                    part = data[first : first + MAX_CHUNK]
                    self._write(bytes((_CHUNK,)) + _host_time(host_us) + part)
            case Remark(host_us=host_us, note=note, mark=mark):
                said = {"note": note} if mark is None else {"mark": mark}
                self._write(bytes((_NOTE,)) + _host_time(host_us) + write_object(said))
            case Hole():
                pass
        if self._unsynced and self._clock() - self._synced_s >= SYNC_EVERY_S:
            self.sync()

    def sync(self) -> None:
        """Force everything written so far to the disk."""
        try:
            os.fsync(self._file.fileno())
        except OSError as error:
            raise self._failed(error) from None
        self._synced_s = self._clock()
        self._unsynced = False

    def close(self) -> None:
        """Force the rest to the disk and close the file."""
        if not self._file.closed:
            try:
                self.sync()
            finally:
                self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def _write(self, payload: bytes) -> None:
        rest = memoryview(wrap(payload))
        try:
            while rest:
                rest = rest[self._file.write(rest) :]
        except OSError as error:
            raise self._failed(error) from None
        self._unsynced = True

    def _failed(self, error: OSError) -> RecordingError:
        return RecordingError(
            f"{self.path}: writing failed ({error.strerror}); what was written before is kept"
        )


def read_contents(path: str | os.PathLike[str]) -> Contents | None:
    """Read a recording file; see :func:`read_file` and :func:`open_contents`."""
    return open_contents(read_file(path))


def _host_time(host_us: int) -> bytes:
    return max(0, host_us).to_bytes(_HOST_TIME_BYTES, "little")
