# One scan of the panels on the registers of an RP2040 or RP2350: the whole frame inside one viper function.
import micropython
from mat import board as boards
from micropython import const

# SIO, as words from GPIO_OUT_SET: the RP2040 has its registers side by side, the RP2350 leaves room for a second bank
# between them (data sheets, section SIO, list of registers; both read in public copies of their headers). SET stands
# at 0, CLR, XOR, OE_SET and OE_CLR follow at 1, 2, 4 and 5 times the stride.
# ADC (section ADC): CS at 0, RESULT at word 1. CS: EN 1 << 0, START_ONCE 1 << 2, READY 1 << 8, AINSEL from bit 12.
# Where both stand on which chip: CHIPS in mat/board.py (`out_set`, `stride`, `adc`).
_EN = const(1)
_START_ONCE = const(4)
_AINSEL = const(12)
_FIRST_ADC_PIN = const(26)  # ADC0 on both chips in their small packages

# What `sweep` needs to know, by place in `plan`.
_ROWS = const(0)
_COLUMNS = const(1)
_STRIDE = const(2)
_CELL = const(3)  # word for CS that starts a reading of the multiplexer
_STRIKE = const(4)  # the same for the strike sensor
_READINGS = const(5)
_UP = const(6)
_DOWN = const(7)
_WAIT = const(8)  # turns of the settle loop
_PATIENCE = const(9)  # polls of READY before the ADC is given up
_ADDRESS = const(10)  # mask of the multiplexer's address pins
_ROW_PINS = const(11)  # mask of all rows
_REF = const(12)  # mask of REF
_ROW_WAIT = const(14)  # the same for the first reading after a row has moved
_CEILING = const(13)  # out: a reading reached the end of the ADC's range
_STEPS = const(16)  # XOR masks of the address: column to column and back; then two references of even and odd scans
_SETS = const(32)  # pins that go high with each row; then with the references (address too) of even and odd scans
_SIZE = const(52)

# What `sweep` and `listen` hear, by place in `heard` (mat/strike.py keeps the same places).
_PEAK = const(0)
_LEVEL = const(1)
_LOW = const(2)
_ABOVE = const(3)
_COUNT = const(4)
_AT = const(5)  # and up: which sample crossed the level upwards
_MOST = const(8)

# `cycles` in CHIPS: those from the write that moves the multiplexer or a row to the reading, the strike sensor's
# conversion not counted, and those of one turn of the settle loop: counted from the emitted instructions for the
# Cortex-M0+ (make study NAME=scan), for the Cortex-M33 set low, as if it did two instructions a cycle. The real times
# are never shorter.
# The strike sensor's conversion, 96 cycles of the ADC's 48 MHz clock, is part of the settle time.
_CONVERSION_NS = const(2000)
_POLLS = const(10000)


