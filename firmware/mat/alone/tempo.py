# How slow a swing is, and whether it went across as a slow rehearsal does: groundtone/swing/tempo.py and the slow part
# of swing/phasing.py in whole numbers. Times are tenths of a millisecond, shares have 14 places, slowness 8.
from array import array

import micropython
from mat.alone import track
from micropython import const

FAR = const(10158)  # of the share: 0.62
_NEAR = const(9339)  # 0.05 less
_TOES = const(3277)
_HELD_T = const(4000)
_ACROSS_LEAST = const(2200)
_HELD = const(983)
_USUAL = const(6500)
_FINISH = const(13000)
_FOLLOW = const(4500)
_REST = const(328)
_NOTHING = const(0x1FFFFFFF)


def slowness(back: int, usual: int) -> int:
    """How many times slower than at full speed, 256 to 1536."""
    ratio = (back << 8) // usual
    if ratio <= 384:
        return 256
    if ratio < 512:
        return 256 + (ratio - 384) * 2
    return min(ratio, 1536)


def finish(slow: int) -> int:
    """How long after impact a swing is over."""
    return _FINISH + ((_FOLLOW * (slow - 256)) >> 8)


def backswing(ring: track.Track, takeaway: int, setup: int, turn: int, lowest: int) -> tuple:
    """How long the backswing took to the turn, whether it rested there, and whether who made it stood on that foot."""
    half = ring.last_above((setup + lowest + 1) >> 1, turn)
    back = turn - takeaway
    if half >= 0:
        back = min(back, 2 * (turn - half))
    low = ring.last_above(lowest + _REST, turn)
    now = ring.newest()
    return back, low < 0 or (turn - low) * 20 > 9 * back, low < 0 or (now - low) * 20 > 13 * (now - takeaway)


class Tempo:
    """The golfer's own usual time from takeaway to turn, the median of the last five at full speed."""

    def __init__(self) -> None:
        self._own = array("i", [0] * 5)
        self._n = 0

    def slow(self, back: int) -> int:
        """How many times slower."""
        n = min(self._n, 5)
        usual = _USUAL
        if n:
            own = sorted(self._own[:n])
            usual = own[n >> 1] if n & 1 else (own[n // 2 - 1] + own[n // 2]) >> 1
        return slowness(back, usual)

    def add(self, back: int) -> None:
        """A swing at full speed took so long to its turn."""
        if back > 0:
            self._own[self._n % 5] = back
            self._n += 1


class Across:
    """The way to the lead side after the turn: when it was there, and how long the share was held near it."""

    def __init__(self) -> None:
        self.toes = 0 - _NOTHING  # how much further on its toes the trail foot was than the lead foot, at most
        self._at = -1
        self._newest = 0
        self._held_at = self._held = self._held_most = 0

    def begin(self, t: int, share: int) -> None:
        """The turn has been seen."""
        self.toes = 0 - _NOTHING
        self._at, self._newest = -1, t
        self._held_at, self._held, self._held_most = share, 0, 0

    @micropython.native
    def step(self, t: int, share: int, toes: int) -> None:
        """A frame after the turn."""
        if share >= FAR and self._at < 0:
            self._at = t
        if abs(share - self._held_at) > _HELD:
            self._held_at = share
            self._held = 0
        elif share >= _NEAR and toes != _NOTHING and toes >= _TOES:
            self._held += t - self._newest
            self._held_most = max(self._held_most, self._held)
        self._newest = t

    def held(self) -> bool:
        """It was held as long as a slow rehearsal's finish is."""
        return self._held_most >= _HELD_T

    def slowly(self, forth: int, back: int, at_speed: bool) -> bool:
        """It went across as a slow rehearsal does; in its time, where it was no swing at full speed."""
        across = self._at - forth
        in_time = at_speed or (self._at >= 0 and across >= _ACROSS_LEAST and across * 10 <= 13 * back)
        return in_time and self.toes >= _TOES and self.held()
