"""Strikes as entries of a recording."""

from __future__ import annotations

import math
import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from groundtone.lesson.strikes import Contact, Line, Strike, StrikeError

# A strike belongs to the swing whose impact is nearest, but never farther away than this, s.
_NEAR_S = 1.5


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
