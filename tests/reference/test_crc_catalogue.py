"""The CRC against the public CRC catalogue.

Source: Catalogue of parametrised CRC algorithms (reveng.sourceforge.io), entry CRC-16/IBM-3740:
width 16, poly 0x1021, init 0xFFFF, not reflected, no final xor, check 0x29B1; and CRC-16/XMODEM
(both read second hand). The check value is that of the ASCII digits "123456789".
"""

import pytest

from strokewise.daq.wire.framing import crc16

CHECK_INPUT = b"123456789"
CRC_16_IBM_3740 = 0x29B1
CRC_16_XMODEM = 0x31C3  # same polynomial, started at 0: what a wrong start would give


def from_the_parameters(data: bytes) -> int:
    """Compute the CRC bit by bit from the catalogue's parameters, by no library."""
    register = 0xFFFF
    for byte in data:
        register ^= byte << 8
        for _ in range(8):
            register = (register << 1) ^ (0x1021 if register & 0x8000 else 0)
            register &= 0xFFFF
    return register


def test_gives_the_catalogue_check_value() -> None:
    assert crc16(CHECK_INPUT) == CRC_16_IBM_3740
    assert crc16(CHECK_INPUT) != CRC_16_XMODEM


@pytest.mark.parametrize("data", [b"", b"\0", b"\xff" * 64, bytes(range(256)) * 3])
def test_follows_the_catalogue_parameters(data: bytes) -> None:
    assert crc16(data) == from_the_parameters(data)


def test_of_nothing_is_the_start_value() -> None:
    assert crc16(b"") == 0xFFFF
