# Whether a tone may be believed to be about a swing: groundtone/cue/stillness.py in whole numbers (see cues.py).
from array import array

import micropython
from mat.alone import phases
from micropython import const

_NOTHING = const(0x1FFFFFFF)
_SETUP = const(2)
_BACKSWING = const(3)
_DOWNSWING = const(4)
_STILL_T = const(5000)
_PLACE = const(492)
_FORCE = const(1147)
_NEAR_WEIGHT = const(4915)
_REACH = const(10000)
_LEAVING = const(7373)
_LIFTED = const(1638)
_ALONE = const(16138)
_LESS = const(15565)
_AIR = const(492)
_PUSH = const(492)
_LOOK = const(45)
_ROOM = const(128)


class Stillness:
    """Whether a tone may be believed to be about a swing: it began from standing still on both feet."""

    def __init__(self) -> None:
        self.still = self.swings = False
        self._t = array("i", bytes(4 * _ROOM))
        self._place = array("i", bytes(4 * _ROOM))
        self._weight = array("i", bytes(4 * _ROOM))
        self._within = array("i", [0, 0, 0, 0])  # of who is still: the least and most place, and weight
        self._begin = self._n = 0
        self._last = self._looked = 0 - _NOTHING
        self._in_swing = self.stepped = self._landed = False  # stepped: the lead foot was in the air on the way back
        self._least = self._most = 0

    @micropython.native
    def step(self, t: int, follow: phases.Phases, share: int, overall: int, weights: int) -> None:
        """One frame."""
        phase = follow.phase
        if phase <= _SETUP:
            self._in_swing = False
            if t - self._looked >= _LOOK:
                self._looked = t
                self._look(t, overall, weights)
            self.swings = self.still
            return
        if not self._in_swing:
            self._in_swing = True
            self.swings = follow.takeaway - self._last <= _REACH
            self.still = False
            self._begin = self._n
            self._least = _NOTHING
            self._most = 0
            self.stepped = self._landed = False
        if phase == _BACKSWING and share < _AIR:
            self.stepped = True
        self._landed = phase >= _DOWNSWING and (self._landed or share >= _LIFTED)
        self._least = min(self._least, weights)
        self._most = max(self._most, weights)
        if phase >= _DOWNSWING and (
            (share < _LIFTED and (self._landed or not self.stepped))
            or weights < _LEAVING
            or (share > _ALONE and share != _NOTHING and weights < _LESS)
        ):
            self.swings = False

    def pushed(self) -> bool:
        """The force has moved as a swing's does."""
        return self._most - self._least >= _PUSH

    @micropython.native
    def _look(self, t: int, overall: int, weights: int) -> None:
        if overall == _NOTHING or abs(weights - 16384) > _NEAR_WEIGHT:
            self._begin = self._n
            self.still = False
            return
        at = self._n & (_ROOM - 1)
        self._t[at] = t
        self._place[at] = overall + 65536
        self._weight[at] = weights
        self._n += 1
        within = self._within
        if not (self.still and stays(within, overall + 65536, weights)):
            self.still = held(self._t, self._place, self._weight, self._begin, self._n, t - _STILL_T, within)
        if self.still:
            self._last = t


@micropython.viper
def held(ts: ptr32, places: ptr32, weights: ptr32, begin: int, n: int, since: int, within: ptr32) -> bool:
    # Have place and weight stayed where they are since then? The newest look first: who moves is soon found out.
    if begin < n - _ROOM:
        begin = n - _ROOM
    least = most = places[(n - 1) & (_ROOM - 1)]
    light = heavy = weights[(n - 1) & (_ROOM - 1)]
    i = n - 1
    while i >= begin:
        at = i & (_ROOM - 1)
        v = places[at]
        if v < least:
            least = v
        elif v > most:
            most = v
        if most - least > _PLACE:
            return False
        v = weights[at]
        if v < light:
            light = v
        elif v > heavy:
            heavy = v
        if heavy - light > _FORCE:
            return False
        if ts[at] <= since:
            within[0] = least
            within[1] = most
            within[2] = light
            within[3] = heavy
            return True
        i -= 1
    return False


@micropython.viper
def stays(within: ptr32, place: int, weight: int) -> bool:
    # Is who was still so with the newest look too, without the others' being asked again?
    if place < within[0]:
        within[0] = place
    elif place > within[1]:
        within[1] = place
    if weight < within[2]:
        within[2] = weight
    elif weight > within[3]:
        within[3] = weight
    if within[1] - within[0] > _PLACE:
        return False
    return within[3] - within[2] <= _FORCE
