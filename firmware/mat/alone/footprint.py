# Where each sole begins and ends on its panel, found while the golfer rocks: groundtone/pressure/footprint.py in whole
# numbers. Places along a panel are in 1/256 of a row from the heel end.
from array import array

import micropython
from mat.alone import forces
from micropython import const

NOTHING = const(0x1FFFFFFF)
_A_FOOT = const(8)  # places of mat/alone/forces.py and mat/alone/pressure.py in `feet`
_FORCE = const(0)
_U = const(4)
_END_MM = const(80)
_SHORTEST_MM = const(130)
_LONGEST_MM = const(360)


class Footprints:
    """`found` once both feet have rocked; `edges` then are the ends of each."""

    def __init__(self, meter: forces.Forces, quarters: int) -> None:
        self._meter = meter
        self._rows = meter.plan[forces.ROWS]
        self._quarters = quarters  # the pitch of the rows, 1/4 mm
        self._envelope = array("i", bytes(8 * self._rows))  # the greatest force of each row, 1/32 N, left then right
        self._sums = array("i", bytes(8 * self._rows))
        self.edges = array("i", [0] * 4)  # heel and toe of the left foot, of the right one
        self._places = array("i", [0] * 3)
        self.forget()

    def forget(self) -> None:
        """The golfer has stepped off."""
        for i in range(2 * self._rows):
            self._envelope[i] = 0
        self._low = [NOTHING, NOTHING]
        self._high = [0, 0]
        self.found = False

    @micropython.native
    def add(self) -> bool:
        """Take a frame in; True in the one in which both prints have been found."""
        if self.found:
            return False
        meter = self._meter
        greatest(meter.force, meter.tare, meter.places, meter.plan, self._sums, self._envelope)
        done = 0
        foot = 0
        while foot < 2:
            u = meter.feet[foot * _A_FOOT + _U]
            if u != NOTHING:
                u += 128
                self._low[foot] = min(self._low[foot], u)
                self._high[foot] = max(self._high[foot], u)
                # The centre is on its way back: only then it is worth looking at the edges.
                if self._high[foot] - u > 256 and u - self._low[foot] > 256 and self._edges(foot):
                    length = self.edges[2 * foot + 1] - self.edges[2 * foot]
                    far = self._high[foot] - self._low[foot] >= (length * 2) // 5
                    if far and self._low[foot] + length * 3 // 20 < u < self._high[foot] - length * 3 // 20:
                        done += 1
            foot += 1
        self.found = done == 2
        return self.found

    def _edges(self, foot: int) -> bool:
        rows = self._rows
        of = self._envelope[foot * rows : (foot + 1) * rows]
        strongest = max(of)
        if sum([100 * force > strongest for force in of]) < 3:
            return False
        heel = self.edges[2 * foot] = self._edge(of, strongest)
        of = array("i", reversed(of))
        toe = self.edges[2 * foot + 1] = rows * 256 - self._edge(of, strongest)
        mm = ((toe - heel) * self._quarters) >> 10
        return _SHORTEST_MM <= mm <= _LONGEST_MM

    def _edge(self, of: array, strongest: int) -> int:
        # A fortieth of what the first eighty millimetres carry lies outside.
        first = 0
        while 100 * of[first] <= strongest:
            first += 1
        end = first * 256 + _END_MM * 1024 // self._quarters
        whole = sum(of[: end >> 8])
        if end >> 8 < len(of):
            whole += (of[end >> 8] * (end & 255)) >> 8
        target = whole // 40
        at = 0
        while target > of[at]:
            target -= of[at]
            at += 1
        return at * 256 + (target * 256 // of[at] if of[at] else 0)

    @micropython.native
    def look(self) -> array:
        """Heel-toe positions of the left and the right foot and of both weighted by their force, 14 places.

        They may lie beyond both ends; NOTHING where they are not known. The array is the same each time.
        """
        places(self._meter.feet, self.edges, self._places, 1 if self.found else 0)
        return self._places


@micropython.viper
def places(feet: ptr32, edges: ptr32, out: ptr32, found: int):
    left = NOTHING
    right = NOTHING
    if found:
        if feet[_U] != NOTHING:
            left = ((feet[_U] + 128 - edges[0]) << 14) // (edges[1] - edges[0])
        if feet[_A_FOOT + _U] != NOTHING:
            right = ((feet[_A_FOOT + _U] + 128 - edges[2]) << 14) // (edges[3] - edges[2])
    out[0] = left
    out[1] = right
    if left == NOTHING:
        out[2] = right
    elif right == NOTHING:
        out[2] = left
    else:
        a = feet[_FORCE] >> 4
        b = feet[_A_FOOT + _FORCE] >> 4
        if a + b < 1:
            a = 1
        out[2] = left + (right - left) * b // (a + b)


@micropython.viper
def greatest(force: ptr16, tare: ptr16, places: ptr8, plan: ptr32, sums: ptr32, envelope: ptr32):
    rows = plan[0]
    columns = plan[1]
    half = columns >> 1
    i = 0
    while i < 2 * rows:
        sums[i] = 0
        i += 1
    at = 0
    r = 0
    while r < rows:
        c = 0
        while c < columns:
            f = int(force[at]) - ((int(tare[at]) + 64) >> 7)
            if f > 0:
                if int(places[2 * rows + c]) < half:
                    sums[int(places[r])] += f
                else:
                    sums[rows + int(places[rows + r])] += f
            at += 1
            c += 1
        r += 1
    i = 0
    while i < 2 * rows:
        if sums[i] > envelope[i]:
            envelope[i] = sums[i]
        i += 1
