# The chip's machine module, played by the twin: pins keep their states, readings come from its electrical network.
#
# GROUNDTONE_TWIN names the two inherited pipe descriptors, the rows of the mat and its unique id: "7,8,16,67742d...".
import os
import struct
import time
from array import array

import micropython

_HOLD_US = 2000  # a table of readings serves for this long
_FRESH_US = 40  # readings of any other state of the pins serve for this long: each has its own noise
_STRIKE_STEP_US = 50  # spacing of the strike sensor's readings that come at once
_STRIKE_N = 160
_EDGE_CODE = 745  # the strike sensor's level that the edge pin's transistor needs, 0.6 V
_CATCH_UP = 8  # blocks of readings that are looked through for edges after a pause
_BUTTON_HOLD_US = 20000

_out_fd, _in_fd, _rows_text, _uid = os.getenv("GROUNDTONE_TWIN").split(",")
_to_twin = open(int(_out_fd), "wb")
_from_twin = open(int(_in_fd), "rb")
ROWS = int(_rows_text)
K = 4  # conversions of each node in a table

PWRON_RESET = 1
WDT_RESET = 3
_ADC_PIN, _STRIKE_PIN, _EDGE_PIN = 26, 27, 28

# Pin states as the twin knows them: 0 floating, 1 pull-up, 2 output low, 3 output high, 4 pull-down; REF stands last.
_states = bytearray(ROWS + 1)
_shown = bytearray(ROWS + 1)  # the states that _levels and _probe belong to
_request = bytearray(16)
_probe_request = bytearray(16 + ROWS + 1)
_table = array("H", bytes(2 * (ROWS + 2) * 16 * K))
_probe = array("H", bytes(32))
_levels = bytearray(ROWS + 1)
_strikes = array("H", bytes(2 * _STRIKE_N))
_pull_request = bytearray(16 + ROWS + 3)
_pulled = array("H", bytes(32))
_edges = array("i", [0] * 32)
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
    pull = 0  # of the pin behind the multiplexer: 0 none, 1 up, 2 down
    pulled_left = 0  # readings of _pulled not used yet
    on_edge = None  # the firmware's interrupt handler
    edge_pin = None
    edge_n = 0
    edge_next = 0
    over = False  # was the last reading looked through over the edge's level?
    look = None  # of a radio that shares this clock
    radio_came = None
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
        _more_strikes(ticks, at)
        at = time.ticks_diff(ticks, now.strike_at) // _STRIKE_STEP_US
    edges()
    return _strikes[at]


def _more_strikes(ticks, at) -> None:
    """Fetch readings that begin now; those in between are looked through for edges, as the pin would have seen them."""
    start = ticks
    if now.have_strike and now.on_edge is not None and at < _CATCH_UP * _STRIKE_N:
        start = time.ticks_add(now.strike_at, _STRIKE_N * _STRIKE_STEP_US)
    while True:
        edges()
        _ask(83, start)  # S
        _receive(_strikes)
        now.strike_at = start
        now.have_strike = True
        _find_edges()
        if time.ticks_diff(ticks, start) < _STRIKE_N * _STRIKE_STEP_US:
            return
        start = time.ticks_add(start, _STRIKE_N * _STRIKE_STEP_US)


def _find_edges() -> None:
    now.edge_n = now.edge_next = 0
    over = now.over
    if not over and _highest(_strikes, _STRIKE_N) < _EDGE_CODE:
        return
    for i in range(_STRIKE_N):
        code = _strikes[i]
        if over:
            over = code >= _EDGE_CODE - 100
        elif code >= _EDGE_CODE:
            over = True
            if now.edge_n < len(_edges):
                _edges[now.edge_n] = i
                now.edge_n += 1
    now.over = over


@micropython.viper
def _highest(codes: ptr16, n: int) -> int:
    highest = 0
    i = 0
    while i < n:
        if codes[i] > highest:
            highest = codes[i]
        i += 1
    return highest


def edges() -> None:
    """Call the firmware's handler for each edge that has happened, at the time it happened."""
    while now.edge_next < now.edge_n and now.on_edge is not None:
        at = time.ticks_add(now.strike_at, _edges[now.edge_next] * _STRIKE_STEP_US)
        if time.ticks_diff(time.peek_us(), at) < 0:
            return
        now.edge_next += 1
        time.pretend(at)
        try:
            now.on_edge(now.edge_pin)
        finally:
            time.pretend(None)


