# Messages as bytes (WIRE.md): frames packed in place, requests taken apart, replies and events built.
import sys

import micropython
from micropython import const

VERSION = const(1)
FRAME = const(1)
ACK = const(2)
REQUEST = const(3)
REPLY = const(4)
EVENT = const(5)

FLAG_STRIKE = const(1)
FLAG_SKIPPED = const(2)
FLAG_CEILING = const(4)
FLAG_FIRST = const(8)

_HEAD = const(16)  # bytes of a frame before the cells
_MAX = const(244)


@micropython.viper
def _fill_table(tab: ptr32):
    poly = uint((0xEDB8 << 16) | 0x8320)
    i = 0
    while i < 256:
        c = uint(i)
        k = 0
        while k < 8:
            if c & uint(1):
                c = (c >> 1) ^ poly
            else:
                c = c >> 1
            k += 1
        tab[i] = int(c)
        i += 1


@micropython.viper
def crc(tab: ptr32, buf: ptr8, n: int, out: ptr8):
    # CRC-32 of IEEE 802.3 over buf[:n], written to out[:4]: as an integer it would live on the heap.
    ones = uint((0xFFFF << 16) | 0xFFFF)
    c = ones
    i = 0
    while i < n:
        c = uint(tab[int((c ^ uint(buf[i])) & uint(255))]) ^ (c >> 8)
        i += 1
    c = c ^ ones
    out[0] = int(c)
    out[1] = int(c >> 8)
    out[2] = int(c >> 16)
    out[3] = int(c >> 24)


@micropython.viper
def same4(a: ptr8, b: ptr8, at: int) -> int:
    i = 0
    while i < 4:
        if a[i] != b[at + i]:
            return 0
        i += 1
    return 1


@micropython.viper
def pack(values: ptr16, dst: ptr8, n: int, bits: int):
    # n values of `bits` bits each, the first in the lowest bits.
    at = 0
    acc = 0
    held = 0
    i = 0
    while i < n:
        acc = acc | (int(values[i]) << held)
        held += bits
        while held >= 8:
            dst[at] = acc & 255
            at += 1
            acc = acc >> 8
            held -= 8
        i += 1
    if held > 0:
        dst[at] = acc & 255


if sys.platform == "rp2":  # the same in the chip's own instructions
    from mat import line_rp2

    pack = line_rp2.pack
    crc = line_rp2.crc

TABLE = bytearray(1024)
_fill_table(TABLE)
CHECK = bytearray(4)


def seal(buf: bytearray, n: int) -> None:
    """Write the CRC of buf[:n] behind it."""
    crc(TABLE, buf, n, memoryview(buf)[n:])


@micropython.native
def sound(buf: bytearray, n: int) -> bool:
    """Is buf[:n] long enough to be a message, and is its CRC right?"""
    if n < 5 or n > _MAX:
        return False
    crc(TABLE, buf, n - 4, CHECK)
    return same4(CHECK, buf, n - 4) == 1


@micropython.native
def u16(buf, at: int) -> int:
    """Two bytes, little-endian."""
    return buf[at] | buf[at + 1] << 8


class Frame:
    """One frame message in one prebuilt buffer of exactly its length. Nothing here allocates after the start."""

    def __init__(self, cells: int, bits: int) -> None:
        self.cells = cells
        self.bits = bits
        self.sealed = _HEAD + (cells * bits + 7) // 8
        if self.sealed + 4 > _MAX:
            raise ValueError("a frame of %d cells is too long" % cells)
        self.message = bytearray(self.sealed + 4)
        self.message[0] = VERSION << 4 | FRAME
        self.cells_at = memoryview(self.message)[_HEAD:]
        self.crc_at = memoryview(self.message)[self.sealed :]

    def strike(self, link, peak: int, offset: int) -> None:
        """A frame has told its strike by itself."""

    @micropython.native
    def fill(self, values) -> None:
        """Pack the cells behind the header, which mat/tally.py has filled in, and seal."""
        pack(values, self.cells_at, self.cells, self.bits)
        crc(TABLE, self.message, self.sealed, self.crc_at)


def message(kind: int, body: bytes) -> bytearray:
    """A whole message of any type. Allocates: for replies and events, never for frames."""
    buf = bytearray(5 + len(body))
    buf[0] = VERSION << 4 | kind
    buf[1 : 1 + len(body)] = body
    seal(buf, 1 + len(body))
    return buf


def string(text: str) -> bytes:
    """A string with its length in front."""
    raw = text.encode()
    return bytes((len(raw),)) + raw


def take_string(args: bytes, at: int) -> tuple:
    """The string at args[at] and the place behind it. Raises ValueError when it is cut short or not UTF-8."""
    end = at + 1 + args[at] if at < len(args) else 0
    if not at < end <= len(args):
        raise ValueError("a string is cut short")
    return bytes(args[at + 1 : end]).decode(), end


def sentence(text: str, room: int) -> bytes:
    """Text as UTF-8 that fits into room bytes, cut between characters."""
    raw = text.encode()
    while len(raw) > room:
        text = text[:-1]
        raw = text.encode()
    return raw
