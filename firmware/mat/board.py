# Which pin does what, board by board: data, and the few questions about it.
import sys
import time

import machine
from machine import Pin
from micropython import const

# Inputs of the 16:1 multiplexer; the columns stand at 0 and up.
INPUT_ZERO = 8  # tied to 0 V
INPUT_SUPPLY = 9  # the rows' supply through two equal resistors
INPUT_TAP = 10  # the line of row 0 behind its series resistor

MAX_COLUMNS = 8  # what the multiplexer has free for columns, both panels

# GPIO numbers, by board. rows: row 0 first. address: the multiplexer's S0 first. ref: through 1 kOhm to the line of
# row 0. adc: output of the multiplexer. strike: the piezo (1 MOhm, 100 kOhm, clamp, 1 nF, 4.7 kOhm). edge: the same
# piezo through a transistor that pulls this pin down above 0.6 V. button: to ground. led: a number or the board's own
# name for it.
# The program's build room reads this table as it stands: literals only.
PINS = {
    "pico": {
        "rows": (0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15), "address": (16, 17, 18, 19), "ref": 22,
        "adc": 26, "strike": 27, "edge": 28, "buzzer": 20, "button": 21, "led": "LED",
    },
}  # fmt: skip

# What the program asks of a chip, by the chip's name in sys.implementation. Addresses are 16-bit halves: the whole
# number does not fit a small integer. pads: PADS_BANK0, one word a pin from the second on.
# watchdog: the WATCHDOG's CTRL. brown_out: the register and the bit that tell a brown-out from power, if there are.
# out_set, stride, adc, cycles, timer (TIMERAWL), edges (INTR3 of IO_BANK0, and how far behind it PROC0_INTE3 is): the
# register loops' (mat/scanner_rp2.py); who has none takes the portable one. All read in Raspberry Pi's own headers
# (pico-sdk, hardware/regs and hardware/structs of rp2040 and rp2350); an RP2350 has not been run.
CHIPS: dict = {
    "RP2040": {
        "pads": (0x4001, 0xC000), "watchdog": (0x4005, 0x8000), "brown_out": None,
        "out_set": (0xD000, 0x0014), "stride": 1, "adc": (0x4004, 0xC000), "cycles": (119, 19),
        "timer": (0x4005, 0x4028), "edges": (0x4001, 0x40FC, 0x10),
    },
    "RP2350": {  # brown_out: POWMAN CHIP_RESET, HAD_BOR
        "pads": (0x4003, 0x8000), "watchdog": (0x400D, 0x8000), "brown_out": (0x4010, 0x002C, 17),
        "out_set": (0xD000, 0x0018), "stride": 2, "adc": (0x400A, 0x0000), "cycles": (50, 7),
        "timer": (0x400B, 0x0028), "edges": (0x4002, 0x823C, 0x18),
    },
}  # fmt: skip

# Words in what sys.implementation says of the machine, the name in hello, the pins, the chip, and the pin that sets the
# regulator to its quiet mode (boards' data sheets, power supply: GPIO23, on W boards the radio chip's own GPIO1). Only
# a board that is known is driven: on another one these pins may be the flash's. No ESP32: its converter would take
# 9 to 20 ms for a scan in MicroPython (estimated), and pin 43 speaks while it starts.
BOARDS = (
    ("Pico W with RP2040", "Raspberry Pi Pico W", "pico", "RP2040", "WL_GPIO1"),
    ("Pico with RP2040", "Raspberry Pi Pico", "pico", "RP2040", 23),
    ("Pico 2 W with RP2350", "Raspberry Pi Pico 2 W", "pico", "RP2350", "WL_GPIO1"),
    ("Pico2 W with RP2350", "Raspberry Pi Pico 2 W", "pico", "RP2350", "WL_GPIO1"),
    ("Pico 2 with RP2350", "Raspberry Pi Pico 2", "pico", "RP2350", 23),
    ("Pico2 with RP2350", "Raspberry Pi Pico 2", "pico", "RP2350", 23),
    # A computer's MicroPython plays a mat that is not there.
    ("linux", "Raspberry Pi Pico W", "pico", "RP2040", "WL_GPIO1"),
    ("darwin", "Raspberry Pi Pico W", "pico", "RP2040", "WL_GPIO1"),
)
_DRIVE_MOST = const(0x30)  # of a pad's word: DRIVE, 4 mA after a reset, 12 mA with both bits (data sheets, PADS_BANK0)


class UnknownBoardError(Exception):
    """There are no pins for this board; the text says what to do."""


class Board:
    """The pins of one board, as PINS has them."""

    def __init__(self, name: str, pins: dict) -> None:
        self.name = name
        self.rows = pins["rows"]
        self.address = pins["address"]
        self.ref = pins["ref"]
        self.adc = pins["adc"]
        self.strike = pins["strike"]
        self.edge = pins["edge"]
        self.buzzer = pins["buzzer"]
        self.button = pins["button"]
        self.led = pins["led"]


def here() -> Board:
    """The board this runs on. Raises UnknownBoardError."""
    record = _record()
    return Board(record[1], PINS[record[2]])


def chip() -> dict:
    """What CHIPS says of the chip this runs on."""
    return CHIPS[_record()[3]]


def quiet() -> None:
    """Take the board's regulator out of its power-saving mode, whose ripple the rows' supply has and the ADC's not."""
    Pin(_record()[4], Pin.OUT, value=1)


def strong(pins) -> None:
    """Let these GPIOs give 12 mA with their levels still promised."""
    pads = address(chip()["pads"]) + 4
    for gpio in pins:
        machine.mem32[pads + 4 * gpio] |= _DRIVE_MOST


def address(halves: tuple) -> int:
    """A register's address from its two halves."""
    return halves[0] << 16 | halves[1]


def _record() -> tuple:
    kind = getattr(sys.implementation, "_machine", "")
    for record in BOARDS:
        if record[0] in kind:
            return record
    raise UnknownBoardError(
        "this board calls itself %r, for which the mat has no pins: none was touched. Use a Raspberry Pi Pico (an "
        "ESP32 is not supported yet), or add the board to mat/board.py." % kind
    )


def uid() -> bytes:
    """The board's unique id, 8 bytes."""
    return (bytes(machine.unique_id()) + bytes(8))[:8]


def button_held(board: Board) -> bool:
    """True when the button is down and stays down for 60 ms: a knock at power-up is not a wish."""
    pin = Pin(board.button, Pin.IN, Pin.PULL_UP)
    for _ in range(7):
        time.sleep_ms(10)  # the first turn also lets the weak pull-up charge the line
        if pin.value():
            return False
    return True


def shape(layout: str) -> tuple:
    """Rows and columns (both panels) named by the end of a layout id: "reference-16x4" is 16 rows, 8 columns.

    Raises ValueError when the id does not end that way or the board has not so many lines.
    """
    rows_text, cross, columns_text = layout.split("-")[-1].partition("x")
    if not (cross and rows_text.isdigit() and columns_text.isdigit()):
        raise ValueError("a layout id ends with rows x columns a panel, like -16x4")
    rows, columns = int(rows_text), 2 * int(columns_text)
    if not (2 <= rows <= 16 and 2 <= columns <= MAX_COLUMNS):
        raise ValueError("the board has 2 to 16 rows and 1 to 4 columns a panel")
    return rows, columns
