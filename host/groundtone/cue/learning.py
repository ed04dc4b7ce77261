"""Bands from a golfer's own well-struck swings: where most of them lie, and a little room. Pure functions.

The rule: for each swing the furthest of the measures that a band names; over the swings their median and spread
(1.4826 times the median absolute deviation, the standard deviation of a normal distribution: robust, a mis-hit more or
less moves little). The limit lies `ROOM` spreads beyond the median, at least `LEAST`, and inside what the band allows.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from groundtone.cue.personal import Own, Personal
from groundtone.cue.rulebook import Band, Rulebook
from groundtone.cue.rulefile import default_rules
from groundtone.errors import RulesError

NEEDED = 5
"""So many well-struck swings at least."""
# Learnt from twelve, about one in fifteen of such swings lies outside, from many one in forty (normal distribution).
# What the mat cannot tell apart is no reason for a tone.
ROOM, LEAST = 2.0, 0.03


@dataclass(frozen=True)
class Learnt:
    """What came of one band.

    Attributes
    ----------
    own : Own or None
        None where it stays as it is; `why` says why.
    before : float
        The limit until now.
    """

    band: str
    own: Own | None
    before: float
    why: str = ""


def limit_of(band: Band, swings: Sequence[Mapping[str, float]]) -> Own | None:
    """The limit that fits these swings; None where too few of them have all that the band names.

    Parameters
    ----------
    swings : sequence of mapping
        Measures of well-struck swings by name; NaN and missing ones do not count.
    """
    worst = max if band.upper else min
    known = [
        worst(values)
        for values in ([swing.get(name, math.nan) for name in band.learn] for swing in swings)
        if all(map(math.isfinite, values))
    ]
    if len(known) < NEEDED:
        return None
    middle = float(np.median(known))
    spread = 1.4826 * float(np.median(np.abs(np.array(known) - middle)))
    room = max(ROOM * spread, LEAST)
    low, high = sorted((band.tightest, band.widest))
    limit = min(max(middle + room if band.upper else middle - room, low), high)
    return Own(round(limit, 3), "learnt", len(known), round(middle, 4), round(spread, 4))


def learn(
    personal: Personal, swings: Sequence[Mapping[str, float]], base: Rulebook | None = None, *, kind: str = ""
) -> tuple[Personal, list[Learnt]]:
    """A golfer's bands from their well-struck swings.

    Parameters
    ----------
    personal : Personal
        Locked bands stay as they are.
    swings : sequence of mapping
        See `limit_of`.
    base : Rulebook, optional
        The rules of the house; the program's without them.
    kind : str
        The class of clubs that the swings were made with and the limits are for; empty: all clubs.

    Returns
    -------
    Personal
    list of Learnt
        One for each band that can be learnt.

    Raises
    ------
    RulesError
        There are too few swings; it says how many are missing.
    """
    if len(swings) < NEEDED:
        missing = NEEDED - len(swings)
        raise RulesError(
            f"{len(swings)} well-struck swings are in the library and {NEEDED} are needed: hit {missing} more from the "
            "centre of the face and tell the strikes"
        )
    base = base or default_rules()
    rules = personal.rules(base, kind)
    out: list[Learnt] = []
    for plain in base.bands():
        if not (plain.learn and plain.movable):
            continue
        now = rules.band(plain.name).limit
        if plain.name in personal.locked:
            out.append(Learnt(plain.name, None, now, "locked"))
            continue
        own = limit_of(plain, swings)
        why = "" if own is not None else f"fewer than {NEEDED} of the swings have what it needs"
        out.append(Learnt(plain.name, own, now, why))
    return personal.with_own({each.band: each.own for each in out if each.own is not None}, kind), out
