"""What do the binary frames of a port say?"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from strokewise.analysis.samples import Board
from strokewise.daq.wire.frames import (
    EVENT,
    EVENT_TYPE,
    HELLO_TYPE,
    SAMPLE_HEADER,
    SAMPLE_SIZES,
    SAMPLES_TYPE,
    SHAPE,
    WIRE_FORMAT,
    Event,
    Frame,
    Hello,
    Loss,
    SampleBlock,
)
from strokewise.daq.wire.framing import Splitter, unwrap
from strokewise.daq.wire.jsontext import parse_object
from strokewise.daq.wire.runs import WORTH_IT, FrameRun, runs_and_rest

_FIRST_STEP = slice(SAMPLE_HEADER.size, SAMPLE_HEADER.size + 2)
_NO_STEP = b"\0\0"

MAX_COUNTS_PER_REV = 2**31 - 1
MAX_ADC_BITS = 16  # a reading is a uint16
MAX_SKIPPED = 2**32 - 1


class BinaryReader:
    """Turns the bytes of a port into frames, and counts what is none.

    A frame is believed when its CRC holds and its body is exactly what its type asks for.

    Attributes
    ----------
    good, bad, unchecked : int
        Frames decoded; pieces between delimiters that are no frame; always 0 here.
    """

    unchecked = 0

    def __init__(self) -> None:
        self._splitter = Splitter(b"\0")
        self.good = 0
        self.bad = 0

    @property
    def waiting(self) -> int:
        """Bytes held back until their delimiter comes."""
        return self._splitter.waiting

    def feed(self, data: bytes) -> list[Frame]:
        """Take more bytes and return the frames that they complete."""
        joining = self._splitter.joining
        return self._frames(self._splitter.feed(data), joining)

    def feed_many(self, data: bytes) -> list[Frame | FrameRun]:
        """Take more bytes and return the same, frames in runs where there are many."""
        if len(data) < WORTH_IT:
            return [*self.feed(data)]
        joining = self._splitter.joining
        whole = self._splitter.through(data)
        found: list[Frame | FrameRun] = []
        joining = joining and not whole.startswith(b"\0")
        for part in runs_and_rest(whole):
            if isinstance(part, FrameRun):
                found.append(part)
                self.good += len(part)
            else:
                found += self._frames([part], joining)
            joining = False
        return found

    def _frames(self, pieces: Iterable[bytes], joining: bool) -> list[Frame]:
        """Return what single pieces are, and count them."""
        frames: list[Frame] = []
        for piece in pieces:
            payload = unwrap(piece)
            frame = None if payload is None else parse_payload(payload)
            if frame is not None:
                frames.append(frame)
            elif piece and not joining:
                self.bad += 1
            joining = False
        self.good += len(frames)
        return frames

    def skip(self) -> list[Frame]:
        """Bytes are missing here: what comes next does not follow on what came before."""
        self._splitter.skip()
        return [Loss()]

    def finish(self) -> list[Frame]:
        """Return nothing: a frame cut off at the end is none."""
        return []


def parse_payload(payload: bytes) -> Frame | None:
    """Return the frame that a checked payload holds, or None when its body does not fit."""
    kind = payload[0]
    if kind == SAMPLES_TYPE:
        fits = len(payload) == SAMPLE_SIZES.get(payload[SHAPE])
        if fits and payload[_FIRST_STEP] == _NO_STEP:
            return SampleBlock(payload, payload[1])
    elif kind == EVENT_TYPE:
        if len(payload) == EVENT.size:
            _, sequence, t_us, count, number = EVENT.unpack(payload)
            return Event(t_us, count, number, sequence)
    elif kind == HELLO_TYPE and len(payload) > 2:
        board = parse_board(payload[2:])
        return None if board is None else Hello(board, payload[1])
    return None


def parse_board(text: bytes) -> Board | None:
    """Return what a hello says of its board.

    A key that is missing or makes no sense is as good as unsaid; text that is no JSON object, or
    one that states another format, is no hello.
    """
    said = parse_object(text)
    if said is None or said.get("format", WIRE_FORMAT) != WIRE_FORMAT:
        return None
    device = said.get("device")
    return Board(
        device=device if isinstance(device, str) else "",
        counts_per_rev=_whole(said.get("counts_per_rev"), MAX_COUNTS_PER_REV),
        adc_bits=_whole(said.get("adc_bits"), MAX_ADC_BITS),
        adc=_names(said.get("adc")),
        boot=_boot(said.get("boot")),
        marks=_names(said.get("marks")),
        skipped=_whole(said.get("skipped"), MAX_SKIPPED, least=0),
    )


def _whole(value: Any, highest: int, least: int = 1) -> int | None:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    return int(value) if least <= value <= highest and value == int(value) else None


def _names(value: Any) -> tuple[str, ...]:
    if isinstance(value, list) and all(isinstance(name, str) for name in value):
        return tuple(value)
    return ()


def _boot(value: Any) -> int | None:
    """Any number will do, as long as two different ones stay different."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    return hash(value) if isinstance(value, float) else value
