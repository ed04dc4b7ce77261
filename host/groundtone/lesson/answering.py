"""Where the ball met the face, told by foot, key or remote while the session runs: one strike a swing."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from groundtone.lesson.strike_counts import StrikeCounts, count
from groundtone.review.strikes import FARTHEST_M, Contact, Strike, StrikeError, in_words, new_entry, press, table_of

_FOOT = {
    "toe": Strike(field=6),
    "heel": Strike(field=4),
    "fat": Strike(contact=Contact.FAT),
    "thin": Strike(contact=Contact.THIN),
    "good": Strike(field=5),
}
"""What each answer with the foot tells."""
# Presses this close to one another step on, s; later ones begin anew.
_TOGETHER_S = 3.0
# Forward: centre, then toe, then heel. Back: heavy, then thin. Keys of `groundtone.review.strikes`.
_STEPS = {"next": ("5", "6", "4"), "back": ("f", "t")}


class Answering:
    """Takes down the strikes of a session.

    Attributes
    ----------
    strikes : list of Strike
        One for each swing, in order; nothing told is an empty one.
    """

    def __init__(self) -> None:
        self.strikes: list[Strike] = []
        self._impact_s: list[float] = []
        self._entries: list[str] = []
        self._remote = RemoteKeys()
        self._digits: str | None = None
        self._typed_s = -math.inf

    def swing(self, impact_s: float) -> None:
        """A swing has ended: what comes is about this one.

        Parameters
        ----------
        impact_s : float
            Its impact, else its end, device time, s.
        """
        self.strikes.append(Strike())
        self._impact_s.append(impact_s)
        self._entries.append(new_entry())
        self._remote.swing()
        self._digits = None

    @property
    def typing(self) -> bool:
        """A distance is being typed: the next digits belong to it, and Enter ends it."""
        return self._digits is not None

    @property
    def last(self) -> Strike:
        """Of the last swing; nothing told where there is none."""
        return self.strikes[-1] if self.strikes else Strike()

    def words(self) -> str:
        """What was told of the last swing; empty: nothing."""
        return in_words(self.last) if self.last.told else ""

    def counts(self) -> StrikeCounts:
        """Of all strikes told."""
        return count(self.strikes)

    def foot(self, answer: str) -> tuple[dict[str, Any], str] | None:
        """An answer with the foot: "toe", "heel", "fat", "thin", "good", or "undo".

        Returns
        -------
        (dict, str) or None
            The entry to record and the signal to sound; None where nothing changes.
        """
        told = _FOOT.get(answer)
        if not self.strikes or (told is None and answer != "undo"):
            return None
        if told is None:
            return self._take(Strike())
        if answer == "good":
            # Whatever a first tap seemed to say before: nothing was wrong.
            return self._take(replace(told, line=self.last.line, distance_m=self.last.distance_m))
        if told.field is not None:
            return self._take(replace(self.last, field=told.field, place_mm=None))
        return self._take(replace(self.last, contact=told.contact))

    def key(self, t_s: float, key: str) -> tuple[dict[str, Any], str] | None:
        """A key of `groundtone.review.strikes`, "next" or "back" of a remote, or "u"; as `foot`.

        After "d" digits are the distance, m, until another key or a pause.
        """
        if not self.strikes:
            return None
        if self._digits is not None and t_s - self._typed_s <= _TOGETHER_S and key in "0123456789" and key:
            digits, self._typed_s = self._digits + key, t_s
            if not 0 < float(digits) <= FARTHEST_M:
                return None
            self._digits = digits
            return self._take(replace(self.last, distance_m=float(digits)))
        self._digits = "" if key.lower() == "d" else None
        self._typed_s = t_s
        if self._digits == "":
            return None
        if key.lower() == "u":
            return self._take(Strike())
        remote = self._remote.step(t_s, key)
        if remote is not None:
            return self._take(press(Strike(), remote))
        try:
            return self._take(press(self.last, key))
        except StrikeError:
            return None

    def set(self, strike: Strike) -> tuple[dict[str, Any], str] | None:
        """A strike told as a whole, as a click on a picture of the face tells it; as `foot`."""
        return self._take(strike) if self.strikes else None

    def mend(self, number: int, strike: Strike) -> tuple[dict[str, Any], str] | None:
        """A strike of any swing, counted from 1, told or mended later; as `foot`."""
        return self._take(strike, number - 1) if 1 <= number <= len(self.strikes) else None

    def _take(self, strike: Strike, at: int = -1) -> tuple[dict[str, Any], str] | None:
        if strike == self.strikes[at] and not strike.told:
            return None
        self.strikes[at] = strike
        return table_of(strike, self._impact_s[at], self._entries[at]), "taken" if strike.told else "undone"


class RemoteKeys:
    """Turns the buttons "next" and "back" into strike keys; every further press of the same button corrects itself."""

    def __init__(self) -> None:
        self._button, self._step, self._at_s = "", 0, -math.inf

    def swing(self) -> None:
        """A swing has ended: the next press is about this one."""
        self._button, self._step, self._at_s = "", 0, -math.inf

    def step(self, t_s: float, button: str) -> str | None:
        """The strike key that a press stands for; None for a button that means nothing.

        Parameters
        ----------
        t_s : float
            Time of the press, s.
        button : str
            "next" or "back".
        """
        keys = _STEPS.get(button)
        if keys is None:
            return None
        goes_on = button == self._button and t_s - self._at_s <= _TOGETHER_S
        self._step = (self._step + 1) % len(keys) if goes_on else 0
        self._button, self._at_s = button, t_s
        return keys[self._step]
