"""Invented golfers whose swings hang together: what their lessons measure when something, or nothing, has changed.

Arrays alone, and nothing of the program: whoever is judged by these golfers must not have made them. A swing is like
the swing before it (autocorrelation), a session drifts and tires, a block and a day have places of their own, the
measures of a foot go together, some measures stop at a floor or come in steps, and now and then a swing is a wild one.
Every number here is invented, and wider than what is asked of the program.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Name, where this golfer usually is, the scatter (one standard deviation), floor, ceiling, step in which it comes.
_MEASURES = (
    ("share_setup", 0.52, 0.03, 0.0, 1.0, 0.0),
    ("overall_setup", 0.56, 0.03, 0.0, 1.0, 0.0),
    ("overall_most_down", 0.69, 0.05, 0.0, 1.0, 0.0),
    ("overall_least_late", 0.36, 0.06, 0.26, 1.0, 0.0),
    ("share_impact", 0.70, 0.06, 0.0, 1.0, 0.0),
    ("side_shift", 0.40, 0.06, 0.0, 1.0, 0.0),
    ("lead_heel_work", 0.20, 0.07, 0.0, 1.0, 0.0),
    ("turn_early", 0.45, 0.05, 0.0, 1.0, 0.0),
    ("held_s", 1.30, 0.70, 0.0, 3.0, 0.5),
    ("overall_down", 0.55, 0.04, 0.0, 1.0, 0.0),
    ("tempo", 3.00, 0.30, 0.0, 9.0, 0.1),
)
NAMES = tuple(row[0] for row in _MEASURES)
USUAL, SCATTER, FLOOR, CEILING, STEP = (np.array([row[k] for row in _MEASURES]) for k in range(1, 6))
PLAIN = np.array([name not in ("overall_least_late", "tempo", "held_s") for name in NAMES])
"""Measures without floor and steps: what was done to them is exactly what their middles moved by."""
CHANGED = NAMES.index("overall_most_down")
"""The measure that a lesson changes, where one does: from outside its band to inside."""
DOWN, IMPACT = NAMES.index("overall_down"), NAMES.index("share_impact")
# What measures have in common: a column a cause (toes, sides, pace), the loading of each measure on it.
_COMMON = np.zeros((len(NAMES), 3))
for _cause, _loads in enumerate(
    (
        {"overall_setup": 0.5, "overall_most_down": 0.7, "overall_least_late": 0.6, "overall_down": 0.8,
         "lead_heel_work": -0.4},
        {"share_setup": 0.5, "share_impact": 0.6, "side_shift": 0.6, "lead_heel_work": 0.3},
        {"turn_early": 0.5, "tempo": 0.6, "held_s": 0.3},
    )
):  # fmt: skip
    for _name, _load in _loads.items():
        _COMMON[NAMES.index(_name), _cause] = _load
_OWN = np.sqrt(1 - (_COMMON**2).sum(1))
# Strikes: along the face, mm for one standard deviation; below these heights of the club a ball is fat, or topped.
ALONG_MM, FAT, TOPPED = 12.0, -0.3, -1.3


@dataclass(frozen=True)
class Habits:
    """How a golfer's swings hang together; ranges are drawn from, lesson by lesson. Parts of the scatter.

    Attributes
    ----------
    autocorrelation : (float, float)
        Of a swing with the swing before it, least and most.
    drift : (float, float)
        From the first swing of a day to the last, either way.
    fatigue : (float, float)
        By how much the middle goes off over the last third, either way; the scatter grows by half of it.
    block, day : (float, float)
        Standard deviation of a block's, and of a day's own place.
    wild : float
        Part of the swings that go astray, by three scatters more.
    """

    autocorrelation: tuple[float, float] = (0.0, 0.0)
    drift: tuple[float, float] = (0.0, 0.0)
    fatigue: tuple[float, float] = (0.0, 0.0)
    block: tuple[float, float] = (0.0, 0.0)
    day: tuple[float, float] = (0.0, 0.0)
    wild: float = 0.0


@dataclass(frozen=True)
class Plan:
    """What is hit in a lesson, in order.

    Attributes
    ----------
    blocks : tuple of (int, int)
        Side (0 before or silent, 1 after or cued, -1 between them and not counted) and swings of each block.
    days : int
        The whole on so many days.
    """

    blocks: tuple[tuple[int, int], ...]
    days: int = 1

    @property
    def side(self) -> NDArray[np.int64]:
        """Of each swing of a day."""
        return np.repeat([side for side, _ in self.blocks], [many for _, many in self.blocks])

    @property
    def block(self) -> NDArray[np.int64]:
        """Number of each swing's block, from 0, in a day."""
        return np.repeat(np.arange(len(self.blocks)), [many for _, many in self.blocks])


@dataclass(frozen=True)
class Drawn:
    """Lessons.

    Attributes
    ----------
    values : ndarray, shape (lessons, days, swings, measures)
    along_mm, height : ndarray, shape (lessons, days, swings)
        Place of the strike along the face, mm, and how high the club came in, in scatters (`FAT`, `TOPPED`).
    change : ndarray, shape (measures,)
        What the lesson did to the after side.
    differ : ndarray, shape (lessons, measures)
        By how much the two sides of the first day lie apart, with drift and fatigue, without chance.
    """

    plan: Plan
    values: Array
    along_mm: Array
    height: Array
    change: Array
    differ: Array


