"""On purpose with club and ball: low or high on the face is asked for, and the strike that is told says what came."""

from __future__ import annotations

import math

from groundtone.engine.feel_block import CALM, NOT_TOLD, NOTHING, SURE_S, Asker, FeelWish, Step, entry_of, measured
from groundtone.engine.live import Live
from groundtone.feel.lines import ROWS
from groundtone.review.strikes import Strike
from groundtone.swing.events import Phase
from groundtone.swing.summary import SwingSummary

_TELL = "Tell where on the face it was: 1 to 3 low, 4 to 6 middle, 7 to 9 high."


class HeightAsker(Asker):
    """Asks for low or high, waits for a ball and for its strike, and says whether it was so.

    A ball whose strike nobody tells asks for nothing else: the next ball stands in its place.
    """

    def __init__(self, wish: FeelWish) -> None:
        super().__init__(wish)
        self._swing: SwingSummary | None = None
        self._strike, self._since_s = NOT_TOLD, math.nan

    @property
    def words(self) -> str:
        """The place on the face, in large words; after the ball: the question."""
        return "where on the face?" if self._swing is not None else f"{self.asked} on the face" if self.asked else ""

    def take(self, live: Live, swing: SwingSummary | None, strike: Strike = NOT_TOLD) -> Step:
        """One frame; see `FeelBlock.take`."""
        if self.over:
            return NOTHING
        if self._swing is None and (live.phase is Phase.AWAY or not measured(live)):
            # Whoever steps off before the ball is asked again.
            self._ask_again(live.t_s)
            return NOTHING
        if math.isnan(self._asked_s):
            return self._ask(live) if live.phase in CALM and live.t_s >= self._rest_s else NOTHING
        if swing is not None:
            self._swing, self._strike, self._since_s = swing, NOT_TOLD, math.nan
            return Step(said=(_TELL,))
        if self._swing is None or strike.row is None:
            return NOTHING
        if strike != self._strike:
            # Another key may correct it.
            self._strike, self._since_s = strike, live.t_s
        return self._told(live.t_s, self._swing, strike.row) if live.t_s - self._since_s >= SURE_S else NOTHING

    def _told(self, t_s: float, swing: SwingSummary, row: int) -> Step:
        asked, came = self.asked, ROWS[row]
        entry = entry_of("purpose", asked, "impact", swing.position_impact, swing.share_impact, "strike")
        entry["row"] = came
        self._done += 1
        self._swing = None
        self._ask_again(t_s)
        signal = "near" if came == asked else "nearly" if row == 1 else "far"
        said = f"{asked.capitalize()} was asked for; it was {came}."
        if self.over:
            return Step((signal, "change", "say done"), entry, (said, "All has been asked."))
        return Step((signal,), entry, (said,))
