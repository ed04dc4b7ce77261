# The strike sensor: a pin that marks the moment at any time, and the ADC that gives the size.
import time
from array import array

import micropython
from machine import ADC, Pin
from mat import board as boards
from mat.listen_rp2 import CHATTER_US, mark, mark_all
from micropython import const

# A struck ball makes the piezo ring at some kilohertz: it crosses a level again and again within a millisecond. A step,
# a club laid down or a weight set down pushes it slowly and crosses once. That tells them apart at any size.
_RING_US = const(1000)  # a second crossing later than this after the first belongs to something else
_DECIDE_US = const(1500)  # after this a burst has shown what it is, and its peak
# The clamp takes half-waves below 0 V away, and the first may be one: the level is crossed 0 to 0.3 ms after the start
# of a ring of 1.8 to 4 kHz. The middle of that is taken off, and the middle of the 0.17 to 0.41 ms that the ring takes
# from the ball to the disc at the strip's edge (tests/studies/strike_waves.py; no strip has been measured).
_LAG_US = const(440)
_TAIL_US = const(12000)  # a strike rings that long; what follows it so closely is its echo

_LEAST = const(492)  # of 4096, 12 % of the range: over noise, hum and a club laid down (chosen by us)
_HIGHEST = const(1024)  # the level never rises over this
_RESTLESS = const(512)  # what was no strike raises the level to twice its size, of this at most
_CALM_US = const(250000)  # and half of that is forgotten in this time
_RESTS = const(4)  # looks at the sensor at rest, a calm time apart: the least counts, which no strike can raise
_REST_LEAST = const(64)  # of 4096: less is noise
_REST_MOST = const(2900)
_EDGE_CODE = const(745)  # what the edge pin's transistor needs, 0.6 V: the least size of what only the pin saw

_LATCH = const(200)  # readings after an edge: half a millisecond, more than a half-wave
_LONGEST_US = const(65535)
_LISTEN_STEP_US = const(150)
_PAUSE_US = const(400)  # longer between two readings: the ADC was not listening
_HALF_WAVE_US = const(600)  # what stays over the level for longer is a push, not a ring

# Places in `heard`, shared with the register loop (mat/scan_rp2.py).
PEAK = const(0)
LEVEL = const(1)
LOW = const(2)
ABOVE = const(3)
COUNT = const(4)
AT = const(5)
MOST = const(8)
BUSY = const(13)  # the ADC is in use


# A burst of crossings, by place: how many, when the first and the last were, for how long nobody listened since.
_N = const(0)
_FIRST = const(1)
_LAST = const(2)
_SLEPT = const(3)



def _no_latch(adc, plan, count: int) -> int:
    return 0


