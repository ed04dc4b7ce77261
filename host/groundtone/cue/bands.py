"""Bands: where silence ends. Data, with defaults from common practice; none of them is a law."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Bands:
    """Limits of the two cues.

    Attributes
    ----------
    toes_before : float
        Overall heel-toe position above which the toes cue sounds in the backswing.
    toes_after : float
        The same after the turn of pressure, overall.
    toes_lead : float
        Position of the lead foot above which it sounds after the turn.
    trail : float
        Lead share below which the trail-side cue sounds after the turn.
    trail_after_impact : bool
        False ends the trail-side cue at impact (for a golfer of the reverse style, when the coach says so).
    ease : float
        How far back inside a value must come for a sounding cue to stop (hysteresis).
    dwell_setup_s, dwell_swing_s : float
        How long a value must be outside before the toes cue sounds: at setup and in the backswing, after the turn.
    dwell_trail_s : float
        Time after the turn of pressure that a good swing needs to come across.
    full_toes, full_trail : float
        How far outside the band the cue reaches its full size.
    toes_setup : float
        As `toes_before`, at setup.
    """

    toes_before: float = 0.67
    toes_after: float = 0.67
    toes_lead: float = 0.70
    trail: float = 0.58
    trail_after_impact: bool = True
    ease: float = 0.03
    dwell_setup_s: float = 0.25
    dwell_swing_s: float = 0.03
    dwell_trail_s: float = 0.36
    full_toes: float = 0.20
    full_trail: float = 0.30
    toes_setup: float = 0.72

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if not math.isfinite(value):
                raise ValueError(f"band {name} is not a number: give one between 0 and 1")
        for name in ("toes_setup", "toes_before", "toes_after", "toes_lead", "trail"):
            if not 0 < getattr(self, name) < 1:
                raise ValueError(f"band {name} = {getattr(self, name)} lies outside 0 to 1")
        if min(self.dwell_setup_s, self.dwell_swing_s, self.dwell_trail_s) < 0:
            raise ValueError("a dwell is a time to wait and must not be negative")
        if self.ease < 0 or min(self.full_toes, self.full_trail) <= 0:
            raise ValueError("ease must not be negative, and full_toes and full_trail must lie above zero")
