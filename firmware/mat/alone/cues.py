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

# A cue's state, by place: outside since, or -1; sounds; how far outside the frame before; when that was.
_SINCE = const(0)
_SOUNDS = const(1)
_BEFORE = const(2)
_AT = const(3)
_A_CUE = const(4)


class Cues:
    """Follows one golfer; `sizes` are those that are to be heard, 0 for silence."""

    def __init__(self, limits: list, later: bool) -> None:
        # Of each cue the bands that hold in each phase; what stands still counts as a setup that will be one.
        bits = (0, 1, 1, 2, 4, 8)
        self.limits = [
            [[limit for limit in limits if limit[_CUE] == cue and limit[_WHEN] & bit] for bit in bits]
            for cue in range(CUES)
        ]
        self.later = later  # from the takeaway on nothing sounds before impact
        self.rehearsing = False
        self.stillness = stillness.Stillness()
        self.sizes = array("i", [0] * CUES)
        self.outs = 0  # cues that have been out in the swing under way, as bits
        self._out = array("i", [0] * CUES)
        self._state = array("i", [0] * (CUES * _A_CUE))
        for cue in range(CUES):
            self._state[cue * _A_CUE] = -1
            self._state[cue * _A_CUE + _BEFORE] = 0 - _NOTHING
        self._highest = array("i", [0] * 3)
        self._values = array("i", [0] * 3)
        self._kept = array("i", [0] * CUES)
        self._impact = -1
        self._told = self._turn = -1
        self._forth = 0
        self._in_swing = self._comes = False

    @micropython.native
    def step(self, t: int, follow: phases.Phases, share: int, overall: int, lead_foot: int, weights: int) -> None:
        """One frame, after the phases have taken it."""
        phase = follow.phase
        still = self.stillness
        still.step(t, follow, share, overall, weights)
        after_impact = follow.swing and follow.impact >= 0 and t > follow.impact
        values, highest = self._values, self._highest
        values[0] = overall
        values[1] = lead_foot
        values[2] = share
        if not after_impact or phase < _DOWNSWING:
            self._impact = -1
        elif self._impact < 0:
            self._impact = t
        i = 0
        while i < 3:
            if phase < _DOWNSWING:
                highest[i] = 0 - _NOTHING
            elif values[i] != _NOTHING and values[i] > highest[i]:
                highest[i] = values[i]
            i += 1
        slow = 256 if phase == _SETUP or not follow.swing else follow.slow
        trusted = still.swings
        if trusted and slow != 256:
            trusted = self.rehearsing
        elif trusted and phase >= _DOWNSWING and follow.source != _STRUCK:
            trusted = still.pushed()
        if still.stepped and follow.source != _STRUCK and not self.rehearsing:
            trusted = False
        # Pressure did not turn: what counts from the turn on counts from impact on.
        self._turn = follow.turn
        if follow.swing and follow.turn < 0 and follow.source == _STRUCK:
            self._turn = follow.impact - _TURN_TO_IMPACT
        # In a slow swing the trail side waits until the share has come to the end of its way.
        self._comes = False
        if phase >= _DOWNSWING and share != _NOTHING and slow > 256:
            self._comes = share - follow.track.share_at(max(self._forth, t - ((_RISES_T * slow) >> 8))) > _WAY
        elif phase < _DOWNSWING:
            self._forth = t + 1
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
        heard = 0
        cue = 0
        while cue < CUES:
            size = self._size(cue, t, phase, follow, slow, after_impact)
            if size and trusted and swinging:
                self.outs |= 1 << cue
            if not trusted and not (goes_on and self.sizes[cue]):
                size = 0
            if swinging and self.later and trusted:
                size = self._after(cue, t, size, after_impact)
            if size:
                heard += 1
                if heard > 2:
                    size = 0
            self.sizes[cue] = size
            cue += 1

    def _after(self, cue: int, t: int, size: int, after_impact: bool) -> int:
        if not after_impact:
            self._kept[cue] = max(size, self._kept[cue])
            return 0
        if self._told < 0:
            self._told = t
        return max(size, self._kept[cue]) if t - self._told < _TELL else size

    @micropython.native
    def _size(self, cue: int, t: int, phase: int, follow: phases.Phases, slow: int, after_impact: bool) -> int:
        state = self._state
        at = cue * _A_CUE
        sounds = state[at + _SOUNDS]
        excess = 0 - _NOTHING
        dwell = 0
        ease = full = 0
        for limit in self.limits[cue][phase]:
            ease = limit[_EASE]
            full = limit[_FULL]
            flags = limit[_FLAGS]
            if (flags & _SURE and not follow.sure()) or (flags & _ENDS_AT_IMPACT and after_impact):
                continue
            if limit[_FROM_TURN] != _OPEN:
                if not follow.swing or self._turn < 0 or (t - self._turn) * 256 < limit[_FROM_TURN] * 10 * slow:
                    continue
            if limit[_FROM_IMPACT] != _OPEN:
                if self._impact < 0 or (t - self._impact) * 256 < limit[_FROM_IMPACT] * 10 * slow:
                    continue
            measure = limit[_MEASURE]
            value = self._values[measure]
            if value == _NOTHING:
                continue
            if measure == 2 and self._comes and not sounds:
                continue
            if not sounds and limit[_ONCE_OVER] != _OPEN and self._highest[measure] >= limit[_ONCE_OVER]:
                continue
            beyond = 0 - _NOTHING
            if limit[_HIGH] != _OPEN:
                beyond = value - limit[_HIGH]
            if limit[_LOW] != _OPEN:
                beyond = max(beyond, limit[_LOW] - value)
            if beyond > excess:
                excess = beyond
                dwell = (limit[_DWELL] * 10 * slow) >> 8
        before = state[at + _BEFORE]
        before_t = state[at + _AT]
        state[at + _BEFORE] = excess
        state[at + _AT] = t
        if excess <= (0 - ease if sounds else 0):
            state[at] = -1
            state[at + _SOUNDS] = 0
            return 0
        if state[at] < 0:
            since = t
            if before > 0 - _NOTHING and t - before_t <= _NEXT:
                since -= (t - before_t) * excess // (excess - before)  # it crossed the limit between the two frames
            state[at] = since
        if phase == _STANDING or not (sounds or t - state[at] >= dwell):
            state[at + _SOUNDS] = 0
            return 0
        state[at + _SOUNDS] = 1
        return min(16384, max(_LEAST_SIZE, (excess << 14) // full))
