# What watches over the loop, and why the mat started: watchdog, and what was left behind by a fault.
import os
import sys

import machine
from micropython import const

POWER = const(0)  # hello's restart codes
WATCHDOG = const(1)
OTHER = const(2)
BROWN_OUT = const(3)
STACK = const(4)
PROGRAM = const(5)

_TIMEOUT_MS = const(4000)  # a stalled host blocks a USB write for half a second; settings and self-test take less
_NEVER_MS = const(86400000)
_FILE = "fault.txt"


def _rp2350() -> bool:
    return "RP2350" in getattr(sys.implementation, "_machine", "")


class Watchdog:
    """Restarts the board when the loop stands still. Not started while somebody may be at the prompt."""

    def __init__(self) -> None:
        self._dog: machine.WDT | None = None

    def start(self) -> None:
        """From now on `feed` must be called every few seconds."""
        self._dog = machine.WDT(timeout=_TIMEOUT_MS)

    def feed(self) -> None:
        """The loop is alive."""
        if self._dog:
            self._dog.feed()

    def stop(self) -> None:
        """Leave the board to the prompt. MicroPython has no call for that."""
        if self._dog is None:
            return
        self._dog = None
        if sys.platform == "rp2":
            # WATCHDOG CTRL, whose bit 30 is ENABLE (data sheets, section Watchdog).
            machine.mem32[(0x400D if _rp2350() else 0x4005) << 16 | 0x8000] = 0
        else:
            machine.WDT(timeout=_NEVER_MS)  # the ESP32 takes a new time (from memory)


def leave(error: BaseException) -> None:
    """Write down what ended the program, for the next start to tell."""
    text = "stack" if "recursion" in str(error) else "program"
    try:
        with open(_FILE, "w") as file:
            file.write(text + "\n" + repr(error))
    except OSError:
        pass  # then the next start tells of a restart without a reason


def reason() -> tuple:
    """Why the mat started, as hello's code, and a sentence if there is something to tell. Asked once, at the start."""
    try:
        with open(_FILE) as file:
            kind = file.readline().strip()
            text = file.read()
        os.remove(_FILE)
    except OSError:
        return _cause(), ""
    return (STACK if kind == "stack" else PROGRAM), "The mat started again after a fault in its program: " + text


def _cause() -> int:
    cause = machine.reset_cause()
    if cause == machine.WDT_RESET:
        return WATCHDOG
    if cause != machine.PWRON_RESET:
        return OTHER
    # The RP2350 tells a brown-out from power (POWMAN CHIP_RESET, HAD_BOR); the RP2040 has one flag for both.
    if sys.platform == "rp2" and _rp2350() and machine.mem32[0x4010 << 16 | 0x002C] >> 17 & 1:
        return BROWN_OUT
    return POWER
