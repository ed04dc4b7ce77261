# Which pin does what, board by board: data, and the few questions about it.
import sys
import time

import machine
from machine import Pin

# Inputs of the 16:1 multiplexer; the columns stand at 0 and up.
INPUT_ZERO = 8  # tied to 0 V
INPUT_SUPPLY = 9  # the rows' supply through two equal resistors
INPUT_TAP = 10  # the line of row 0 behind its series resistor

MAX_COLUMNS = 8  # what the multiplexer has free for columns, both panels

# GPIO numbers, by board. rows: row 0 first. address: the multiplexer's S0 first. ref: through 1 kOhm to the line of
# row 0. adc: output of the multiplexer. strike: the piezo (clamp, 1 MOhm, 10 kOhm). edge: the same piezo through a
# transistor that pulls this pin down above 0.6 V. button: to ground. led: a number or the board's own name for it.
# The program's build room reads this table as it stands: literals only.
PINS = {
    "pico": {
        "rows": (0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15), "address": (16, 17, 18, 19), "ref": 22,
        "adc": 26, "strike": 27, "edge": 28, "buzzer": 20, "button": 21, "led": "LED",
    },
    # ESP32-S3-DevKitC-1 with 8 MB flash or more, from memory and not tried: pins of the flash, the octal memory, USB
    # (19, 20) and the strapping pins 3 and 45 are left alone; the button is the board's own BOOT button.
    "esp32s3": {
        "rows": (4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 21), "address": (39, 40, 41, 42), "ref": 47,
        "adc": 1, "strike": 2, "edge": 38, "buzzer": 43, "button": 0, "led": 46,
    },
}  # fmt: skip

# What the program asks of a chip, by the chip's name in sys.implementation. Addresses are 16-bit halves: the whole
# number does not fit a small integer. sticks_high: an input may hold itself up against its own weak pull-down.
# watchdog: the WATCHDOG's CTRL. brown_out: the register and the bit that tell a brown-out from power, if there are.
# out_set, stride, adc, cycles, timer (TIMERAWL), edges (INTR3 of IO_BANK0, and how far behind it PROC0_INTE3 is): the
# register loops' (mat/scanner_rp2.py); who has none takes the portable one. All read in Raspberry Pi's own headers
# (pico-sdk, hardware/regs and hardware/structs of rp2040 and rp2350); an RP2350 has not been run.
CHIPS: dict = {
    "RP2040": {
        "sticks_high": False, "watchdog": (0x4005, 0x8000), "brown_out": None,
        "out_set": (0xD000, 0x0014), "stride": 1, "adc": (0x4004, 0xC000), "cycles": (119, 19),
        "timer": (0x4005, 0x4028), "edges": (0x4001, 0x40FC, 0x10),
    },
    "RP2350": {  # stepping A2 sticks (data sheet, erratum RP2350-E9: leakage into bank 0); POWMAN CHIP_RESET, HAD_BOR
        "sticks_high": True, "watchdog": (0x400D, 0x8000), "brown_out": (0x4010, 0x002C, 17),
        "out_set": (0xD000, 0x0018), "stride": 2, "adc": (0x400A, 0x0000), "cycles": (50, 7),
        "timer": (0x400B, 0x0028), "edges": (0x4002, 0x823C, 0x18),
    },
    "ESP32S3": {"sticks_high": False, "watchdog": None, "brown_out": None},
}  # fmt: skip

# Words in what sys.implementation says of the machine, the name in hello, the pins and the chip. Only a board that is
# known is driven: on another one these pins may be the flash's.
BOARDS = (
    ("Pico W with RP2040", "Raspberry Pi Pico W", "pico", "RP2040"),
    ("Pico with RP2040", "Raspberry Pi Pico", "pico", "RP2040"),
    ("Pico 2 W with RP2350", "Raspberry Pi Pico 2 W", "pico", "RP2350"),
    ("Pico2 W with RP2350", "Raspberry Pi Pico 2 W", "pico", "RP2350"),
    ("Pico 2 with RP2350", "Raspberry Pi Pico 2", "pico", "RP2350"),
    ("Pico2 with RP2350", "Raspberry Pi Pico 2", "pico", "RP2350"),
    ("ESP32S3", "ESP32-S3", "esp32s3", "ESP32S3"),
    ("linux", "Raspberry Pi Pico W", "pico", "RP2040"),  # a computer's MicroPython plays a mat that is not there
    ("darwin", "Raspberry Pi Pico W", "pico", "RP2040"),
)


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
    _, name, pins, _ = _record()
    return Board(name, PINS[pins])


def chip() -> dict:
    """What CHIPS says of the chip this runs on."""
    return CHIPS[_record()[3]]


def address(halves: tuple) -> int:
    """A register's address from its two halves."""
    return halves[0] << 16 | halves[1]


def _record() -> tuple:
    kind = getattr(sys.implementation, "_machine", "")
    for record in BOARDS:
        if record[0] in kind:
            return record
    raise UnknownBoardError(
        "this board calls itself %r, for which the mat has no pins: none was touched. Use a Raspberry Pi Pico, or add "
        "the board to mat/board.py." % kind
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
