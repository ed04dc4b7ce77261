"""Taps with a foot: the golfer stands on the other one, lifts the foot (or an end of it), touches once, sets it down.

All sizes and times are invented, and wide: nobody has been measured. A tap is free (the whole foot in the air) or on a
rest (the other end of the foot stays on the mat with part of the weight).
"""

from typing import NamedTuple

import numpy as np

from groundtone.gravity import STANDARD_GRAVITY
from groundtone.twin.scenario import TAPS
from groundtone.twin.tracks import Track

# Where the tapping end presses along the sole, and the resting one, whose other end is in the air.
TOE, HEEL, WHOLE = (0.76, 0.89), (0.16, 0.26), (0.36, 0.56)
TOE_REST, HEEL_REST = (0.80, 0.89), (0.155, 0.20)
# Part of the body's weight with which the end comes down.
FORCE = (0.045, 0.25)
LEAST_N = 15.0


class Tap(NamedTuple):
    """One tap as it was made: `begin_s` and `end_s` of the touch, the place of `TAPS`, its force, and what rests."""

    begin_s: float
    end_s: float
    place: str
    force: float
    rest: float


def tap(
    place: str,
    share: Track,
    heel_toe: tuple[Track, Track],
    weights: Track,
    mass_kg: float,
    rng: np.random.Generator,
    now: float,
) -> tuple[Tap, float]:
    """Draw one tap from standing on both feet, and back to it.

    Parameters
    ----------
    place : str
        One of `TAPS`.
    share, heel_toe, weights : Track
        They end at or before `now`; index 0 of `heel_toe` is the lead foot.
    mass_kg : float
    rng : Generator
    now : float
        s.

    Returns
    -------
    Tap
    float
        When both feet stand again, s.
    """

    def draw(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    if place not in TAPS:
        raise ValueError(f"a tap's place must be one of {', '.join(TAPS)}")
    side, end = place.split()
    foot = 0 if side == "lead" else 1
    where = draw(*{"toe": TOE, "heel": HEEL, "foot": WHOLE}[end])
    on_rest = end != "foot" and rng.random() < 0.5
    rest = draw(0.04, 0.18) if on_rest else 0.0
    rest_at = draw(*(HEEL_REST if end == "toe" else TOE_REST)) if on_rest else where
    force = max(float(np.exp(rng.uniform(*np.log(FORCE)))), LEAST_N / (STANDARD_GRAVITY * mass_kg))
    alone = 0.0 if foot == 0 else 1.0
    towards = 1.0 if foot == 0 else -1.0

    def of_foot(part: float) -> float:
        return alone + towards * part

    track = heel_toe[foot]
    up = now + draw(0.35, 0.9)
    share.to(up, of_foot(rest))
    # The heel leaves first, unless it is what rests.
    track.to(up, rest_at if on_rest else draw(0.5, 0.78))
    begin = up + draw(0.15, 0.7)
    share.stay(begin)
    track.to(begin, rest_at)
    rise, held, fall = draw(0.03, 0.10), draw(0.0, 0.18), draw(0.03, 0.12)
    both = (rest * rest_at + force * where) / (rest + force)
    share.extend([(begin + rise, of_foot(rest + force)), (begin + rise + held + 0.005, of_foot(rest + force))])
    track.extend([(begin + rise, both), (begin + rise + held + 0.005, both)])
    done = begin + rise + held + 0.005 + fall
    share.to(done, of_foot(rest))
    track.to(done, rest_at)
    # The body answers a little.
    weights.extend([(begin, 1.0), (begin + rise, 1.0 + draw(-0.02, 0.03)), (done + 0.1, 1.0)])
    down = done + draw(0.12, 0.5)
    share.stay(down)
    track.stay(down)
    over = down + draw(0.35, 0.8)
    share.to(over, 0.5 + draw(-0.05, 0.05))
    track.to(over, 0.48)
    return Tap(begin, done, place, force, rest), over
