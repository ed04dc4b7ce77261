"""What the golfer is asked for and told besides tones: to rock, and that a ball was heard without a swing."""

from __future__ import annotations

import math

# Who stands there for so long and has not rocked is asked to, and again so often; a ball that is struck asks at once,
# but not so soon again.
_NO_ROCK_S, _ASKED_AGAIN_S, _ASKED_LEAST_S = 15.0, 60.0, 2.0
NO_ROCK = "Your feet are not known yet, so no tone sounds: rock slowly round, heels, one foot, toes, the other foot."
FAINT = "A ball was heard faintly and no swing was seen: somebody else's, or one so short that your feet did not move."
# Next bay's balls are faint too: they are told of in words, no more often than this, s.
_FAINT_AGAIN_S = 60.0
UNSEEN = "A ball was heard and no swing was seen: stand on both feet, rock once, and swing again."


class Asking:
    """Follows one golfer; what has to be heard is added to the frame's signals, what is said is given back."""

    def __init__(self) -> None:
        self._came_s = self._asked_s = math.nan
        self._faint_s = -math.inf

    def rock(self, t_s: float, signals: list[str], *, due: bool, struck: bool) -> tuple[str, ...]:
        """One frame: who has stood there for long without rocking has forgotten it, or hits a ball already.

        Parameters
        ----------
        due : bool
            Somebody stands there whose feet are not known.
        struck : bool
            A ball of their own was heard with this frame.
        """
        if not due:
            self._came_s = self._asked_s = math.nan
            return ()
        self._came_s = t_s if math.isnan(self._came_s) else self._came_s
        waited_s = t_s - (self._came_s if math.isnan(self._asked_s) else self._asked_s)
        often_s = _NO_ROCK_S if math.isnan(self._asked_s) else _ASKED_AGAIN_S
        if waited_s < often_s and not (struck and not waited_s < _ASKED_LEAST_S):
            return ()
        self._asked_s = t_s
        signals.append("rock")
        return (NO_ROCK,)

    def unseen(self, strike_s: float, signals: list[str], *, faint: bool) -> tuple[str, ...]:
        """A ball was heard and no swing seen; a faint one makes no sound, and not every one counts."""
        if not faint:
            signals.append("unseen")
            return (UNSEEN,)
        if strike_s - self._faint_s < _FAINT_AGAIN_S:
            return ()
        self._faint_s = strike_s
        return (FAINT,)
