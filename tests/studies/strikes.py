"""What goes with what: how often a link is claimed where there is none, and found where there is one."""

from __future__ import annotations

from typing import Any

import numpy as np

from groundtone.lesson.strike_links import strike_links
from groundtone.review.strikes import Contact, Strike
from groundtone.review.swings import SwingRow

SWINGS = 20
# Where a drawn strike crosses from one field, or one contact, to the next (standard deviations).
_FIELD, _FAT, _TOPPED = 0.6, -0.2, -1.0


def session(rng: np.random.Generator, link: float, *, fields: bool) -> list[SwingRow]:
    """Invented swings whose strikes are correlated with their pressure by `link`, before they are told in words."""
    pressure = rng.standard_normal((SWINGS, 2))
    struck = link * pressure + np.sqrt(1 - link**2) * rng.standard_normal((SWINGS, 2))
    rows = []
    for number, ((toes, lead), (place, low)) in enumerate(zip(pressure, struck, strict=True)):
        contact = Contact.TOPPED if low < _TOPPED else Contact.FAT if low < _FAT else Contact.CLEAN
        if fields:
            strike = Strike(field=4 if place > _FIELD else 6 if place < -_FIELD else 5, contact=contact)
        else:
            strike = Strike(place_mm=(-12.0 * place, 0.0), contact=contact)
        values = {"overall_down": 0.6 + 0.04 * toes, "share_impact": 0.75 + 0.06 * lead}
        rows.append(SwingRow(number, values, strike=strike))
    return rows


def study_strikes(seeds: int | None = None) -> dict[str, Any]:
    """The figures over `seeds` sessions (1,000) of 20 swings each; `ok` says whether each is what is asked for."""
    sessions = seeds or 1000
    out: dict[str, Any] = {"sessions of 20 swings": sessions}
    ok = True
    for told, fields in (("places in mm", False), ("places as heel, centre, toe", True)):
        for link in (0.0, 0.7):
            rng = np.random.default_rng([7, int(10 * link), fields])
            claims = np.array(
                [
                    [answer.claimed for answer in strike_links(session(rng, link, fields=fields))]
                    for _ in range(sessions)
                ]
            )
            some = float(claims.any(axis=1).mean())
            name = f"correlation {link:g}, {told}"
            out[f"{name}: sessions that claim a link"] = round(some, 4)
            if link:
                out[f"{name}: place found"] = round(float(claims[:, 0].mean()), 4)
                out[f"{name}: contact found"] = round(float(claims[:, 1].mean()), 4)
            # At most 5 % without a link, as far as so many sessions can tell (two standard deviations).
            allowed = 0.05 + 2 * (0.05 * 0.95 / sessions) ** 0.5
            ok &= some >= 0.8 if link else some <= allowed
    out["ok"] = ok
    return out
