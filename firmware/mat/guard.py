# What watches over the loop, and why the mat started: watchdog, and what was left behind by a fault.
import os

import machine
from mat import board as boards
from micropython import const

POWER = const(0)  # hello's restart codes
WATCHDOG = const(1)
OTHER = const(2)
BROWN_OUT = const(3)
STACK = const(4)
PROGRAM = const(5)

_TIMEOUT_MS = const(4000)  # a stalled host blocks a USB write for half a second; settings and self-test take less
_FILE = "fault.txt"
# In SCRATCH0, which outlives a reset, while the dog watches: on the RP2 a reset by program is a watchdog's reboot too.
_SCRATCH0 = const(12)  # behind CTRL
_WATCHING = const(0x70D06)


class Watchdog:
    """Restarts the board when the loop stands still. Not started while somebody may be at the prompt."""

    def __init__(self) -> None:
        self._dog: machine.WDT | None = None

    def start(self) -> None:
        """From now on `feed` must be called every few seconds."""
        self._dog = machine.WDT(timeout=_TIMEOUT_MS)
        _mark(_WATCHING)

    def feed(self) -> None:
        """The loop is alive."""
        if self._dog:
            self._dog.feed()

    def stop(self) -> None:
        """Leave the board to the prompt. MicroPython has no call for that."""
        if self._dog is None:
            return
        self._dog = None
        _mark(0)
        machine.mem32[boards.address(boards.chip()["watchdog"])] = 0  # bit 30: ENABLE (data sheets, section Watchdog)


def _mark(value: int) -> None:
    machine.mem32[boards.address(boards.chip()["watchdog"]) + _SCRATCH0] = value


def _watched() -> bool:
    # Did the dog watch when the board was reset? Asked once: the next start has its own answer.
    watched: bool = machine.mem32[boards.address(boards.chip()["watchdog"]) + _SCRATCH0] == _WATCHING
    _mark(0)
    return watched


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
        return WATCHDOG if _watched() else OTHER
    if cause != machine.PWRON_RESET:
        return OTHER
    told = boards.chip()["brown_out"]
    if told and machine.mem32[boards.address(told)] >> told[2] & 1:
        return BROWN_OUT
    return POWER
