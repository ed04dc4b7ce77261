"""What goes with what: positions of pressure against strikes, within one golfer's session, with its doubt.

Two questions are asked, and only these, because every further one makes a finding by chance more likely:

- heel-toe position in the downswing against the place along the face (rank correlation);
- lead share at impact against contact, by how bad it was: clean, thin or fat, topped (rank correlation), and told as
  the shift between swings that were clean and those that were not. A shank is no error of the low point: it is left
  out there, and counts as a place far towards the heel.

That two things go together in twenty swings does not say that one makes the other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.lesson.chance import Effect, difference, holm, rank_correlation
from groundtone.review.strikes import Contact
from groundtone.review.swings import SwingRow, balls, column

LEAST = 12
"""Fewer swings with both values are too few to say."""
LEAST_OF_A_KIND = 4
"""And so are fewer swings of either kind of contact."""
CLAIM_P = 0.05
# How bad a contact is, in order only (common practice: a topped ball loses most of the distance).
_BAD = {Contact.CLEAN: 0.0, Contact.THIN: 1.0, Contact.FAT: 1.0, Contact.TOPPED: 2.0}


@dataclass(frozen=True)
class StrikeLink:
    """One question and its answer.

    Attributes
    ----------
    measure, against : str
        What was compared with what, in words.
    effect : Effect
        Rank correlation; for contact, of the measure with how bad it was.
    shift : Effect or None
        For contact: median of the measure where it was not clean, less where it was.
    p : float
        Corrected for all questions asked (Holm).
    claimed : bool
        A link is claimed: enough swings, and p below 0.05.
    """

    measure: str
    against: str
    effect: Effect
    shift: Effect | None
    p: float
    claimed: bool
    sentence: str


def strike_links(
    swings: Sequence[SwingRow], *, position: str = "overall_down", share: str = "share_impact", seed: int = 1
) -> tuple[StrikeLink, ...]:
    """Both questions for the swings of one session.

    Parameters
    ----------
    swings : sequence of SwingRow
        Practice swings and rehearsals are left out.
    position, share : str
        Names of the measures.
    seed : int
        Of the resampling.
    """
    rows = balls(swings)
    along = np.array([row.strike.at_mm[0] for row in rows])
    place = rank_correlation(column(rows, position), along, seed)
    badness = np.array([_BAD.get(row.strike.contact, math.nan) for row in rows])  # type: ignore[arg-type]
    shares = column(rows, share)
    contact = rank_correlation(shares, badness, seed)
    shift = difference(shares[badness == 0], shares[badness > 0], seed=seed)
    few = [place.n < LEAST, contact.n < LEAST or _fewest(badness, shares) < LEAST_OF_A_KIND]
    chances = holm([math.nan if short else effect.p for short, effect in zip(few, (place, contact), strict=True)])
    return (
        _answer("heel-toe position in the downswing", "place along the face", place, None, chances[0], few[0]),
        _answer("lead share at impact", "contact", contact, shift, chances[1], few[1]),
    )


def _fewest(badness: NDArray[np.float64], shares: NDArray[np.float64]) -> int:
    known = np.isfinite(shares)
    return int(min(np.count_nonzero(known & (badness == 0)), np.count_nonzero(known & (badness > 0))))


def _answer(measure: str, against: str, effect: Effect, shift: Effect | None, p: float, few: bool) -> StrikeLink:
    claimed = not few and not math.isnan(p) and p < CLAIM_P
    sentence = _sentence(measure, against, effect, shift, few=few, claimed=claimed)
    return StrikeLink(measure, against, effect, shift, p, claimed, sentence)


def _sentence(measure: str, against: str, effect: Effect, shift: Effect | None, *, few: bool, claimed: bool) -> str:
    if few:
        need = f"{LEAST} swings with both told" + (
            f", at least {LEAST_OF_A_KIND} of them clean and {LEAST_OF_A_KIND} not" if shift is not None else ""
        )
        return f"{measure} and {against}: too few swings to say ({effect.n}; it takes {need})."
    if math.isnan(effect.size):
        return f"{measure} and {against}: nothing to compare, all swings were alike in one of them."
    if not claimed:
        return f"{measure} and {against}: no clear link in these {effect.n} swings."
    doubt = f"rank correlation {effect.size:+.2f}, {effect.low:+.2f} to {effect.high:+.2f}, {effect.n} swings"
    if shift is None:
        end = "heel" if effect.size < 0 else "toe"
        return f"The nearer the toes the pressure was in the downswing, the nearer the {end} the strike ({doubt})."
    side = "less" if effect.size < 0 else "more"
    return (
        f"Where contact was not clean there was {side} on the lead side at impact: "
        f"{abs(shift.size) * 100:.0f} points of the share, {_points(shift)} ({doubt})."
    )


def _points(shift: Effect) -> str:
    low, high = sorted((abs(shift.low), abs(shift.high)))
    if shift.low * shift.high <= 0:
        low = 0.0
    return f"{low * 100:.0f} to {high * 100:.0f}"