@micropython.viper
def sweep(adc: ptr32, sio: ptr32, plan: ptr32, out: ptr16, heard: ptr32, odd: int) -> int:
    # Fills out with the cells and the two references. 0, or -1 when the ADC did not answer. Every row ends low and
    # REF an input, then too. Between two conversions no register is written twice: that is what lets a test play the
    # chip on plain memory.
    stride = plan[_STRIDE]
    rows = plan[_ROWS]
    columns = plan[_COLUMNS]
    above = heard[_ABOVE]
    peak = 0
    crossed = 0
    full = 0
    sound = 0
    total = 0
    code = 0
    sio[stride] = plan[_ADDRESS]
    at = 0
    r = 0
    wait = 0
    step = _STEPS
    while r <= rows:
        if r == rows:  # the references are one more row, of two columns
            columns = 2
            r += odd
            step = _STEPS + 8 + 2 * odd
            sio[4 * stride] = plan[_REF]
        sio[0] = plan[_SETS + r]
        wait = plan[_ROW_WAIT]
        c = 0
        while c < columns:
            # While the node settles the strike sensor is read, and the cell before is put away.
            adc[0] = plan[_STRIKE]
            if at:
                if code == 4095:
                    full = 1
                out[at - 1] = ((total + code) << plan[_UP]) >> plan[_DOWN]
                total = 0
            left = plan[_PATIENCE]
            while not adc[0] & 256:
                left -= 1
                if left == 0:
                    sound = -1
                    break
            code = adc[1]
            if code > peak:
                peak = code
            if above:
                if code < heard[_LOW]:
                    above = 0
            elif code >= heard[_LEVEL]:
                above = 1
                if crossed < _MOST:
                    heard[_AT + crossed] = at
                    crossed += 1
            while wait > 0:
                wait -= 1
            wait = plan[_WAIT]
            reading = plan[_READINGS]
            while True:
                adc[0] = plan[_CELL]
                left = plan[_PATIENCE]
                while not adc[0] & 256:
                    left -= 1
                    if left == 0:
                        sound = -1
                        break
                reading -= 1
                if reading == 0:
                    break
                code = adc[1]
                total += code
                if code == 4095:
                    full = 1
            sio[2 * stride] = plan[step + c]  # on to the next one at once
            code = adc[1]
            at += 1
            c += 1
            if sound < 0:
                c = columns
                r = rows + 2
        sio[stride] = plan[_ROW_PINS] | plan[_REF]
        r += 1
    sio[5 * stride] = plan[_REF]
    if code == 4095:
        full = 1
    out[at - 1] = ((total + code) << plan[_UP]) >> plan[_DOWN]
    plan[_CEILING] = full
    heard[_PEAK] = peak
    heard[_ABOVE] = above
    heard[_COUNT] = crossed
    return sound


def settle_turns(cycles: tuple, settle_us: int, mhz: int) -> int:
    """Turns of the settle loop that make up a settle time together with what happens anyway; never less."""
    fixed, turn = cycles
    missing = (settle_us * 1000 - _CONVERSION_NS) * mhz // 1000 - fixed
    return max(0, (missing + turn - 1) // turn)


def fill_plan(plan, board: boards.Board, rows: int, columns: int, oversample: int, bits: int, stride: int) -> None:
    """Put into `plan` (words of 32 bits) all that `sweep` needs but the settle loop's turns."""
    plan[_ROWS] = rows
    plan[_COLUMNS] = columns
    plan[_STRIDE] = stride
    plan[_CELL] = _EN | _START_ONCE | board.adc - _FIRST_ADC_PIN << _AINSEL
    plan[_STRIKE] = _EN | _START_ONCE | board.strike - _FIRST_ADC_PIN << _AINSEL
    plan[_READINGS] = oversample
    plan[_UP] = bits - 12
    plan[_DOWN] = {1: 0, 2: 1, 4: 2, 8: 3}[oversample]
    plan[_PATIENCE] = _POLLS
    plan[_ADDRESS] = address_mask(board, 15)
    plan[_ROW_PINS] = sum([1 << n for n in board.rows[:rows]])
    plan[_REF] = 1 << board.ref
    for c in range(columns):
        plan[_STEPS + c] = address_mask(board, c ^ c + 1 if c + 1 < columns else c)
    for odd, node in enumerate((boards.INPUT_ZERO, boards.INPUT_SUPPLY)):
        plan[_STEPS + 8 + 2 * odd] = address_mask(board, node ^ boards.INPUT_TAP)
        plan[_STEPS + 9 + 2 * odd] = address_mask(board, boards.INPUT_TAP)
        plan[_SETS + rows + odd] = 1 << board.rows[odd] | address_mask(board, node) | (1 << board.ref if odd else 0)
    for r in range(rows):
        plan[_SETS + r] = 1 << board.rows[r]


def address_mask(board: boards.Board, node: int) -> int:
    # The address pins that are high for a multiplexer input.
    return sum([1 << n for k, n in enumerate(board.address) if node >> k & 1])
