# Which tones are due: groundtone/cue/rules.py and gate.py in whole numbers, for the bands that were put
# onto the mat. The vectors of tests/vectors/cues.npz hold both to the same.
#
# Times are tenths of a millisecond; positions, shares, forces (body weights) and sizes fractions with 14 places.
from array import array

import micropython
from mat.alone import phases, stillness
from micropython import const

CUES = const(3)  # toes, trail side, heels, the first before the others
_NOTHING = const(0x1FFFFFFF)
_OPEN = const(0xFFFF)
_AWAY = const(0)
_STANDING = const(1)
_SETUP = const(2)
_BACKSWING = const(3)
_DOWNSWING = const(4)
_STRUCK = const(3)

_WAY = const(492)
_RISES_T = const(1200)
_TURN_TO_IMPACT = const(3600)
_NEXT = const(400)
_TELL = const(6000)

# A limit, by place (mat/alone/onmat.py).
_CUE = const(0)
_MEASURE = const(1)
_WHEN = const(2)
_FLAGS = const(3)
_LOW = const(4)
_HIGH = const(5)
_DWELL = const(6)
_FROM_TURN = const(7)
_FROM_IMPACT = const(8)
_ONCE_OVER = const(9)
_EASE = const(10)
_FULL = const(11)
_SURE = const(1)
_ENDS_AT_IMPACT = const(2)
_LEAST_SIZE = const(2458)  # 0.15

_A_LIMIT = const(12)

# A pointer to words reads nothing below zero on every machine: what may be is kept so much higher.
_ABOVE = const(0x20000000)

# What a frame says, by place, for `sized`.
_T = const(0)
_PHASE = const(1)
_SLOW = const(2)
_AFTER = const(3)  # after impact
_TURN = const(4)  # the moment and one; 0 without
_IMPACT = const(5)
_SURELY = const(6)  # a tone may tell of the swing under way
_COMES = const(7)  # the share is still on its way across
_VALUES = const(8)  # overall position, the lead foot's, the share, each with _ABOVE more
_HIGHEST = const(11)  # of each, in the downswing
_FRAME = const(14)

# A cue's state, by place: outside since (and one), or 0; sounds; how far outside the frame before; when that was.
_SINCE = const(0)
_SOUNDS = const(1)
_BEFORE = const(2)
_AT = const(3)
_A_CUE = const(4)


class Cues:
    """Follows one golfer; `sizes` are those that are to be heard, 0 for silence."""

    def __init__(self, limits: list, later: bool) -> None:
        self._limits = table(limits)
        self.later = later  # from the takeaway on nothing sounds before impact
        self.rehearsing = False
        self.stillness = stillness.Stillness()
        self.sizes = array("i", [0] * CUES)
        self.outs = 0  # cues that have been out in the swing under way, as bits
        self._out = array("i", [0] * CUES)
        self._state = array("i", [0] * (CUES * _A_CUE))
        for cue in range(CUES):
            self._state[cue * _A_CUE + _BEFORE] = _ABOVE - _NOTHING
        self._frame = array("i", [0] * _FRAME)
        self._kept = array("i", [0] * CUES)
        self._impact = -1
        self._told = -1
        self._forth = 0
        self._in_swing = False

    @micropython.native
    def step(self, t: int, follow: phases.Phases, share: int, overall: int, lead_foot: int, weights: int) -> None:
        """One frame, after the phases have taken it."""
        phase = follow.phase
        still = self.stillness
        still.step(t, follow, share, overall, weights)
        after_impact = follow.swing and follow.impact >= 0 and t > follow.impact
        frame = self._frame
        frame[_VALUES] = overall + _ABOVE
        frame[_VALUES + 1] = lead_foot + _ABOVE
        frame[_VALUES + 2] = share + _ABOVE
        extremes(frame, int(phase >= _DOWNSWING))
        if not after_impact or phase < _DOWNSWING:
            self._impact = -1
        elif self._impact < 0:
            self._impact = t
        slow = 256 if phase == _SETUP or not follow.swing else follow.slow
        trusted = still.swings
        if trusted and slow != 256:
            trusted = self.rehearsing
        elif trusted and phase >= _DOWNSWING and follow.source != _STRUCK:
            trusted = still.pushed()
        if still.stepped and follow.source != _STRUCK and not self.rehearsing:
            trusted = False
        # Pressure did not turn: what counts from the turn on counts from impact on.
        turn = follow.turn if follow.swing else -1
        if follow.swing and turn < 0 and follow.source == _STRUCK:
            turn = follow.impact - _TURN_TO_IMPACT
        # In a slow swing the trail side waits until the share has come to the end of its way.
        frame[_COMES] = 0
        if phase >= _DOWNSWING and share != _NOTHING and slow > 256:
            if share - follow.track.share_at(max(self._forth, t - ((_RISES_T * slow) >> 8))) > _WAY:
                frame[_COMES] = 1
        elif phase < _DOWNSWING:
            self._forth = t + 1
        frame[_T] = t
        frame[_PHASE] = phase
        frame[_SLOW] = slow
        frame[_AFTER] = 1 if after_impact else 0
        frame[_TURN] = turn + 1
        frame[_IMPACT] = self._impact + 1
        frame[_SURELY] = 1 if follow.swing and follow.sure() else 0
        swinging = phase >= _BACKSWING
        goes_on = not swinging and not self._in_swing  # what sounds at setup does so until the golfer has moved back
        if not swinging or not self._in_swing:
            self._told = -1
            self.outs = 0
        if swinging and not self._in_swing:
            i = 0
            while i < CUES:
                self._kept[i] = 0
                i += 1
        self._in_swing = swinging
        sizes = self.sizes
        out = 0
        heard = 0
        cue = 0
        while cue < CUES:
            size = sized(self._state, self._limits, frame, cue)
            if size:
                if trusted:
                    out |= 1 << cue
                elif not (goes_on and sizes[cue]):
                    size = 0
            if swinging and self.later and trusted:
                size = self._after(cue, t, size, after_impact)
            if size:
                heard += 1
                if heard > 2:
                    size = 0
            sizes[cue] = size
            cue += 1
        if swinging:
            self.outs |= out

    def _after(self, cue: int, t: int, size: int, after_impact: bool) -> int:
        if not after_impact:
            self._kept[cue] = max(size, self._kept[cue])
            return 0
        if self._told < 0:
            self._told = t
        return max(size, self._kept[cue]) if t - self._told < _TELL else size


