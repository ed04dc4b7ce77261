# Where the pressure is, from a scan, on the board: references, the empty mat, each foot's force and centre, the share.
#
# Whole numbers of at most 31 bits that are never below zero (see mat/alone/forces.py), and nothing is allocated.
from array import array

import micropython
from mat.alone import forces, hum
from micropython import const

# `state`, by place. Running means of the references, times 4096; even scans bring the first two, odd ones the others.
ZERO = const(0)
_TAP_HIGH = const(1)
SUPPLY = const(2)
_TAP_LOW = const(3)
_EVEN = const(4)  # scans that brought them, 50 at most: the weight of the next one
_ODD = const(5)
QUIET = const(6)  # scans in a row in which nobody stood there
SHARE = const(7)  # out: the lead foot's part of the force, 14 places; NOTHING
_LEAD = const(8)  # 0 left, 1 right
_SERIES = const(9)  # resistors over the nominal pull-down, 14 places
_REFERENCE = const(10)
LEAST = const(11)  # a foot that carries less has no centre, 1/32 N
_LOOK = const(12)  # scans until the supply is looked at again
_STEADY = const(13)  # what lay on the mat in the mean of the last scans, 1/512 N
_UNREST = const(14)  # how far scans were from that in the mean, 1/512 N
HUMS = const(15)  # the mains' hum is there and taken off
_HUMMED = const(16)  # scans in a row in which the empty mat seemed to hum
_TORN = const(17)  # scans in a row in which a column was beyond what can be told
_SUM = const(18)  # of the cells in the scan before, how that had changed (and _FLAT), and how far that turns, 1/16
_CHANGE = const(19)
_TURNED = const(20)
_FLAT = const(0x1000000)
_STATE = const(21)

# Places of mat/alone/forces.py in `plan` and `feet`.
_P_ROWS = const(0)
_P_COLUMNS = const(1)
_P_ZERO = const(2)
_P_SPAN = const(3)
_P_LOW = const(4)
_P_UNEQUAL = const(5)
_P_HEAVY = const(7)
_FORCE = const(0)
_ALONG = const(1)
_ACROSS = const(2)
_MOST_CELL = const(3)

# Beside those of mat/alone/forces.py in `feet`: the centre, in 1/256 of a cell from the first cell's middle; NOTHING.
U = const(4)
V = const(5)
NOTHING = const(0x1FFFFFFF)

_ONE = const(16384)
_MOST = const(50)
_TORN_MOST = const(4)
_EVERY = const(16)
_NOBODY = const(1920)  # 60 N, as groundtone/engine/live.py has it
_STILL = const(96)  # 3 N: what changes by more is somebody, unless the mains' hum makes as much all the time
_STILL_MOST = const(800)  # 25 N
_RESTLESS = const(1536)  # an empty mat that moves by 3 N in the mean hums,
_TURNS = const(3200)  # and one whose readings all turn about by 1.5 counts: a film that conducts well shows few newtons
_TURNS_MOST = const(2000)  # no single scan makes a hum
_HUSHED = const(40)  # below 0.6 of a count there is no hum
_EMPTY = const(50)  # scans until an empty mat is one
_LEAST = const(960)  # 30 N, as groundtone/pressure/feet.py has it
_TARE_MOST = const(65535)  # 16 N a cell
# What lies on a mat that was never tared: no golfer, and nowhere as much as under a foot (200 N, 12 N in one cell).
_NO_GOLFER = const(6400)
_NO_FOOT = const(384)


