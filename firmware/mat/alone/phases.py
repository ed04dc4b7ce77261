# Where in a swing the golfer is, told at once: groundtone/swing/phasing.py in whole numbers, whose text says why. The
# vectors of tests/vectors/cues.npz hold both to the same. Whether it was a swing is decided here by force, strike and
# way alone; the computer has more evidence.
#
# Times are tenths of a millisecond, shares and forces (body weights) fractions with 14 places.
from array import array

import micropython
from mat.alone import tempo, track
from micropython import const

NOTHING = const(0x1FFFFFFF)
AWAY = const(0)
STANDING = const(1)
SETUP = const(2)
BACKSWING = const(3)
DOWNSWING = const(4)
FINISH = const(5)
ENDED = const(1)  # bits of what a step brought
TURNED = const(2)
_NONE = const(0)  # how impact was found
_GUESSED = const(1)
PRESSED = const(2)
STRUCK = const(3)

_STEADY_T = const(6000)
_STEADY = const(983)
_SETUP_LEAST = const(5734)
_SETUP_MOST = const(11469)
_LEAVE = const(1147)
_BACK = const(1966)
_BACKSWING_MOST = const(90000)
_LIFTED = const(492)
_CONFIRM = const(1638)
_CONFIRM_T = const(6000)
_FORCE_SWING = const(2458)
_PEAK_TO_IMPACT = const(300)
_PEAK_FROM = const(1000)
_PEAK_TO = const(9500)
_STRIKE_FROM = const(800)
_STRIKE_TO = const(12000)
_TURN_TO_IMPACT = const(3600)
_QUICK_RISE = const(1638)
_QUICK_T = const(2200)
_FAR_BACK = const(2458)
_ALSO_STEADY = const(12000)
_LOOK = const(90)
_STILL = const(246)
_TURN_RISE = const(655)
_SURE_FORCE = const(1638)
_FALLEN = const(492)
_AIR_T = const(8000)
_MOVED_T = const(7000)
_MOVED = const(983)
_LATE_T = const(20000)
_GOES_BACK = const(1311)
_AT_SPEED = const(256)  # `slow` has 8 places


