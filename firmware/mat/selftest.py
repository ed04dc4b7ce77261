# What the mat can find out about itself on an empty mat: references, speed, noise; the wiring is in wiringtest.
import time
from array import array

from mat import board as boards
from mat import tally, wiringtest
from micropython import const

_ZERO = const(3)
_SUPPLY = const(4)
_COLUMN_HIGH = const(5)
_TAP = const(6)
_SETTLE = const(11)
_NOISE = const(14)
_FIGURES = const(16)  # codes below are faults
_SCAN_TIME = const(16)
_LATE_BIN = const(18)
_LATE_WORST = const(19)
_NOISE_FIGURE = const(21)
_DRIVER = const(22)
_MISSED = const(24)
_COLUMNS_SETTLE = const(25)

_REPEATS = const(32)
_NOISE_READINGS = const(128)
_NOISE_MOST = const(128)  # 16ths of a step: 8 steps; about 3 are usual on an RP2040 (8.7 effective bits)
_SETTLE_LONGEST = const(200)
_REFERENCE_OHM = const(1000)
# A pin's 20 to 110 Ohm (from memory: 30 low, 55 high are typical) and the row's 220 Ohm, or 270; 100 in older mats.
_DRIVER_LEAST = const(110)
_DRIVER_MOST = const(380)


def run(app) -> list:
    """The findings as (code, a, b, value). Rows not proven apart are not driven: no more is measured then."""
    rows, scan = app.rows, app.scan
    found = []
    if rows.prove():
        moved = wiringtest.missing(scan, app.shape[1]) or wiringtest.address(rows, scan)
        found += moved or _references(scan, app.bits)  # with a wrong address every reading is that of something else
        noise = _noise(scan)
        found += noise
        if not moved and len(noise) == 1:  # where readings jump, small differences say nothing
            found += _settle(scan, app.settings["settle_us"], app.bits)
            found += _columns_settle(app)
            found += wiringtest.columns(rows, scan, app.shape[1])
        figures = _columns_and_time(scan, app.shape[1], app.bits)
        found += [f for f in figures if f[0] >= _FIGURES or not moved]  # columns that read high there are no columns
    else:
        found += [(code, a, b, 0) for code, a, b in rows.findings]
        found += wiringtest.through(rows, scan, app.shape[1])
    last = app.tally
    bins = [(_LATE_BIN, i, 0, last[tally.LATE + i]) for i in range(tally.BINS) if last[tally.LATE + i]]
    if bins:
        found += bins
        found.append((_LATE_WORST, 0, 0, min(65535, last[tally.WORST])))
        if last[tally.MISSED]:
            found.append((_MISSED, 0, 0, min(65535, last[tally.MISSED])))
    return [f for f in found if f[0] < _FIGURES] + [f for f in found if f[0] >= _FIGURES]


def _outside(value: int, full: int, low: float, high: float) -> bool:
    return not low * full <= value <= high * full


def _references(scan, bits: int) -> list:
    full = 1 << bits
    found = []
    pairs = array("H", bytes(8))
    scan.references(pairs, 0, 0)
    scan.references(pairs, 2, 1)
    zero, high, supply, low = pairs
    if zero > 0.01 * full:
        found.append((_ZERO, 0, 0, zero))
    if _outside(supply, full, 0.45, 0.56):  # half, and a supply within 10 % of the ADC's reference
        found.append((_SUPPLY, 0, 0, supply))
    # The reference resistor's current goes through row 0's driver: the tap's share of the supply gives its resistance.
    rows_supply = max(1, 2 * supply)
    for a, tap, other in ((0, high, 30), (1, low, 55)):
        share = max(0.001, min(0.999, tap / rows_supply))
        through = (1 - share) / share if a == 0 else share / (1 - share)
        ohm = (_REFERENCE_OHM + other) * through
        if not _DRIVER_LEAST <= ohm <= _DRIVER_MOST:
            found.append((_TAP, a, 0, tap))
        found.append((_DRIVER, a, 0, int(min(65535, ohm))))
    return found


def _noise(scan) -> list:
    # The supply's half is quiet: what moves there is the ADC, its reference and the supply.
    codes = [scan.total(boards.INPUT_SUPPLY, 50, 1) for _ in range(_NOISE_READINGS)]
    mean = sum(codes) / len(codes)
    rms = int(16 * (sum([(c - mean) ** 2 for c in codes]) / len(codes)) ** 0.5)
    found = [(_NOISE_FIGURE, 0, 0, min(65535, rms))]
    if rms > _NOISE_MOST:
        found.append((_NOISE, 0, 0, min(65535, rms)))
    return found


def _settle(scan, settle_us: int, bits: int) -> list:
    """One against four settle times in the frames' own loop: the multiplexer has moved, a row has gone high."""
    for source in (0, 1):
        us = settle_us
        while us <= _SETTLE_LONGEST:
            if not _moves(scan, source, us, bits):
                break
            us += us // 2 + 1
        if us > settle_us:
            return [(_SETTLE, source, 0, min(us, _SETTLE_LONGEST + 1))]
    return []


def _columns_settle(app) -> list:
    """All rows have gone high: what the columns take is a figure, and a fault where a shorter time was set."""
    from mat import settling  # forgotten with this module

    needed = settling.measure(app, range(app.shape[1]))
    if not needed:
        return []
    found = [(_COLUMNS_SETTLE, 0, 0, needed)]
    if needed > settling.LONGEST_US or needed > (app.settings["row_settle_us"] or needed):
        found.append((_SETTLE, 2, 0, needed))
    return found


def _moves(scan, source: int, us: int, bits: int) -> bool:
    totals = []
    for wait in (us, 4 * us):
        scan.settle(wait, wait)
        totals.append(sum([scan.moved(source) for _ in range(_REPEATS)]))
    return abs(totals[0] - totals[1]) > (8 * _REPEATS) << (bits - 12)  # 8 steps, 0.2 % of the range, on the mean


def _columns_and_time(scan, columns: int, bits: int) -> list:
    buf = array("H", bytes(2 * scan.size))
    start = time.ticks_us()
    scan.scan(buf, 0)
    took = time.ticks_diff(time.ticks_us(), start)
    found = []
    cells = scan.size - 2
    for c in range(columns):
        highest = max([buf[i] for i in range(c, cells, columns)])
        if highest > (1 << bits) // 20:
            found.append((_COLUMN_HIGH, c, 0, highest))
    found.append((_SCAN_TIME, 0, 0, min(65535, took)))
    return found
