# From a scan to newtons on the board, in integers: the exact inverse of the resistive network, a table for each cell.
#
# The algebra is that of groundtone/mat/network.py, whose text has the equations; here it takes one turn a frame, going
# on from the frame before: the off-diagonal of Q and the drivers' factor s are those of the last frame (both are second
# order and change by little from scan to scan), the diagonal is this frame's. Conductances are fractions of the nominal
# pull-down's, 14 binary places; Q keeps 12 so that a product of two stays within 31 bits. What is stored is never below
# zero: a pointer to words reads them without a sign where machine words are longer.
from array import array

import micropython
from mat import kinds
from mat.alone import cells
from micropython import const

_ONE = const(16384)
_LIMIT = const(819)  # what is left of a column's sum, 1/20: less leaves nothing to tell its cells apart by

# `plan`, by place.
ROWS = const(0)
COLUMNS = const(1)
ZERO = const(2)  # the 0 V input's reading, 1/4 of a count
SPAN = const(3)  # readings to fractions of the supply, 14 places
LOW = const(4)  # low driver and series resistor over the nominal pull-down, 14 places
UNEQUAL = const(5)  # _ONE + low less high driver over the nominal pull-down, 14 places
NODES = const(6)  # of each cell's table
HEAVY = const(7)  # out: columns that were beyond what can be told
PULLDOWN = const(8)  # and up: each column's pull-down conductance, 14 places
_PLAN = const(16)

# `feet`, by place, eight a foot: force in 1/32 N, and its moments about the heel's row and the foot's left column, in
# cells (mat/alone/pressure.py has more of them).
FORCE = const(0)
ALONG = const(1)
ACROSS = const(2)
MOST = const(3)  # the largest cell
_A_FOOT = const(8)

NODES_A_CELL = const(61)  # mat/alone/cells.py


class Forces:
    """The arrays that one frame's way to newtons needs, made once; `frame` allocates nothing."""

    def __init__(self, rows: int, columns: int, tables) -> None:
        self.plan = array("i", bytes(4 * _PLAN))
        self.plan[ROWS] = rows
        self.plan[COLUMNS] = columns
        self.plan[NODES] = NODES_A_CELL
        for c in range(columns):
            self.plan[PULLDOWN + c] = _ONE
        self.plan[SPAN] = self.plan[UNEQUAL] = _ONE
        self.q = array("i", bytes(4 * columns * columns))  # Q, 12 places; its size off the diagonal
        self.more = array("i", bytes(4 * columns * columns))
        self.s = array("i", [_ONE] * rows)  # the drivers' factor
        self.row = array("i", bytes(4 * columns))
        self.g = array("i", bytes(4 * rows * columns))  # conductances, 14 places
        self.force = array("H", bytes(2 * rows * columns))  # 1/32 N, as the tables have it
        self.tare = array("H", bytes(2 * rows * columns))  # of the empty mat, 1/4096 N
        # Of each line its place: rows of the left panel, rows of the right one, columns.
        self.places = bytearray(list(range(rows)) * 2 + list(range(columns)))
        self.feet = array("i", bytes(4 * 2 * _A_FOOT))
        self.tables = tables
        self.own = kinds.network(self)  # the chip's own instructions, where there are some
        self.work = self.own.work(self) if self.own else None

    @micropython.native
    def frame(self, values: array) -> None:
        """From readings (row by row) to `g`, `force` and `feet`."""
        own = self.own
        plan = self.plan
        work = self.work
        if own:
            own.read(work, values, plan, self.s)
            diagonal(plan, self.q, self.row)
            own.currents(work, plan, self.s, self.g)
            folded(plan, self.q, self.more, self.s)
            own.newtons(work, self.tables, self.force, 0)
            cells.lifted(self.feet)
            return
        read(values, plan, self.s, self.row, self.g)
        diagonal(plan, self.q, self.row)
        currents(plan, self.q, self.s, self.row, self.g, self.more)
        folded(plan, self.q, self.more, self.s)
        cells.newtons(self.g, plan, self.tables, self.force, self.tare, self.places, self.feet)
        cells.lifted(self.feet)


