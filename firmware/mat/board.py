# Which pin does what, board by board: data, and the few questions about it.
import sys
import time

from machine import Pin

# Inputs of the 16:1 multiplexer; the columns stand at 0 and up.
INPUT_ZERO = 8  # tied to 0 V
INPUT_SUPPLY = 9  # the rows' supply through two equal resistors
INPUT_TAP = 10  # the line of row 0 behind its series resistor

MAX_COLUMNS = 8  # what the multiplexer has free for columns, both panels


class Board:
    """The pins of one board. Everything is a GPIO number except the LED, which may be a name."""

    def __init__(self, name: str, rows: tuple, address: tuple, ref: int, adc: int, strike: int,
                 buzzer: int, button: int, led: str) -> None:
        self.name = name
        self.rows = rows  # row 0 first
        self.address = address  # S0 first
        self.ref = ref  # 1 kOhm to the line of row 0
        self.adc = adc  # output of the multiplexer
        self.strike = strike  # piezo
        self.buzzer = buzzer
        self.button = button  # to ground
        self.led = led


def _pico(name: str) -> Board:
    # Both Picos share one pinout.
    return Board(name, tuple(range(16)), (16, 17, 18, 19), ref=22, adc=26, strike=27, buzzer=20, button=21, led="LED")


def here() -> Board:
    """The board this runs on; what is not recognised is wired like the Pico W."""
    machine = getattr(sys.implementation, "_machine", "")
    return _pico("Raspberry Pi Pico 2 W" if "Pico 2" in machine else "Raspberry Pi Pico W")


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
