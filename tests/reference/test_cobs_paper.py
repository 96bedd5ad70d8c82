"""Framing against the COBS paper.

Source: S. Cheshire and M. Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM Transactions on
Networking 7(2), 1999. The packet ``45 00 00 2C …`` is the paper's worked example (from memory); the
other vectors follow from its rules and are the ones commonly printed for it.

A frame of ours is the stuffed payload with its CRC behind it and a zero at the end. So the paper's
rules are written down here once, held to the printed vectors, and then our own wrap and unwrap are
held to them on every payload of the vectors.
"""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from strokewise.daq.wire.framing import crc16, unwrap, wrap

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
PAYLOADS = [bytes.fromhex(plain) for plain, _ in VECTORS if plain]

REFUSED = ["00", "05 31 32 33", "05 31 32 33 34 00"]


def stuffed_by_the_paper(plain: bytes) -> bytes:
    """Every group: one more than its bytes other than zero, then these.

    A group of 254 stands for itself, any shorter one for the zero after it too; the last zero is
    only thought.
    """
    out = b""
    groups = plain.split(b"\0")
    for at, group in enumerate(groups):
        last = at == len(groups) - 1
        while len(group) > 254 or (len(group) == 254 and last):
            out, group = out + b"\xff" + group[:254], group[254:]
            if last and not group:
                return out
        out += bytes([len(group) + 1]) + group if len(group) < 254 else b"\xff" + group + b"\x01"
    return out


def closed(payload: bytes) -> bytes:
    """The payload with what our frames carry behind it."""
    return payload + crc16(payload).to_bytes(2, "little")


@pytest.mark.parametrize(("plain", "stuffed"), VECTORS)
def test_the_rules_here_are_the_papers(plain: str, stuffed: str) -> None:
    assert stuffed_by_the_paper(bytes.fromhex(plain)) == bytes.fromhex(stuffed)


@pytest.mark.parametrize("payload", PAYLOADS)
def test_wraps_as_the_paper(payload: bytes) -> None:
    assert wrap(payload) == stuffed_by_the_paper(closed(payload)) + b"\0"


@pytest.mark.parametrize("payload", PAYLOADS)
def test_unwraps_what_the_paper_stuffs(payload: bytes) -> None:
    assert unwrap(stuffed_by_the_paper(closed(payload))) == payload


@pytest.mark.parametrize(
    ("payload", "begins"),
    [
        ("11 22 00 33", "03 11 22"),
        ("45 00 00 2C 4C 79 00 00 40 06 4F 37", "02 45 01 04 2C 4C 79 01"),
        ("00 00", "01 01"),
        (RUN.hex(), "FF" + RUN.hex()),
        ("00" + RUN.hex() + "FF", "01 FF" + RUN.hex()),
    ],
)
def test_a_frame_begins_with_the_printed_bytes(payload: str, begins: str) -> None:
    """Up to the last group, which the CRC makes longer."""
    assert wrap(bytes.fromhex(payload)).startswith(bytes.fromhex(begins))


@pytest.mark.parametrize("stuffed", REFUSED)
def test_refuses_what_no_encoder_writes(stuffed: str) -> None:
    assert unwrap(bytes.fromhex(stuffed)) is None


def test_refuses_a_group_that_promises_more_than_comes() -> None:
    """Not only by its CRC: read leniently, this one's would hold."""
    whole = wrap(b"12345")[:-1]
    assert whole[0] == len(whole)
    assert unwrap(whole) == b"12345"
    assert unwrap(bytes([whole[0] + 1]) + whole[1:]) is None


@given(st.binary(min_size=1, max_size=1200))
@example(RUN)
@example(RUN * 3)
@example(RUN + b"\0" + RUN)
def test_follows_the_paper_and_its_overhead_on_any_payload(payload: bytes) -> None:
    frame = wrap(payload)
    body = len(payload) + 2  # with the CRC
    assert frame == stuffed_by_the_paper(closed(payload)) + b"\0"
    assert frame.count(0) == 1
    assert len(frame) - 1 <= body + 1 + body // 254
    assert unwrap(frame[:-1]) == payload


def test_the_promised_overhead_is_reached() -> None:
    payload = b"\x01" * 1013
    body = closed(payload)
    assert body.count(0) == 0  # three full runs of 254 and most of a fourth
    assert len(wrap(payload)) - 1 == len(body) + 1 + len(body) // 254
