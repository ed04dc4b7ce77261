"""Who stands on the mat: how much they usually press, when nobody does any more, and whether who comes was here before.

Whoever weighs the same as before and stands on both feet for a while is the same golfer: their soles are as long as
they were, and begin where their heels came down. So nobody has to rock again who only fetched a ball.
"""

from __future__ import annotations

import math
from collections import deque

import numpy as np

from groundtone.pressure.feet import Feet

AWAY_S = 0.4
# Both feet carry so much, the total is within this part of the weight of before, for so long (invented).
BOTH, SAME_WEIGHT, SAME_S = 0.2, 0.05, 1.0


class Stander:
    """Follows the force, frame by frame.

    Parameters
    ----------
    nobody_n : float
        Nobody is on the mat below this, N.

    Attributes
    ----------
    weight_n : float
        Of who was found last, N; NaN before.
    back : bool
        Whoever stands there is the golfer of before.
    """

    def __init__(self, nobody_n: float) -> None:
        self.nobody_n = nobody_n
        self.weight_n = math.nan
        self.back = False
        self._standing: deque[float] = deque(maxlen=400)
        self._empty_s = self._same_s = math.nan

    def forget(self) -> None:
        """Whoever stands there next may be another."""
        self._standing.clear()
        self.back = False
        self._same_s = math.nan

    def found(self) -> None:
        """The feet of who stands there have been found: what they press is their weight."""
        self.weight_n = float(np.median(self._standing)) if self._standing else math.nan

    def take(self, t_s: float, feet: Feet, *, calm: bool, known: bool) -> bool:
        """One frame.

        Parameters
        ----------
        calm : bool
            No swing is under way.
        known : bool
            Their feet have been found.

        Returns
        -------
        bool
            True in the frames in which somebody has stepped off.
        """
        total_n = feet.total_n
        if total_n < self.nobody_n:
            self._empty_s = t_s if math.isnan(self._empty_s) else self._empty_s
            return t_s - self._empty_s >= AWAY_S and len(self._standing) > 0
        self._empty_s = math.nan
        if calm:
            self._standing.append(total_n)
        if not known and not self.back and math.isfinite(self.weight_n):
            same = abs(total_n / self.weight_n - 1.0) < SAME_WEIGHT and min(feet.force_n) >= BOTH * total_n
            self._same_s = math.nan if not same else t_s if math.isnan(self._same_s) else self._same_s
            self.back = t_s - self._same_s >= SAME_S
        return False
