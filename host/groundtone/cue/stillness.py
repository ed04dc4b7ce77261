"""Whether a tone may be believed to be about a swing: it began from a golfer who stood still, on both feet.

Waiting golfers shift, rock, hop and wander, and that often looks like a backswing until it is over. A setup does not:
for a while the pressure stays at its place along the feet and the force is the body's weight. Who rocks round to be
learnt, or waits restlessly, never stands like that just before. Causal, no delay.
"""

from __future__ import annotations

import math
from collections import deque

from groundtone.swing.events import Phase, Swing

# Still: over this long the heel-toe position keeps within this part of the foot. Real people who only stand keep so for
# 0.9 of the time on a firm floor (tests/data/standing), and a setup's tone must not come later than it is seen.
STILL_S, PLACE = 0.5, 0.03
# The force keeps within this part of the weight, and near the weight itself: a second person on the mat is no setup.
# A film that was never calibrated reads a quarter more or less as the load moves to the toes.
FORCE, NEAR_WEIGHT = 0.07, 0.30
# So long before the takeaway stillness was seen at the latest: waggles and a forward press come between.
REACH_S = 1.0
# Less of the weight on the mat, or on the lead foot after the turn, or all of what is left on it: somebody steps off or
# walks.
LEAVING, LIFTED, ALONE, LESS, AIR = 0.45, 0.10, 0.985, 0.95, 0.03
# A swing at full speed has pushed by so much of the weight when its turn is seen; who shifts has not.
PUSH = 0.03
_LOOK_S = 0.009
_CALM = (Phase.AWAY, Phase.STANDING, Phase.SETUP)
_AFTER_TURN = (Phase.DOWNSWING, Phase.FINISH)


class Stillness:
    """Follows the golfer.

    Attributes
    ----------
    still : bool
        The golfer stands still now.
    swings : bool
        What is under way may be a swing for all that was seen before it.
    stepped : bool
        The lead foot was in the air on the way back.
    """

    def __init__(self) -> None:
        self.still = self.swings = False
        self._recent: deque[tuple[float, float, float]] = deque()
        self._last_s = self._looked_s = -math.inf
        self._in_swing = self.stepped = self._landed = False
        self._least, self._most = math.inf, -math.inf

    def step(
        self,
        t_s: float,
        phase: Phase,
        swing: Swing | None,
        *,
        share: float,
        overall: float,
        weights: float,
    ) -> None:
        """One frame.

        Parameters
        ----------
        share, overall : float
            Lead share and heel-toe position of both feet; NaN: not known, and then nothing is still.
        weights : float
            Total force in body weights; NaN: not known, and then it does not count.
        """
        if phase in _CALM:
            self._in_swing = False
            if t_s - self._looked_s >= _LOOK_S:
                self._looked_s = t_s
                self._look(t_s, overall, weights)
            self.swings = self.still
            return
        if not self._in_swing:
            self._in_swing = True
            takeaway_s = swing.takeaway.t_s if swing is not None else t_s
            self.swings = takeaway_s - self._last_s <= REACH_S
            self.still = False
            self._recent.clear()
            self._least, self._most = math.inf, -math.inf
            self.stepped = self._landed = False
        if phase is Phase.BACKSWING and share < AIR:
            self.stepped = True
        self._landed = phase in _AFTER_TURN and (self._landed or share >= LIFTED)
        self._least, self._most = min(self._least, weights), max(self._most, weights)
        # The foot that stepped into the swing is coming down.
        lands = self.stepped and not self._landed
        leaves = (share < LIFTED and not lands) or weights < LEAVING or (share > ALONE and weights < LESS)
        if phase in _AFTER_TURN and leaves:
            self.swings = False

    @property
    def pushed(self) -> bool:
        """The force has moved as a swing's does; where it is not known it counts as moved."""
        return not 0.0 <= self._most - self._least < PUSH

    def _look(self, t_s: float, overall: float, weights: float) -> None:
        if math.isnan(overall) or abs(weights - 1.0) > NEAR_WEIGHT:
            self._recent.clear()
            self.still = False
            return
        recent = self._recent
        recent.append((t_s, overall, weights))
        while len(recent) > 1 and recent[1][0] <= t_s - STILL_S + 1e-6:
            recent.popleft()
        places, forces = [each[1] for each in recent], [each[2] for each in recent]
        within = max(places) - min(places) <= PLACE and not max(forces) - min(forces) > FORCE
        self.still = within and recent[0][0] <= t_s - STILL_S + 1e-6
        if self.still:
            self._last_s = t_s
