"""What a number of strikes amounts to: shares, contacts, distance kept and the spread on the face, with their doubt.

A share's interval is Wilson's of fewer swings, since swings hang together, and wider by what blocks differ by.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from groundtone.pressure.ellipse import Ellipse, ellipse
from groundtone.review.strikes import CENTRE_CIRCLE_MM, Strike

# Fewer places than this draw no ellipse: their spread says nothing.
_FEWEST = 5


@dataclass(frozen=True)
class StrikeCounts:
    """What a number of strikes amounts to.

    Attributes
    ----------
    placed, inside : int
        Strikes whose place is known, and those inside the centre circle.
    inside_share, inside_interval : float, (float, float)
        Share inside and its 95 % interval (`share_interval`); NaN without any.
    kept : float
        Median share of the usual distance that was kept; NaN without a usual distance or without distances.
    ellipse : Ellipse or None
        95 % prediction ellipse of the places, from 5 places on.
    """

    placed: int
    inside: int
    inside_share: float
    inside_interval: tuple[float, float]
    contacts: dict[str, int]
    kept: float
    ellipse: Ellipse | None


def count(
    strikes: Sequence[Strike], *, radius_mm: float = CENTRE_CIRCLE_MM, usual_m: float | None = None
) -> StrikeCounts:
    """Counts of some strikes.

    Parameters
    ----------
    radius_mm : float
        Of the centre circle.
    usual_m : float, optional
        Usual distance of the club, m.
    """
    inside = [where for s in strikes if (where := s.inside(radius_mm)) is not None]
    contacts: dict[str, int] = {}
    for strike in strikes:
        if strike.contact is not None:
            contacts[strike.contact.value] = contacts.get(strike.contact.value, 0) + 1
    kept = np.array([s.distance_m / usual_m for s in strikes if s.distance_m is not None and usual_m])
    good = sum(inside)
    return StrikeCounts(
        len(inside),
        good,
        good / len(inside) if inside else math.nan,
        share_interval(good, len(inside)),
        contacts,
        float(np.median(kept)) if kept.size else math.nan,
        ellipse(np.array([s.at_mm for s in strikes]).reshape(-1, 2), _FEWEST),
    )


# From so much of the usual distance on, and what that is called (common practice: a strike slightly off centre keeps
# about nine tenths and is playable, a duffed one keeps about a fifth).
KEPT_WORDS = ((0.95, "nearly_all"), (0.85, "playable"), (0.45, "short"), (-math.inf, "ruinous"))


def kept_word(kept: float) -> str:
    """What a share of the usual distance amounts to: one of the names of `KEPT_WORDS`.

    Examples
    --------
    >>> [kept_word(share) for share in (1.0, 0.9, 0.6, 0.2)]
    ['nearly_all', 'playable', 'short', 'ruinous']
    """
    return next(word for least, word in KEPT_WORDS if kept >= least)


def wilson(good: float, total: float, z: float = 1.959963984540054) -> tuple[float, float]:
    """Interval of a share (Wilson 1927), 95 % without another `z`; (NaN, NaN) of nothing."""
    if total == 0:
        return math.nan, math.nan
    p = good / total
    middle = (p + z * z / (2 * total)) / (1 + z * z / total)
    half = z / (1 + z * z / total) * math.sqrt(p * (1 - p) / total + z * z / (4 * total * total))
    return middle - half, middle + half


# How swings hang together in yes and no (what 0.4 in a measure leaves of it), and what blocks differ by, in standard
# deviations of what is behind it: as expected in `groundtone.feel.in_blocks`.
FOLLOWS, OFFSET = 0.26, 0.20


def share_interval(
    good: int, total: int, z: float = 1.959963984540054, *, follows: float = FOLLOWS, unsure: float = OFFSET
) -> tuple[float, float]:
    """Interval of a golfer's share; (NaN, NaN) of nothing.

    Parameters
    ----------
    follows : float
        From swing to swing; 0 and no `unsure`: Wilson's own.
    unsure : float
        Standard uncertainty of where these swings lie, on the scale of a normal distribution.
    """
    if total == 0:
        return math.nan, math.nan
    fewer = (1 + follows) / (1 - follows)
    low, high = wilson(good / fewer, total / fewer, z)
    if unsure == 0:
        return low, high
    normal = NormalDist()
    middle = normal.inv_cdf((good + 0.5) / (total + 1))

    def moved(end: float, sign: int) -> float:
        gap = abs(normal.inv_cdf(min(max(end, 1e-9), 1 - 1e-9)) - middle)
        return normal.cdf(middle + sign * math.hypot(gap, z * unsure))

    return min(moved(low, -1), low), max(moved(high, 1), high)
