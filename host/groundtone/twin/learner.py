"""A simulated learner: does what is asked as well as they can, feels it with an error, practises, and forgets.

All ranges are invented, and wide: nobody has been measured. What is learnt has two parts, a quick one that is soon gone
and a slow one that stays (two states of different pace: Smith, Ghazizadeh and Shadmehr, PLoS Biology 4(6), 2006; their
form from memory). What makes the slow part grow faster, or slower, is planted.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class LearnerSpec:
    """Who it is; places and shares are parts, 0 to 1.

    Doing what is asked: `gain` of the way from `middle` to the place asked for, `offset` beside it, `spread` from try
    to try of which the part `memory` carries over to the next one, `growth` what the gain wins over a hundred tries.
    Feeling: `feel_bias` felt less true, `feel_spread` from swing to swing, `feel_heals` part of the bias that each
    answer told takes away.
    Practice: `fault` how far off the swing is at first, `quick` and `slow` the parts of what is seen to be wrong that a
    try mends in either trace, `own_ear` how much of it is seen without a tone, `change_helps` and `silence_helps` how
    much more of a try stays (below 0: less) when the ball before was another club's and when no tone told,
    `forgets` part of the slow trace that a day takes.
    """

    middle: float = 0.52
    gain: float = 0.8
    offset: float = 0.0
    spread: float = 0.04
    memory: float = 0.3
    growth: float = 0.0
    feel_bias: float = 0.0
    feel_spread: float = 0.06
    feel_heals: float = 0.0
    fault: float = 0.15
    quick: float = 0.25
    slow: float = 0.02
    own_ear: float = 0.4
    change_helps: float = 1.0
    silence_helps: float = 1.0
    forgets: float = 0.02


def drawn(rng: np.random.Generator) -> LearnerSpec:
    """A learner out of a wide population."""

    def draw(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    return LearnerSpec(
        middle=draw(0.46, 0.58),
        gain=draw(0.2, 1.15),
        offset=draw(-0.06, 0.06),
        spread=float(np.exp(rng.uniform(math.log(0.015), math.log(0.08)))),
        memory=draw(0.0, 0.5),
        growth=draw(-0.1, 0.3),
        feel_bias=draw(-0.12, 0.12),
        feel_spread=float(np.exp(rng.uniform(math.log(0.03), math.log(0.15)))),
        feel_heals=draw(0.0, 0.02),
        fault=draw(0.08, 0.22),
        quick=draw(0.1, 0.4),
        slow=draw(0.01, 0.04),
        own_ear=draw(0.2, 0.7),
        forgets=draw(0.005, 0.05),
    )


class Learner:
    """A learner at work; what is true of them stands in `did`, `asked`, `biases`, one entry a try or a guess.

    Parameters
    ----------
    seed : int
        Draws every try.
    """

    def __init__(self, spec: LearnerSpec, seed: int = 1) -> None:
        self.spec = spec
        self._rng = np.random.default_rng([seed, 18])
        self._error = float(self._rng.normal(0.0, spec.spread))
        self._bias = spec.feel_bias
        self._tries = 0
        self.meant: list[float] = []
        self.biases: list[float] = []
        self.quick_part = self.slow_part = 0.0

    def means(self, asked: float) -> float:
        """Where pressure would go on average when asked for a place, now."""
        s = self.spec
        gain = s.gain + s.growth * self._tries / 100.0
        return s.middle + s.offset + gain * (asked - s.middle)

    def does(self, asked: float) -> float:
        """One try at a place: where pressure goes."""
        mean = self.means(asked)
        self.meant.append(mean)
        self._tries += 1
        return mean + self._stray()

    def feels(self, true: float) -> float:
        """Where the pressure of a swing was felt; the answer is told afterwards."""
        self.biases.append(self._bias)
        felt = true + self._bias + float(self._rng.normal(0.0, self.spec.feel_spread))
        self._bias *= 1.0 - self.spec.feel_heals
        return felt

    def practises(self, balls: Iterable[tuple[str, bool]]) -> list[float]:
        """Hits balls, each of a club and with the tone or without; how far off each was."""
        out, before, s = [], "", self.spec
        for club, tone in balls:
            off = s.fault - self.quick_part - self.slow_part
            seen = off + self._stray()
            out.append(seen)
            heard = seen * (1.0 if tone else s.own_ear)
            more = 1.0 + (s.change_helps if before and club != before else 0.0) + (0.0 if tone else s.silence_helps)
            self.quick_part = 0.92 * self.quick_part + s.quick * heard
            self.slow_part = 0.999 * self.slow_part + max(0.0, s.slow * more) * heard
            before = club
        return out

    def sleeps(self, days: float) -> None:
        """Time goes by: the quick part is gone, of the slow one some."""
        self.quick_part *= math.exp(-5.0 * days)
        self.slow_part *= (1.0 - self.spec.forgets) ** days

    def silent(self, n: int) -> list[float]:
        """How far off each of some balls is without a tone, with nothing learnt from them."""
        return [self.spec.fault - self.quick_part - self.slow_part + self._stray() for _ in range(n)]

    def _stray(self) -> float:
        s = self.spec
        fresh = float(self._rng.normal(0.0, s.spread))
        self._error = s.memory * self._error + math.sqrt(1.0 - s.memory**2) * fresh
        return self._error


class Striker:
    """A golfer whose good strikes come from a place of their own: the nearer a ball is to it, the likelier a good one.

    Ranges are invented and wide: some are best off the usual place, some do not care where the pressure is.

    Attributes
    ----------
    best, width : ndarray, shape (3,)
        Heel-toe position and lead share at impact and tempo where most are good, and how far off halves the odds or so.
    usual, scatter : ndarray, shape (3,)
        Where this golfer's own balls are.
    """

    def __init__(self, seed: int) -> None:
        self._rng = rng = np.random.default_rng([seed, 81])
        self.best = rng.normal((0.50, 0.78, 3.0), (0.05, 0.07, 0.4))
        self.width = np.array((0.10, 0.14, 1.0)) * np.exp(rng.normal(0.0, 0.4, 3))
        self._top = float(rng.uniform(0.0, 2.0))
        self.usual = rng.normal((0.50, 0.78, 3.0), (0.04, 0.06, 0.3))
        self.scatter = rng.uniform((0.02, 0.03, 0.15), (0.06, 0.10, 0.5))

    def chance(self, balls: np.ndarray) -> np.ndarray:
        """How likely each ball (position, share, tempo) is well struck, shape (n,)."""
        off = np.sum(((balls - self.best) / self.width) ** 2, axis=1)
        return np.asarray(1.0 / (1.0 + np.exp(off - self._top)))

    def balls(self, n: int) -> np.ndarray:
        """Balls of this golfer, shape (n, 3)."""
        return self._rng.normal(self.usual, self.scatter, (n, 3))

    def struck(self, balls: np.ndarray) -> np.ndarray:
        """Whether each was well struck, shape (n,)."""
        return np.asarray(self._rng.random(len(balls)) < self.chance(balls))
