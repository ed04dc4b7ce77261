# The last step of a scan's way to newtons (forces.py): from conductances by each cell's table to the feet's sums.
# cells_rp2.py has the same in the chip's own instructions.
import micropython
from micropython import const

# Places of mat/alone/forces.py in `plan` and `feet`.
_ROWS = const(0)
_COLUMNS = const(1)
_NODES = const(6)
_FORCE = const(0)
_ALONG = const(1)
_ACROSS = const(2)
_MOST = const(3)
_A_FOOT = const(8)

# Tables: a node at 4, 5, 6 and 7 times each power of two of the conductance, straight lines between.
_FIRST = const(4)
_OCTAVES = const(15)
_HUGE = const(0x3FFFFFFF)  # beyond it what was below zero, where machine words are longer


@micropython.viper
def newtons(g: ptr32, plan: ptr32, tables: ptr16, force: ptr16, tare: ptr16, places: ptr8, feet: ptr32):
    rows = plan[_ROWS]
    columns = plan[_COLUMNS]
    nodes = plan[_NODES]
    half = columns >> 1
    c = 0
    while c < 2 * _A_FOOT:
        feet[c] = 0
        c += 1
    at = 0
    r = 0
    while r < rows:
        c = 0
        while c < columns:
            x = g[at]
            f = 0
            if x >= _FIRST:
                n = 0
                if x >= 2048:
                    n = 8
                if (x >> n) >= 128:
                    n += 4
                while (x >> n) >= 8:
                    n += 1
                if n >= _OCTAVES:  # beyond the table: its end
                    f = int(tables[at * nodes + nodes - 1])
                else:
                    node = 4 * n + (x >> n) - 4
                    node += at * nodes
                    f = int(tables[node])
                    if n:
                        part = x - ((x >> n) << n)
                        step = int(tables[node + 1]) - f
                        f += (step * part) >> n
            force[at] = f
            # What is below the empty mat counts too: noise is nothing in the mean.
            f -= (int(tare[at]) + 64) >> 7
            u = int(places[2 * rows + c])
            foot = feet
            if u < half:
                foot[_ALONG] += f * int(places[r])
            else:
                u -= half
                foot = ptr32(uint(feet) + 4 * _A_FOOT)
                foot[_ALONG] += f * int(places[rows + r])
            foot[_FORCE] += f
            foot[_ACROSS] += f * u
            if f > foot[_MOST]:
                foot[_MOST] = f
            at += 1
            c += 1
        r += 1


@micropython.viper
def lifted(feet: ptr32):
    # A foot in the air carries nothing, whatever noise makes of it: never less.
    i = 0
    while i < 2 * _A_FOOT:
        k = i
        while k < i + _MOST:
            if feet[k] < 0 or feet[k] > _HUGE:
                feet[k] = 0
            k += 1
        i += _A_FOOT
