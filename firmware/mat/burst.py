# A burst of crossings of the strike sensor's level: how many, when the first and the last were.
import micropython
from micropython import const

_RING_US = const(1000)  # as in mat/strike.py
CHATTER_US = const(60)  # crossings nearer than this are one: noise on a slow slope

# Places in `heard` (mat/strike.py) and in a burst: crossings, the first, the last, for how long nobody listened since.
_COUNT = const(4)
_AT = const(5)
_N = const(0)
_FIRST = const(1)
_LAST = const(2)
_SLEPT = const(3)

_HALF = const(0x20000000)  # of what ticks_us counts to
_TICKS = const(0x3FFFFFFF)


@micropython.viper
def mark(burst: ptr32, now: int):
    # One more crossing. Takes nothing from the heap: the interrupt calls it.
    n = burst[_N]
    if n:
        if ((now - burst[_LAST] + _HALF) & _TICKS) - _HALF < CHATTER_US:
            return
        burst[_LAST] = now
        # What was slept through may have held crossings.
        if n > 1 or ((now - burst[_FIRST] + _HALF) & _TICKS) - _HALF <= _RING_US + burst[_SLEPT]:
            burst[_N] = n + 1
            return
    burst[_FIRST] = burst[_LAST] = now
    burst[_N] = 1
    burst[_SLEPT] = 0


@micropython.viper
def mark_all(burst: ptr32, heard: ptr32, start: int, us: int, samples: int):
    # Crossings that a register loop left: moments, or which of so many samples in so many us from `start` on.
    k = 0
    while k < heard[_COUNT]:
        at = heard[_AT + k]
        if samples:
            at = start + at * us // samples
        mark(burst, at)
        k += 1
