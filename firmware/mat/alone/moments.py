# What is noted of a swing (mat/alone/notes.py), looked up in the last moments once it has been told.
#
# Shares, positions and forces (body weights) are fractions with 14 places, times of a note milliseconds.
import micropython
from mat.alone import phases, track
from micropython import const

_RING = const(1023)
_NOTHING = const(0xFFFF)
_NOWHERE = const(0x1FFFFFFF)  # mat/alone/phases.py
_UNKNOWN = const(255)
_MOST_MS = const(65534)
_AFTER_T = const(6000)
_REHEARSAL = const(2)  # bits of a note's flags; 1 is left-handed, 16 the time was told, 32 and on cues that were out
_STRUCK = const(4)
_PRESSED = const(8)


class Moments:
    """Heel-toe positions beside the track's shares, a byte each, and what a note needs of a swing."""

    def __init__(self) -> None:
        self.places = bytearray(1024)  # 1/256 of the foot; 255 not known

    def fill(self, note: bytearray, follow: phases.Phases, weight: int, outs: int, left_handed: int, peak: int) -> None:
        """What is known of the swing that has just been told. weight: 1/32 N; peak: 12 bits, 0 without a strike."""
        ring = follow.track
        end = ring.n
        begin = max(0, end - 1024)
        impact = follow.impact
        note[1] = left_handed | outs << 5
        if follow.rehearsal:
            note[1] |= _REHEARSAL
        if follow.source == phases.STRUCK:
            note[1] |= _STRUCK
        elif follow.source == phases.PRESSED:
            note[1] |= _PRESSED
        _put(note, 22, min(weight * 10 >> 5, 65535))
        _put(note, 24, _ms(impact - follow.takeaway))
        _put(note, 26, _ms(impact - follow.turn) if follow.turn >= 0 else _NOTHING)
        _put(note, 28, min(follow.slow_told, 65535))
        _put(note, 30, peak)
        _put(note, 32, follow.setup_share)
        at_turn = self._share(ring, begin, end, follow.turn)
        _put(note, 34, at_turn)
        _put(note, 36, self._share(ring, begin, end, impact))
        _put(note, 40, self._place(ring, begin, end, follow.takeaway))
        _put(note, 42, self._place(ring, begin, end, follow.turn))
        _put(note, 44, self._place(ring, begin, end, impact))
        for at in (38, 46, 48, 50, 52, 54, 56):
            _put(note, at, _NOTHING)
        if at_turn != _NOTHING:
            self._downswing(note, ring, track.first(ring.t, begin, end, follow.turn), end, follow)

    def _downswing(self, note: bytearray, ring: track.Track, begin: int, end: int, follow: phases.Phases) -> None:
        # To impact the most share and toes, the least and most force and when, and when the share came past the
        # middle; after it the most share.
        share = toes = most = crossed = after = 0
        least = _NOTHING
        peak_t = -1
        while begin < end:
            at = begin & _RING
            t = ring.t[at]
            if t > follow.impact + _AFTER_T:
                break
            if t > follow.impact:
                after = max(after, ring.share[at])
                begin += 1
                continue
            share = max(share, ring.share[at])
            if self.places[at] != _UNKNOWN:
                toes = max(toes, self.places[at])
            force = ring.force[at]
            least = min(least, force)
            if force > most:
                most = force
                peak_t = t
            if not crossed and ring.share[at] >= 8192:
                crossed = t
            begin += 1
        _put(note, 38, share)
        _put(note, 46, toes << 6 if toes else _NOTHING)
        if peak_t >= 0:
            _put(note, 48, min(least, 65534))
            _put(note, 50, min(most, 65534))
            _put(note, 52, _ms(peak_t - follow.turn))
        if crossed:
            _put(note, 54, _ms(crossed - follow.turn))
        if after:
            _put(note, 56, after)

    def _share(self, ring: track.Track, begin: int, end: int, t: int) -> int:
        at = _at(ring, begin, end, t)
        return ring.share[at] if at >= 0 else _NOTHING

    def _place(self, ring: track.Track, begin: int, end: int, t: int) -> int:
        at = _at(ring, begin, end, t)
        return self.places[at] << 6 if at >= 0 and self.places[at] != _UNKNOWN else _NOTHING


@micropython.viper
def put(places: ptr8, n: int, overall: int):
    """The position that belongs to the track's newest moment; n: how many have come to it."""
    place = _UNKNOWN
    if overall != _NOWHERE:
        place = overall >> 6
        if place < 0:
            place = 0
        if place > 254:
            place = 254
    places[(n - 1) & _RING] = place


def _at(ring: track.Track, begin: int, end: int, t: int) -> int:
    # The place of the first moment at or after t; -1 where there was none, or it has been overwritten.
    if t < 0 or begin >= end or t < ring.t[begin & _RING] - 400:
        return -1
    at = track.first(ring.t, begin, end, t)
    return at & _RING if at < end else -1


def _ms(tenths: int) -> int:
    return min(max(tenths // 10, 0), _MOST_MS)


def _put(note: bytearray, at: int, value: int) -> None:
    note[at] = value & 255
    note[at + 1] = value >> 8
