"""What of the cues that are out is let through to the ear: fewer in time, later, or not all at once. It has a state.

What nobody can believe to be a setup or a swing (`groundtone.cue.stillness`) does not sound at all.

Fading: in a silent swing nothing sounds from the takeaway on, unless a cue gets far outside; then it is heard to the
swing's end. After impact: from the takeaway on nothing sounds before impact; then what was out before sounds once, for
`TELL_S`, at the largest size it had. Setup is untouched by both. Last, of all that may sound the cues of the highest
priority do, at most `together`.

Which swings sound: fewer as skill grows, for feedback that is always there is leaned on. The more of the last swings
kept to all bands, the smaller the part of the swings in which a tone may sound (rules.toml, [fade]). Which ones follows
from the swing's number alone, spread evenly; so a session that is played again sounds again. A silent swing is measured
like any other, and whoever is far outside is told in any case. Setup never fades: there a tone is a brake and not a
verdict.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Mapping

from groundtone.cue.rulebook import Fade, Rulebook
from groundtone.cue.rules import SILENT, CueSizes
from groundtone.swing.events import Phase


def part_that_sounds(fade: Fade, inside: int) -> float:
    """Part of the swings that sound when so many of the last `of` kept to all bands."""
    part = 1.0
    for count, share in fade.steps:
        if inside >= count:
            part = share
    return part if fade.on else 1.0


def sounds_in(number: int, part: float) -> bool:
    """Whether swing `number` (from 1) is one of the part that sounds.

    Examples
    --------
    >>> [sounds_in(n, 0.5) for n in range(1, 7)]
    [True, False, True, False, True, False]
    """
    # Rounded, so that three times a third is one.
    return math.ceil(round(number * part, 9)) > math.ceil(round((number - 1) * part, 9))


class Fading:
    """Counts swings."""

    def __init__(self, fade: Fade) -> None:
        self.fade = fade
        self._last: deque[bool] = deque(maxlen=fade.of)

    @property
    def part(self) -> float:
        """Part of the swings that sound now."""
        return part_that_sounds(self.fade, sum(self._last))

    def plays(self, number: int) -> bool:
        """Whether the swing that begins now, the session's `number`-th, may sound."""
        return sounds_in(number, self.part)

    def swing(self, *, inside: bool) -> None:
        """A swing is over; `inside`: it kept to all bands, whether anything was heard or not."""
        self._last.append(inside)


# So long a cue tells after impact of what was out before, s: two of the slow pulses.
TELL_S = 0.6
_SWING = (Phase.BACKSWING, Phase.DOWNSWING, Phase.FINISH)


class CueGate:
    """Decides frame by frame."""

    def __init__(self, book: Rulebook, fading: Fading) -> None:
        self._fading = fading
        self._in_swing = False
        self._plays = True
        self._far: set[str] = set()
        self._kept: dict[str, float] = {}
        self._told_from: float | None = None
        self._before: set[str] = set()
        self.change(book)

    def change(self, book: Rulebook) -> None:
        """Other rules from the next frame on."""
        self._later = book.sound == "after impact"
        self._together = book.together
        self._priority = {rule.name: rule.priority for rule in book.rules}

    @property
    def silent(self) -> bool:
        """The swing under way is one that does not sound."""
        return self._in_swing and not self._plays

    def let_through(
        self, t_s: float, phase: Phase, number: int, sizes: CueSizes, *, after_impact: bool, trusted: bool = True
    ) -> CueSizes:
        """One frame.

        Parameters
        ----------
        t_s : float
            Device time, s.
        number : int
            The swing under way, counted from 1 in the session; any number outside of one.
        trusted : bool
            It may be a setup or a swing. At setup what sounds already goes on without it: whoever moves back is heard
            to do so.

        Returns
        -------
        CueSizes
            What is to be heard.
        """
        swinging = phase in _SWING
        if swinging and not self._in_swing:
            self._plays = self._fading.plays(number)
            self._far.clear()
            self._kept.clear()
            self._told_from = None
        self._in_swing = swinging
        if not swinging:
            heard = sizes if trusted else {name: size for name, size in sizes.items() if name in self._before}
            self._before = set(heard)
            return self._fewest(heard)
        self._before.clear()
        if not trusted:
            return SILENT
        if not sizes and not self._kept:
            return SILENT
        heard = sizes
        if not self._plays:
            self._far.update(name for name, size in heard.items() if size >= self._fading.fade.far)
            heard = {name: size for name, size in heard.items() if name in self._far}
        if self._later:
            heard = self._after(t_s, heard, after_impact)
        return self._fewest(heard)

    def _after(self, t_s: float, heard: Mapping[str, float], after_impact: bool) -> dict[str, float]:
        if not after_impact:
            for name, size in heard.items():
                self._kept[name] = max(size, self._kept.get(name, 0.0))
            return {}
        if self._told_from is None:
            self._told_from = t_s
        told = self._kept if t_s - self._told_from < TELL_S else {}
        return {name: max(heard.get(name, 0.0), told.get(name, 0.0)) for name in {**told, **heard}}

    def _fewest(self, heard: CueSizes) -> CueSizes:
        if len(heard) <= self._together:
            return heard
        first = sorted(heard, key=lambda name: -self._priority.get(name, 0))[: self._together]
        return {name: heard[name] for name in first}
