"""Checksum and framing against published values.

CRC-32 of IEEE 802.3 over the ASCII text 123456789 is 0xCBF43926 (any catalogue of CRCs). COBS: worked examples after
Cheshire and Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM Transactions on Networking 7(2), 1999: one byte of
overhead, one more only for every full 254 bytes without a zero.
"""

import pytest

from groundtone.wire.codec import check, encode
from groundtone.wire.messages import Request, Type
from groundtone.wire.stream import line_bytes


def crc_bit_by_bit(data):
    """The polynomial division as IEEE 802.3 describes it, one bit after the other."""
    register = 0xFFFFFFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = register >> 1 ^ (0xEDB88320 if register & 1 else 0)
    return register ^ 0xFFFFFFFF


def test_the_catalogue_value():
    assert crc_bit_by_bit(b"123456789") == 0xCBF43926


@pytest.mark.parametrize("arguments", [b"", b"d\0", bytes(range(200))])
def test_messages_end_with_that_checksum(arguments):
    raw = encode(Request(7, 2, arguments))
    assert int.from_bytes(raw[-4:], "little") == crc_bit_by_bit(raw[:-4])
    assert check(raw) is Type.REQUEST


@pytest.mark.parametrize(
    ("message", "line"),
    [
        ("00", "01 01 00"),
        ("00 00", "01 01 01 00"),
        ("11 22 00 33", "03 11 22 02 33 00"),
        ("11 22 33 44", "05 11 22 33 44 00"),
        ("11 00 00 00", "02 11 01 01 01 00"),
        (bytes(range(1, 255)).hex(), "ff" + bytes(range(1, 255)).hex() + "00"),
        (bytes(range(256)).hex(), "01 ff" + bytes(range(1, 255)).hex() + "02 ff 00"),
    ],
)
def test_worked_examples_of_cobs(message, line):
    assert line_bytes(bytes.fromhex(message)) == bytes.fromhex(line)
