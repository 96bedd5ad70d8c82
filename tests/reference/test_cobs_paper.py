"""Framing against the COBS paper.

Source: S. Cheshire and M. Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM Transactions on
Networking 7(2), 1999. The packet ``45 00 00 2C …`` is the paper's worked example (from memory); the
other vectors follow from its rules and are the ones commonly printed for it.
"""

import pytest
from cobs import cobs
from hypothesis import given
from hypothesis import strategies as st

from strokewise.daq.wire.framing import unwrap, wrap

RUN = bytes(range(1, 255))  # 01 … FE, the longest run without a zero that one code byte covers

VECTORS = [
    ("", "01"),
    ("00", "01 01"),
    ("00 00", "01 01 01"),
    ("11 22 00 33", "03 11 22 02 33"),
    ("45 00 00 2C 4C 79 00 00 40 06 4F 37", "02 45 01 04 2C 4C 79 01 05 40 06 4F 37"),
    (RUN.hex(), "FF" + RUN.hex()),
    (RUN.hex() + "FF", "FF" + RUN.hex() + "02 FF"),
    ("00" + RUN.hex() + "FF", "01 FF" + RUN.hex() + "02 FF"),
]

REFUSED = ["00", "05 31 32 33", "05 31 32 33 34 00"]


@pytest.mark.parametrize(("plain", "stuffed"), VECTORS)
def test_stuffs_as_the_paper(plain: str, stuffed: str) -> None:
    assert cobs.encode(bytes.fromhex(plain)) == bytes.fromhex(stuffed)
    assert cobs.decode(bytes.fromhex(stuffed)) == bytes.fromhex(plain)


@pytest.mark.parametrize("stuffed", REFUSED)
def test_refuses_what_no_encoder_writes(stuffed: str) -> None:
    assert unwrap(bytes.fromhex(stuffed)) is None


@given(st.binary(min_size=1, max_size=1200))
def test_overhead_is_what_the_paper_promises(payload: bytes) -> None:
    frame = wrap(payload)
    body = len(payload) + 2  # with the CRC
    assert frame.count(0) == 1
    assert frame[-1] == 0
    assert len(frame) - 1 <= body + 1 + body // 254
    assert unwrap(frame[:-1]) == payload


def test_the_promised_overhead_is_reached() -> None:
    plain = b"\x01" * 1015  # three full runs of 254 and most of a fourth
    assert len(cobs.encode(plain)) == len(plain) + 1 + len(plain) // 254
