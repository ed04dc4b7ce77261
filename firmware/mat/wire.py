# Messages as bytes (WIRE.md): frames packed in place, requests taken apart, replies and events built.
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
def _crc(tab: ptr32, buf: ptr8, n: int, out: ptr8, at: int):
    # CRC-32 of IEEE 802.3 over buf[:n], written to out[at:at + 4]: as an integer it would live on the heap.
    ones = uint((0xFFFF << 16) | 0xFFFF)
    c = ones
    i = 0
    while i < n:
        c = uint(tab[int((c ^ uint(buf[i])) & uint(255))]) ^ (c >> 8)
        i += 1
    c = c ^ ones
    out[at] = int(c)
    out[at + 1] = int(c >> 8)
    out[at + 2] = int(c >> 16)
    out[at + 3] = int(c >> 24)


@micropython.viper
def _same4(a: ptr8, b: ptr8, at: int) -> int:
    i = 0
    while i < 4:
        if a[i] != b[at + i]:
            return 0
        i += 1
    return 1


@micropython.viper
def _pack(values: ptr16, n: int, bits: int, dst: ptr8, at: int):
    # n values of `bits` bits each, the first in the lowest bits.
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


_TABLE = bytearray(1024)
_fill_table(_TABLE)
_CHECK = bytearray(4)


def seal(buf: bytearray, n: int) -> None:
    """Write the CRC of buf[:n] behind it."""
    _crc(_TABLE, buf, n, buf, n)


def sound(buf: bytearray, n: int) -> bool:
    """Is buf[:n] long enough to be a message, and is its CRC right?"""
    if n < 5 or n > _MAX:
        return False
    _crc(_TABLE, buf, n - 4, _CHECK, 0)
    return _same4(_CHECK, buf, n - 4) == 1


def u16(buf, at: int) -> int:
    """Two bytes, little-endian."""
    return buf[at] | buf[at + 1] << 8


def put16(buf: bytearray, at: int, value: int) -> None:
    """Write two bytes, little-endian."""
    buf[at] = value & 255
    buf[at + 1] = value >> 8 & 255


class Frame:
    """One frame message in one prebuilt buffer of exactly its length. Nothing here allocates after the start."""

    def __init__(self, cells: int, bits: int) -> None:
        self.cells = cells
        self.bits = bits
        self._sealed = _HEAD + (cells * bits + 7) // 8
        if self._sealed + 4 > _MAX:
            raise ValueError("a frame of %d cells is too long" % cells)
        self.message = bytearray(self._sealed + 4)
        self.message[0] = VERSION << 4 | FRAME

    def fill(self, flags: int, seq: int, peak: int, offset_us: int, values) -> None:
        """Pack everything but the time (the clock stamps it at byte 4) and seal. values: cells, then two references."""
        m = self.message
        m[1] = flags
        put16(m, 2, seq)
        put16(m, 8, peak)
        put16(m, 10, offset_us)
        put16(m, 12, values[self.cells])
        put16(m, 14, values[self.cells + 1])
        _pack(values, self.cells, self.bits, m, _HEAD)
        seal(m, self._sealed)


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
