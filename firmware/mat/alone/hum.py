# The mains' hum in a scan: seen on cells that carry nothing, and taken off all. The computer models what the
# converter's lower end does to it besides (groundtone/mat/hum.py); this does not.
# It lies on the converter's input: all cells of a scan have the same of it, and it turns from row to row.
#
# Whole numbers of at most 31 bits; readings here are quarters of a count.
import micropython
from micropython import const

# `state` of `hushed`, by place.
SIZE = const(0)  # of the hum in the mean, 1/64 count
_LEVEL = const(1)  # what cells had in common in the mean, and its slope: 1/1024 count above _MIDDLE
_SLOPE = const(2)
STATE = const(3)
_MIDDLE = const(0x100000)

_QUIET = const(100)  # a cell that reads less above zero carries nothing
_FAR = const(140)  # and what is further from its mean is no hum
_LEAST_CELLS = const(24)
_TENTH = const(13)  # of 128: weight of a scan in the means


@micropython.viper
def hushed(values: ptr16, slow: ptr16, zero: int, rows: int, columns: int, s: ptr32) -> int:
    # Takes it off `values`; `slow` is each cell's mean. Returns the hum's size in the mean, 1/64 count.
    zero += _QUIET
    n = 0
    sum_r = 0
    sum_rr = 0
    sum_v = 0
    sum_rv = 0
    at = 0
    r = 0
    while r < rows:
        here = 0
        cells = 0
        c = 0
        while c < columns:
            mean = int(slow[at])
            if mean < zero:
                off = (int(values[at]) << 2) - mean
                if off < _FAR and off > 0 - _FAR:
                    cells += 1
                    here += off
            at += 1
            c += 1
        n += cells
        sum_r += r * cells
        sum_rr += r * r * cells
        sum_v += here
        sum_rv += r * here
        r += 1
    level = 0
    slope = 0
    if n >= _LEAST_CELLS:
        # A straight line over the rows, times 256.
        det = (n * sum_rr - sum_r * sum_r) >> 8
        if det > 0:
            slope = (n * sum_rv - sum_r * sum_v) // det
        level = ((sum_v << 8) - slope * sum_r) // n
    # Hum is nothing in the mean; what stays is a cell that has just joined the quiet ones, or left them.
    mean = s[_LEVEL]
    s[_LEVEL] = mean + (((level + _MIDDLE - mean) * _TENTH + 64) >> 7)
    stays = ((mean + s[_LEVEL]) >> 1) - _MIDDLE
    mean = s[_SLOPE]
    s[_SLOPE] = mean + (((slope + _MIDDLE - mean) * _TENTH + 64) >> 7)
    leans = ((mean + s[_SLOPE]) >> 1) - _MIDDLE
    at = 0
    r = 0
    while r < rows:
        common = (level + slope * r + 128) >> 8
        off = (stays + leans * r + 128) >> 8
        c = 0
        while c < columns:
            v = (int(values[at]) << 2) - common
            mean = int(slow[at])
            mean += ((v - mean) * _TENTH + 64) >> 7
            if mean < 0:
                mean = 0
            slow[at] = mean
            v += off
            if v < 0:
                v = 0
            values[at] = (v + 2) >> 2
            at += 1
            c += 1
        r += 1
    size = (level - stays + (slope - leans) * (rows >> 1)) >> 8
    if size < 0:
        size = 0 - size
    s[SIZE] += ((size << 4) - s[SIZE]) >> 5
    return s[SIZE]


@micropython.viper
def begin(values: ptr16, slow: ptr16, cells: int, s: ptr32):
    # What cells read now is their first mean; how large the hum is will be seen.
    s[SIZE] = 1024
    s[_LEVEL] = _MIDDLE
    s[_SLOPE] = _MIDDLE
    i = 0
    while i < cells:
        slow[i] = int(values[i]) << 2
        i += 1
