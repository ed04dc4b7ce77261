# What a person at the mat sees, hears and presses: LED, buzzer, button.
import time

import micropython
from machine import PWM, Pin
from mat import board as boards
from micropython import const

_BEEP_HZ = const(2300)  # small piezo buzzers are loud here (from memory)
_DEBOUNCE_US = const(30000)
_BLINK_US = const(125000)
_HELD_US = const(1500000)  # a press this long ends the session
PRESSED = const(1)
HELD = const(2)


class Signals:
    """LED and buzzer with ends that come by themselves, and the debounced button. `turn` has to be called often."""

    def __init__(self, board: boards.Board) -> None:
        self._led = Pin(board.led, Pin.OUT, value=0)
        self.buzzer = PWM(Pin(board.buzzer), freq=_BEEP_HZ, duty_u16=0)
        self._button = Pin(board.button, Pin.IN, Pin.PULL_UP)
        self._rest = 0  # the LED between blinks
        self._beeping = False
        self._blinking = False
        self._lit = 0
        self._beep_from = 0
        self._beep_us = 0
        self._blink_from = 0
        self._blink_at = 0
        self._blink_us = 0
        self._down = False
        self._held = False
        self._level = 1
        self._level_from = time.ticks_us()

    def rest(self, lit: int) -> None:
        """What the LED shows when it does not blink: on means ready."""
        self._rest = lit
        if not self._blinking:
            self._led.value(lit)

    def beep(self, ms: int) -> None:
        """Sound once."""
        self._beep_from = time.ticks_us()
        self._beep_us = ms * 1000
        self._beeping = True
        self.buzzer.freq(_BEEP_HZ)  # mat/alone/voice.py has its own pitches
        self.buzzer.duty_u16(32768)

    def blink(self, ms: int) -> None:
        """Blink for a while; 0 ends it."""
        self._blink_from = self._blink_at = time.ticks_us()
        self._blink_us = ms * 1000
        self._blinking = True
        self._lit = 1 - self._rest
        self._led.value(self._lit)

    @micropython.native
    def turn(self, now: int) -> int:
        """End what has lasted long enough, go on blinking; PRESSED or HELD once for each press. now: ticks_us."""
        if self._beeping and time.ticks_diff(now, self._beep_from) >= self._beep_us:
            self._beeping = False
            self.buzzer.duty_u16(0)
        if self._blinking:
            if time.ticks_diff(now, self._blink_from) >= self._blink_us:
                self._blinking = False
                self._led.value(self._rest)
            elif time.ticks_diff(now, self._blink_at) >= _BLINK_US:
                # The LED of a Pico W hangs on the radio chip and is slow to set: only when it changes.
                self._blink_at = now
                self._lit = 1 - self._lit
                self._led.value(self._lit)
        return self._pressed(now)

    def off(self) -> None:
        """Everything dark and silent."""
        self.buzzer.duty_u16(0)
        self._led.value(0)

    @micropython.native
    def _pressed(self, now: int) -> int:
        level = self._button.value()
        if level != self._level:
            self._level = level
            self._level_from = now
            return 0
        lasted = time.ticks_diff(now, self._level_from)
        if (level == 0) != self._down and lasted >= _DEBOUNCE_US:
            self._down = level == 0
            self._held = False
            return PRESSED if self._down else 0
        if self._down and not self._held and lasted >= _HELD_US:
            self._held = True
            return HELD
        return 0
