"""Which swings sound: fewer as skill grows, for feedback that is always there is leaned on.

The more of the last swings kept to all bands, the smaller the part of the swings in which a tone may sound (rules.toml,
[fade]). Which ones follows from the swing's number alone, spread evenly; so a session that is played again sounds
again. A silent swing is measured like any other, and whoever is far outside is told in any case. Setup never fades:
there a tone is a brake and not a verdict.
"""

from __future__ import annotations

import math
from collections import deque

from groundtone.cue.rulebook import Fade


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
