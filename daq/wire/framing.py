"""Which bytes are whole, proven frames? COBS between zeros, closed by a CRC.

COBS: Cheshire & Baker, IEEE/ACM Transactions on Networking 7(2), 1999. The CRC is CRC-16/IBM-3740
of the public CRC catalogue, appended little endian.
"""

from __future__ import annotations

from binascii import crc_hqx

from cobs import cobs

CRC_START = 0xFFFF
CRC_BYTES = 2

MAX_FRAME = 4096
"""Bytes between two delimiters of a port above which it cannot be a frame.

The largest block of samples takes 659; what is left is for a talkative hello. It bounds what
noise without a delimiter can pile up."""


JUNK = b"\2"
"""Stands for a piece that can be no frame (two bytes are announced and none follow) and no line."""


def crc16(data: bytes) -> int:
    """Return the CRC-16/IBM-3740 of the data."""
    return crc16_from(CRC_START, data)


def crc16_from(register: int, data: bytes) -> int:
    """Return where the CRC's register comes to from another place than its start."""
    return crc_hqx(data, register)


def wrap(payload: bytes) -> bytes:
    """Return the payload as a frame: with its CRC, stuffed, and ended by a zero."""
    stuffed: bytes = cobs.encode(payload + crc16(payload).to_bytes(2, "little"))
    return stuffed + b"\0"


def unwrap(piece: bytes) -> bytes | None:
    """Return the payload of what stood between two zeros, or None when its CRC does not hold."""
    body = unstuffed(piece)
    return None if body is None else body[:-CRC_BYTES]


def unstuffed(piece: bytes) -> bytes | None:
    """Return payload and CRC of what stood between two zeros, or None when it does not hold."""
    try:
        body: bytes = cobs.decode(piece)
    except cobs.DecodeError:
        return None
    if len(body) <= CRC_BYTES:
        return None
    if crc_hqx(memoryview(body)[:-CRC_BYTES], CRC_START) != body[-2] | body[-1] << 8:
        return None
    return body


class Splitter:
    """Cuts a stream at its delimiter, the same however the stream arrives in parts.

    Parameters
    ----------
    delimiter : bytes
        One byte.

    Attributes
    ----------
    joining : bool
        True until the first delimiter: what stands in front of it may be the rest of something
        whose start was never heard. It counts if it proves itself, and is no damage if not.
    """

    def __init__(self, delimiter: bytes) -> None:
        self._delimiter = delimiter
        self._tail = b""
        self._too_long = False
        self.joining = True

    @property
    def waiting(self) -> int:
        """Bytes held back until their delimiter comes."""
        return len(self._tail)

    def feed(self, data: bytes) -> list[bytes]:
        """Return what stands in front of each delimiter met so far, in order.

        A piece longer than ``MAX_FRAME`` comes as ``JUNK``.
        """
        pieces = self.through(data).split(self._delimiter)
        pieces.pop()
        if pieces and max(map(len, pieces)) > MAX_FRAME:
            pieces = [piece if len(piece) <= MAX_FRAME else JUNK for piece in pieces]
        return pieces

    def through(self, data: bytes) -> bytes:
        """Return what came up to the last delimiter met so far, and that.

        A piece of which a part was dropped already, being too long, begins with ``JUNK`` alone.
        """
        held = self._tail + data
        end = held.rfind(self._delimiter) + 1
        whole, self._tail = held[:end], held[end:]
        if whole:
            if self._too_long:
                whole = JUNK + whole[whole.index(self._delimiter) :]
            self._too_long = self.joining = False
        if len(self._tail) > MAX_FRAME:
            self._tail = b""
            self._too_long = True
        return whole

    def skip(self) -> None:
        """Forget what is held back: the bytes that come next do not follow on it."""
        self._tail = b""
        self._too_long = False
        self.joining = True
