# The mat alone: with nobody at the cable and the radio it scans, follows the golfer and sounds by what was put onto it.
import time
from array import array

import micropython
from mat import tally
from mat.alone import cues, footprint, moments, notes, onmat, phases, voice
from micropython import const

RATE_HZ = const(200)
_PERIOD_US = const(5000)
_HUMMED_US = const(10000)  # to take hum off takes longer than there is
_LISTEN_US = const(3000)  # at most, between two looks at the sound
_ROOM_US = const(700)  # so long before a scan the last look begins
_WORTH_US = const(2500)  # nearer to a scan nothing changes any more: its own wait listens as well
_NEAR_US = const(1000)  # nearer to a scan nothing is looked at any more
_OFTEN = const(3)  # turns between two looks at what a host says
_PATIENT = const(20)  # the same where there is no time for it
_A_FOOT = const(8)
_NOBODY = const(1920)  # 60 N in 1/32 N
_AWAY = const(4000)  # tenths of a millisecond
_TWICE = const(6000)  # a second press within this is a second one
_ASK = const(150000)  # who has not rocked is asked to, and again
_AGAIN = const(600000)
_SAME_STRIKE = const(6000)
_JUDGED = const(14000)
# Places of mat/tally.py, mat/alone/phases.py and mat/alone/pressure.py: a module's names are looked up each time.
_PERIOD = const(0)
_SEQ = const(1)
_DUE = const(19)
_STANDING = const(1)
_SETUP = const(2)
_STRUCK = const(3)
_ENDED = const(1)
_SHARE = const(7)
_LEAST = const(11)
_HUMS = const(15)
_NOTHING = const(0x1FFFFFFF)
_QUIET = const(15000)  # a swing is written down so long after it was told, when nothing is going on
_PRESSING = const(4)  # so many notes do not wait for the golfer to stand
_ANEW = const(1 << 28)  # after seven hours it begins anew once nobody stands there: `t` is to stay a small number
_UNKNOWN = const(2500)  # as long as the computer waits for frames
_LOUD = const(1638)  # a strike that may be the golfer's own: 0.40 of 12 bits

# What is let go of when a host takes over: memory is for its frames then.
PARTS = (
    "solo", "voice", "cues", "stillness", "phases", "tempo", "track", "footprint", "asks", "feet", "onmat", "pressure",
    "hum", "forces", "cells", "network_rp2", "cells_rp2", "moments", "notes",
)  # fmt: skip