class Strike:
    """Marks and samples until `take` asks: the pin by interrupt, the ADC between readings of the scan and in waits."""

    def __init__(self, board: boards.Board) -> None:
        self._adc = ADC(Pin(board.strike))
        self._edges, self._codes = array("i", [0] * 4), array("i", [0] * 4)  # a burst by the pin, one by the ADC
        self.heard = array("i", [0, _LEAST, _LEAST // 8, 0, 0] + [0] * (MOST + 1))
        # What an edge calls while nobody listens, with what it needs: the largest of so many readings.
        self.latch = _no_latch
        self.adc_registers = self.plan = bytearray(0)
        self.dense = False  # is the ADC read every few microseconds, so that it cannot miss a crossing while awake?
        self._peak = 0
        self._rests = array("i", [0] * _RESTS)
        self._rest_at = self._rest = 0  # what a clamp that leaks lifts the sensor by: sizes and levels count from there
        self._restless = 0  # size of what was no strike, fading
        self._calmed = self._until = time.ticks_us()  # the ADC listened until then
        self._deaf_from = self._deaf_to = self._calmed  # its last pause
        self._rose = False  # did the first edge of a burst begin where the ADC had found nothing?
        self._found = False  # a strike waits to be taken
        self._found_when = 0
        self._found_peak = 0
        self._told = False  # a strike was told, and may still ring
        self._told_when = 0
        self._taken_when = 0
        self.peak = self.offset_us = 0  # what `take` took, the size in 12 bits
        pin = Pin(board.edge, Pin.IN, Pin.PULL_UP)
        try:
            pin.irq(self._edge, Pin.IRQ_FALLING, hard=True)
        except TypeError:  # a port without hard interrupts: the mark comes later there
            pin.irq(self._edge, Pin.IRQ_FALLING)

    @micropython.native
    def _edge(self, pin) -> None:
        # In interrupt context: marks, and reads the size where the ADC does not listen, first: the top is near. While a
        # push lasts that was judged already, noise on it begins nothing.
        heard = self.heard
        edges = self._edges
        if edges[_N] or self._codes[_N] or not heard[ABOVE]:
            now = time.ticks_us()
            if not edges[_N]:
                self._rose = not heard[ABOVE] and heard[LEVEL] <= _EDGE_CODE
            if edges[_N] < 2 and not heard[BUSY]:
                peak = self.latch(self.adc_registers, self.plan, _LATCH)
                if peak > self._peak:
                    self._peak = peak
            mark(edges, now)

    def clear(self) -> None:
        """Forget what was heard."""
        self._forget()
        self._found = False
        self._told = False
        self.peak = self.offset_us = 0
        for _ in range(_RESTS):
            self._look()
        self._set_level()
        # What was remembered may be older than the counter can tell.
        self._calmed = self._until = self._deaf_from = self._deaf_to = time.ticks_us()

    def _forget(self) -> None:
        self._edges[_N] = 0
        self._codes[_N] = 0
        self._peak = 0

    def sample(self) -> None:
        """Read the ADC once. Called between rows of the portable scan, and by `listen`."""
        heard = self.heard
        now = time.ticks_us()
        self._listened(now, now)
        code = self._adc.read_u16() >> 4
        if heard[ABOVE]:
            if code < heard[LOW]:
                heard[ABOVE] = 0
        elif code >= heard[LEVEL]:
            heard[ABOVE] = 1
            mark(self._codes, now)
        if self._codes[_N] or self._edges[_N]:
            if code > self._peak:
                self._peak = code
            self._judge(now)

    def listen(self, us: int) -> None:
        """Sample again and again for so long: what is left of the wait for the next scan."""
        end = time.ticks_add(time.ticks_us(), us)
        while True:
            self.sample()
            left = time.ticks_diff(end, time.ticks_us())
            if left <= _LISTEN_STEP_US:  # the end is to be met exactly
                time.sleep_us(max(left, 0))
                return
            time.sleep_us(_LISTEN_STEP_US)

    @micropython.native
    def stirred(self, began: int, ended: int) -> bool:
        """Is there anything to judge, to tell or to wait for the end of? If not, that span is listened to and over."""
        if self._edges[_N] or self._codes[_N] or self._found or self._told:
            return True
        self._deaf_from = self._until
        self._deaf_to = began
        self._until = ended
        self.peak = 0
        return False

    @micropython.native
    def waited(self, found, began: int, now: int) -> None:
        """Take over what `wait` of the register loop found: readings without a gap from `began` on."""
        codes, edges = self._codes, self._edges
        slept = time.ticks_diff(began, self._until)
        if edges[_N] and self._rose and time.ticks_diff(began, edges[_FIRST]) > 0:
            # The pin saw a half-wave that the ADC slept through; what the ADC woke up to may be the same one.
            mark(codes, edges[_FIRST])
            if codes[_N] == 1:
                slept = time.ticks_diff(began, edges[_FIRST])
            self._rose = False
            if found[COUNT] and time.ticks_diff(found[AT], began) < CHATTER_US:
                found[AT] = edges[_FIRST]
        codes[_SLEPT] = min(_RING_US, codes[_SLEPT] + max(0, slept))
        self._listened(began, now)
        mark_all(codes, found, 0, 0, 0)
        if codes[_N] or edges[_N]:
            if found[PEAK] > self._peak:
                self._peak = found[PEAK]
            self._judge(now)

    @micropython.native
    def swept(self, start: int, us: int, samples: int) -> None:
        """Take over what a register loop left in `heard`: it began at `start` and took `samples` readings in `us`."""
        heard = self.heard
        end = time.ticks_add(start, us)
        self._listened(start, end)
        mark_all(self._codes, heard, start, us, samples)
        if self._codes[_N] or self._edges[_N]:
            if heard[PEAK] > self._peak:
                self._peak = heard[PEAK]
            self._judge(end)

    def _listened(self, start: int, end: int) -> None:
        if time.ticks_diff(start, self._until) > _PAUSE_US:
            self._deaf_from = self._until
            self._deaf_to = start
        self._until = end

    @micropython.native
    def _judge(self, now: int) -> None:
        """Once a burst has shown what it is: a strike, or something that raises the level."""
        edges, codes = self._edges, self._codes
        first = edges[_FIRST] if edges[_N] else codes[_FIRST]
        slept = 0
        if codes[_N]:
            slept = codes[_SLEPT]
            if time.ticks_diff(first, codes[_FIRST]) > 0:
                first = codes[_FIRST]
        if time.ticks_diff(now, first) < _DECIDE_US + slept:
            return
        rang = codes[_N] > 1
        peak = self._peak
        if not rang and edges[_N] > 1:
            # The pin alone counts for what the ADC has slept through, unless the ADC then finds a push that lasts.
            away = time.ticks_diff(self._deaf_from, first) < _RING_US and time.ticks_diff(self._deaf_to, first) > 0
            if away or not self.dense:
                rang = not self.heard[ABOVE]
                awake = time.ticks_diff(now, self._deaf_to) >= _HALF_WAVE_US
                if not rang and not (awake and time.ticks_diff(now, codes[_LAST]) >= _HALF_WAVE_US):
                    return
                peak = max(peak, _EDGE_CODE)
        self._forget()
        if self._told and time.ticks_diff(first, self._told_when) < _TAIL_US:
            return
        self._told = rang and peak >= self.heard[LEVEL]
        if self._told:
            self._told_when = first
            if not self._found or peak - self._rest >= self._found_peak:  # one that waits for a frame may be larger
                self._found_when = first
                self._found_peak = max(1, peak - self._rest)
            self._found = True
        else:
            self._restless = max(self._restless, min(peak - self._rest, _RESTLESS))
            self._set_level()

    def take(self, start: int) -> bool:
        """Move a strike that is over into `peak` and `offset_us` (before `start`); False if there was none."""
        self.calm(start)
        if self._told and time.ticks_diff(start, self._told_when) >= _TAIL_US:
            self._told = False  # now: after nine minutes the counter cannot tell any more
        if self._codes[_N] or self._edges[_N]:
            self._judge(start)
        self.peak = self.offset_us = 0
        if not self._found:
            return False
        self._found = False
        self.peak = self._found_peak
        self._taken_when = self._found_when
        self.offset_us = min(_LONGEST_US, max(0, time.ticks_diff(start, self._found_when) + _LAG_US))
        return True

    def keep(self, start: int) -> None:
        """What was taken went nowhere, its frame was skipped: the next one is to tell it."""
        if not self.peak or (self._found and self._found_peak >= self.peak):
            return
        if self.offset_us >= _LONGEST_US:  # for good: the counter wraps
            self._taken_when = time.ticks_add(start, -_LONGEST_US)
        self._found = True
        self._found_peak = self.peak
        self._found_when = self._taken_when

    @micropython.native
    def calm(self, now: int) -> None:
        """What was no strike is forgotten by and by. Asked now and then."""
        since = time.ticks_diff(now, self._calmed)
        if since >= _CALM_US or since < 0:
            self._calmed = now
            self._restless >>= 1
            self._look()
            self._set_level()

    @micropython.native
    def _look(self) -> None:
        """Take note of where the sensor rests."""
        heard, rests = self.heard, self._rests
        busy = heard[BUSY]
        heard[BUSY] = 1  # an edge's handler would use the ADC too
        rests[self._rest_at] = self._adc.read_u16() >> 4
        heard[BUSY] = busy
        self._rest_at = (self._rest_at + 1) & (_RESTS - 1)
        least = _REST_MOST
        for k in range(_RESTS):
            if rests[k] < least:
                least = rests[k]
        self._rest = least if least >= _REST_LEAST else 0

    def _set_level(self) -> None:
        level = min(_HIGHEST, max(_LEAST, 2 * self._restless))
        self.heard[LEVEL] = self._rest + level
        self.heard[LOW] = self._rest + (level >> 3)