def table(limits: list) -> array:
    """Bands as `sized` reads them: of each cue and phase where its bands begin and how many there are, then these."""
    # What stands still counts as a setup that will be one.
    bits = (0, 1, 1, 2, 4, 8)
    heads = []
    bands: list[int] = []
    for cue in range(CUES):
        for bit in bits:
            held = [limit for limit in limits if limit[_CUE] == cue and limit[_WHEN] & bit]
            heads += [2 * CUES * len(bits) + len(bands), len(held)]
            for limit in held:
                bands += limit
                bands[-1] = max(bands[-1], 1)  # full, which is divided by
    return array("i", heads + bands)


@micropython.viper
def extremes(frame: ptr32, on: int):
    # The highest of each value since the downswing began.
    i = 0
    while i < 3:
        v = frame[_VALUES + i]
        if on == 0:
            frame[_HIGHEST + i] = _ABOVE - _NOTHING
        elif v != _ABOVE + _NOTHING and v > frame[_HIGHEST + i]:
            frame[_HIGHEST + i] = v
        i += 1


@micropython.viper
def sized(state: ptr32, limits: ptr32, frame: ptr32, cue: int) -> int:
    # How large a cue is in this frame, 14 places; 0: it does not sound. `state` goes on from frame to frame.
    s = ptr32(uint(state) + 16 * cue)
    t = frame[_T]
    phase = frame[_PHASE]
    slow = frame[_SLOW]
    sounds = s[_SOUNDS]
    nothing = 0 - _NOTHING
    excess = nothing
    dwell = 0
    ease = 0
    full = 1
    head = 2 * (6 * cue + phase)
    at = limits[head]
    left = limits[head + 1]
    while left:
        limit = ptr32(uint(limits) + 4 * at)
        left -= 1
        at += _A_LIMIT
        ease = limit[_EASE]
        full = limit[_FULL]
        flags = limit[_FLAGS]
        if flags & _SURE:
            if frame[_SURELY] == 0:
                continue
        if flags & _ENDS_AT_IMPACT:
            if frame[_AFTER]:
                continue
        if limit[_FROM_TURN] != _OPEN:
            if frame[_TURN] == 0 or (t + 1 - frame[_TURN]) * 256 < limit[_FROM_TURN] * 10 * slow:
                continue
        if limit[_FROM_IMPACT] != _OPEN:
            if frame[_IMPACT] == 0 or (t + 1 - frame[_IMPACT]) * 256 < limit[_FROM_IMPACT] * 10 * slow:
                continue
        measure = limit[_MEASURE]
        value = frame[_VALUES + measure] - _ABOVE
        if value == _NOTHING:
            continue
        if sounds == 0:
            if measure == 2:
                if frame[_COMES]:
                    continue
            if limit[_ONCE_OVER] != _OPEN:
                if frame[_HIGHEST + measure] - _ABOVE >= limit[_ONCE_OVER]:
                    continue
        beyond = nothing
        if limit[_HIGH] != _OPEN:
            beyond = value - limit[_HIGH]
        if limit[_LOW] != _OPEN:
            if limit[_LOW] - value > beyond:
                beyond = limit[_LOW] - value
        if beyond > excess:
            excess = beyond
            dwell = (limit[_DWELL] * 10 * slow) >> 8
    before = s[_BEFORE] - _ABOVE
    before_t = s[_AT]
    s[_BEFORE] = excess + _ABOVE
    s[_AT] = t
    edge = 0
    if sounds:
        edge = 0 - ease
    if excess <= edge:
        s[_SINCE] = 0
        s[_SOUNDS] = 0
        return 0
    if s[_SINCE] == 0:
        since = t
        if before > nothing:
            if t - before_t <= _NEXT and excess > before:
                since -= (t - before_t) * excess // (excess - before)  # it crossed the limit between the two frames
        s[_SINCE] = since + 1
    if phase == _STANDING:
        s[_SOUNDS] = 0
        return 0
    if sounds == 0:
        if t + 1 - s[_SINCE] < dwell:
            return 0
    s[_SOUNDS] = 1
    size = (excess << 14) // full
    if size < _LEAST_SIZE:
        size = _LEAST_SIZE
    if size > 16384:
        size = 16384
    return size
