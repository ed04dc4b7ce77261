# The strike sensor, read in passing: keeps the largest reading and its moment.
import time

from machine import ADC, Pin
from micropython import const

_THRESHOLD = const(205)  # of 4096, 5 % of the range: over noise and hum, under a light chip shot (chosen by us)
# A burst dies away by half in about half a millisecond (from memory): several readings must fall into that.
_LISTEN_STEP_US = const(150)
_TAIL_US = const(8000)  # a burst that runs on into the next frame is the same strike


class Strike:
    """Samples when it is asked to. An interrupt or a PIO program may replace `sample`; `take` stays."""

    def __init__(self, pin: int) -> None:
        self._adc = ADC(Pin(pin))
        self._peak = 0
        self._when = 0
        self._told = 0  # peak of the strike told last, while its tail may still ring
        self._told_when = 0
        self.peak = 0  # what `take` took, 12 bits
        self.offset_us = 0

    def clear(self) -> None:
        """Forget what was heard."""
        self._peak = 0
        self._told = 0

    def sample(self) -> None:
        """Read once. Called between rows of the scan, and by `listen` between scans."""
        code = self._adc.read_u16() >> 4
        if code >= _THRESHOLD and code > self._peak:
            now = time.ticks_us()
            if code <= self._told:
                if time.ticks_diff(now, self._told_when) < _TAIL_US:
                    return
                self._told = 0
            self._peak = code
            self._when = now

    def listen(self, us: int) -> None:
        """Sample again and again for so long: what is left of the wait for the next scan."""
        end = time.ticks_add(time.ticks_us(), us)
        while True:
            self.sample()
            left = time.ticks_diff(end, time.ticks_us())
            if left <= 0:
                return
            time.sleep_us(min(left, _LISTEN_STEP_US))

    def take(self, start: int) -> bool:
        """Move the strike heard since the last call into `peak` and `offset_us` (before `start`); False if none was."""
        self.peak = self._peak
        self._peak = 0
        if self.peak == 0:
            self.offset_us = 0
            return False
        self._told = self.peak
        self._told_when = self._when
        self.offset_us = min(65535, max(0, time.ticks_diff(start, self._when)))
        return True
