# How late scans start: a histogram of the last run, kept by the loop itself.
from array import array

from micropython import const

_BINS = const(8)
# Upper bounds of the bins in us: one for a start on the dot, then about twice as late each; the last has no bound.
_BOUNDS = (10, 20, 50, 100, 200, 500, 1000)


class Lateness:
    """Counts of scans by how many microseconds after their due time they started. `worst` is the largest."""

    def __init__(self) -> None:
        self.counts = array("H", bytes(2 * _BINS))
        self.worst = 0

    def clear(self) -> None:
        """Begin a new run."""
        for i in range(_BINS):
            self.counts[i] = 0
        self.worst = 0

    def note(self, late_us: int) -> None:
        """One more scan. Takes nothing from the heap; counts stop at 65535."""
        if late_us > self.worst:
            self.worst = late_us
        i = 0
        while i < _BINS - 1 and late_us >= _BOUNDS[i]:
            i += 1
        if self.counts[i] < 65535:
            self.counts[i] += 1
