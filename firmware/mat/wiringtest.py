# The self-test's look at the wiring: the multiplexer's address, and each column's resistor through a weak pull-up.
from mat import board as boards
from mat.rows import FAULT_LOW
from micropython import const

_NO_MULTIPLEXER = const(0)
_SIDEWAYS = const(7)
_NO_PULL_DOWN = const(8)
_HELD_LOW = const(9)
_SWAPPED = const(12)
_STUCK = const(13)
_DIFFERS = const(15)
_COLUMN_OHM = const(20)
_ROW_TO_COLUMN = const(23)

_THROUGH = const(20)  # a 1 kOhm pull-down under a 50 kOhm pull-up reads about 80; film on an empty mat below 2
_SETTLE_US = const(100)
_PULLED_UP = const(3600)  # of 4096; the least that any input of the multiplexer leaves of a pull-up is less
_READINGS = const(512)  # some 3 steps of noise become 0.2 % of a 1 kOhm resistor's reading
_REFERENCE_OHM = const(1030)  # the reference resistor and the pin behind it
_REFERENCE_LEAST = 0.005  # what it reads against a pull-up of 25 to 200 kOhm
_REFERENCE_MOST = 0.04
_MISSING_OHM = const(30000)
_SHORT_OHM = const(60)  # two of the multiplexer's 1 kOhm resistors differ by 20, two of its switches by some more
_DIFFERENCE = 0.10  # of the median; resistors of 1 % and film between columns stay below
# Film between the columns of a panel makes its inner columns, with two neighbours, read lower than the outer ones.
_SIDE_SHARE = 0.02


