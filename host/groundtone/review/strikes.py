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
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from typing import Any

from groundtone.errors import GroundtoneError

CENTRE_CIRCLE_MM = 13.0
"""Radius of the centre circle, mm (chosen by us): a strike inside it costs little distance."""

# Middles of the fields from the face's centre, mm (invented).
FIELD_MM = (22.0, 13.0)
# A shank meets the hosel, about so far towards the heel from the face's centre (from memory).
SHANK_MM = (-35.0, 0.0)
# No face is larger than this from its centre, mm.
_FACE_MM = 80.0
FARTHEST_M = 400.0
YARD_M = 0.9144
"""Exact by definition (international yard, 1959)."""
# A strike belongs to the swing whose impact is nearest, but never farther away than this, s.
_NEAR_S = 1.5


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
        """Place on the face: as measured, else a shank's, else the field's middle; NaN where not told."""
        if self.place_mm is not None:
            return self.place_mm
        if self.contact is Contact.SHANK:
            return SHANK_MM
        if self.field is None:
            return math.nan, math.nan
        row, column = divmod(self.field - 1, 3)
        return FIELD_MM[0] * (column - 1), FIELD_MM[1] * (row - 1)

    @property
    def row(self) -> int | None:
        """Row of the face, 0 the lowest, 2 the highest: as told, else the lowest of a thin or topped ball; or None."""
        if self.place_mm is not None:
            return 1 + (self.place_mm[1] > FIELD_MM[1] / 2) - (self.place_mm[1] < -FIELD_MM[1] / 2)
        if self.field is not None:
            return (self.field - 1) // 3
        return 0 if self.contact in (Contact.THIN, Contact.TOPPED) else None

    @property
    def clean(self) -> bool | None:
        """Clean contact, or the centre where only the place was told; None where neither was."""
        if self.contact is not None:
            return self.contact is Contact.CLEAN
        if self.field is not None or self.place_mm is not None:
            return self.inside()
        return None

    @property
    def well_struck(self) -> bool:
        """The ball met the centre, and nothing else was told to be wrong; clean contact alone is enough."""
        return self.clean is True and self.inside() is not False

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


def field_of_key(key: str, hand: str) -> str:
    """The place that a number key stands for where the face is drawn as its golfer sees it, sole down.

    The keys lie as the fields: a right-handed club has its toe on the left, so 4 is its toe; other keys stay.

    Examples
    --------
    >>> field_of_key("4", "right"), field_of_key("7", "left"), field_of_key("c", "right")
    ('6', '7', 'c')
    """
    if hand == "left" or key not in "123456789" or len(key) != 1:
        return key
    row, column = divmod(int(key) - 1, 3)
    return str(3 * row + 3 - column)


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
                metres = float(distance[1].replace(",", ".")) * (YARD_M if yards else 1.0)
                if not metres <= FARTHEST_M:
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


def new_entry() -> str:
    """Id of an entry that is yet to be made."""
    return uuid.uuid4().hex


def table_of(strike: Strike, impact_s: float, entry: str | None = None) -> dict[str, Any]:
    """A strike as an entry.

    Parameters
    ----------
    strike : Strike
        Nothing told takes an entry back.
    impact_s : float
        Impact of its swing, device time, s.
    entry : str, optional
        Id of an entry that this one replaces; without it a new one is made.
    """
    return {
        "id": entry or new_entry(),
        "impact_s": impact_s,
        "undone": not strike.told,
        "field": strike.field,
        "place_mm": list(strike.place_mm) if strike.place_mm is not None else None,
        "contact": strike.contact.value if strike.contact is not None else None,
        "line": strike.line.value if strike.line is not None else None,
        "distance_m": strike.distance_m,
    }


def strike_of(table: Mapping[str, Any]) -> Strike:
    """A strike from its entry.

    Raises
    ------
    StrikeError
        The entry makes no sense.
    """
    try:
        field, place, distance = table.get("field"), table.get("place_mm"), table.get("distance_m")
        if field is not None and field not in range(1, 10):
            raise ValueError
        contact, line = table.get("contact"), table.get("line")
        return Strike(
            field,
            (float(place[0]), float(place[1])) if place is not None else None,
            Contact(contact) if contact is not None else None,
            Line(line) if line is not None else None,
            float(distance) if distance is not None else None,
        )
    except (ValueError, TypeError, IndexError) as error:
        raise StrikeError("a strike of this recording makes no sense: tell it again") from error


def strikes_of_swings(
    entries: Sequence[Mapping[str, Any]], impacts_s: Sequence[float]
) -> list[tuple[Strike, str | None]]:
    """The strike of each swing, and its entry's id.

    Parameters
    ----------
    entries : sequence of mapping
        The recording's strikes, oldest first; of several near one swing the last counts.
    impacts_s : sequence of float
        Impact of each swing, device time, s; NaN takes none.
    """
    out: list[tuple[Strike, str | None]] = [(Strike(), None)] * len(impacts_s)
    for table in entries:
        when = table.get("impact_s")
        if not isinstance(when, int | float):
            continue
        far = [abs(impact - when) if not math.isnan(impact) else math.inf for impact in impacts_s]
        if far and min(far) <= _NEAR_S:
            out[far.index(min(far))] = strike_of(table), str(table.get("id"))
    return out
