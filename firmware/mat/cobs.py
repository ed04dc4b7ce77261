# COBS (Cheshire and Baker 1999): messages without zeros, so that a zero can end each of them.
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


class Decoder:
    """Takes one byte at a time and says when a message is complete; rubbish ends at the next zero."""

    def __init__(self) -> None:
        self.message = bytearray(MAX_MESSAGE)
        self.dropped = 0  # too long, or ended inside a block
        self._n = 0
        self._left = 0  # bytes that the current block still has
        self._zero_due = False
        self._bad = False

    def _put(self, b: int) -> None:
        if self._n < MAX_MESSAGE:
            self.message[self._n] = b
            self._n += 1
        else:
            self._bad = True

    def feed(self, b: int) -> int:
        """Length of the message that this byte completes (it stands in `message`), or 0."""
        if b == 0:
            n = self._n
            if self._bad or self._left:
                n = 0
                self.dropped = (self.dropped + 1) & 0xFFFF
            self._n = 0
            self._left = 0
            self._zero_due = False
            self._bad = False
            return n
        if self._bad:
            return 0
        if self._left == 0:
            if self._zero_due:
                self._put(0)
            self._left = b - 1
            self._zero_due = True  # a block without one (code 255) is longer than any message
        else:
            self._put(b)
            self._left -= 1
        return 0