def missing(scan, count: int) -> list:
    """No multiplexer at the ADC: whatever the address, its pin follows its own weak pull-up to the supply."""
    nodes = [boards.INPUT_ZERO, boards.INPUT_SUPPLY, boards.INPUT_TAP] + list(range(count))  # noqa: RUF005
    scan.pull(True)
    try:
        lowest = min([scan.total(node, _SETTLE_US, 4) // 4 for node in nodes])
    finally:
        scan.pull(False)
    return [(_NO_MULTIPLEXER, 0, 0, lowest)] if lowest > _PULLED_UP else []


def address(rows, scan) -> list:
    """Address lines of the multiplexer that are swapped or stuck; nothing when its known inputs are where they belong.

    Each of the four lines leaves its own trace in the two inputs that do not read 0 V: supply is 1001, tap 1010.
    """
    ref, high = rows.ref, rows.pins[0]
    high.value(1)
    ref.init(ref.OUT, value=0)
    seen = [_kind(scan.total(node, _SETTLE_US, 4) // 4) for node in range(16)]
    ref.init(ref.IN)
    high.value(0)
    if _fits(seen, lambda a: a):
        return []
    for i in range(4):
        for k in range(i):
            if _fits(seen, lambda a: _exchange(a, i, k)):
                return [(_SWAPPED, k, i, 0)]
    for line in range(4):
        for level in (0, 1):
            if _fits(seen, lambda a: a & ~(1 << line) | level << line):
                return [(_STUCK, line, level, 0)]
    return []


def _kind(code: int) -> int:
    # 0 nothing, 1 half the supply, 2 the tap while row 0 is high, 3 something else
    if code < 300:
        return 0
    return 1 if 1700 <= code <= 2400 else 2 if code > 2800 else 3


def _fits(seen: list, reads) -> bool:
    """Would a multiplexer that reads input reads(a) at address a give this?"""
    expected = {boards.INPUT_ZERO: 0, boards.INPUT_SUPPLY: 1, boards.INPUT_TAP: 2}
    met = 0
    for a in range(16):
        node = reads(a)
        if node in expected:
            if seen[a] != expected[node]:
                return False
            met |= 1 << expected[node]
    return met & 6 != 0


def _exchange(a: int, i: int, k: int) -> int:
    if (a >> i ^ a >> k) & 1:
        a ^= 1 << i | 1 << k
    return a


def through(rows, scan, count: int) -> list:
    """Where the weak pull-ups of rows that are held low go: columns that rise with one touch that row."""
    found = []
    for code, row, _ in rows.findings:
        if code != FAULT_LOW:
            continue
        pin = rows.pins[row]
        resting = [scan.total(c, _SETTLE_US, 4) // 4 for c in range(count)]
        pin.init(pin.IN, pin.PULL_UP)
        for c in range(count):
            code = scan.total(c, _SETTLE_US, 4) // 4
            if code - resting[c] > _THROUGH:
                found.append((_ROW_TO_COLUMN, row, c, code))
        pin.init(pin.IN)
    return found


def columns(rows, scan, count: int) -> list:
    """Each column's resistance to 0 V, against the reference resistor under the same pull-up; faults among them."""
    totals = _pulled(rows, scan, count)
    zero, reference = _rise(totals[count]), _rise(totals[count + 1])
    if not _REFERENCE_LEAST < reference - zero < _REFERENCE_MOST:
        return []  # no reference: that is told as such
    ohms = [max(0.0, _REFERENCE_OHM * (_rise(t) - zero) / (reference - zero)) for t in totals[:count]]
    half = count // 2
    sideways = _sideways(0, ohms[:half]) + _sideways(1, ohms[half:])
    found = sideways + [(_COLUMN_OHM, c, 0, _u16(ohm)) for c, ohm in enumerate(ohms)]
    usual = sorted(ohms)[half]
    for c, ohm in enumerate(ohms):
        if ohm > _MISSING_OHM:
            found.append((_NO_PULL_DOWN, c, 0, _u16(ohm)))
        elif ohm < _SHORT_OHM:
            found.append((_HELD_LOW, c, 0, _u16(ohm)))
        elif abs(ohm - usual) > _DIFFERENCE * usual and not sideways:
            found.append((_DIFFERS, c, 0, _u16(ohm)))
    return found


def _u16(ohm: float) -> int:
    return int(min(65535, ohm))


def _pulled(rows, scan, count: int) -> list:
    """Sums of readings under the pull-up: the columns, 0 V, and the reference resistor (row 0 let go, REF low)."""
    scan.pull(True)
    try:
        totals = [scan.total(node, _SETTLE_US, _READINGS) for node in range(count)]
        totals.append(scan.total(boards.INPUT_ZERO, _SETTLE_US, _READINGS))
        ref, row = rows.ref, rows.pins[0]
        row.init(row.IN)
        ref.init(ref.OUT, value=0)
        totals.append(scan.total(boards.INPUT_TAP, _SETTLE_US, _READINGS))
    finally:
        rows.ref.init(rows.ref.IN)
        rows.pins[0].init(rows.ref.OUT, value=0)
        scan.pull(False)
    return totals


def _rise(total: int) -> float:
    # Proportional to the resistance below the pull-up.
    return total / max(1, 4096 * _READINGS - total)


def _sideways(panel: int, ohms: list) -> list:
    if len(ohms) < 3:
        return []  # every column has as many neighbours as the other: nothing to compare
    outer, inner = (ohms[0] + ohms[-1]) / 2, sum(ohms[1:-1]) / (len(ohms) - 2)
    lowest, highest = min(ohms[1:-1]), max(ohms[1:-1])
    if outer - inner <= _SIDE_SHARE * outer or highest >= min(ohms[0], ohms[-1]):
        return []
    # One wrong resistor is not film: outer columns must agree, inner ones too, and film takes a quarter at most.
    if max(ohms[0], ohms[-1]) > 1.05 * min(ohms[0], ohms[-1]) or highest > 1.05 * lowest or inner < 0.65 * outer:
        return []
    # An outer column has one path of film to a neighbour's resistor beside its own, an inner one two.
    between = max(0.0, inner * outer / (outer - inner) - outer)
    return [(_SIDEWAYS, panel, 0, _u16(between / 100))]
