"""What a number of strikes amounts to: shares, contacts, distance kept and the spread on the face, with their doubt."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.review.strikes import CENTRE_CIRCLE_MM, Strike


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


@dataclass(frozen=True)
class Ellipse:
    """95 % prediction ellipse of places on the face, mm; `angle_deg` from the heel-toe axis to the long axis."""

    centre_mm: tuple[float, float]
    half_axes_mm: tuple[float, float]
    angle_deg: float
    area_mm2: float


def ellipse_of(places_mm: NDArray[np.float64]) -> Ellipse | None:
    """95 % prediction ellipse: area = pi chi2(0.95; 2) sqrt(det cov) (Schubert and Kirchner 2014).

    Parameters
    ----------
    places_mm : ndarray, shape (n, 2)
        NaN rows are left out.

    Returns
    -------
    Ellipse or None
        None below 5 places: a spread of fewer says nothing.
    """
    places = places_mm[np.isfinite(places_mm).all(axis=1)]
    if len(places) < 5:
        return None
    middle, covariance = places.mean(axis=0), np.cov(places.T)
    values, vectors = np.linalg.eigh(covariance)
    half = np.sqrt(5.991 * np.maximum(values, 0.0))
    angle = math.degrees(math.atan2(vectors[1, 1], vectors[0, 1]))
    angle = (angle + 90.0) % 180.0 - 90.0
    area = float(math.pi * half[0] * half[1])
    return Ellipse((float(middle[0]), float(middle[1])), (float(half[1]), float(half[0])), angle, area)


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
        ellipse_of(np.array([s.at_mm for s in strikes]).reshape(-1, 2)),
    )


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
