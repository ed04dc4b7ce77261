"""What speaks for a swing: evidence from force, lead share and feet around one moment, weighed by learnt odds.

No single threshold tells a chip from a shift of weight, or a centred player's swing from a waggle. So every burst of
movement is looked at once, 1.27 s after its middle, with what came before and after it in view: how still the golfer
stood, how hard and how briefly they pushed, how far and how fast the share went, whether the finish was held, what the
feet did. Each answer adds to the odds, for or against, and so does what a few of them say together; the weights stand
in evidence.toml and were learnt on some of the twin's golfers (`make study NAME=learn-swings`), with worse mats than it
has, and judged on others and on golfers of another model (`make study NAME=balls`, `NAME=stranger-balls`). What noise
alone would make is taken off the answers that it would raise. Causal: nothing after the 1.27 s is used, so the live
form and review say the same.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

STEP_S = 0.01
"""Everything here stands on a grid of this step."""
BEFORE_S, AFTER_S = 3.2, 1.27
# A burst: share risen over this time to either side, and force pushed above the least of the time before.
RISE_S, PUSH_S, LEAST_S = 0.12, 0.06, 0.5
RISE_UNIT, PUSH_UNIT, PUSH_NOISE = 0.10, 0.15, 0.02
LEAST_BURST = 0.2
# No two bursts nearer than this belong to two swings.
APART_S = 0.9
# Stillness is looked for in pieces of this length, which end between these times before the burst, so far apart.
STILL_S, STILL_ENDS_S, STILL_STEP_S = 0.5, (0.25, 2.3), 0.05
# A foot that carries less than this part of the weight is in the air.
LIFTED = 0.03
# What is slow is looked at as a mean over so many samples, zero-phase.
_SLOW = 15
# The downswing begins no later than this before the middle of a burst, or a strike: what was before was the way back.
_FORTH_S = 0.2
# Sizes below these say nothing more: logarithms stop there.
_LEAST, _LEAST_S = 0.01, 0.02
# So many standard deviations of the noise are taken off a peak (the greatest of some fifty samples is about so far up).
_NOISE = 4.0


@dataclass(frozen=True)
class Evidence:
    """What was seen around a burst.

    Attributes
    ----------
    values : dict
        By the names of evidence.toml.
    still_s : float
        End of the stillest half second before it, s from the burst (negative).
    setup_share : float
        Lead share then.
    fall, over : float
        How far the share went below and above that on the way back.
    least_s : float
        When the share was lowest between stillness and burst, s from the burst.
    peak_s : float
        When the force was greatest, s from the burst.
    push : float
        The force's peak above its least before, body weights, less what noise makes.
    fastest_s : float
        When the share rose fastest, s from the burst.
    walked : bool
        First one foot was in the air, then the other.
    """

    values: Mapping[str, float]
    still_s: float
    setup_share: float
    fall: float
    over: float
    least_s: float
    peak_s: float
    push: float
    fastest_s: float
    walked: bool


class _Around:
    """The samples around a burst, quick and slow, with what several answers need; times in s from the burst."""

    def __init__(self, share: Array, weights: Array, toes: Array, i: int) -> None:
        cut = slice(i - _n(BEFORE_S), i + _n(AFTER_S) + 1)
        self.share, self.weights, self.toes = share[cut], weights[cut], toes[cut]
        self.slow_share, self.slow_weights = _slow(self.share), _slow(self.weights)
        before = slice(_SLOW, _n(BEFORE_S - 0.3))
        # Mean distance from the slow curve, made a standard deviation (of a normal distribution).
        self.noise = 1.2533 * float(np.abs((self.weights - self.slow_weights)[before]).mean())
        self.still = self._stillest()
        still = slice(self.still - _n(STILL_S), self.still)
        self.setup = _median(self.share[still])
        self.base = _median(self.weights[still])
        self.toes_still = _median(self.toes[still])
        push = self.cut(-0.30, 0.40)
        self.peak = push.start + int(np.argmax(self.weights[push]))
        before_peak = self.weights[self.peak - _n(LEAST_S) : self.peak + 1]
        self.low = self.peak - _n(LEAST_S) + int(np.argmin(before_peak))
        self.push = float(self.weights[self.peak] - self.weights[self.low]) - _NOISE * self.noise
        self.between = self.slow_share[self.still : self.at(-_FORTH_S) + 1]

    def at(self, t_s: float) -> int:
        return _n(BEFORE_S) + _n(t_s)

    def cut(self, low_s: float, high_s: float) -> slice:
        return slice(self.at(low_s), self.at(high_s) + 1)

    def _stillest(self) -> int:
        """End of the stillest half second before the burst; of equally still ones the last."""
        ends = np.arange(self.at(-STILL_ENDS_S[0]), self.at(-STILL_ENDS_S[1]), -_n(STILL_STEP_S))
        pieces = ends[:, None] - np.arange(_n(STILL_S), 0, -1)
        unrest = np.ptp(self.slow_share[pieces], axis=1) + 0.5 * np.ptp(self.slow_weights[pieces], axis=1)
        self.unrest = float(unrest.min())
        return int(ends[np.argmax(unrest <= self.unrest + 1e-9)])


def evidence_at(share: Array, weights: Array, toes: Array, i: int) -> Evidence:
    """The evidence around sample `i`.

    Parameters
    ----------
    share, weights : ndarray, shape (n,)
        Lead share and total vertical force in body weights on the grid, smoothed over five samples.
    toes : ndarray, shape (n,)
        Heel-toe position of the trail foot less that of the lead foot; where a foot had none, what it last was, and
        NaN where nothing was ever known of it.
    i : int
        At least BEFORE_S after the first sample and AFTER_S before the last.
    """
    a = _Around(share, weights, toes, i)
    near = a.share[a.cut(-0.35, 0.35)]
    steps = near[15:] - near[:-15]
    fastest = int(np.argmax(steps))
    fall, over = a.setup - float(a.between.min()), float(a.between.max()) - a.setup
    values = _of_force(a) | _of_share(a, float(steps[fastest]), fall, over) | _of_toes(a)
    middle = a.at(0.0)
    least = a.still + int(np.argmin(a.between))
    return Evidence(
        values, (a.still - middle) * STEP_S, a.setup, fall, over, (least - middle) * STEP_S,
        (a.peak - middle) * STEP_S, a.push, (fastest - _n(0.35) + 7) * STEP_S, _walked(a),
    )  # fmt: skip


def _of_force(a: _Around) -> dict[str, float]:
    """How hard and how briefly somebody pushed, and how quiet the force was before and after."""
    weights, peak = a.weights, a.peak
    half = weights[a.low] + 0.5 * (weights[peak] - weights[a.low])
    low = np.flatnonzero(weights[max(peak - 40, 0) : peak] <= half)
    high = np.flatnonzero(weights[peak : peak + 41] <= half)
    left = peak - 40 + int(low[-1]) if low.size else peak - 40
    right = peak + int(high[0]) if high.size else min(peak + 40, weights.size - 1)
    before = float(np.ptp(a.slow_weights[a.cut(-1.2, -0.4)]))
    push = _log(a.push)
    way = float(np.abs(np.diff(a.slow_weights[a.cut(-2.5, -0.45)])).sum())
    back = a.slow_weights[min(a.still, a.at(-0.45)) : a.at(-0.35)]
    return {
        "push": push,
        # Of a push that is no more than noise nothing is known but that.
        "width": _log((right - left) * STEP_S) if a.push > _LEAST else math.nan,
        "width after": _log((right - peak) * STEP_S, _LEAST_S) if a.push > _LEAST else math.nan,
        "time to peak": _log((peak - a.low) * STEP_S, _LEAST_S) if a.push > _LEAST else math.nan,
        "excess": float(weights[peak]) - a.base - 3 * a.noise,
        "sharp": float(weights[peak]) - _median(weights[peak - 40 : peak + 41]) - 2 * a.noise,
        "dip after": float(weights[peak : peak + 46].min()) - a.base + 3 * a.noise,
        "least force": float(weights[a.cut(-0.1, 0.9)].min()) - a.base + 3 * a.noise,
        "force before": _log(before),
        "force back": _log(float(np.ptp(back))),
        "push to before": push - _log(before),
        "force way": _log(way, 0.05),
        "finish force": _log(float(np.ptp(a.slow_weights[a.cut(0.55, 1.2)]))),
    }


def _of_share(a: _Around, speed: float, fall: float, over: float) -> dict[str, float]:
    """How far and how fast the share went, how still it was before, and whether the finish was held."""
    share, slow = a.share, a.slow_share
    after, late = (_median(share[a.cut(*span)]) for span in ((0.15, 0.5), (0.9, 1.25)))
    way = float(np.abs(np.diff(a.between)).sum())
    held = slow[a.cut(0.55, 1.2)]
    return {
        "speed": speed,
        "across": after - a.setup,
        "way": _log(way + 0.01) - _log(float(np.ptp(a.between)) + 0.01),
        "to and fro": float(np.abs(np.diff(slow[a.cut(-3.0, 0.0)])).sum()),
        "unrest": _log(a.unrest),
        "finish moves": _log(float(np.ptp(held))),
        "finish way": _log(float(np.abs(np.diff(slow[a.cut(0.6, 1.2)])).sum())),
        "goes back": late - after,
        "lead": max(_median(share[a.cut(0.5, 1.2)]) - 0.5, 0.0),
        "setup": a.setup,
        "over": over,
        "fall": fall,
    }


def _of_toes(a: _Around) -> dict[str, float]:
    """What the trail foot did beside the lead foot: on its toes in the finish, and when it got there."""
    impact, after, late = (_median(a.toes[a.cut(*span)]) for span in ((-0.3, 0.0), (0.3, 1.2), (0.35, 0.8)))
    return {
        "trail toes": after - a.toes_still,
        "toes late": late - impact,
    }


def _walked(a: _Around) -> bool:
    before, after = a.share[a.cut(-1.2, 0.0)], a.share[a.cut(0.0, 1.25)]
    lead_first = before.min() < LIFTED and after.max() > 1.0 - LIFTED
    trail_first = before.max() > 1.0 - LIFTED and after.min() < LIFTED
    return bool(lead_first or trail_first)


def odds(evidence: Evidence) -> float:
    """Logarithm of the odds that it was a swing, without knowing of a strike; 0 is even."""
    return sum(part for _, part in reasons(evidence))


def reasons(evidence: Evidence) -> list[tuple[str, float]]:
    """Each answer with what it adds to the logarithm of the odds; the first is what every burst begins with.

    The last is what the answers say together beyond that: a sum of a few bent sums of them.
    """
    table = _weights()
    out = [("any burst", float(table["begin"]))]
    answers = []
    for name, entry in table["weight"].items():
        x = (evidence.values[name] - entry["middle"]) / entry["unit"]
        x = min(max(x, -3.0), 3.0) if math.isfinite(x) else 0.0  # what is not known speaks neither way
        answers.append(x)
        out.append((name, entry["straight"] * x + entry["square"] * x * x))
    # What single answers cannot say: a long push belongs to a rise when nobody had stood still before, and so on.
    inner, outer = _together()
    out.append(("together", float(np.tanh(inner[0] + np.array(answers) @ inner[1:]) @ outer)))
    return out


@cache
def _weights() -> Mapping[str, Any]:
    table: Mapping[str, Any] = tomllib.loads((files("groundtone.swing") / "evidence.toml").read_text("utf-8"))
    return table


@cache
def _together() -> tuple[Array, Array]:
    """Weights of the answers (a row each, the first for none) in each bent sum, and of the bent sums."""
    table = _weights()["together"]
    return np.array(table["inner"]), np.array(table["outer"])


def _slow(values: Array) -> Array:
    """Mean over `_SLOW` samples, those at the ends repeated beyond them."""
    side = _SLOW // 2
    longer = np.concatenate([np.repeat(values[0], side), values, np.repeat(values[-1], side)])
    out: Array = np.convolve(longer, np.full(_SLOW, 1.0 / _SLOW), "valid")
    return out


def _median(values: Array) -> float:
    """As numpy's, which takes five times as long on so few samples; NaN where one is NaN (sorting puts it last)."""
    ordered = np.sort(values)
    k = ordered.size
    return float((ordered[(k - 1) // 2] + ordered[k // 2]) / 2) if ordered[-1] == ordered[-1] else math.nan


def _log(value: float, least: float = _LEAST) -> float:
    return math.log(max(value, least))


def _n(seconds: float) -> int:
    return round(seconds / STEP_S)
