# The chip's machine module, played by the twin: pins keep their states, readings come from its electrical network.
#
# GROUNDTONE_TWIN names the two inherited pipe descriptors, the rows of the mat and its unique id: "7,8,16,67742d...".
import os
import struct
import time
from array import array

import micropython

_HOLD_US = 2000  # a table of readings serves for this long
_STRIKE_STEP_US = 125  # spacing of the strike sensor's readings that come at once
_STRIKE_N = 64
_BUTTON_HOLD_US = 20000

_out_fd, _in_fd, _rows_text, _uid = os.getenv("GROUNDTONE_TWIN").split(",")
_to_twin = open(int(_out_fd), "wb")
_from_twin = open(int(_in_fd), "rb")
ROWS = int(_rows_text)
K = 4  # conversions of each node in a table

PWRON_RESET = 1
WDT_RESET = 3

# Pin states as the twin knows them: 0 floating, 1 pull-up, 2 output low, 3 output high, 4 pull-down; REF stands last.
_states = bytearray(ROWS + 1)
_shown = bytearray(ROWS + 1)  # the states that _levels and _probe belong to
_request = bytearray(16)
_probe_request = bytearray(16 + ROWS + 1)
_table = array("H", bytes(2 * (ROWS + 2) * 16 * K))
_probe = array("H", bytes(32))
_levels = bytearray(ROWS + 1)
_strikes = array("H", bytes(2 * _STRIKE_N))
_byte = bytearray(1)


class _Now:
    """What changes: one object, so that nothing is looked up by name in the module while scanning."""

    changed = True  # pins changed since the last reading
    base = 0  # place of the pins' state in the table, -1 when it is none of the table's
    address = 0
    turn = 0
    table_at = 0
    probe_at = 0
    strike_at = 0
    button_at = 0
    button = 1
    have_table = False
    have_probe = False
    have_strike = False
    have_button = False
    gate_open = False  # may more tables follow? (the fast clock asks)


now = _Now()


def _receive(buf) -> None:
    size = len(buf) * (2 if isinstance(buf, array) else 1)
    if _from_twin.readinto(buf) != size:  # the twin sends each answer in one piece; anything else: it is gone
        raise EOFError("the twin has gone")


def _ask(op: int, ticks: int) -> None:
    struct.pack_into("<BxxxI", _request, 0, op, ticks)
    _to_twin.write(_request)


@micropython.viper
def _state_of(states: ptr8, rows: int) -> int:
    # Row r high, the others low, REF floating: r. Tap high: rows. Tap low: rows + 1. Anything else: -1.
    high = -1
    k = 0
    while k < rows:
        if states[k] == 3:
            if high >= 0:
                return -1
            high = k
        elif states[k] != 2:
            return -1
        k += 1
    ref = states[rows]
    if ref == 0:
        if high >= 0:
            return high
    if ref == 2:
        if high == 0:
            return rows
    if ref == 3:
        if high == 1:
            return rows + 1
    return -1


def _look_up() -> None:
    """Make the readings fit the pins as they are now."""
    now.changed = False
    state = _state_of(_states, ROWS)
    now.base = state * 16 * K
    if state < 0:
        _ask_probe()
        return
    ticks = time.ticks_us()
    if not now.have_table or time.ticks_diff(ticks, now.table_at) >= _HOLD_US:
        _ask(84, ticks)  # T
        _receive(_byte)
        now.gate_open = bool(_byte[0] & 1)
        _set_button(_byte[0], ticks)
        _receive(_table)
        now.table_at = ticks
        now.have_table = True


def _ask_probe() -> None:
    ticks = time.ticks_us()
    if now.have_probe and _shown == _states and time.ticks_diff(ticks, now.probe_at) < _HOLD_US:
        return
    now.probe_at = ticks
    struct.pack_into("<BxxxI", _probe_request, 0, 80, ticks)  # P
    _probe_request[16:] = _states
    _to_twin.write(_probe_request)
    _receive(_probe)
    _receive(_levels)
    _shown[:] = _states
    now.have_probe = True


def _set_button(flags: int, ticks: int) -> None:
    now.button = 0 if flags & 2 else 1
    now.button_at = ticks
    now.have_button = True


def _button() -> int:
    ticks = time.ticks_us()
    if not now.have_button or time.ticks_diff(ticks, now.button_at) >= _BUTTON_HOLD_US:
        _ask(68, ticks)  # D
        _receive(_byte)
        _set_button(_byte[0], ticks)
    return now.button


def _strike() -> int:
    ticks = time.ticks_us()
    at = time.ticks_diff(ticks, now.strike_at) // _STRIKE_STEP_US
    if not now.have_strike or at >= _STRIKE_N:
        _ask(83, ticks)  # S
        _receive(_strikes)
        now.strike_at = ticks
        now.have_strike = True
        at = 0
    return _strikes[at]


def wait_for() -> int:
    """What the fast clock may do with a wait: 0 stand still, 1 go ahead, 2 wait in real time."""
    ticks = time.peek_us()
    if now.gate_open and now.have_table and time.ticks_diff(ticks, now.table_at) < 1100000:
        return 1
    _ask(87, ticks)  # W
    _receive(_byte)
    return _byte[0]


class Pin:
    IN = 0
    OUT = 1
    PULL_UP = 1
    PULL_DOWN = 2

    def __init__(self, id, mode=-1, pull=None, value=None):
        self._place = -1  # in _states
        self._bit = 0  # of the multiplexer's address
        self.id = id
        if id == 22:
            self._place = ROWS
        elif isinstance(id, int) and id < ROWS:
            self._place = id
        elif id in (16, 17, 18, 19):
            self._bit = 1 << (id - 16)
        self._out = 0
        if mode != -1:
            self.init(mode, pull, value)

    def init(self, mode=-1, pull=None, value=None):
        if value is not None:
            self._out = value
        if self._place >= 0:
            if mode == self.OUT:
                _states[self._place] = 3 if self._out else 2
            else:
                _states[self._place] = 0 if pull is None else 4 if pull == self.PULL_DOWN else 1
            now.changed = True
        elif self._bit and value is not None:
            self.value(value)

    def value(self, x=None):
        if x is None:
            return self._read()
        place = self._place
        if place >= 0:
            self._out = x
            if 2 <= _states[place] <= 3:  # an input only remembers what it would put out
                _states[place] = 3 if x else 2
                now.changed = True
        elif self._bit:
            now.address = now.address | self._bit if x else now.address & ~self._bit
        return None

    def _read(self):
        if self._place >= 0:
            _ask_probe()
            return _levels[self._place]
        if self.id == 21:
            return _button()
        return self._out


class ADC:
    def __init__(self, pin):
        self._strike = (pin.id if isinstance(pin, Pin) else pin) == 27

    def read_u16(self) -> int:
        if self._strike:
            code = _strike()
            return code << 4 | code >> 8
        if now.changed:
            _look_up()
        if now.base < 0:
            code = _probe[now.address]
        else:
            now.turn = (now.turn + 1) & 3
            code = _table[now.base + now.address * 4 + now.turn]
        return code << 4 | code >> 8


class PWM:
    def __init__(self, pin, freq=0, duty_u16=0):
        self._duty = duty_u16

    def duty_u16(self, value=None):
        if value is None:
            return self._duty
        self._duty = value
        return None


def unique_id() -> bytes:
    return bytes([int(_uid[i : i + 2], 16) for i in range(0, len(_uid), 2)])


def reset_cause() -> int:
    return PWRON_RESET


_ask(66, time.ticks_us())  # B: film time 0 is now
_receive(_byte)
