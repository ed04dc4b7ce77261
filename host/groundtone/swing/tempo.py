"""How slow a swing is, as soon as its backswing is over: time limits stretch with it, so that slow rehearsals work.

The rule: the time from takeaway to turn of pressure (or twice that of its second half, where that is less: who drifts
off first has not begun), over the golfer's own usual one (the median of their last five swings at full speed; `USUAL_S`
until there are any). Swings of one golfer differ: up to `SAME` times the usual time
counts as full speed, and from `SLOWER` times on a swing is so many times slower. Force or a strike shows that it was
none: whoever hits, hits at full speed.
"""

from __future__ import annotations

from collections import deque
from statistics import median

from groundtone.swing.definition import FINISH_S

# Takeaway to turn at full speed, s: a backswing of 0.75 s less what the turn leads the top by (swing.definition).
USUAL_S = 0.65
SAME, SLOWER = 1.5, 2.0
# Impact to finish at full speed, s (from memory).
FOLLOW_S = 0.45
# No rehearsal is slower than this.
_MOST = 6.0
_OWN = 5


def slowness(to_turn_s: float, usual_s: float = USUAL_S) -> float:
    """How many times slower than at full speed, 1 to 6.

    Parameters
    ----------
    to_turn_s : float
        Takeaway to turn of pressure, s; NaN gives 1.
    usual_s : float
        The same at full speed.

    Examples
    --------
    >>> slowness(0.65), slowness(1.95)
    (1.0, 3.0)
    """
    ratio = to_turn_s / usual_s
    if not ratio > SAME:
        return 1.0
    if ratio < SLOWER:
        # From 1 to the ratio itself, without a jump.
        return 1.0 + (ratio - SAME) / (SLOWER - SAME) * (SLOWER - 1.0)
    return min(ratio, _MOST)


def finish_s(slow: float) -> float:
    """How long after impact a swing is over, s: the way to the finish stretches, holding it does not."""
    return FINISH_S + FOLLOW_S * (slow - 1.0)


class Tempo:
    """The golfer's own usual time from takeaway to turn, learnt from their swings at full speed."""

    def __init__(self) -> None:
        self._own: deque[float] = deque(maxlen=_OWN)

    @property
    def usual_s(self) -> float:
        """The usual time, s."""
        return median(self._own) if self._own else USUAL_S

    def slow(self, to_turn_s: float) -> float:
        """See `slowness`."""
        return slowness(to_turn_s, self.usual_s)

    def add(self, to_turn_s: float) -> None:
        """A swing at full speed took so long to its turn, s."""
        if to_turn_s > 0:
            self._own.append(to_turn_s)
