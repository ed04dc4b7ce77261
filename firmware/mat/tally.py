# The numbers of a run in one array: due times kept, frames under way, headers. Viper: a frame costs microseconds.
from array import array

import micropython
from micropython import const

PERIOD = const(0)
SEQ = const(1)
FLAGS = const(2)  # of the next frame that goes out
SENT = const(3)
SKIPPED = const(4)
MISSED = const(5)  # due times that passed without a scan
WORST = const(6)  # latest start, us
LATE = const(7)  # and up: scans by how late they started
BINS = const(8)
WINDOW = const(15)
UNDER_WAY = const(16)
FIRST = const(17)  # place of the oldest frame under way in the ring
PASSED = const(18)  # due times that passed during the scan before
DUE = const(19)  # the next scan, as ticks_us has it
RING = const(20)  # and up: sequence numbers of the frames under way
_LONGEST_WINDOW = const(32)

_SKIPPED_FLAG = const(2)
_FIRST_FLAG = const(8)


def numbers() -> array:
    """An array for one run."""
    return array("I", [0] * (RING + _LONGEST_WINDOW))


@micropython.viper
def clear(s: ptr32, period: int):
    # A new run: its first frame says so. What is under way stays.
    i = SEQ
    while i < WINDOW:
        s[i] = 0
        i += 1
    s[PERIOD] = period
    s[FLAGS] = _FIRST_FLAG
    s[PASSED] = 0


@micropython.viper
def started(s: ptr32, late: int) -> int:
    # A scan has started so late. Returns when the next one is due after this one was: whole periods, the grid stays.
    if late > s[WORST]:
        s[WORST] = late
    i = 0
    bound = 10
    while i < BINS - 1 and late >= bound:  # 10, 20, 50, 100, 200, 500, 1000 us
        i += 1
        if i == 2 or i == 5:
            bound = bound * 5 >> 1
        else:
            bound = bound << 1
    if s[LATE + i] < 65535:
        s[LATE + i] += 1
    step = s[PERIOD]
    passed = 0
    if late > step:
        passed = late // step
    s[PASSED] = passed
    return step + passed * step


@micropython.viper
def head(s: ptr32, m: ptr8, t: ptr8, values: ptr16, cells: int, flags: int, peak: int, offset: int) -> int:
    # Fill in a frame's header; 1, or 0 when there is no credit. Counts it either way.
    seq = s[SEQ]
    going = 0
    if s[UNDER_WAY] < s[WINDOW]:
        going = 1
        flags = flags | s[FLAGS]
        s[FLAGS] = 0
        m[1] = flags
        m[2] = seq
        m[3] = seq >> 8
        m[8] = peak
        m[9] = peak >> 8
        m[10] = offset
        m[11] = offset >> 8
        i = 0
        while i < 4:
            m[4 + i] = t[i]
            i += 1
        i = 0
        while i < 2:
            m[12 + 2 * i] = int(values[cells + i])
            m[13 + 2 * i] = int(values[cells + i]) >> 8
            i += 1
        s[SENT] += 1
        at = s[FIRST] + s[UNDER_WAY]
        if at >= s[WINDOW]:
            at -= s[WINDOW]
        s[RING + at] = seq
        s[UNDER_WAY] += 1
    else:
        s[SKIPPED] += 1
        s[FLAGS] = (s[FLAGS] & _FIRST_FLAG) | _SKIPPED_FLAG
    passed = s[PASSED]
    if passed:
        s[MISSED] += passed
        s[SKIPPED] += passed
        s[FLAGS] = s[FLAGS] | _SKIPPED_FLAG
    s[SEQ] = (seq + 1 + passed) & 0xFFFF
    return going


@micropython.viper
def unsent(s: ptr32, flags: int):
    # The link did not take the frame that `head` counted.
    s[SENT] -= 1
    s[UNDER_WAY] -= 1
    s[SKIPPED] += 1
    s[FLAGS] = (flags & _FIRST_FLAG) | _SKIPPED_FLAG


@micropython.viper
def acknowledged(s: ptr32, seq: int, everything: int):
    # The host has taken frame seq and all before it; or nothing is under way any more. Only a number that is really
    # under way counts: an ack from before the last start must not give credit.
    if everything:
        s[UNDER_WAY] = 0
        return
    i = 0
    at = s[FIRST]
    while i < s[UNDER_WAY]:
        i += 1
        same = s[RING + at] == seq
        at += 1
        if at >= s[WINDOW]:
            at = 0
        if same:
            s[FIRST] = at
            s[UNDER_WAY] -= i
            return