class Pressure:
    """One frame's way from readings to the feet. `state` and `forces.feet` hold what came out."""

    def __init__(self, meter: forces.Forces, lead: int, series: int, reference: int) -> None:
        self.forces = meter
        self.state = array("i", bytes(4 * _STATE))
        self.state[_LEAD] = 1 if lead else 0
        self.state[_SERIES] = series
        self.state[_REFERENCE] = reference
        self.state[LEAST] = _LEAST
        self.slow = array("H", bytes(2 * meter.plan[forces.ROWS] * meter.plan[forces.COLUMNS]))
        self.hum = array("i", bytes(4 * hum.STATE))
        self.cells = meter.plan[forces.ROWS] * meter.plan[forces.COLUMNS]
        self.both = False  # two hundred scans a second: who is there is asked in every second one

    @micropython.native
    def frame(self, values: array, odd: int) -> int:
        """From one scan with its two references; 0: nothing is known, references are missing or it is torn."""
        meter = self.forces
        state = self.state
        plan = meter.plan
        if not referred(values, self.cells, odd, state, plan):
            return 0
        if state[HUMS]:
            if hum.hushed(values, self.slow, plan[_P_ZERO], plan[_P_ROWS], plan[_P_COLUMNS], self.hum) < _HUSHED:
                state[HUMS] = 0
        meter.frame(values)
        if torn(state, plan):
            return 0
        feet = meter.feet
        if odd and self.both:
            centred(state, feet)
            return 1
        quiet = watched(state, feet)
        if not state[HUMS] and hums(state, feet, values, self.cells):
            state[HUMS] = 1
            hum.begin(values, self.slow, self.cells, self.hum)
        if quiet > _EMPTY:
            tared(meter.force, meter.tare, self.cells)
            drivers(state, plan)
        centred(state, feet)
        return 1


@micropython.viper
def referred(values: ptr16, at: int, odd: int, s: ptr32, plan: ptr32) -> int:
    n = s[_EVEN + odd]
    if n < _MOST:
        n += 1
        s[_EVEN + odd] = n
    k = 2 * odd
    i = 0
    while i < 2:
        mean = s[k + i]
        s[k + i] = mean + ((int(values[at + i]) << 12) - mean) // n
        i += 1
    if s[_EVEN] == 0 or s[_ODD] == 0:
        return 0
    # Often at first, while the means still move.
    left = s[_LOOK]
    if left and s[_EVEN] == _MOST:
        s[_LOOK] = left - 1
        return 1
    s[_LOOK] = _EVERY
    zero = s[ZERO]
    half = s[SUPPLY] - zero
    if half < (1 << 21):  # a broken line: an eighth of the range
        s[_EVEN] = 0
        s[_ODD] = 0
        return 0
    plan[_P_ZERO] = (zero + 512) >> 10
    plan[_P_SPAN] = (1 << 29) // (half >> 10)
    return 1


@micropython.viper
def torn(s: ptr32, plan: ptr32) -> int:
    # Has the load changed so much while the scan was under way that its rows do not belong together? Then a column is
    # beyond what can be told, for once; where it stays so, it is the load.
    if plan[_P_HEAVY] == 0:
        s[_TORN] = 0
        return 0
    if s[_TORN] == _TORN_MOST:
        return 0
    s[_TORN] += 1
    return 1


@micropython.viper
def drivers(s: ptr32, plan: ptr32):
    # From the taps, while nobody stands there: then the cells of row 0 carry nothing, and each driver is one of two
    # resistors in a row. What cannot be a pin (a twentieth to one and a half times its series resistor) is tried once
    # more with the other rows' resistors there are, and then changes nothing.
    zero = s[ZERO]
    half = (s[SUPPLY] - zero) >> 9
    series = s[_SERIES]
    up = (((s[_TAP_HIGH] - zero) >> 8) << 12) // half
    down = (((s[_TAP_LOW] - zero) >> 8) << 12) // half
    if up < 4096 or up > 16000 or down < 384 or down > 12288:
        return
    tries = 2
    while tries:
        reference = s[_REFERENCE] - series
        high = low = plan[_P_LOW]
        i = 0
        while i < 4:
            high = ((_ONE - up) * (reference + low)) // up
            low = (down * (reference + high)) // (_ONE - down)
            i += 1
        least = series + series // 20
        most = (5 * series) >> 1
        if high >= least and low >= least and high <= most and low <= most:
            plan[_P_LOW] = low
            plan[_P_UNEQUAL] = _ONE + low - high
            return
        # Rows of 100 Ohm in a mat that is told of 220, or the other way round: earlier mats.
        if 6 * series > s[_REFERENCE]:
            series = series * 5 // 11
        else:
            series = series * 11 // 5
        tries -= 1


