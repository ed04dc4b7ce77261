"""Strikes: where the ball met the face and how, one quick entry after each swing, everything optional.

The face is a plain picture with the heel on the left, as the number block of a keyboard lies under the hand:

    7 8 9   high        4 heel   5 centre   6 toe
    4 5 6   middle      1-3 low, 7-9 high: for who wants nine fields
    1 2 3   low

Places in mm count from the face's centre, x towards the toe and y upwards, whichever hand the golfer plays with.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from groundtone.errors import GroundtoneError

CENTRE_CIRCLE_MM = 13.0
"""Radius of the centre circle, mm (chosen by us): a strike inside it costs little distance."""

# Middles of the fields from the face's centre and how far a strike in a field may lie from its middle, mm (invented).
FIELD_MM = (22.0, 13.0)
FIELD_U_MM = (7.0, 5.0)
# No face is larger than this from its centre, mm.
_FACE_MM = 80.0
_FARTHEST_M = 400.0


class StrikeError(GroundtoneError):
    """An entry that cannot be understood."""


class Contact(Enum):
    """How the club met the ball."""

    CLEAN = "clean"
    THIN = "thin"
    FAT = "fat"
    TOPPED = "topped"
    SHANK = "shank"


class Line(Enum):
    """Where the ball started."""

    LEFT = "left"
    STRAIGHT = "straight"
    RIGHT = "right"


CONTACT_KEYS = {"c": Contact.CLEAN, "t": Contact.THIN, "f": Contact.FAT, "o": Contact.TOPPED, "s": Contact.SHANK}
LINE_KEYS = {"l": Line.LEFT, "m": Line.STRAIGHT, "r": Line.RIGHT}
KEYS = (
    "1-9 place (heel on the left, 5 the centre), c clean, t thin, f fat, o topped, s shank, "
    "l left, m straight, r right, d140 distance, u undo"
)


@dataclass(frozen=True)
class Strike:
    """One strike; None is not told.

    Attributes
    ----------
    field : int or None
        1 to 9, see the module's text.
    place_mm : (float, float) or None
        x towards the toe, y up, from the face's centre, where it was measured.
    contact : Contact or None
    line : Line or None
    distance_m : float or None
    """

    field: int | None = None
    place_mm: tuple[float, float] | None = None
    contact: Contact | None = None
    line: Line | None = None
    distance_m: float | None = None

    @property
    def told(self) -> bool:
        """Anything was told."""
        return self != Strike()

    @property
    def at_mm(self) -> tuple[float, float]:
        """Place on the face: as measured, else the field's middle; NaN where not told."""
        if self.place_mm is not None:
            return self.place_mm
        if self.field is None:
            return math.nan, math.nan
        row, column = divmod(self.field - 1, 3)
        return FIELD_MM[0] * (column - 1), FIELD_MM[1] * (row - 1)

    @property
    def clean(self) -> bool | None:
        """Clean contact, or the centre where only the place was told; None where neither was."""
        if self.contact is not None:
            return self.contact is Contact.CLEAN
        if self.field is not None or self.place_mm is not None:
            return self.inside()
        return None

    def inside(self, radius_mm: float = CENTRE_CIRCLE_MM) -> bool | None:
        """Inside the centre circle; a place told by field is inside only in the centre field. None: not told.

        A shank met no face at all: it is outside, whatever field was pressed.
        """
        if self.contact is Contact.SHANK:
            return False
        if self.place_mm is not None:
            return math.hypot(*self.place_mm) <= radius_mm
        return None if self.field is None else self.field == 5


def press(strike: Strike, key: str) -> Strike:
    """A strike with what one key tells added; the same key again takes it back.

    Raises
    ------
    StrikeError
        The key means nothing.
    """
    key = key.lower()
    if key in "123456789" and len(key) == 1:
        field = int(key)
        return replace(strike, field=None if strike.field == field else field, place_mm=None)
    if key in CONTACT_KEYS:
        contact = CONTACT_KEYS[key]
        return replace(strike, contact=None if strike.contact is contact else contact)
    if key in LINE_KEYS:
        line = LINE_KEYS[key]
        return replace(strike, line=None if strike.line is line else line)
    raise StrikeError(f"the key {key!r} means nothing here: {KEYS}")


def read_entry(text: str, *, yards: bool = False) -> Strike:
    """A strike from a line such as ``6 t l d120``, ``4f`` or ``mm=-12,3 c``.

    Parameters
    ----------
    text : str
        Keys in any order, with or without spaces; ``dNUMBER`` is the distance, ``mm=X,Y`` a measured place.
    yards : bool
        The distance is in yards.

    Raises
    ------
    StrikeError
        What cannot be understood is named.
    """
    strike = Strike()
    for word in text.lower().replace("mm =", "mm=").split():
        if word.startswith("mm="):
            strike = replace(strike, place_mm=_place(word[3:]), field=None)
            continue
        while word:
            distance = re.match(r"d(\d+(?:[.,]\d+)?)", word)
            if distance:
                metres = float(distance[1].replace(",", ".")) * (0.9144 if yards else 1.0)
                if not metres <= _FARTHEST_M:
                    raise StrikeError(f"a distance of {metres:g} m is too far for a strike: correct it")
                strike, word = replace(strike, distance_m=metres), word[distance.end() :]
                continue
            if word[0] == "d":
                raise StrikeError("d wants a number, as in d140")
            fresh = press(strike, word[0])
            # Within one line a key twice is a slip of the finger, not a wish to take it back.
            strike, word = (strike if _tells_less(fresh, strike) else fresh), word[1:]
    return strike


def _tells_less(fresh: Strike, before: Strike) -> bool:
    parts = ("field", "contact", "line")
    return any(getattr(fresh, part) is None and getattr(before, part) is not None for part in parts)


def _place(text: str) -> tuple[float, float]:
    try:
        x, y = (float(part) for part in text.split(","))
    except ValueError:
        raise StrikeError("a measured place is two numbers, as in mm=-12,3 (towards the toe, upwards)") from None
    if not (math.isfinite(x) and math.isfinite(y) and math.hypot(x, y) <= _FACE_MM):
        raise StrikeError(f"({x:g}, {y:g}) mm lies outside every face: count from its centre")
    return x, y


def in_words(strike: Strike) -> str:
    """A strike as a person reads it."""
    names = (("low heel", "low", "low toe"), ("heel", "centre", "toe"), ("high heel", "high", "high toe"))
    words = []
    if strike.place_mm is not None:
        words.append(f"{strike.place_mm[0]:+.0f}, {strike.place_mm[1]:+.0f} mm")
    elif strike.field is not None:
        row, column = divmod(strike.field - 1, 3)
        words.append(names[row][column])
    if strike.contact is not None:
        words.append(strike.contact.value)
    if strike.line is not None:
        words.append(f"starts {strike.line.value}" if strike.line is not Line.STRAIGHT else "starts straight")
    if strike.distance_m is not None:
        words.append(f"{strike.distance_m:.0f} m")
    return ", ".join(words) or "not told"


@dataclass(frozen=True)
class StrikeCounts:
    """What a number of strikes amounts to.

    Attributes
    ----------
    placed, inside : int
        Strikes whose place is known, and those inside the centre circle.
    inside_share, inside_interval : float, (float, float)
        Share inside and its 95 % interval (Wilson 1927); NaN without any.
    contacts : dict of str to int
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
    strikes : sequence of Strike
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
