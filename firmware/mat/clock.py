# The chip's microsecond counter extended to 32 bits, without a heap allocation.
import sys
import time

import micropython
import uctypes
from micropython import const

# ticks_us wraps at 2**30 on the chip, and an integer of 2**30 or more lives on the heap there. So the 32-bit time
# is four bytes, and only viper code adds to it.

_TENTH_US = const(100000)


@micropython.viper
def _add(buf: ptr32, step: int):
    buf[0] = buf[0] + step


@micropython.viper
def read(timer: ptr32, buf: ptr32):
    # All 32 bits of the RP2's own counter, which ticks_us cuts to 30.
    buf[0] = timer[0]


def timer(platform: str):
    """The RP2's counter of microseconds as memory; None elsewhere."""
    if platform != "rp2":
        return None
    from mat import board

    return uctypes.bytearray_at(board.address(board.chip()["timer"]), 4)


@micropython.viper
def _copy4(src: ptr8, dst: ptr8, at: int):
    i = 0
    while i < 4:
        dst[at + i] = src[i]
        i += 1


class Clock:
    """Device time. `t` holds the latest reading, 4 bytes, little-endian; it starts as the raw counter at boot
    (the RP2's whole one).

    `now` has to be called at least once in 2**29 us (8.9 minutes); the loop calls it many times a second. Readings of
    the counter may be compared over less than that only: `tenths` counts tenths of a second for what may last longer.
    """

    def __init__(self) -> None:
        self._last = time.ticks_us()
        self.t = bytearray(4)
        self.tenths = 0  # goes on for three years
        self._part = 0  # of a tenth, us
        self._timer = timer(sys.platform)
        _add(self.t, self._last)

    @micropython.native
    def now(self) -> int:
        """Bring `t` up to date and return the raw counter it belongs to."""
        raw = time.ticks_us()
        step = time.ticks_diff(raw, self._last)
        if self._timer is None:
            _add(self.t, step)
        else:
            read(self._timer, self.t)
        self._last = raw
        step += self._part
        if step >= _TENTH_US:
            self.tenths += step // _TENTH_US
            step %= _TENTH_US
        self._part = step
        return raw

    def stamp(self, buf: bytearray, at: int) -> None:
        """Copy the latest reading into buf."""
        _copy4(self.t, buf, at)