@micropython.viper
def watched(s: ptr32, feet: ptr32) -> int:
    # Scans in a row in which nobody stood there: little lies there, and it lies still.
    most = feet[_MOST_CELL]
    if feet[8 + _MOST_CELL] > most:
        most = feet[8 + _MOST_CELL]
    total = feet[_FORCE] + feet[8 + _FORCE]
    mean = s[_STEADY]
    off = total - (mean >> 4)
    if off < 0:
        off = 0 - off
    limit = s[_UNREST] >> 2  # four times the mean
    if limit > _STILL_MOST:
        limit = _STILL_MOST
    if limit < _STILL:
        limit = _STILL
    moves = off
    if moves > _STILL_MOST:
        moves = _STILL_MOST
    s[_UNREST] += ((moves << 4) - s[_UNREST]) >> 4
    somebody = 0
    if total >= _NOBODY:
        if total >= _NO_GOLFER or most >= _NO_FOOT:
            somebody = 1
    if somebody or off > limit:
        s[QUIET] = 0
        s[_STEADY] = total << 4
        return 0
    s[_STEADY] = mean + (((total << 4) - mean) >> 4)
    if s[QUIET] < 1000:
        s[QUIET] += 1
    return s[QUIET]


@micropython.viper
def hums(s: ptr32, feet: ptr32, values: ptr16, cells: int) -> int:
    # An empty mat that has been restless for longer than a golfer takes to step on.
    if feet[_FORCE] + feet[8 + _FORCE] >= _NO_GOLFER:
        s[_HUMMED] = 0
        return 0
    total = 0
    i = 0
    while i < cells:
        total += int(values[i])
        i += 1
    change = total - s[_SUM]
    turned = change + _FLAT - s[_CHANGE]
    s[_SUM] = total
    s[_CHANGE] = change + _FLAT
    if turned < 0:
        turned = 0 - turned
    if turned > _TURNS_MOST:
        turned = _TURNS_MOST
    s[_TURNED] += ((turned << 3) - s[_TURNED] + 8) >> 4
    if s[_UNREST] > _RESTLESS or s[_TURNED] > _TURNS:
        s[_HUMMED] += 1
    else:
        s[_HUMMED] = 0
    return int(s[_HUMMED] > _EMPTY)


@micropython.viper
def tared(force: ptr16, tare: ptr16, cells: int):
    i = 0
    while i < cells:
        lies = int(force[i]) << 7
        if lies > _TARE_MOST:
            lies = _TARE_MOST
        was = int(tare[i])
        tare[i] = was + ((lies - was + 16) >> 5)
        i += 1


@micropython.viper
def centred(s: ptr32, feet: ptr32):
    least = s[LEAST]
    i = 0
    while i < 16:
        foot = ptr32(uint(feet) + 4 * i)
        force = foot[_FORCE]
        if force < least:
            foot[U] = NOTHING
            foot[V] = NOTHING
        else:
            along = foot[_ALONG]
            across = foot[_ACROSS]
            while force >= 65536:
                force >>= 1
                along >>= 1
                across >>= 1
            foot[U] = ((along << 8) + (force >> 1)) // force
            foot[V] = ((across << 8) + (force >> 1)) // force
        i += 8
    lead = feet[8 * s[_LEAD] + _FORCE]
    total = feet[_FORCE] + feet[8 + _FORCE]
    if total < _NOBODY:
        s[SHARE] = NOTHING
        return
    while total >= 32768:
        total >>= 1
        lead >>= 1
    s[SHARE] = ((lead << 14) + (total >> 1)) // total