def lessons(
    rng: np.random.Generator, many: int, plan: Plan, habits: Habits, *, gain: float = 0.0, link: float = 0.0
) -> Drawn:
    """Draws lessons.

    Parameters
    ----------
    gain : float
        By how many scatters the after side of `CHANGED` is less than the before side.
    link : float
        Correlation, swing by swing, of `DOWN` with the place along the face and of `IMPACT` with the height.
    """
    side, block, count = plan.side, plan.block, len(NAMES)
    shape = (many, plan.days, side.size)
    rho = _ranged(rng, habits.autocorrelation, (many, 1, 1))
    moved = _moved(rng, habits, shape, count)
    block_u = _ranged(rng, habits.block, (many, 1, 1, 1))
    day_u = _ranged(rng, habits.day, (many, 1, 1, 1))
    own = block_u * rng.standard_normal((many, plan.days, len(plan.blocks), count))[:, :, block]
    own = own + day_u * rng.standard_normal((many, plan.days, 1, count))
    chance = _chained(rng, rho, _together(rng, shape))
    tired = 1 + 0.5 * _late(side.size) * _ranged(rng, habits.fatigue, (many, 1, 1))
    chance = chance * tired[..., None]
    chance = chance + (rng.random(shape) < habits.wild)[..., None] * 3.0 * rng.standard_normal((*shape, count))
    z = moved + own + chance
    strikes = _strikes(rng, habits, plan, rho, z - moved, link)
    change = np.zeros(count)
    change[CHANGED] = -gain * SCATTER[CHANGED]
    values = USUAL + SCATTER * z + (side == 1)[:, None] * change
    stepped = np.where(STEP > 0, np.round(values / np.where(STEP > 0, STEP, 1.0)) * STEP, values)
    first = moved[:, 0]
    sides = [first[:, side == k].mean(1) if (side == k).any() else np.zeros((many, count)) for k in (0, 1)]
    differ = (sides[1] - sides[0]) * SCATTER + change
    return Drawn(plan, np.clip(stepped, FLOOR, CEILING), ALONG_MM * strikes[..., 0], strikes[..., 1], change, differ)


def _ranged(rng: np.random.Generator, between: tuple[float, float], shape: tuple[int, ...]) -> Array:
    return rng.uniform(between[0], between[1], shape)


def _late(swings: int) -> Array:
    """From 0 to 1 over the last third."""
    return np.clip((np.linspace(0.0, 1.0, swings) - 2 / 3) * 3, 0.0, 1.0)


def _moved(rng: np.random.Generator, habits: Habits, shape: tuple[int, int, int], count: int) -> Array:
    """Drift and fatigue of each measure: straight, soon over, or late; either way."""
    many, days, swings = shape
    u = np.linspace(0.0, 1.0, swings)
    ways = np.stack([u, (1 - np.exp(-4 * u)) / (1 - np.exp(-4)), u**3])
    form = ways[rng.integers(len(ways), size=(many, days, count))]
    sign, other = (rng.choice([-1.0, 1.0], (many, days, count, 1)) for _ in range(2))
    drift = _ranged(rng, habits.drift, (many, 1, 1, 1)) * sign * form
    tired = _ranged(rng, habits.fatigue, (many, 1, 1, 1)) * other * _late(swings)
    out: Array = np.moveaxis(drift + tired, 2, 3)
    return out


def _together(rng: np.random.Generator, shape: tuple[int, ...]) -> Array:
    """Chance of each swing: measures of unit variance that go together as `_COMMON` says."""
    causes = rng.standard_normal((*shape, _COMMON.shape[1]))
    return np.asarray(causes @ _COMMON.T + _OWN * rng.standard_normal((*shape, len(NAMES))))


def _chained(rng: np.random.Generator, rho: Array, fresh: Array) -> Array:
    """Autoregression of first order along the swings, stationary from the first on; shape of `fresh`."""
    out = fresh.copy()
    keep = np.sqrt(1 - rho[..., 0] ** 2)[..., None]
    for k in range(1, fresh.shape[2]):
        out[:, :, k] = rho[..., 0][..., None] * out[:, :, k - 1] + keep * fresh[:, :, k]
    return out


def _strikes(rng: np.random.Generator, habits: Habits, plan: Plan, rho: Array, z: Array, link: float) -> Array:
    """Place along the face and height of the club, in scatters: chained, drifting and with blocks of their own."""
    many, days, swings, _ = z.shape
    fresh = _chained(rng, rho, rng.standard_normal((many, days, swings, 2)))
    with_them = z[..., [DOWN, IMPACT]]
    own = _ranged(rng, habits.block, (many, 1, 1, 1)) * rng.standard_normal((many, days, len(plan.blocks), 2))
    moved = _moved(rng, habits, (many, days, swings), 2)
    return np.asarray(link * with_them + np.sqrt(1 - link**2) * fresh + own[:, :, plan.block] + moved)
