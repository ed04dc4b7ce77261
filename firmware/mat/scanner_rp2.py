# The scan of an RP2040 or RP2350: its loops on the registers (mat/scan_rp2.py, mat/listen_rp2.py), and when they run.
import sys
import time
from array import array

import machine
import micropython
import uctypes
from mat import board as boards
from mat import listen_rp2, scan_rp2, tally
from mat import scan as portable
from micropython import const

_WAIT = const(8)  # places in the plan of mat/scan_rp2.py
_ROW_WAIT = const(14)
_ROW_PINS = const(11)
_CEILING = const(13)
_STEPS = const(16)
_SETS = const(32)
_SIZE = const(52)
_COUNT = const(4)  # and in `heard` (mat/strike.py) and what is found (mat/listen_rp2.py)
_BEGAN = const(15)

ENOUGH = 1000000  # readings: none of the waits is so long
_PIECE = const(30)  # readings of the strike sensor, some 75 us: a packet is on the line for 50
_ROOM_US = const(700)  # nearer to a scan nobody looks after packets

if sys.platform == "rp2":
    from mat.line_rp2 import pump
else:

    def pump(line) -> None:
        """No console of the chip's own."""


class Scan(portable.Scan):
    """The portable scan with its loop on the registers. What is not asked for in every frame stays the portable one."""

    sharp = True

    def __init__(
        self, board: boards.Board, rows, columns: int, oversample: int, settle_us: int, bits: int, strike, clock
    ) -> None:
        chip = boards.chip()
        self._cycles = chip["cycles"]
        self.registers = uctypes.bytearray_at(boards.address(chip["out_set"]), 64)
        self.adc_registers = uctypes.bytearray_at(boards.address(chip["adc"]), 16)
        self.plan = array("i", [0] * _SIZE)
        scan_rp2.fill_plan(self.plan, board, len(rows.pins), columns, oversample, bits, chip["stride"])
        # The same loop for the self-test: no rows, and in the place of the references what moves while it looks.
        self._change = array("i", [0] * _SIZE)
        scan_rp2.fill_plan(self._change, board, 0, 2, oversample, bits, chip["stride"])
        self._change[_SETS] = scan_rp2.address_mask(board, boards.INPUT_ZERO)
        self._change[_STEPS + 8] = scan_rp2.address_mask(board, boards.INPUT_ZERO ^ boards.INPUT_SUPPLY)
        self._board = board
        self._change[_ROW_PINS] = self.plan[_ROW_PINS]
        self._unheard = array("i", list(strike.heard))
        self._pair = array("H", [0, 0])
        super().__init__(board, rows, columns, oversample, settle_us, bits, strike, clock)
        self.timer = uctypes.bytearray_at(boards.address(chip["timer"]), 4)
        self.found = array("i", [0] * listen_rp2.FOUND)
        self.ended = 0
        base, offset, self.inte = chip["edges"]
        self.edges = uctypes.bytearray_at(boards.address((base, offset)), 16384)
        self.inte >>= 2
        self.edge_bit = 4 << 4 * (board.edge & 7)
        self.line = None  # the console's, to be looked after while a frame leaves
        strike.latch, strike.adc_registers, strike.plan = listen_rp2.latch, self.adc_registers, self.plan
        strike.dense = True

    def settle(self, us: int, row_us: int) -> None:
        """As the portable scan."""
        super().settle(us, row_us)
        mhz = machine.freq() // 1000000
        self.plan[_WAIT] = self._change[_WAIT] = scan_rp2.settle_turns(self._cycles, us, mhz)
        self.plan[_ROW_WAIT] = self._change[_ROW_WAIT] = scan_rp2.settle_turns(self._cycles, max(us, row_us), mhz)

    def scan(self, buf, odd: int) -> None:
        """As the portable scan."""
        self._input = 0
        if scan_rp2.sweep(self.adc_registers, self.registers, self.plan, buf, self._strike.heard, odd) < 0:
            raise RuntimeError("the ADC does not answer")
        self.ceiling = self.plan[_CEILING] == 1

    @micropython.native
    def frame(self, numbers, buf, listens: bool) -> int:
        """As the portable scan; the sensor is listened to until the very start."""
        self.scan_at(self.line, buf, numbers)
        self.ceiling = self.plan[_CEILING] == 1
        start: int = self.found[listen_rp2.START]
        return start

    @micropython.native
    def scan_at(self, line, buf, numbers) -> None:
        """Wait for the due time and scan; `found` holds the start. With a line its last packets are looked after."""
        heard = self._strike.heard
        found = self.found
        plan = self.plan
        adc = self.adc_registers
        timer = self.timer
        until = numbers[tally.DUE]
        left = listen_rp2.begin(timer, heard, found, self.edges, self.inte, self.edge_bit, until)
        if line and left > _ROOM_US:
            listen_rp2.wait(timer, adc, plan, heard, found, until, _PIECE)
            pump(line)
            listen_rp2.wait(timer, adc, plan, heard, found, until, _PIECE)
            pump(line)
            listen_rp2.wait(timer, adc, plan, heard, found, until, _PIECE)
            pump(line)
        now = listen_rp2.wait(timer, adc, plan, heard, found, until, ENOUGH)
        code = scan_rp2.sweep(adc, self.registers, plan, buf, heard, numbers[tally.SEQ] & 1)
        self.ended = listen_rp2.end(timer, heard, self.edges, self.inte, self.edge_bit)
        if now < 0 or code < 0:
            raise RuntimeError("the ADC does not answer")
        listen_rp2.stamp(self.t, found)

    @micropython.native
    def hear(self, start: int) -> bool:
        """As the portable scan."""
        strike = self._strike
        heard = strike.heard
        found = self.found
        if not (found[_COUNT] or heard[_COUNT] or strike.stirred(found[_BEGAN], self.ended)):
            return False
        strike.waited(found, found[_BEGAN], start)
        struck = strike.take(start)
        strike.swept(start, time.ticks_diff(self.ended, start), self.size)
        return struck

    @micropython.native
    def listen(self, us: int) -> None:
        """Read the strike sensor without a gap for so long."""
        strike = self._strike
        heard = strike.heard
        began = time.ticks_us()
        listen_rp2.begin(self.timer, heard, self.found, self.edges, self.inte, self.edge_bit, began)
        now = listen_rp2.wait(
            self.timer, self.adc_registers, self.plan, heard, self.found, time.ticks_add(began, us), ENOUGH
        )
        ended = listen_rp2.end(self.timer, heard, self.edges, self.inte, self.edge_bit)
        if now < 0:
            raise RuntimeError("the ADC does not answer")
        if self.found[_COUNT] or strike.stirred(began, ended):
            strike.waited(self.found, began, ended)

    def moved(self, source: int) -> int:
        """As the portable scan, by the very loop that frames use."""
        if source:
            rises, first = self.plan[_SETS], boards.INPUT_TAP
            if source > 1:
                rises, first, source = self.plan[_ROW_PINS], source - 2, 1
            self._change[_SETS + 1] = rises | scan_rp2.address_mask(self._board, first)
        scan_rp2.sweep(self.adc_registers, self.registers, self._change, self._pair, self._unheard, source)
        return self._pair[1 - source]