class Phases:
    """Follows one golfer. Whatever is known of the swing under way is here; `swings` counts those that were told."""

    def __init__(self, ring=None) -> None:
        self.phase = AWAY
        self.track = ring or track.Track()
        self.swing = False
        self.swings = 0
        self.setup_share = 0
        self.takeaway = 0
        self.turn = -1  # moments that have not come
        self.impact = -1
        self.source = _NONE
        self.slow = self.slow_told = _AT_SPEED  # told: of the swing that was told last
        self.rehearsal = False  # of the swing that was told last
        self._lowest_t, self._lowest = 0, NOTHING
        self._confirmed = self._forced = self._rested = self._stood = False
        self._push = array("i", [0, 0, 0, 0])
        self._highest = self._back_t = 0
        self._tempo = tempo.Tempo()
        self._across = tempo.Across()
        self._forth = self._air = -1
        self._steady_t = self._looked = self._given_up = 0 - NOTHING  # a swing given up, its takeaway and its turn
        self._given_takeaway = self._given_turn = -1

    def sure(self) -> bool:
        """A tone may tell of the swing under way."""
        if not self.swing or self._forth < 0:
            return False
        if not self._forced or self.source == STRUCK:
            return self._confirmed
        if self.slow > _AT_SPEED:
            return self._confirmed and not self._rested
        return self._push[track.MOST] - self._push[track.LEAST] >= _SURE_FORCE

    @micropython.native
    def step(self, t: int, share: int, strike: int, force: int, toes: int) -> int:
        """One frame: what it brought, ENDED and TURNED. strike: its moment, or -1; toes: NOTHING where not known."""
        if self.swing and toes != NOTHING and toes > self._across.toes:
            self._across.toes = toes
        if share == NOTHING:
            ended = self._end(t) if self.phase == FINISH else 0
            self._drop(AWAY)
            self.track.clear(0)
            return ended
        self.track.add(t, share, force)
        if strike >= 0 and self.phase <= BACKSWING:
            return self._struck(t, share, force, strike)
        if self.phase <= SETUP:
            return self._before(t, share, force)
        if self.phase == BACKSWING:
            return self._backswing(t, share, force)
        return self._after_turn(t, share, strike, force, toes)

    @micropython.native
    def _before(self, t: int, share: int, force: int) -> int:
        if self._quick(t, share):
            recent = t - self._given_up <= 2 * _QUICK_T
            self._begin(self._given_takeaway if recent else self.track.left(self.setup_share - _STILL, t))
            return self._go_forth(t, share, force, -1)
        if self.phase == SETUP and share < self.setup_share - _LEAVE:
            self._begin(self.track.left(self.setup_share - _STILL, t))
            self._lowest_t = t
            self._lowest = share
            self.phase = BACKSWING
            return 0
        if t - self._looked < _LOOK and self.phase != AWAY:
            return 0
        self._looked = t
        ring = self.track
        n = ring.shares(t - _STEADY_T)
        level = NOTHING
        if t - ring.first_t() >= _STEADY_T and ring.out[1] - ring.out[0] <= _STEADY:
            level = ring.middle(ring.n - n, n)
        if _SETUP_LEAST <= level <= _SETUP_MOST and not (self.phase == SETUP and ring.drifts(n)):
            self.phase = SETUP
            self.setup_share = level
            self._steady_t = t
        elif self.phase != SETUP or abs(share - self.setup_share) > 2 * _LEAVE:
            self.phase = STANDING
        return 0

    def _struck(self, t: int, share: int, force: int, strike: int) -> int:
        # A ball was struck though nothing like a downswing was seen: centred, short, or with the feet together. Only
        # strikes as loud as the golfer's own come here.
        ring = self.track
        ring.shares(t - _MOVED_T)
        moved = ring.out[1] - ring.out[0] >= _MOVED
        ring.forces(t - _MOVED_T)
        moved = moved or ring.out[1] - ring.out[0] >= _MOVED
        back = self.swing and share < self._lowest + _STILL
        if not moved or back or t - self._steady_t > _BACKSWING_MOST:
            return self._backswing(t, share, force) if self.swing else self._before(t, share, force)
        turn = -1
        if not self.swing:
            late = self._given_turn >= 0 and strike - self._given_turn <= _LATE_T
            takeaway = max(ring.first_t(), min(self._steady_t, strike - _MOVED_T))
            turn = self._given_turn if late else -1
            self._begin(self._given_takeaway if late else takeaway)
        self._go_forth(t, share, force, turn)
        self._forth = min(self._forth, strike - _STRIKE_FROM)
        self._lowest_t, self._lowest = self._forth, min(self._lowest, share - _CONFIRM)
        return self._after_turn(t, share, strike, force, NOTHING)

    def _begin(self, takeaway: int) -> None:
        self.swing = True
        self.takeaway = takeaway
        self.turn = self.impact = -1
        self.source = _NONE

    @micropython.native
    def _quick(self, t: int, share: int) -> bool:
        far = share >= self.setup_share + (_QUICK_RISE >> 1)
        return far and t - self._steady_t <= _ALSO_STEADY and self.track.quick(t, share)

    @micropython.native
    def _backswing(self, t: int, share: int, force: int) -> int:
        if share < self._lowest or share < _LIFTED:
            self._lowest_t = t
            self._lowest = min(share, self._lowest)
        if share < _LIFTED:  # somebody steps into the swing, or walks
            if self._air < 0:
                self._air = t
            if t - self._air > _AIR_T:
                self._drop(STANDING)
            return 0
        deep = self._lowest <= self.setup_share - _BACK
        if deep and share >= self._lowest + _TURN_RISE:
            self._back_t, self._rested, self._stood = tempo.backswing(
                self.track, self.takeaway, self.setup_share, self._lowest_t, self._lowest
            )
            self.slow = self._tempo.slow(self._back_t)
            return self._go_forth(t, share, force, self._lowest_t)
        if self._quick(t, share):
            return self._go_forth(t, share, force, -1)
        settled = self.track.settled(t, self.takeaway, self._lowest <= self.setup_share - _FAR_BACK)
        back = not deep and share >= self.setup_share - 492
        if settled or back or t - self.takeaway > _BACKSWING_MOST:
            begin = self.track.begin
            if back:  # a centred one comes across from here
                self._give_up(t)
            self._drop(STANDING)
            if settled:  # the next swing may begin at once: what was seen stays
                self.track.begin = begin
                return self._before(t, share, force)
        return 0

    def _go_forth(self, t: int, share: int, force: int, turn: int) -> int:
        self.turn = turn
        self._forth = t - _QUICK_T if turn < 0 else turn
        if turn < 0:
            self._lowest_t = self._forth
            self._lowest = share - _QUICK_RISE
        self._confirmed = False
        self._forced = True
        ring = self.track
        begin = track.first(ring.t, ring.forced, ring.n, self._forth)
        first = ring.force[begin & 1023] if begin < ring.n else force
        self._push[track.LEAST] = self._push[track.MOST] = first
        self._push[track.AT] = self._push[track.TOLD] = 0
        track.push(ring.t, ring.force, begin, ring.n, self._push)
        self._push[track.TOLD] = 0
        self._highest = share
        self._across.begin(t, share)
        self.phase = DOWNSWING
        return TURNED if turn >= 0 else 0

    @micropython.native
    def _after_turn(self, t: int, share: int, strike: int, force: int, toes: int) -> int:
        since = t - self._forth
        slow = self.slow
        if share > self._highest:
            self._highest = share
        self._across.step(t, share, toes)
        if strike >= 0 and self.source != STRUCK and _STRIKE_FROM <= strike - self._forth <= _STRIKE_TO:
            self.slow = slow = _AT_SPEED
            self.impact = strike
            self.source = STRUCK
            self._confirmed = True
            self.phase = FINISH
        if self.source <= _GUESSED and self._highest >= self._lowest + _CONFIRM and share <= self._lowest + _FALLEN:
            self._drop(STANDING)  # a foot touched the mat, or somebody shifts
            return 0
        if not self._confirmed:
            self._confirmed = share >= self._lowest + _CONFIRM
            if not self._confirmed and since > (_CONFIRM_T * slow) >> 8:
                self._give_up(t)
                self._drop(STANDING)
                return 0
        if self.source != STRUCK and _PEAK_FROM <= since <= _PEAK_TO:
            ring = self.track
            if track.push(ring.t, ring.force, ring.n - 1, ring.n, self._push):
                self.slow = slow = _AT_SPEED
                self.impact = self._push[track.AT] + _PEAK_TO_IMPACT
                self.source = PRESSED
                self.phase = FINISH
        if self.impact < 0 and since >= (_TURN_TO_IMPACT * slow) >> 8:
            self.impact = self._forth + ((_TURN_TO_IMPACT * slow) >> 8)
            self.source = _GUESSED
            self.phase = FINISH
        if self.impact >= 0 and self._confirmed:
            over = tempo.finish(slow)
            coming = slow >= 512 and not self._across.held() and share > self._highest - _GOES_BACK
            coming = coming and since <= self._back_t * 13 // 10 + over
            if coming and self._highest < tempo.FAR:  # who stands still has shifted, and may be in the next setup
                self.track.shares(t - _STEADY_T)
                coming = self.track.out[1] - self.track.out[0] > _FALLEN
            if t >= self.impact + over and not coming:
                ended = self._end(t)
                self._drop(STANDING)
                return ended
        return 0

    def _end(self, t: int) -> int:
        pushed = self._push[track.MOST] - self._push[track.LEAST]
        slowly = not self._stood and self._across.slowly(self._forth, self._back_t, self.slow == _AT_SPEED)
        slowly = slowly and self._highest >= tempo.FAR
        struck = self.source == STRUCK
        swung = self._forced and pushed >= _FORCE_SWING
        if not (self.swing and self._confirmed and (struck or swung or slowly)):
            return 0
        self.slow_told = self.slow
        self.rehearsal = slowly and not struck and not swung
        if self.turn >= 0 and (struck or swung):
            self._tempo.add(self._back_t)
        self.swings += 1
        return ENDED

    def _drop(self, phase: int) -> None:
        self.phase = phase
        self.swing = False
        self.slow = _AT_SPEED
        self._confirmed = self._forced = False
        self._forth = self._air = -1
        self._lowest_t, self._lowest = 0, NOTHING
        self.track.clear(1)

    def _give_up(self, t: int) -> None:
        self._given_up, self._given_takeaway, self._given_turn = t, self.takeaway, self.turn
