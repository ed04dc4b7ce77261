# What the mat can find out about itself on an empty mat: rows, references, columns, speed, memory.
import gc
import time
from array import array

from micropython import const

_ZERO = const(3)
_SUPPLY = const(4)
_COLUMN_HIGH = const(5)
_TAP = const(6)
_SCAN_TIME = const(16)
_FREE_MEMORY = const(17)


def run(rows, scan, columns: int, bits: int) -> list:
    """The findings as (code, a, b, value). Rows not proven apart are not driven: no more is measured then."""
    found = []
    if rows.prove():
        found += _references(scan, bits)
        found += _columns_and_time(scan, columns, bits)
    else:
        found += [(code, a, b, 0) for code, a, b in rows.findings]
    gc.collect()
    found.append((_FREE_MEMORY, 0, 0, min(65535, gc.mem_free() // 16)))
    return found


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
    # 1 kOhm to REF, against 100 Ohm and a pin of 0 to 150 Ohm; the two bounds also hold with a load on row 0.
    if _outside(high, full, 0.70, 0.98):
        found.append((_TAP, 0, 0, high))
    if _outside(low, full, 0.05, 0.25):
        found.append((_TAP, 1, 0, low))
    return found


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
