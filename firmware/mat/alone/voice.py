# The mat's own sound on the buzzer's pin: the rhythms of the cues and the notes of the signals, with soft starts.
#
# Pitches and beats are those of groundtone/tone/voices.py. One pin has one pitch: while two cues are due, the quick
# beeps of the first sound in the gaps of the second's slow pulses. A square wave's loudness follows from how long it is
# high: `LEVELS` are asin(10 ** (dB / 20)) / pi of a period: silence, -18, -15 ... 0 dB.
from array import array

import micropython
from micropython import const

LEVELS = (0, 2633, 3729, 5297, 7566, 10951, 16409, 32768)
_RISE = const(80)  # tenths of a millisecond
# Of each cue: pitch in hertz, tenths of a millisecond of a beat at size 0 and 1, and its pulses: begin and end in
# thousandths of the beat.
CUES = (
    (1319, 1429, 1111, (0, 550)),
    (220, 4545, 3571, (0, 550)),
    (2349, 6250, 5000, (0, 275, 400, 675)),
)
# Of each signal: pitch and tenths of a millisecond of one note after the other; 0 is a rest.
SIGNALS = {
    "ready": (440, 1200, 554, 1200, 659, 3000),
    "tick": (523, 400),
    "rock": (523, 1400, 392, 1400, 523, 1400, 392, 2200),
    "unseen": (523, 600, 523, 1000, 698, 3000),
    "pause": (587, 800, 392, 1600),
    "on": (392, 800, 587, 1600),
    "level": (880, 700),
    "end": (659, 2500, 440, 2500, 294, 4500),
    "refused": (294, 1400, 294, 2200),
}
# What `due` writes, by place: hertz (0: silence), level, for how long it has sounded, for how long it still will.
_HERTZ = const(0)
_LEVEL = const(1)
_SINCE = const(2)
_LEFT = const(3)
_A_CUE = const(7)  # places of a cue in the table: pitch, both beats, both pulses
_PLACES = const(14)
_BETWEEN = const(100)  # two notes of a signal lie so far apart, or equal ones were one


class Voice:
    """Plays on a PWM. `turn` has to be called often; it allocates nothing."""

    def __init__(self, pwm) -> None:
        self._pwm = pwm
        self.loud = 7  # the level at size 1
        self._notes: tuple[int, ...] = ()
        self._note = 0
        self._until = self._from = 0
        self._begun = array("i", [0, 0, 0])  # of each cue's beat, and one; 0 while it is silent
        self._table = table()
        self._due = array("i", [0, 0, 0, 0])
        self._duty = -1
        self._hertz = 0

    def say(self, name: str, t: int) -> None:
        """A signal from now on; cues wait until it is over."""
        self._notes = SIGNALS[name]
        self._note = 0
        self._from = t
        self._until = t + self._notes[1]

    def busy(self) -> bool:
        """A signal is being played."""
        return bool(self._notes)

    def off(self) -> None:
        """Silence, at once."""
        self._notes = ()
        self._set(0, 0)

    @micropython.native
    def turn(self, t: int, sizes) -> None:
        """What is to be heard now. t: tenths of a millisecond; sizes: of each cue, 14 places."""
        if self._notes:
            if t >= self._until + _BETWEEN:
                self._note += 2
                if self._note >= len(self._notes):
                    self._notes = ()
                    self._set(0, 0)
                    return
                self._from = t
                self._until = t + self._notes[self._note + 1]
            self._sound(self._notes[self._note], self.loud, t - self._from, self._until - t)
            return
        out = self._due
        due(t, sizes, self._begun, self._table, self.loud, out)
        if out[_HERTZ]:
            self._sound(out[_HERTZ], out[_LEVEL], out[_SINCE], out[_LEFT])
        elif self._duty > 0:
            self._set(0, 0)

    @micropython.native
    def _sound(self, hertz: int, level: int, since: int, left: int) -> None:
        if left <= 0 or not hertz:
            self._set(0, 0)
            return
        duty = LEVELS[level]
        edge = min(since, left)
        if edge < _RISE:
            duty = duty * (edge + 8) // (_RISE + 8)
        self._set(hertz, duty)

    @micropython.native
    def _set(self, hertz: int, duty: int) -> None:
        if hertz and hertz != self._hertz:
            self._pwm.duty_u16(0)
            self._pwm.freq(hertz)
            self._hertz = hertz
        if duty != self._duty:
            self._duty = duty
            self._pwm.duty_u16(duty)


def table() -> array:
    """The cues as `due` reads them."""
    out: list[int] = []
    for hertz, slow, quick, pulses in CUES:
        parts = [(part << _PLACES) // 1000 for part in pulses]
        out += [hertz, slow, quick] + parts + [0] * (4 - len(parts))
    return array("i", out)


@micropython.viper
def due(t: int, sizes: ptr32, begun: ptr32, table: ptr32, loud: int, out: ptr32):
    # What is to be heard of the cues now.
    out[_HERTZ] = 0
    # The last that is due has the slower beat: its pulses first, and what came before it in their gaps.
    cue = 2
    while cue >= 0:
        size = sizes[cue]
        if size == 0:
            begun[cue] = 0
        elif out[_HERTZ] == 0:
            of = ptr32(uint(table) + 4 * _A_CUE * cue)
            if begun[cue] == 0:
                begun[cue] = t + 1
            beat = of[1] - (((of[1] - of[2]) * size) >> 14)
            into = t + 1 - begun[cue]
            while into >= beat:
                into -= beat
            begun[cue] = t + 1 - into
            i = 3
            while i < _A_CUE:
                begin = (beat * of[i]) >> _PLACES
                end = (beat * of[i + 1]) >> _PLACES
                if begin <= into and into < end:
                    level = loud - 6 + ((size * 6 + 8192) >> 14)
                    if level < 1:
                        level = 1
                    out[_HERTZ] = of[0]
                    out[_LEVEL] = level
                    out[_SINCE] = into - begin
                    out[_LEFT] = end - into
                i += 2
        cue -= 1
