# One scan of the panels through machine.Pin and machine.ADC: the portable loop, on every board.
import time

from machine import ADC, Pin
from mat import board as boards
from mat import tally
from micropython import const

_CEILING = const(4095)
_RESTING_US = const(50)


class Scan:
    """Fills a prebuilt array with one scan. A loop on the chip's registers may stand beside it with these methods.

   Parameters: the board, the proven rows, columns of both panels, readings per value, settle time, bits of a value
    the strike sensor, which is read once a row, and the clock.
    """

    sharp = False  # is the settle time all that passes before a reading?

    def __init__(
        self, board: boards.Board, rows, columns: int, oversample: int, settle_us: int, bits: int, strike, clock
    ) -> None:
        self._clock = clock
        self.t = bytearray(4)
        self._struck = False
        self._rows = rows
        self._adc_pin = board.adc
        self._columns = columns
        self._oversample = oversample
        self.settle(settle_us, 0)
        self._up = bits - 12
        self._down = {1: 0, 2: 1, 4: 2, 8: 3}[oversample]
        self._strike = strike
        self._adc = ADC(Pin(board.adc))
        self._s0, self._s1, self._s2, self._s3 = [Pin(n, Pin.OUT, value=0) for n in board.address]
        self._input = 0
        self.size = len(rows.pins) * columns + 2
        self.ceiling = False  # did a reading of the last scan reach the end of the ADC's range?

    def settle(self, us: int, row_us: int) -> None:
        """Wait at least so long before a reading, and so long where a row has moved: the columns follow the film."""
        self._settle_us = us
        self._row_more_us = max(0, row_us - us)

    def listen(self, us: int) -> None:
        """Listen to the strike sensor for so long."""
        self._strike.listen(us)

    def frame(self, numbers, buf, listens: bool) -> int:
        """Wait for the due time, listening or asleep, then scan. The counter at its start; `t` is the device's time."""
        left = time.ticks_diff(numbers[tally.DUE], time.ticks_us())
        if left > 0:
            if listens:
                self._strike.listen(left)
            else:
                time.sleep_us(left)
        start = self._clock.now()
        self._clock.stamp(self.t, 0)
        self._struck = listens and self._strike.take(start)
        self.scan(buf, numbers[tally.SEQ] & 1)
        return start

    def hear(self, start: int) -> bool:
        """Is there a strike to tell with the scan that began at `start`? The sensor holds its size and its moment."""
        return self._struck

    def scan(self, buf, odd: int) -> None:
        """Fill buf (u16): the cells, row by row, then the two references of an even or odd scan. All rows end low."""
        self.ceiling = False
        at = 0
        columns = self._columns
        for row in self._rows.pins:
            row.value(1)
            time.sleep_us(self._row_more_us)
            for c in range(columns):
                buf[at] = self.read(c)
                at += 1
            row.value(0)
            self._strike.sample()
        self.references(buf, at, odd)

    def references(self, buf, at: int, odd: int) -> None:
        """Two references into buf[at] and buf[at + 1]: zero and tap high, or (odd) supply and tap low.

        REF carries current only here, and is an input again afterwards.
        """
        ref = self._rows.ref
        high = self._rows.pins[1 if odd else 0]
        high.value(1)
        ref.init(Pin.OUT, value=1 if odd else 0)
        time.sleep_us(self._row_more_us)
        buf[at] = self.read(boards.INPUT_SUPPLY if odd else boards.INPUT_ZERO)
        buf[at + 1] = self.read(boards.INPUT_TAP)
        ref.init(Pin.IN)
        high.value(0)

    def read(self, node: int) -> int:
        """One multiplexer input: the mean of the readings, in values of the frame."""
        self.select(node)
        time.sleep_us(self._settle_us)
        adc = self._adc
        total = 0
        for _ in range(self._oversample):
            code = adc.read_u16() >> 4
            if code == _CEILING:
                self.ceiling = True
            total += code
        return total << self._up >> self._down

    def select(self, node: int) -> None:
        """Switch the multiplexer to an input."""
        changed = node ^ self._input
        if changed & 1:
            self._s0.value(node & 1)
        if changed & 2:
            self._s1.value(node >> 1 & 1)
        if changed & 4:
            self._s2.value(node >> 2 & 1)
        if changed & 8:
            self._s3.value(node >> 3 & 1)
        self._input = node

    # For the self-test.

    def moved(self, source: int) -> int:
        """A reading as soon after a change as a frame's: 0 the multiplexer has moved, 1 row 0 has gone high.

        From 2 on, where the loop is `sharp`: all rows have, and a column is read.
        """
        row = self._rows.pins[0]
        self.read(boards.INPUT_TAP if source else boards.INPUT_ZERO)
        if source:
            time.sleep_us(_RESTING_US)
            row.value(1)
        value = self.read(boards.INPUT_TAP if source else boards.INPUT_SUPPLY)
        row.value(0)
        return value

    def pull(self, up: bool) -> None:
        """Tie the multiplexer's output to the supply through the pin's weak pull-up, or let it go."""
        if up:
            Pin(self._adc_pin, Pin.IN, Pin.PULL_UP)
        else:
            self._adc = ADC(Pin(self._adc_pin))

    def total(self, node: int, settle_us: int, count: int) -> int:
        """Sum of so many 12-bit readings of an input, the first after the settle time."""
        self.select(node)
        time.sleep_us(settle_us)
        total = 0
        for _ in range(count):
            total += self._adc.read_u16() >> 4
        return total
