"""What does this recording hold? A file to a decoded recording, in one call."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import chain
from typing import Any

from strokewise.analysis.errors import RecordingError
from strokewise.analysis.samples import Health, Recording, Segment
from strokewise.daq.recording.container import (
    CONTAINER_FORMAT,
    Chunk,
    Contents,
    Hole,
    Item,
    may_begin,
    open_contents,
    parts_of,
    read_file,
)
from strokewise.daq.wire.decoder import Decoder
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join
from strokewise.daq.wire.plausible import readable

RECORD_BYTES = 4
"""What a sample takes on the wire at the least: a step of the count and one reading."""

PROBE = 1 << 16
"""Bytes of a file that is no recording in which one frame of a port must be found."""


def read_recording(path: str | os.PathLike[str]) -> Recording:
    """Read a recording, however much of it is left.

    Parameters
    ----------
    path : path
        A recording (``.swr``), or the bare bytes of a port saved by another program.

    Returns
    -------
    Recording
        Segments may be empty when the file was cut before the first sample; ``health`` says what
        was lost on the way.

    Raises
    ------
    RecordingError
        When the file cannot be read, is empty, or is neither.

    Examples
    --------
    >>> from strokewise.daq import read_recording
    >>> (segment,) = read_recording("recordings/cranked.swr").segments
    >>> segment.samples.readings.shape, segment.board.counts_per_rev
    ((4001, 1), 2400)
    """
    data = read_file(path)
    intake = Intake()
    headers: list[dict[str, Any]] = []
    blocks = chain(intake.blocks(_items(path, data, headers)), _rest(intake))
    segments, health = _readable(join(blocks, len(data) // RECORD_BYTES), intake.health)
    return Recording(segments, health, headers[0] if headers else {}, tuple(intake.notes))


def _items(
    path: str | os.PathLike[str], data: bytes, headers: list[dict[str, Any]]
) -> Iterator[Item]:
    """Return the items of a recording one after the other, and note its headers on the way."""
    for part in parts_of(data):
        if isinstance(part, dict):
            if not headers:
                _check_format(path, part)
            headers.append(part)
        elif isinstance(part, Hole) and part.size == len(data) and not may_begin(data):
            yield _bare_bytes(path, data)
        else:
            yield part


def _rest(intake: Intake) -> Iterator[Segment]:
    yield from intake.finish()


def _readable(segments: tuple[Segment, ...], health: Health) -> tuple[tuple[Segment, ...], Health]:
    """Hold what came before the first hello against what the board said of itself later."""
    kept = []
    for segment in segments:
        sound = readable(segment.samples, segment.board)
        if sound is not None:
            out = int((~sound).sum())
            health = replace(health, samples=health.samples - out, left_out=health.left_out + out)
            segment = replace(segment, samples=segment.samples.only(sound))
        kept.append(segment)
    return tuple(kept), health


def open_recording(
    path: str | os.PathLike[str], going: Callable[[float], object] | None = None
) -> Contents:
    """Return a recording's header and its items, not yet decoded.

    Bare bytes of a port are taken as one chunk without a header.

    Parameters
    ----------
    going : callable, optional
        As for :func:`~strokewise.daq.recording.container.open_contents`.

    Raises
    ------
    RecordingError
        As for :func:`read_recording`.
    """
    data = read_file(path)
    contents = open_contents(data, going)
    if contents is None:
        return Contents(items=(_bare_bytes(path, data),))
    _check_format(path, contents.header)
    return contents


def _check_format(path: str | os.PathLike[str], header: dict[str, Any]) -> None:
    form = header.get("format", CONTAINER_FORMAT)
    if form != CONTAINER_FORMAT:
        raise RecordingError(
            f"{os.fspath(path)} is a recording of format {form!r:.20}, and this version reads"
            f" format {CONTAINER_FORMAT} alone; update strokewise"
        )


def _bare_bytes(path: str | os.PathLike[str], data: bytes) -> Chunk:
    """Take a file for the bytes of a port, of which one frame must prove itself near its start."""
    probe = Decoder()
    probe.feed(data[:PROBE])
    if probe.tally.frames:
        return Chunk(0, data)
    raise RecordingError(
        f"{os.fspath(path)} is not a recording: none of its {len(data)} bytes form a whole frame;"
        " name a .swr file that `strokewise record` wrote"
    )
