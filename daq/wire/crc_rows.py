"""Which of these frames are proven by their CRC? All frames of one length at once."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.samples import BoolArray
from strokewise.daq.wire.framing import CRC_START, crc16, crc16_from


def proven(rows: NDArray[np.uint8]) -> BoolArray:
    """Tell which rows end with the CRC-16/IBM-3740 of what stands in front of it.

    Parameters
    ----------
    rows : (m, k) uint8
        Payload and CRC, k at least 3, one frame a row.

    Returns
    -------
    (m,) bool
    """
    odd = rows.shape[1] % 2
    crc = _after_one()[rows[:, 0]] if odd else np.full(len(rows), CRC_START, np.uint16)
    # A word at a time down the columns: the register is kept with its bytes changed over, so that
    # a word of the frame is what little endian makes of it.
    *words, last = np.ascontiguousarray(rows[:, odd:]).view("<u2").T.copy()
    table = _after_two()
    for word in words:
        crc = table.take(crc ^ word)
    good: BoolArray = crc.byteswap() == last
    return good


@cache
def _after_one() -> NDArray[np.uint16]:
    """Return the register, its bytes changed over, behind a first byte of each value, (256,)."""
    after = np.array([crc16(bytes((byte,))) for byte in range(256)], np.uint16)
    return after.byteswap()


@cache
def _after_two() -> NDArray[np.uint16]:
    """Return the register behind two bytes of each value, from zero, bytes changed over, (65536,).

    The register and the two bytes come together by exclusive or, so one table serves both.
    """
    one = np.array([crc16_from(0, bytes((byte,))) for byte in range(256)], np.uint16)
    first, second = np.arange(1 << 16) & 0xFF, np.arange(1 << 16) >> 8
    behind = (one[first] << 8) ^ one[(one[first] >> 8) ^ second]
    table: NDArray[np.uint16] = behind.astype(np.uint16).byteswap()
    return table
