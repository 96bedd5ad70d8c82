"""What is in a recording file? The bytes of a port with their times, and what the operator did.

A recording is a run of frames, each proven by its own CRC, so a cut or damaged file loses only
what is damaged.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from strokewise.analysis.errors import RecordingError
from strokewise.daq.wire.framing import CRC_BYTES, unstuffed, wrap
from strokewise.daq.wire.jsontext import parse_object, write_object

RECORDING_SUFFIX = ".swr"

CONTAINER_FORMAT = 1
"""The version of the container that a header states."""

MAX_CHUNK = 4096
"""Most bytes of the port that one chunk holds."""

TOLD_EVERY = 4096
"""After so many parts it is told how far the taking apart has come: some hundredths of a second."""

_HOST_TIME_BYTES = 8
_HEADER, _CHUNK, _NOTE = b"RCN"

_REOPENED = "reopened"


class Chunk(NamedTuple):
    """Bytes exactly as they came from a port; none at all is a sign of life while nothing came.

    ``host_us`` is the host's time since the start at which they had been read.
    """

    host_us: int
    data: bytes


class Jotting(NamedTuple):
    """Something the operator did: a note written, or a mark pressed on the screen by its name."""

    host_us: int
    note: str | None = None
    mark: str | None = None


class Reopened(NamedTuple):
    """The port had gone away and was opened anew: the board may have started anew meanwhile."""

    host_us: int
    words: str = ""


class Hole(NamedTuple):
    """Bytes of the file that belong to nothing whole; the port's bytes do not connect here."""

    size: int


Item = Chunk | Jotting | Reopened | Hole
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


def words_of(item: Item) -> str:
    """Return what an item says in words, nothing where it has none."""
    match item:
        case Jotting(note=str(words)) | Reopened(words=words):
            return words
        case _:
            return ""


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


def open_contents(data: bytes, going: Callable[[float], object] | None = None) -> Contents | None:
    """Take the bytes of a recording apart.

    Parameters
    ----------
    going : callable, optional
        Told the share of the bytes that was looked at, 0 to 1, again and again; whoever raises in
        it stops.

    Returns
    -------
    Contents or None
        None when not one whole frame of a recording is in them, and they are not the beginning of
        one either.
    """
    header: dict[str, Any] | None = None
    items: list[Item] = []
    whole = False
    done = 0
    for number, part in enumerate(parts_of(data)):
        if going is not None and isinstance(part, Chunk):
            done += len(part.data)
            if number % TOLD_EVERY == 0:
                going(done / len(data))
        whole |= not isinstance(part, Hole)
        if not isinstance(part, dict):
            items.append(part)
        elif header is None:
            header = part
    if not whole and not may_begin(data):
        return None
    return Contents(header or {}, tuple(items))


def parts_of(data: bytes) -> Iterator[dict[str, Any] | Item]:
    """Return what is in the bytes of a recording, one after the other: headers and items.

    Behind another header than the first another recording begins, which is parted from the one in
    front by a hole of no bytes at the least.
    """
    lost = 0
    begun = False
    for piece, ended in _pieces(data):
        found = _parse(piece)
        if found is None:
            lost += len(piece) + ended
            continue
        if lost or (begun and isinstance(found, dict)):
            yield Hole(lost)
            lost, begun = 0, True
        yield found
        begun = begun or not isinstance(found, dict)
    if lost:
        yield Hole(lost)


def _pieces(data: bytes) -> Iterator[tuple[bytes, bool]]:
    """Return what stands between zeros, and whether one stands behind it."""
    start = 0
    while (end := data.find(0, start)) >= 0:
        yield data[start:end], True
        start = end + 1
    yield data[start:], False


def _parse(piece: bytes) -> dict[str, Any] | Chunk | Jotting | Reopened | None:
    body = unstuffed(piece)
    if body is None:
        return None
    if body[0] == _HEADER:
        return parse_object(body[1:-CRC_BYTES])
    if len(body) < 1 + _HOST_TIME_BYTES + CRC_BYTES:
        return None
    host_us = int.from_bytes(body[1:9], "little")
    if body[0] == _CHUNK:
        return Chunk(host_us, body[9:-CRC_BYTES])
    said = parse_object(body[9:-CRC_BYTES]) if body[0] == _NOTE else None
    if said is None:
        return None
    note, mark = _text(said.get("note")), _text(said.get("mark"))
    if said.get("port") == _REOPENED:
        return Reopened(host_us, note or "")
    return Jotting(host_us, note, mark)


def _text(value: Any) -> str | None:
    return value if isinstance(value, str) else None


def may_begin(data: bytes) -> bool:
    """Tell whether a file without one whole frame can be the damaged beginning of a recording.

    Behind the first code byte stands the header's type, and its JSON; of a file cut after one
    byte nothing speaks against it.
    """
    start = data[1:3]
    return start == b"R{"[: len(start)]


def encode_header(header: dict[str, Any]) -> bytes:
    """Return a recording's first frame.

    Parameters
    ----------
    header : dict
        Whatever the recorder knows: ``started``, ``engine``, ``software``, ``operator_note``.
    """
    return wrap(bytes((_HEADER,)) + write_object({"format": CONTAINER_FORMAT, **header}))


def encode_item(item: Chunk | Jotting | Reopened) -> bytes:
    """Return the frames of one item: several for a chunk too long for one, none for an empty one.

    Raises
    ------
    ValueError
        When its host time lies before the start.
    """
    if item.host_us < 0:
        raise ValueError(f"host time {item.host_us} µs lies before the start of the recording")
    start = item.host_us.to_bytes(_HOST_TIME_BYTES, "little")
    if not isinstance(item, Chunk):
        said = (
            {"note": item.words or None, "port": _REOPENED}
            if isinstance(item, Reopened)
            else {"note": item.note, "mark": item.mark}
        )
        text = write_object({key: value for key, value in said.items() if value is not None})
        return wrap(bytes((_NOTE,)) + start + text)
    return b"".join(
        wrap(bytes((_CHUNK,)) + start + item.data[first : first + MAX_CHUNK])
        for first in range(0, len(item.data), MAX_CHUNK)
    )
