"""What a number of strikes amounts to: shares, contacts, distance kept and the spread on the face, with their doubt."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
        Share inside and its 95 % interval (Wilson 1927); NaN without any.
    kept, kept_interval : float, (float, float)
        Median share of the usual distance that was kept and the 95 % interval of the median by order statistics;
        NaN without a usual distance or without distances.
    ellipse : Ellipse or None
        95 % prediction ellipse of the places, from 5 places on.
    """

    placed: int
    inside: int
    inside_share: float
    inside_interval: tuple[float, float]
    contacts: dict[str, int]
    kept: float
    kept_interval: tuple[float, float]
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
        wilson(good, len(inside)),
        contacts,
        float(np.median(kept)) if kept.size else math.nan,
        median_interval(kept),
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


def wilson(good: int, total: int) -> tuple[float, float]:
    """95 % interval of a share (Wilson 1927); (NaN, NaN) of nothing."""
    if total == 0:
        return math.nan, math.nan
    z, p = 1.959963984540054, good / total
    middle = (p + z * z / (2 * total)) / (1 + z * z / total)
    half = z / (1 + z * z / total) * math.sqrt(p * (1 - p) / total + z * z / (4 * total * total))
    return middle - half, middle + half


def median_interval(values: NDArray[np.float64]) -> tuple[float, float]:
    """At least 95 % interval of a median from order statistics (binomial); (NaN, NaN) below 6 values."""
    n = values.size
    if n < 6:
        return math.nan, math.nan
    ordered = np.sort(values)
    # Largest k with P(Binomial(n, 1/2) < k) <= 2.5 %.
    chance, k = 0.5**n, 0
    below = 0.0
    while below + chance <= 0.025:
        below += chance
        chance *= (n - k) / (k + 1)
        k += 1
    return float(ordered[k - 1]), float(ordered[n - k])
