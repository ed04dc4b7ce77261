"""What goes with what: positions of pressure against strikes, within one golfer's session, with its doubt.

Two questions are asked, and only these, because every further one makes a finding by chance more likely:

- heel-toe position in the downswing against the place along the face (rank correlation);
- lead share at impact against contact, by how bad it was: clean, thin or fat, topped (rank correlation), and told as
  the shift between swings that were clean and those that were not. A shank is no error of the low point: it is left
  out there, and counts as a place far towards the heel.

Swings are compared with those of their own run alone (recording, block, club, lie and cues), the trend over their
order is taken out, and what chance would do is seen by shifting one side in a circle (`groundtone.lesson.chance`).
That two things go together does not say that one makes the other: tiredness, another aim or the place of the ball can
move both.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.lesson.chance import ALPHA_LINKS, Linked, holm, linked
from groundtone.review.strikes import Contact
from groundtone.review.swings import SwingRow, balls, column

LEAST = 12
"""Fewer swings with both values are too few to say."""
LEAST_OF_A_KIND = 4
"""And so are fewer swings of either kind of contact."""
# How bad a contact is, in order only (common practice: a topped ball loses most of the distance).
_BAD = {Contact.CLEAN: 0.0, Contact.THIN: 1.0, Contact.FAT: 1.0, Contact.TOPPED: 2.0}


@dataclass(frozen=True)
class StrikeLink:
    """One question and its answer.

    Attributes
    ----------
    measure, against : str
        What was compared with what, in words.
    size, low, high : float
        Rank correlation and the interval that decides; for contact, of the measure with how bad it was.
    n : int
        Swings with both.
    shift : (float, float, float) or None
        For contact: mean of the measure where it was not clean, less where it was, and its interval.
    p : float
        Chance that decides: corrected for both questions (Holm).
    claimed : bool
        A link is claimed: enough swings, and p below `ALPHA_LINKS`.
    """

    measure: str
    against: str
    size: float
    low: float
    high: float
    n: int
    shift: tuple[float, float, float] | None
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
        In their order; practice swings and rehearsals are left out.
    position, share : str
        Names of the measures.
    seed : int
        Of the shifts: the same swings give the same answer.
    """
    rows = balls(swings)
    runs = [row.run for row in rows]
    along = np.array([row.strike.at_mm[0] for row in rows])
    badness = np.array([_BAD.get(row.strike.contact, math.nan) for row in rows])  # type: ignore[arg-type]
    shares = column(rows, share)
    place = linked(column(rows, position)[:, None], along, runs, seed)
    contact = linked(shares[:, None], badness, runs, seed)
    few = [place.n < LEAST, contact.n < LEAST or _fewest(badness, shares) < LEAST_OF_A_KIND]
    raw = [math.nan if short else float(each.p[0]) for short, each in zip(few, (place, contact), strict=True)]
    chances = holm(raw)
    paid = [p / corrected if corrected > 0 else 1.0 for p, corrected in zip(raw, chances, strict=True)]
    return (
        _answer("heel-toe position in the downswing", "place along the face", place, None, chances[0], paid[0], few[0]),
        _answer("lead share at impact", "contact", contact, _shift(shares, badness, runs), chances[1], paid[1], few[1]),
    )


def _fewest(badness: NDArray[np.float64], shares: NDArray[np.float64]) -> int:
    known = np.isfinite(shares)
    return int(min(np.count_nonzero(known & (badness == 0)), np.count_nonzero(known & (badness > 0))))


def _shift(shares: NDArray[np.float64], badness: NDArray[np.float64], runs: Sequence[tuple[str, ...]]) -> float:
    """Mean of the share where contact was not clean, less where it was, each within its own run."""
    known = np.isfinite(shares) & np.isfinite(badness)
    total, weight = 0.0, 0.0
    for run in dict.fromkeys(runs):
        here = known & np.array([each == run for each in runs])
        bad, clean = here & (badness > 0), here & (badness == 0)
        if bad.any() and clean.any():
            many = 1 / (1 / bad.sum() + 1 / clean.sum())
            total += many * float(shares[bad].mean() - shares[clean].mean())
            weight += many
    return total / weight if weight else math.nan


def _answer(
    measure: str, against: str, found: Linked, shift: float | None, p: float, paid: float, few: bool
) -> StrikeLink:
    claimed = not few and not math.isnan(p) and p < ALPHA_LINKS
    size = float(found.size[0])
    low, high = found.interval(0, ALPHA_LINKS * paid) if claimed else (math.nan, math.nan)
    moved = None
    if shift is not None:
        # As wide, in its own unit, as the correlation's.
        ends = (shift * low / size, shift * high / size) if claimed else (math.nan, math.nan)
        moved = shift, min(ends), max(ends)
    sentence = _sentence(measure, against, (size, low, high, found.n), moved, few=few, claimed=claimed)
    return StrikeLink(measure, against, size, low, high, found.n, moved, p, claimed, sentence)


def _sentence(
    measure: str, against: str, found: tuple[float, float, float, int], shift: tuple[float, float, float] | None,
    *, few: bool, claimed: bool,
) -> str:  # fmt: skip
    size, low, high, n = found
    if few:
        need = f"{LEAST} swings with both told" + (
            f", at least {LEAST_OF_A_KIND} of them clean and {LEAST_OF_A_KIND} not" if shift is not None else ""
        )
        return f"{measure} and {against}: too few swings to say ({n}; it takes {need})."
    if math.isnan(size):
        return f"{measure} and {against}: nothing to compare, all swings were alike in one of them."
    if not claimed:
        return f"{measure} and {against}: no clear link in these {n} swings."
    doubt = f"rank correlation {size:+.2f}, {low:+.2f} to {high:+.2f}, {n} swings"
    if shift is None:
        end = "heel" if size < 0 else "toe"
        return f"The nearer the toes the pressure was in the downswing, the nearer the {end} the strike ({doubt})."
    side = "less" if size < 0 else "more"
    least, most = sorted(100 * abs(part) for part in shift[1:])
    return (
        f"Where contact was not clean there was {side} on the lead side at impact: "
        f"{abs(shift[0]) * 100:.0f} points of the share, {least:.0f} to {most:.0f} ({doubt})."
    )
