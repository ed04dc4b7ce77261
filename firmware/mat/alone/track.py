# The last moments of share and force, frame by frame, and what a swing's phases ask of them (mat/alone/phases.py).
#
# Times are tenths of a millisecond, shares and forces fractions with 14 places; nothing is below zero, so that a
# pointer to words reads it anywhere.
from array import array

import micropython
from micropython import const

_SIZE = const(1024)  # a power of two; 3.2 s at 200 Hz are 640
_MASK = const(1023)
_BLOCK = const(16)  # moments whose least and most are kept too: a look over a second then takes few steps
_IN_BLOCK = const(15)
_SHIFT = const(4)
_DRIFT = const(328)
_QUICK_T = const(2200)
_QUICK_RISE = const(1638)
_QUICK_PUSH = const(1311)
_LIFTED = const(492)


class Track:
    """Rings of moments: `n` have come, those of the share count from `begin`, those of the force from `forced`."""

    def __init__(self) -> None:
        self.t = array("i", bytes(4 * _SIZE))
        self.share = array("H", bytes(2 * _SIZE))
        self.force = array("H", bytes(2 * _SIZE))
        self._least = array("H", bytes(4 * _SIZE // _BLOCK))  # of the blocks of shares, then of those of forces
        self._most = array("H", bytes(4 * _SIZE // _BLOCK))
        self.out = array("i", [0, 0, 0])  # of the last look: the least, the most, how many
        self.n = self.begin = self.forced = 0

    @micropython.native
    def add(self, t: int, share: int, force: int) -> None:
        """The newest moment."""
        n = self.n
        if force > 65535:
            force = 65535
        times = self.t
        times[n & _MASK] = t
        low = self._least
        high = self._most
        put(self.share, n, share, low, high, 0)
        put(self.force, n, force, low, high, _SIZE // _BLOCK)
        n += 1
        self.n = n
        self.begin = first(times, self.begin, n, t - 32000)
        self.forced = first(times, self.forced, n, t - 10000)

    def clear(self, keep: int) -> None:
        """Forget the shares, but for so many of the last."""
        self.begin = max(self.begin, self.n - keep)

    @micropython.native
    def first_t(self) -> int:
        """When the earliest share was."""
        return self.t[self.begin & _MASK]

    @micropython.native
    def shares(self, since: int) -> int:
        """How many shares there are since a moment; `out` has the least and the most."""
        begin = self.begin
        n = self.n
        return look(self.t, self.share, begin, n, since, self.out, self._least, self._most, 0)

    @micropython.native
    def forces(self, since: int) -> int:
        """The same of the force."""
        begin = self.forced
        n = self.n
        return look(self.t, self.force, begin, n, since, self.out, self._least, self._most, _SIZE // _BLOCK)

    @micropython.native
    def middle(self, begin: int, n: int) -> int:
        """The median of n shares from the one numbered so on, the upper one of two; all lie where the last look was."""
        return nth(self.share, begin, n, self.out)

    @micropython.native
    def drifts(self, n: int) -> bool:
        """The last n shares go one way, more than standing still does."""
        third = n // 3
        if self.out[1] - self.out[0] <= _DRIFT:  # of the last look, which they all lie in
            return False
        return third > 0 and abs(self.middle(self.n - n, third) - self.middle(self.n - third, third)) > _DRIFT

    @micropython.native
    def quick(self, t: int, share: int) -> bool:
        """The share has come across as fast and with as much force as in a downswing."""
        self.forces(t - 2 * _QUICK_T)
        if self.out[1] - self.out[0] < _QUICK_PUSH:
            return False
        self.shares(t - _QUICK_T)
        return share >= self.out[0] + _QUICK_RISE and self.out[0] > _LIFTED

    def left(self, level: int, t: int) -> int:
        """When the share began to leave a level: when it was last there, and somewhat earlier."""
        earliest = self.first_t()
        at = self.last_above(level, t + 1)
        return max(earliest, at - ((t - at) >> 1)) if at >= 0 else earliest

    @micropython.native
    def settled(self, t: int, takeaway: int, far: bool) -> bool:
        """The share has stood still for longer than any pause: it settled there, between two balls."""
        long = 31000 if far else 20000
        if t - max(self.first_t(), takeaway) < long:
            return False
        self.shares(t - long)
        return self.out[1] - self.out[0] <= _LIFTED

    @micropython.native
    def share_at(self, since: int) -> int:
        """The first share that is not before a moment."""
        return self.share[first(self.t, self.begin, self.n - 1, since) & _MASK]

    def newest(self) -> int:
        """When the last moment was."""
        return self.t[(self.n - 1) & _MASK]

    @micropython.native
    def last_above(self, share: int, before: int) -> int:
        """When the share was last at this or above, before a moment; -1 where nothing is known of it."""
        at = above(self.t, self.share, self.begin, self.n, share, before)
        return self.t[at & _MASK] if at >= 0 else -1


@micropython.viper
def first(t: ptr32, begin: int, n: int, since: int) -> int:
    # The number of the first moment that is not before `since`.
    while begin < n and t[begin & _MASK] < since:
        begin += 1
    return begin


@micropython.viper
def put(values: ptr16, n: int, value: int, least: ptr16, most: ptr16, of: int):
    # The newest value, and what its block has come to; `of`: where the blocks of such values begin.
    at = n & _MASK
    values[at] = value
    block = of + (at >> _SHIFT)
    if at & _IN_BLOCK == 0:
        least[block] = value
        most[block] = value
        return
    if value < int(least[block]):
        least[block] = value
    if value > int(most[block]):
        most[block] = value


@micropython.viper
def look(t: ptr32, values: ptr16, begin: int, n: int, since: int, out: ptr32, low: ptr16, high: ptr16, of: int) -> int:
    least = 0x1FFFFFFF
    most = 0
    i = n
    while i > begin:
        at = (i - 1) & _MASK
        if t[at] < since:
            break
        if at & _IN_BLOCK == _IN_BLOCK and i - _BLOCK >= begin and t[at - _IN_BLOCK] >= since:
            v = int(low[of + (at >> _SHIFT)])
            w = int(high[of + (at >> _SHIFT)])
            i -= _BLOCK
        else:
            v = int(values[at])
            w = v
            i -= 1
        if v < least:
            least = v
        if w > most:
            most = w
    out[0] = least
    out[1] = most
    out[2] = n - i
    return n - i


@micropython.viper
def nth(values: ptr16, begin: int, n: int, between: ptr32) -> int:
    # The smallest value that more than half of them do not exceed, by halving the interval in which it lies.
    low = between[0]
    high = between[1]
    k = n >> 1
    end = begin + n
    while low < high:
        half = (low + high) >> 1
        count = 0
        i = begin
        while i < end:
            if int(values[i & _MASK]) <= half:
                count += 1
            i += 1
        if count > k:
            high = half
        else:
            low = half + 1
    return low


@micropython.viper
def above(t: ptr32, values: ptr16, begin: int, n: int, share: int, before: int) -> int:
    i = n - 1
    while i >= begin:
        at = i & _MASK
        if int(values[at]) >= share and t[at] < before:
            return i
        i -= 1
    return -1


# The push of a swing, by place: the least force since the turn, the most after it, when that was, whether it was told.
LEAST = const(0)
MOST = const(1)
AT = const(2)
TOLD = const(3)
_SWING = const(2458)  # of the body's weight: 0.15, as groundtone/swing/push.py has it
_FALL = const(655)  # 0.04


@micropython.viper
def push(t: ptr32, force: ptr16, begin: int, n: int, p: ptr32) -> int:
    # Takes moments into the push; 1 when it has become clear in the last of them that the peak was one.
    told = 0
    while begin < n:
        at = begin & _MASK
        w = int(force[at])
        told = 0
        if w < p[LEAST] and p[MOST] - p[LEAST] < _SWING >> 1:
            p[LEAST] = w
            p[MOST] = w
        if w > p[MOST]:
            p[MOST] = w
            p[AT] = t[at]
            p[TOLD] = 0
        if p[TOLD] == 0 and p[MOST] - p[LEAST] >= _SWING and w < p[MOST] - _FALL:
            p[TOLD] = 1
            told = 1
        begin += 1
    return told