class Solo:
    """One stand after the other. `turn` takes the app's turns; it allocates nothing once it runs."""

    def __init__(self, app, on: onmat.OnMat, ring=None, digest: int = 0) -> None:
        self._app = app
        self._pressure = on.pressure
        self._meter = on.forces
        self._lead = 1 if on.flags & onmat.LEFT_HANDED else 0
        self.prints = footprint.Footprints(on.forces, on.quarters)
        self.follow = phases.Phases(ring)
        self.cues = cues.Cues(on.limits, bool(on.flags & onmat.AFTER_IMPACT_ONLY))
        self.voice = voice.Voice(app.signals.buzzer)
        self.book = notes.Book(digest, app.began_s)
        self._moments = moments.Moments()
        self._places = self._moments.places
        self._ended_at = self._peak = self._unheard = 0
        self.t = 0  # since it began, tenths of a millisecond
        self._heard = -1  # a strike whose scan told nothing: the next one's
        self._known = 0  # when a scan last told where the pressure is
        self._part = 0
        self._last = time.ticks_us()
        self.weight = 0  # of whoever stands there, 1/32 N
        self._standing = self._summed = 0
        self._left_at = self._came_at = self._asked_at = self._strike = self._pressed = -1
        self._told = 0 - _NOTHING
        self.paused = self.ended = False
        self._silence = array("i", [0] * cues.CUES)
        app.signals.rest(0)

    @micropython.native
    def time(self, now: int) -> int:
        """What `t` is now; now: ticks_us."""
        part = self._part + time.ticks_diff(now, self._last)
        self._last = now
        t = self.t + part // 100
        self._part = part % 100
        self.t = t
        return t

    def press(self, held: bool) -> None:
        """The button: once pauses, twice makes it louder or softer, held ends until the next press."""
        if held:
            self.ended = True
            self.book.write()
            self.voice.say("end", self.t)
        elif self.ended:
            self.ended = self.paused = False
            self.voice.say("on", self.t)
        elif self._pressed >= 0:
            self._pressed = -1
            self.voice.loud = 7 if self.voice.loud == 3 else self.voice.loud - 2
            self.voice.say("level", self.t)
        else:
            self._pressed = self.t

    @micropython.native
    def turn(self) -> None:
        """One turn of the loop: the sound, what came from a host, the strike sensor, and a scan when it is due."""
        app = self._app
        numbers = app.tally
        now = time.ticks_us()
        self.voice.turn(self.time(now), self._silence if self.paused or self.ended else self.cues.sizes)
        left = time.ticks_diff(numbers[_DUE], now)
        self._unheard += 1
        if self._unheard > (_OFTEN if left > _NEAR_US else _PATIENT):
            self._unheard = 0
            if self.t > _ANEW and not self._standing:
                app.idle.asked(app)
                return
            n = app.link.receive(0)
            if n:
                app.take(app.link.at.message, n)
                return
        if left > _NEAR_US:
            if self._pressed >= 0 and self.t - self._pressed > _TWICE:
                self._pressed = -1
                self.paused = not self.paused
                self.voice.say("pause" if self.paused else "on", self.t)
            if self.book.waiting and self.quiet():
                self.book.write()
                return
            if left > _WORTH_US:
                app.scan.listen(min(left - _ROOM_US, _LISTEN_US))
                if left > _LISTEN_US + _NEAR_US:
                    return
        self._scan(app, numbers)

    @micropython.native
    def _scan(self, app, numbers: array) -> None:
        scan = app.scan
        start = scan.frame(numbers, app.values, True)
        due = numbers[_DUE]
        numbers[_DUE] = time.ticks_add(due, tally.started(numbers, time.ticks_diff(start, due)))
        odd = numbers[_SEQ] & 1
        numbers[_SEQ] ^= 1
        strike = self._heard
        t = self.time(start)
        if scan.hear(start) and app.strike.peak >= _LOUD:
            strike = t - app.strike.offset_us // 100
            self._peak = app.strike.peak
        pressure = self._pressure
        if pressure.frame(app.values, odd):
            self._heard = -1
            self._known = t
            self.frame(t, strike)
        elif t - self._known > _UNKNOWN:
            # What sounded would go on, and a strike would be told of a swing that nobody has seen.
            sizes = self.cues.sizes
            sizes[0] = sizes[1] = sizes[2] = 0
            self._heard = -1
        else:
            self._heard = strike
        hums = pressure.state[_HUMS]
        numbers[_PERIOD] = _HUMMED_US if hums else _PERIOD_US
        pressure.both = not hums

    @micropython.native
    def frame(self, t: int, strike: int) -> None:
        """A scan has become feet: where the golfer is, what is due."""
        feet = self._meter.feet
        total = feet[0] + feet[_A_FOOT]
        follow = self.follow
        if total < _NOBODY:
            if self._left_at < 0:
                self._left_at = t
            if t - self._left_at >= _AWAY and self._standing:
                self._forget()
        else:
            self._left_at = -1
            if follow.phase <= _SETUP:
                # A mean over the last 128 frames or so, 1/4096 N; of fewer while there are no more.
                if self._standing < 128:
                    self._standing += 1
                self._summed += ((total << 7) - self._summed) // self._standing
        prints = self.prints
        if not prints.found and prints.add():
            self.weight = self._summed >> 7
            self._pressure.state[_LEAST] = max(960, self.weight // 20)
            self.voice.say("ready", t)
            self._app.signals.rest(1)
        places = prints.look()
        overall = places[2]
        lead = places[self._lead]
        trail = places[1 - self._lead]
        toes = _NOTHING
        if lead != _NOTHING and trail != _NOTHING:
            toes = trail - lead
        share = self._pressure.state[_SHARE]
        weights = 16384
        if prints.found:
            weights = (total << 10) // (self.weight >> 4)
        else:
            share = _NOTHING
        brought = follow.step(t, share, strike, weights, toes)
        if share != _NOTHING:
            moments.put(self._places, follow.track.n, overall)
        if brought & _ENDED:
            self._note(t)
        self.cues.step(t, follow, share, overall, lead, weights)
        if brought & _ENDED:
            self.voice.say("tick", t)
            self._told = follow.impact
        if strike >= 0 or self._strike >= 0:
            self._strikes(t, strike)
        if self._came_at >= 0 or not prints.found:
            self._ask(t, total)

    def _note(self, t: int) -> None:
        # A swing has been told: what is known of it waits for a quiet moment.
        note = self.book.note()
        follow = self.follow
        peak = self._peak if follow.source == _STRUCK else 0
        self._moments.fill(note, follow, self.weight, self.cues.outs, self._lead, peak)
        ago = (t - follow.impact) // 1000
        note[16:20] = max(0, self._app.clock.tenths - ago).to_bytes(4, "little")
        self._ended_at = t

    @micropython.native
    def quiet(self) -> bool:
        """Nothing is going on that a tenth of a second without scans would spoil."""
        phase = self.follow.phase
        sizes = self.cues.sizes
        if self.follow.swing or self.t - self._ended_at < _QUIET or self.voice.busy():
            return False
        if sizes[0] or sizes[1] or sizes[2]:
            return False
        return phase <= _STANDING or self.book.waiting >= _PRESSING

    def _forget(self) -> None:
        self._standing = self._summed = 0
        self.prints.forget()
        self._pressure.state[_LEAST] = 960
        self._app.signals.rest(0)

    @micropython.native
    def _strikes(self, t: int, strike: int) -> None:
        # A ball that was heard without a swing's being seen is told of, once its swing would have been.
        if strike >= 0 and self._strike < 0 and strike - self._told > _SAME_STRIKE:
            self._strike = strike
        if self._strike < 0:
            return
        follow = self.follow
        if abs(self._strike - self._told) <= _SAME_STRIKE:
            self._strike = -1
        elif t - self._strike >= _JUDGED and not (follow.swing and abs(follow.impact - self._strike) <= _SAME_STRIKE):
            self._strike = -1
            if self.prints.found:
                self.voice.say("unseen", t)

    @micropython.native
    def _ask(self, t: int, total: int) -> None:
        if self.prints.found or total < _NOBODY:
            self._came_at = self._asked_at = -1
            return
        if self._came_at < 0:
            self._came_at = t
        asked = self._asked_at
        if t - self._came_at >= _ASK if asked < 0 else t - asked >= _AGAIN:
            self._asked_at = t
            self.voice.say("rock", t)


def begin(app, on: onmat.OnMat, ring) -> Solo:
    """A mat that works alone from now on. Raises OnMatError."""
    if not on.quarters:
        raise onmat.OnMatError("what is on the mat is of an older program: send it again with groundtone to-mat")
    alone = Solo(app, on, ring, onmat.digest())  # first: where memory does not suffice nothing else has changed
    app.scan.line = None  # nothing is on its way to a computer
    app.seldom = 7  # 40 ms: a press is longer
    tally.clear(app.tally, 1000000 // RATE_HZ)
    app.tally[_DUE] = time.ticks_add(time.ticks_us(), 1000000 // RATE_HZ)
    return alone
