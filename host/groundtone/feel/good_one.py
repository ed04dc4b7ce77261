"""The good one: the most typical of a golfer's well-struck swings, laid beside another swing, and what differs.

Swings are compared over their own events (takeaway, turn of pressure, impact), not over seconds. The most typical is
the medoid: the swing whose distance to all the others together is the least, so it is one that was really made.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groundtone.feel.agreement import Array
from groundtone.tone.echo import EchoPath

FEWEST = 3
"""Of fewer well-struck swings none is called typical."""
# Moments that are compared: before the turn, from there to impact, after it; how far after it, in s.
_PIECES, _AFTER_S = (24, 16, 12), 0.6
# Differences that matter alike (invented): lead share and heel-toe position.
_SCALE = np.array([0.16, 0.12])
# Less than this part of the scale nobody needs to hear of.
_CLEAR = 0.4
_PARTS = ("in the backswing", "in the downswing", "after impact")
_WAYS = (("on the lead side", "on the trail side"), ("towards the toes", "towards the heels"))


@dataclass(frozen=True)
class Difference:
    """What differs most between a swing and the good one.

    Attributes
    ----------
    part : str
        "in the backswing", "in the downswing" or "after impact".
    axis : str
        "share" or "position".
    size : float
        This swing less the good one, on average over that part.
    """

    part: str
    axis: str
    size: float

    @property
    def sentence(self) -> str:
        """For the golfer; whether it is clear."""
        scale = _SCALE[0] if self.axis == "share" else _SCALE[1]
        if abs(self.size) < _CLEAR * scale:
            return "Nothing differs clearly from your typical good one."
        way = _WAYS[self.axis == "position"][self.size < 0]
        return f"What differs most from your typical good one: {self.part} your pressure was farther {way}."


def usable(path: EchoPath) -> bool:
    """Its turn and impact are known, and frames lie around both."""
    t = np.asarray(path.t_s)
    known = math.isfinite(path.turn_s) and math.isfinite(path.impact_s)
    return bool(known and len(t) > 10 and t[0] < path.turn_s < path.impact_s <= t[-1])


def most_typical(paths: Sequence[EchoPath]) -> int | None:
    """Which of some well-struck swings is the medoid; None where fewer than `FEWEST` can be compared."""
    able = [i for i, path in enumerate(paths) if usable(path)]
    if len(able) < FEWEST:
        return None
    shapes = np.stack([_shape(paths[i]) for i in able])
    apart = np.abs(shapes[:, None] - shapes[None]) / _SCALE[:, None]
    return able[int(np.argmin(np.nanmean(apart, axis=(2, 3)).sum(axis=1)))]


def aligned(good: EchoPath, swing: EchoPath) -> EchoPath:
    """The good swing in the other's time: its turn of pressure and impact fall where the other's do.

    Both are usable. The pace is the other's between begin and turn and between turn and impact, and its own after it.
    """
    own = np.asarray(good.t_s, dtype=np.float64)
    before = (swing.turn_s - float(np.asarray(swing.t_s)[0])) / (good.turn_s - own[0])
    down = (swing.impact_s - swing.turn_s) / (good.impact_s - good.turn_s)
    t = np.where(
        own <= good.turn_s, swing.turn_s + (own - good.turn_s) * before,
        np.where(own <= good.impact_s, swing.turn_s + (own - good.turn_s) * down, swing.impact_s + own - good.impact_s),
    )  # fmt: skip
    return EchoPath(t, good.share, good.position, swing.turn_s, swing.impact_s, swing.lead)


def differs_most(swing: EchoPath, good: EchoPath) -> Difference:
    """Where a swing differs most from the good one; both are usable."""
    apart = _shape(swing) - _shape(good)
    edges = np.cumsum((0, *_PIECES))
    means = np.stack([np.nanmean(apart[:, a:b], axis=1) for a, b in itertools.pairwise(edges)])
    means = np.nan_to_num(means)
    part, axis = np.unravel_index(int(np.argmax(np.abs(means) / _SCALE)), means.shape)
    return Difference(_PARTS[part], ("share", "position")[axis], float(means[part, axis]))


def _shape(path: EchoPath) -> Array:
    """Share and position at the same moments of every swing, shape (2, moments); NaN where not known."""
    t = np.asarray(path.t_s, dtype=np.float64)
    back, down, after = _PIECES
    at = np.concatenate([
        np.linspace(t[0], path.turn_s, back, endpoint=False),
        np.linspace(path.turn_s, path.impact_s, down, endpoint=False),
        np.linspace(path.impact_s, path.impact_s + _AFTER_S, after),
    ])  # fmt: skip
    values = [np.interp(at, t, np.asarray(ribbon), right=np.nan) for ribbon in (path.share, path.position)]
    return np.stack(values)
