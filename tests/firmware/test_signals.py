"""LED and buzzer as a person at the mat notices them, on a clock that the test moves."""

TIME = """
raw = 0
def ticks_us():
    return raw
def ticks_diff(a, b):
    return a - b
"""
MACHINE = """
import time
class Pin:
    IN = 0
    OUT = 1
    PULL_UP = 1
    def __init__(self, id, mode=-1, pull=None, value=None):
        self.id = id
        if value is not None:
            self.value(value)
    def value(self, x=None):
        if x is None:
            return 1
        print(time.raw // 1000, "led", x)
class PWM:
    def __init__(self, pin, freq, duty_u16):
        self.duty_u16(duty_u16)
    def freq(self, hertz):
        assert hertz == 2300
    def duty_u16(self, x):
        print(time.raw // 1000, "buzzer", x)
"""
CODE = """
import time
from mat import board, signals
s = signals.Signals(board.here())
def until(ms):
    while time.raw < 1000 * ms:
        time.raw += 1000
        s.turn(time.raw)
s.rest(1)
s.beep(150)
until(400)
s.blink(500)
until(1000)
s.blink(1000)
until(1010)
s.blink(0)
until(1100)
s.off()
"""


def test_beeps_and_blinks_end_by_themselves_and_the_led_rests_lit(mpy):
    lines = mpy(CODE, {"time": TIME, "machine": MACHINE}).splitlines()
    assert lines == [
        "0 led 0", "0 buzzer 0",
        "0 led 1", "0 buzzer 32768", "150 buzzer 0",
        "400 led 0", "525 led 1", "650 led 0", "775 led 1", "900 led 1",
        "1000 led 0", "1010 led 0", "1011 led 1",
        "1100 buzzer 0", "1100 led 0",
    ]  # fmt: skip