@micropython.viper
def read(values: ptr16, plan: ptr32, s: ptr32, b: ptr32, g: ptr32):
    # The readings as fractions of the supply, for a while where the conductances will stand; b: what is left of each
    # column's sum.
    rows = plan[ROWS]
    columns = plan[COLUMNS]
    zero = plan[ZERO]
    span = plan[SPAN]
    c = 0
    while c < columns:
        b[c] = _ONE
        c += 1
    r = 0
    while r < rows:
        factor = s[r]
        c = 0
        while c < columns:
            v = (int(values[c]) << 2) - zero
            if v > 0:
                v = (v * span + 32768) >> 16
                g[c] = v
                b[c] -= (v * factor) >> 14
            else:
                g[c] = 0
            c += 1
        values = ptr16(uint(values) + 2 * columns)
        g = ptr32(uint(g) + 4 * columns)
        r += 1


@micropython.viper
def diagonal(plan: ptr32, q: ptr32, b: ptr32):
    # Q's, from the columns' current law: Q (1 - sum of v) = Gs.
    columns = plan[COLUMNS]
    pull = ptr32(uint(plan) + 4 * PULLDOWN)
    heavy = 0
    c = 0
    while c < columns:
        # Below zero it would read as large where words are longer.
        if b[c] < _LIMIT or b[c] > _ONE:
            b[c] = _LIMIT
            heavy += 1
        c += 1
    plan[HEAVY] = heavy
    c = 0
    while c < columns:
        total = pull[c]
        k = 0
        while k < columns:
            if k != c:
                total += (q[k] * b[k]) >> 12
            k += 1
        q[c] = (total << 12) // b[c]
        q = ptr32(uint(q) + 4 * columns)
        c += 1


@micropython.viper
def currents(plan: ptr32, q: ptr32, s: ptr32, b: ptr32, g: ptr32, more: ptr32):
    # Rows: B = v Q, s, the rise 1 / (1 - s D / g), G; and the sums for the next off-diagonal in `more`.
    rows = plan[ROWS]
    columns = plan[COLUMNS]
    low = plan[LOW]
    unequal = plan[UNEQUAL] - _ONE
    r = 0
    while r < rows:
        v0 = ptr32(uint(g) + 4 * r * columns)
        flow = 0
        power = 0
        c = 0
        while c < columns:
            if v0[c]:
                break
            c += 1
        if c == columns:
            s[r] = _ONE
            r += 1
            continue
        c = 0
        at = q
        while c < columns:
            total = 2 * v0[c] * at[c] + 2048
            k = 0
            while k < columns:
                total -= v0[k] * at[k]
                k += 1
            total = total >> 12
            if total < 0:
                total = 0
            b[c] = total
            flow += total
            power += ((total >> 2) * v0[c]) >> 12
            at = ptr32(uint(at) + 4 * columns)
            c += 1
        if flow > 0:
            factor = s[r]
            factor = _ONE - ((unequal * ((factor * ((flow - ((power >> 2) * factor >> 12)) >> 2)) >> 12)) >> 14)
            s[r] = factor
            sag = ((factor * low) >> 14) * (flow >> 2) >> 12
            if sag > 15500:
                sag = 15500
            rise = (factor << 12) // (_ONE - sag)
        else:
            factor = _ONE
            s[r] = factor
            rise = 4096
        weight = (((factor * rise) >> 14) * low) >> 12
        c = 0
        at = more
        while c < columns:
            x = b[c]
            if x > 65535:
                v0[c] = ((x >> 4) * rise) >> 8
            else:
                v0[c] = (x * rise + 2048) >> 12
            x = (x * weight) >> 15
            if x:
                k = c + 1
                while k < columns:
                    at[k] += (x * (b[k] >> 1)) >> 12
                    k += 1
            at = ptr32(uint(at) + 4 * columns)
            c += 1
        r += 1


@micropython.viper
def folded(plan: ptr32, q: ptr32, more: ptr32, s: ptr32):
    # The new off-diagonal: 14 places in `more` become 12. What came of a scan that could not be told would put the next
    # ones wrong, and those after them: then it begins anew. In every network a line of Q is more on its diagonal than
    # anywhere else.
    columns = plan[COLUMNS]
    c = 0
    while c < columns:
        most = q[c * columns + c]
        k = c + 1
        at = c * columns + k
        other = k * columns + c
        while k < columns:
            x = more[at] >> 2
            more[at] = 0
            q[at] = x
            q[other] = x
            if x > most:
                plan[HEAVY] = 1
            k += 1
            at += 1
            other += columns
        c += 1
    if plan[HEAVY]:
        c = 0
        while c < columns * columns:
            q[c] = 0
            c += 1
        r = 0
        while r < plan[ROWS]:
            s[r] = _ONE
            r += 1
