"""What the bands watch beyond the plain measures: sliding across without the heel, and a finish that does not hold.

Slide: how far the lead share went across between the turn of pressure and impact, counted only while the lead heel has
not taken over, that is while the lead foot's pressure has come less than `HEEL_WORK` towards its heel since the turn.
That is the finding of the review (swing/bands.toml, after impact), heard a moment after impact: before, nobody can know
whether the heel will still take over. Not a fault in every school.

Unsteady: how far the lead share has moved from where the finish had settled. It settles `SETTLE_S` after impact; so
falling back, stepping out and lifting the lead foot are one thing. Both are causal, without delay, NaN where unknown.
"""

from __future__ import annotations

import math

# The lead heel has taken over when the lead foot's position has come this much towards the heel, part of its length.
HEEL_WORK = 0.04
# The finish is reached between these times after impact, s at full speed (from memory: about 0.45 s).
SETTLE_S = (0.45, 0.60)


class SlideAndFinish:
    """Follows one swing after the other.

    Attributes
    ----------
    slide, unsteady : float
        See the module's text; NaN outside of a swing and where they are not known.
    """

    def __init__(self) -> None:
        self.slide = self.unsteady = math.nan
        self.forget()

    def forget(self) -> None:
        """No swing is under way."""
        self.slide = self.unsteady = math.nan
        self._lowest = math.inf
        self._most = -math.inf
        self._lead_turn = self._lead_least = math.nan
        self._settled: list[float] = []
        self._level = math.nan

    def back(self, share: float, lead_foot: float) -> None:
        """A frame of the backswing: the lowest share, and the lead foot at it."""
        if share <= self._lowest:
            self._lowest = share
            if not math.isnan(lead_foot):
                self._lead_turn = lead_foot

    def forth(self, share: float, lead_foot: float, since_impact_s: float, slow: float) -> None:
        """A frame after the turn of pressure.

        Parameters
        ----------
        share, lead_foot : float
            NaN where not known.
        since_impact_s : float
            NaN before impact.
        slow : float
            How many times slower than at full speed the swing is.
        """
        self._lead_least = lead_foot if math.isnan(self._lead_least) else min(self._lead_least, lead_foot)
        if not since_impact_s > 0 and not math.isnan(share):
            self._most = max(self._most, share)
        worked = self._lead_turn - self._lead_least
        self.slide = self._most - self._lowest if worked < HEEL_WORK and self._lowest < math.inf else math.nan
        begin, end = (when * slow for when in SETTLE_S)
        if math.isnan(share) or not since_impact_s >= begin:
            return
        if since_impact_s <= end:
            self._settled.append(share)
        elif self._settled and math.isnan(self._level):
            self._level = sorted(self._settled)[len(self._settled) // 2]
        self.unsteady = abs(share - self._level)
