"""What good means for one golfer: how likely a swing is well struck, learnt from where pressure was in their balls.

A logistic regression on heel-toe position, lead share and tempo with their squares, fitted by statsmodels. While balls
are few it is shrunk towards the trade's picture, which comes in as balls that were never hit (conditional means priors:
Bedrick, Christensen and Johnson, Journal of the American Statistical Association 91, 1996; from memory). The picture
and its weight are common practice and invented: no band is a law.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groundtone.errors import GroundtoneError
from groundtone.feel.agreement import Array

FEWEST = 12
"""With fewer balls of a club class, or fewer than 3 of either kind, nothing is claimed."""
_OF_A_KIND = 3
TEN = 10
# The picture: each axis's usual value, how far off makes a difference, and how much of the good ones is left there. In
# the middle so many are well struck (invented; a fair amateur).
USUAL = np.array([0.50, 0.78, 3.0])
_FAR = np.array([0.12, 0.16, 0.8])
_GOOD, _LEFT = 0.65, np.array([0.45, 0.45, 0.55])
# So many balls each point of the picture is worth: of 2, 3 and 4 the one whose probabilities held best on golfers 0 to
# 299 of `study feel` (with 2, of 0.84 foretold 0.80 came); the score of Brier is the same.
_WORTH = 3.0
# The band that is proposed is as wide as the trade's, and no nearer to the ends than this, per axis.
BANDS = {"position": (0.32, 0.67), "share": (0.58, 0.98)}
_TRY = {"position": np.linspace(0.38, 0.62, 25), "share": np.linspace(0.62, 0.92, 31)}
# What is proposed is where the least that is gained with so much certainty is greatest, not where most is hoped for: a
# hope is greatest where least is known. It needs an average gain, a model that is so sure that there is a best place at
# all (the curve bends down), and a place where the golfer's own balls have been. On golfers 10000 to 13999 of `study
# feel`, which judges others: none of 145 proposals loses a strike; the greatest hope, 97 % sure, lost with 1 of 18.
_SURE, _GAIN, _BENDS = 0.99, 0.02, 0.95
_REACH = (0.10, 0.90)
_DRAWS = 1000


@dataclass(frozen=True)
class Chance:
    """How likely a swing is well struck.

    Attributes
    ----------
    p : float
        0-1, the doubt of the model averaged in.
    low, high : int
        Of ten such swings so many are well struck, 80 times of 100.
    """

    p: float
    low: int
    high: int


@dataclass(frozen=True)
class Proposal:
    """Where the middle of a band should be for this golfer.

    Attributes
    ----------
    axis : str
        "position" or "share".
    usual, proposed : float
        The trade's middle and the golfer's; the same where nothing speaks clearly for another.
    sure : float
        How likely the proposed one brings more good strikes than the usual one, 0-1.
    gain : float
        How many more of a hundred, on average.
    least : float
        How many more of a hundred with 99 % of certainty.
    """

    axis: str
    usual: float
    proposed: float
    sure: float
    gain: float
    least: float = 0.0

    @property
    def moved(self) -> bool:
        """There is something to propose."""
        return self.proposed != self.usual


@dataclass(frozen=True)
class StrikeModel:
    """A fitted model.

    Attributes
    ----------
    n, good : int
        Balls it was learnt from, and those of them that were well struck.
    spread : ndarray, shape (3,)
        Standard deviation of the golfer's own balls on each axis.
    reach : ndarray, shape (3, 2)
        Between these the middle eight tenths of their balls were, on each axis.
    mean, root : ndarray
        Coefficients and a root of their covariance; see `_features`.
    """

    n: int
    good: int
    spread: Array
    reach: Array
    mean: Array
    root: Array

    @property
    def enough(self) -> bool:
        """There are balls enough to claim something."""
        return self.n >= FEWEST and min(self.good, self.n - self.good) >= _OF_A_KIND

    def chances(self, balls: Array) -> Array:
        """Probability of a good strike for each of some balls (position, share, tempo), shape (n, 3)."""
        drawn = self._drawn()
        from scipy.special import expit  # not before it is needed: it takes a moment to load

        chance: Array = expit(_features(balls) @ drawn.T).mean(axis=1)
        return chance

    def of_ten(self, position: float, share: float, tempo: float = math.nan) -> Chance:
        """How many of ten such swings are well struck."""
        from scipy.special import expit
        from scipy.stats import binom

        p = expit(_features(np.array([[position, share, tempo]])) @ self._drawn().T)[0]
        counts = np.arange(TEN + 1)
        below = np.cumsum(binom.pmf(counts[:, None], TEN, p[None, :]).mean(axis=1))
        low, high = (int(np.searchsorted(below, part)) for part in (0.10, 0.90))
        return Chance(float(p.mean()), low, high)

    def propose(self, axis: str) -> Proposal:
        """Where the middle of the band of an axis should be.

        The golfer is taken to aim at the middle and to scatter about it as so far; on the other axes they stay at the
        usual values.
        """
        at = list(BANDS).index(axis)
        usual = float(USUAL[at])
        places = np.append(_TRY[axis], usual)
        scatter = np.linspace(-1.5, 1.5, 7)
        weights = np.exp(-0.5 * scatter**2)
        balls = np.tile(USUAL, (places.size * scatter.size, 1))
        balls[:, at] = (places[:, None] + scatter[None, :] * self.spread[at]).ravel()
        from scipy.special import expit

        drawn = self._drawn()
        good = expit(_features(balls) @ drawn.T).reshape(places.size, scatter.size, -1)
        value = np.einsum("psd,s->pd", good, weights / weights.sum())
        more = value[:-1] - value[-1]
        sure, gain, least = (more > 0).mean(axis=1), more.mean(axis=1), np.quantile(more, 1.0 - _SURE, axis=1)
        # Beyond the golfer's own balls nothing is known.
        been = (self.reach[at, 0] <= places[:-1]) & (places[:-1] <= self.reach[at, 1])
        best = int(np.argmax(np.where(been, least, -1.0)))
        bends = float((drawn[:, 1 + USUAL.size + at] < 0.0).mean())
        if not self.enough or not been[best] or least[best] <= 0.0 or gain[best] < _GAIN or bends < _BENDS:
            return Proposal(axis, usual, usual, float(sure[best]), 0.0)
        return Proposal(
            axis, usual, float(places[best]), float(sure[best]), 100.0 * float(gain[best]), 100.0 * float(least[best])
        )

    def _drawn(self) -> Array:
        rng = np.random.default_rng([self.n, self.good, 18])
        out: Array = self.mean + rng.standard_normal((_DRAWS, self.mean.size)) @ self.root.T
        return out


def learn(balls: Sequence[tuple[float, float, float]], good: Sequence[bool]) -> StrikeModel:
    """A golfer's model from their balls of one club class.

    Parameters
    ----------
    balls : sequence of (float, float, float)
        Heel-toe position and lead share at impact, and tempo; a ball without position or share is left out, a tempo
        that is not known counts as the usual one.
    good : sequence of bool
        Whether each was well struck.
    """
    try:
        # Two seconds to import, and only where a model is asked for.
        import statsmodels.api as sm
    except ImportError as error:
        raise GroundtoneError("the model of strikes needs statsmodels: pip install 'groundtone[feel]'") from error

    all_balls = np.array(balls, dtype=np.float64).reshape(-1, 3)
    known = np.isfinite(all_balls[:, :2]).all(axis=1)
    own, hit = all_balls[known], np.array(good, dtype=np.float64)[known]
    points, parts = _picture()
    design = _features(np.concatenate([own, points]))
    success = np.concatenate([hit, _WORTH * parts])
    failure = np.concatenate([1.0 - hit, _WORTH * (1.0 - parts)])
    with warnings.catch_warnings():
        # The picture alone is met exactly; with it no balls are ever separated.
        warnings.simplefilter("ignore")
        fit = sm.GLM(np.stack([success, failure], axis=1), design, family=sm.families.Binomial()).fit(scale=1.0)
    covariance = np.asarray(fit.cov_params(), dtype=np.float64)
    spread = np.array([0.05, 0.07, 0.3])
    reach = np.tile(USUAL[:, None], (1, 2))
    if len(own) >= FEWEST:
        spread = np.maximum(np.nanstd(_filled(own), axis=0), 0.02)
        reach = np.quantile(_filled(own), _REACH, axis=0).T
    root = np.linalg.cholesky(covariance + 1e-12 * np.eye(len(covariance)))
    mean = np.asarray(fit.params, dtype=np.float64)
    return StrikeModel(len(own), int(hit.sum()), spread, reach, mean, np.asarray(root, dtype=np.float64))


def _filled(balls: Array) -> Array:
    return np.where(np.isfinite(balls), balls, USUAL)


def _features(balls: Array) -> Array:
    """One, each axis from its usual value in steps that make a difference, and the squares, shape (n, 7)."""
    z = (_filled(balls) - USUAL) / _FAR
    return np.concatenate([np.ones((len(z), 1)), z, z**2], axis=1)


def _picture() -> tuple[Array, Array]:
    """The trade's picture as balls: one in the middle and one on each side of every axis; how many are good there."""
    points, parts = [USUAL], [_GOOD]
    for axis in range(USUAL.size):
        for side in (-1.0, 1.0):
            point = USUAL.copy()
            point[axis] += side * _FAR[axis]
            points.append(point)
            parts.append(_GOOD * _LEFT[axis])
    return np.array(points), np.array(parts)
