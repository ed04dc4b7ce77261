"""Which measures a lesson looks at, by which words and bands: few on purpose, for each further one costs certainty."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

from groundtone.lesson.compare import Looked
from groundtone.review.strikes import Contact
from groundtone.review.swings import club_class
from groundtone.swing.bands import Bands, default_bands

# Measure, words, unit, and the smallest change that matters to anybody (chosen by us).
_WORDS = (
    ("share_setup", "lead share at setup", "%", 0.02),
    ("overall_setup", "heel-toe position at setup", "%", 0.02),
    ("overall_most_down", "furthest towards the toes in the downswing", "%", 0.02),
    ("overall_least_down", "furthest towards the heels in the downswing", "%", 0.02),
    ("share_impact", "lead share at impact", "%", 0.03),
    ("side_shift", "shift to the lead side in the downswing", "%", 0.03),
    ("lead_heel_work", "lead heel taking over", "%", 0.03),
    ("turn_early", "turn of pressure, part of the way to impact", "%", 0.03),
    ("tempo", "tempo", "", 0.2),
    ("held_s", "finish held", "s", 0.3),
)


def looked_at(
    bands: Bands | None = None, *, club: str = "", contacts: Sequence[Contact] = (), coach: Collection[str] = ()
) -> tuple[Looked, ...]:
    """The measures with their bands.

    What only one school calls a fault has no band here, and neither has trail side at impact unless strikes were fat,
    thin or topped, or the coach says so: a change is told, and neither called better nor worse.

    Parameters
    ----------
    bands : Bands, optional
        The program's own without them.
    club : str
        As it was written down: "7 iron".
    contacts : sequence of Contact
        From the strike log.
    coach : collection of str
        Findings that the coach calls a fault in any case.
    """
    bands = bands or default_bands()
    bad = sum(contact.value in bands.bad_contacts for contact in contacts)
    poor = bad >= bands.contact_least and bad >= bands.contact_part * len(contacts)
    limits: dict[str, tuple[float, float]] = {}
    for band in (band.for_club(club_class(club)) for band in bands.findings):
        fault = band.name in coach or (poor if band.needs_contact else band.fault)
        if fault and band.also is None:
            low, high = limits.get(band.measure, (-math.inf, math.inf))
            limits[band.measure] = max(low, band.low), min(high, band.high)
    anywhere = (-math.inf, math.inf)
    return tuple(Looked(name, words, unit, limits.get(name, anywhere), step) for name, words, unit, step in _WORDS)
