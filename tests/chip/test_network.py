"""The network's rows in the chip's own instructions beside the firmware's portable form, bit for bit; and how long a
scan's way to newtons takes, the cache modelled (-s)."""

import json

import flashes
import numpy as np

from groundtone.mat.network import Drivers, readings

SCRIPT = """
import json, time
from array import array
from mat.alone import forces
rows, columns = {rows}, {columns}
tables = array("H", [min(65535, 3 * (i % 61) ** 2) for i in range(61 * rows * columns)])
both = [forces.Forces(rows, columns, tables) for _ in range(2)]
for board in both:
    board.plan[forces.LOW], board.plan[forces.UNEQUAL] = 2130, 16384 - 490
both[1].own = None
took = [[], []]
file = open("scans", "rb")
values = array("H", bytes(2 * rows * columns))
same = n = 0
while file.readinto(values):
    n += 1
    for board, us in zip(both, took):
        start = time.ticks_us()
        board.frame(values)
        us.append(time.ticks_diff(time.ticks_us(), start))
    a, b = both
    same += all(list(getattr(a, x)) == list(getattr(b, x)) for x in ("g", "q", "s", "row", "force", "feet"))
print(json.dumps([same, n, max(took[0]), max(took[1])]))
"""


def walks(rows, columns, frames):
    """Readings of 14 bits while a load wanders over a film that conducts well; the last scans are noise and nothing."""
    rng = np.random.default_rng(4)
    row, column = np.mgrid[0:rows, 0:columns]
    drivers = Drivers.equal(rows, columns, 160.0, 130.0, 1000.0)
    out = []
    for i in range(frames):
        at = rows * (0.5 + 0.4 * np.sin(i / 5)), columns * (0.5 + 0.4 * np.cos(i / 7))
        load = 3e-3 * np.exp(-(((row - at[0]) / 3) ** 2) - ((column - at[1]) / 1.5) ** 2)
        out.append(np.floor(readings(np.where(load > 1e-5, load, 0)[None], drivers)[0] * 16384))
    out += [*rng.integers(0, 300, (3, rows, columns)), np.zeros((rows, columns)), out[3]]
    return np.array(out).astype("<u2")


def test_it_is_the_same_bit_for_bit_and_quick(board):
    for rows, columns in ((16, 8), (10, 6)):
        scans = walks(rows, columns, 25)
        board.prompt(flashes.flash(board, extra={"scans": scans.tobytes()}), cache=True)
        same, n, quick_us, portable_us = json.loads(board.python(SCRIPT.format(rows=rows, columns=columns)))
        print(f"{rows} x {columns}: {quick_us} us, portable {portable_us} us")
        assert (same, n) == (len(scans), len(scans))
        assert quick_us < 800
