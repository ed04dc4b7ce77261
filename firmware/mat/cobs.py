# COBS (Cheshire and Baker 1999): messages without zeros, so that a zero can end each of them.
import sys

import micropython
from micropython import const

MAX_MESSAGE = const(244)
MAX_ENCODED = const(246)  # one code byte in front, the zero behind


@micropython.viper
def encode(src: ptr8, n: int, dst: ptr8) -> int:
    # Returns the length with the ending zero. dst holds n + n // 254 + 2 bytes.
    code_at = 0
    out = 1
    code = 1
    i = 0
    while i < n:
        b = src[i]
        i += 1
        if b == 0:
            dst[code_at] = code
            code_at = out
            out += 1
            code = 1
        else:
            dst[out] = b
            out += 1
            code += 1
            if code == 255:
                if i < n:
                    dst[code_at] = code
                    code_at = out
                    out += 1
                    code = 1
    dst[code_at] = code
    dst[out] = 0
    return out + 1


if sys.platform == "rp2":  # the same in the chip's own instructions
    from mat import line_rp2

    encode = line_rp2.encode


@micropython.viper
def decode(line: ptr8, n: int, message: ptr8) -> int:
    # The message of line[:n], a line without its zero; -1 when it is too long or ends inside a block.
    i = 0
    length = 0
    while i < n:
        end = i + line[i]
        i += 1
        if end > n:
            return -1
        while i < end:
            if length == MAX_MESSAGE:
                return -1
            message[length] = line[i]
            length += 1
            i += 1
        if i < n:  # a block without a zero (code 255) is longer than any message
            if length == MAX_MESSAGE:
                return -1
            message[length] = 0
            length += 1
    return length


class Decoder:
    """Takes one byte at a time and says when a message is complete; rubbish ends at the next zero."""

    def __init__(self) -> None:
        self.message = bytearray(MAX_MESSAGE)
        self.dropped = 0  # too long, or ended inside a block
        self._line = bytearray(MAX_ENCODED)
        self._n = 0

    def feed(self, b: int) -> int:
        """Length of the message that this byte completes (it stands in `message`), or 0."""
        if b:
            if self._n < MAX_ENCODED:
                self._line[self._n] = b
                self._n += 1
            return 0
        n = decode(self._line, self._n, self.message) if self._n < MAX_ENCODED else -1
        self._n = 0
        return self.taken(n)

    @micropython.native
    def taken(self, n: int) -> int:
        """The same for what `decode` said of a line."""
        if n < 0:
            self.dropped = (self.dropped + 1) & 0xFFFF
            return 0
        return n