def _pulled_code() -> int:
    """A reading of the multiplexer's output while its pin has a weak pull: 16 at a time."""
    if now.changed or not now.pulled_left:
        now.changed = False
        struct.pack_into("<BxxxI", _pull_request, 0, 65, time.ticks_us())  # A
        _pull_request[16:-2] = _states
        _pull_request[-2] = now.pull
        _pull_request[-1] = now.address
        _to_twin.write(_pull_request)
        _receive(_pulled)
        now.pulled_left = 16
    now.pulled_left -= 1
    return _pulled[now.pulled_left]


def every_look(hook, pipe) -> None:
    """Call hook whenever the firmware looks at its button, which is once a turn; pipe: what ends a wait for it."""
    import uselect

    now.look = hook
    now.radio_came = uselect.poll()
    now.radio_came.register(pipe, uselect.POLLIN)


def radio_waits() -> bool:
    """Has the radio brought something that nobody has looked at?"""
    if now.radio_came is not None:
        for _ in now.radio_came.ipoll(0):
            return True
    return False


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
    IRQ_FALLING = 4

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
        elif self.id == _ADC_PIN:
            now.pull = 0 if pull is None else 2 if pull == self.PULL_DOWN else 1
            now.changed = True

    def irq(self, handler=None, trigger=IRQ_FALLING, hard=False):
        if self.id == _EDGE_PIN:
            now.on_edge = handler
            now.edge_pin = self

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
            now.pulled_left = 0
        return None

    def _read(self):
        if self._place >= 0:
            _ask_probe()
            return _levels[self._place]
        if self.id == 21:
            if now.look is not None:
                now.look()
            return _button()
        return self._out


class ADC:
    def __init__(self, pin):
        number = pin.id if isinstance(pin, Pin) else pin
        self._strike = number == _STRIKE_PIN
        if number == _ADC_PIN and now.pull:  # as on the chip, the converter takes the pulls off its pin
            now.pull = 0
            now.changed = True

    def read_u16(self) -> int:
        if self._strike:
            code = _strike()
            return code << 4 | code >> 8
        if now.pull:
            code = _pulled_code()
            return code << 4 | code >> 8
        if now.changed:
            _look_up()
        if now.base < 0:
            if time.ticks_diff(time.peek_us(), now.probe_at) >= _FRESH_US:
                now.have_probe = False
                _ask_probe()
            code = _probe[now.address]
        else:
            now.turn = (now.turn + 1) & 3
            code = _table[now.base + now.address * 4 + now.turn]
        return code << 4 | code >> 8


class PWM:
    def __init__(self, pin, freq=0, duty_u16=0):
        self._duty, self._hertz = duty_u16, freq

    def freq(self, value=None):
        if value is None:
            return self._hertz
        self._hertz = value
        return None

    def duty_u16(self, value=None):
        if value is None:
            return self._duty
        self._duty = value
        return None


class WDT:
    def __init__(self, id=0, timeout=5000):
        self.timeout = timeout

    def feed(self):
        pass


class _Registers:
    """Words of the chip by address. The watchdog's scratch words outlive a reset, in a file beside the settings."""

    def __init__(self):
        self._words = {}
        try:
            with open(_REBOOTED) as file:
                for line in file:
                    address, word = line.split()
                    self._words[int(address)] = int(word)
            os.remove(_REBOOTED)
            self.rebooted = True
        except OSError:
            self.rebooted = False

    def __getitem__(self, address):
        return self._words.get(address, 0)

    def __setitem__(self, address, word):
        self._words[address] = word

    def keep(self):
        with open(_REBOOTED, "w") as file:
            for address in self._words:
                if _SCRATCH <= address < _SCRATCH + 32:
                    file.write("%d %d\n" % (address, self._words[address]))


_REBOOTED = "rebooted.txt"
_SCRATCH = 0x4005800C
mem32 = _Registers()


def reset() -> None:
    """As on the RP2's port, where this is a watchdog's reboot: the next start's cause is WDT_RESET."""
    mem32.keep()
    raise SystemExit


def unique_id() -> bytes:
    return bytes([int(_uid[i : i + 2], 16) for i in range(0, len(_uid), 2)])


def reset_cause() -> int:
    return WDT_RESET if mem32.rebooted else PWRON_RESET


time.after_waits(edges)
_ask(66, time.ticks_us())  # B: film time 0 is now
_receive(_byte)
