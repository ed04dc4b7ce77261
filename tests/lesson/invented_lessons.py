"""Invented lessons: swings whose strikes go with their pressure as closely as wanted."""

import numpy as np

from groundtone.review.strikes import Contact, Strike
from groundtone.review.swings import SwingRow


def session(rng, swings=20, place=0.0, contact=0.0, fields=True):
    """Rows whose place (contact) is correlated with the position in the downswing (the lead share at impact)."""
    pressure = rng.standard_normal((swings, 2))
    link = np.array([place, contact])
    struck = link * pressure + np.sqrt(1 - link**2) * rng.standard_normal((swings, 2))
    rows = []
    for i in range(swings):
        field = 4 if struck[i, 0] > 0.6 else 6 if struck[i, 0] < -0.6 else 5
        met = Contact.TOPPED if struck[i, 1] < -1 else Contact.FAT if struck[i, 1] < -0.2 else Contact.CLEAN
        where = {"field": field} if fields else {"place_mm": (-12 * struck[i, 0], 0.0)}
        values = {"overall_down": 0.6 + 0.04 * pressure[i, 0], "share_impact": 0.75 + 0.06 * pressure[i, 1]}
        rows.append(SwingRow(i + 1, values, strike=Strike(contact=met, **where)))
    return rows
