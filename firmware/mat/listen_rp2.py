# Listening to the strike sensor on the registers of an RP2040 or RP2350: until a moment, or for the peak after an edge;
# and what makes a burst of the crossings that were heard, on every board.
import micropython
from micropython import const

_STRIKE = const(4)  # places in the plan of mat/scan_rp2.py
_PATIENCE = const(9)
_PEAK = const(0)  # and in `heard` (mat/strike.py); what `wait` found stands at the same ones
_LEVEL = const(1)
_LOW = const(2)
_ABOVE = const(3)
COUNT = const(4)
_AT = const(5)
_MOST = const(8)
_BUSY = const(13)  # in `heard`: the ADC is in use
_WHEN = const(13)  # in what `wait` found: the counter at its end, all 32 bits, and what was to come
START = const(14)  # and as ticks_us has it: the start of the scan that follows
BEGAN = const(15)  # when the ADC began to listen
FOUND = const(16)  # its length
LEAD_US = const(21)  # from the end of `wait` to the first row's rise (measured on the emulated chip)

_CONVERSION_US = const(4)  # with what is around it: nearer to its end no reading begins
_TICKS = const(0x3FFFFFFF)  # what ticks_us leaves of the counter
_HALF = const(0x20000000)  # of it
_RING_US = const(1000)  # as in mat/strike.py
CHATTER_US = const(60)  # crossings nearer than this are one: noise on a slow slope
# Places in a burst: crossings, the first, the last, for how long nobody listened since.
_N = const(0)
_FIRST = const(1)
_LAST = const(2)
_SLEPT = const(3)


@micropython.viper
def wait(timer: ptr32, adc: ptr32, plan: ptr32, heard: ptr32, found: ptr32, until: int, most: int) -> int:
    # Reads the strike sensor again and again until it is time to go into a scan that begins at `until`, at most so
    # often. 0, or -1 when the ADC did not answer; what was heard is added to `found`, where the start is foretold.
    peak = found[_PEAK]
    crossed = found[COUNT]
    above = heard[_ABOVE]
    now = timer[0]
    until -= LEAD_US
    left = ((until - now) << 2) >> 2
    while left > _CONVERSION_US and most > 0:
        most -= 1
        adc[0] = plan[_STRIKE]
        polls = plan[_PATIENCE]
        while not adc[0] & 256:
            polls -= 1
            if polls == 0:
                return -1
        code = adc[1]
        now = timer[0]
        if code > peak:
            peak = code
        if above:
            if code < heard[_LOW]:
                above = 0
        elif code >= heard[_LEVEL]:
            above = 1
            if crossed < _MOST:
                found[_AT + crossed] = now & _TICKS
                crossed += 1
        left = ((until - now) << 2) >> 2
    while left > 0 and most > 0:
        now = timer[0]
        left = ((until - now) << 2) >> 2
    found[_PEAK] = peak
    found[COUNT] = crossed
    found[_WHEN] = now + LEAD_US
    found[START] = (now + LEAD_US) & _TICKS
    heard[_ABOVE] = above
    return 0


@micropython.viper
def latch(adc: ptr32, plan: ptr32, count: int) -> int:
    # The largest of so many readings of the strike sensor; 0 when the ADC did not answer.
    peak = 0
    while count > 0:
        count -= 1
        adc[0] = plan[_STRIKE]
        polls = plan[_PATIENCE]
        while not adc[0] & 256:
            polls -= 1
            if polls == 0:
                return 0
        if adc[1] > peak:
            peak = adc[1]
    return peak


@micropython.viper
def begin(timer: ptr32, heard: ptr32, found: ptr32, edges: ptr32, inte: int, bit: int, until: int) -> int:
    # The ADC begins to listen: microseconds until the counter stands at `until`. Meanwhile the edge pin is not asked:
    # its handler would take the very readings at the top of a ring. INTE's alias that clears bits is 0x3000 behind it.
    heard[_BUSY] = 1
    edges[inte + 3072] = bit
    found[COUNT] = 0
    found[_PEAK] = 0
    now = timer[0]
    found[BEGAN] = now & _TICKS
    return ((until - now) << 2) >> 2


@micropython.viper
def end(timer: ptr32, heard: ptr32, edges: ptr32, inte: int, bit: int) -> int:
    # It has listened: the counter as ticks_us has it. What the pin latched meanwhile is dropped; the alias that sets
    # bits stands 0x2000 behind INTE.
    heard[_BUSY] = 0
    edges[0] = bit
    edges[inte + 2048] = bit
    return timer[0] & _TICKS


@micropython.viper
def stamp(t: ptr32, found: ptr32):
    # The start that `wait` foretold, as the device's time.
    t[0] = found[_WHEN]


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
    while k < heard[COUNT]:
        at = heard[_AT + k]
        if samples:
            at = start + at * us // samples
        mark(burst, at)
        k += 1
