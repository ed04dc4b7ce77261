"""What speaks for a swing: evidence from force, lead share and feet around one moment, weighed by learnt odds.

No single threshold tells a chip from a shift of weight, or a centred player's swing from a waggle. So every burst of
movement is looked at once, 1.27 s after its middle, with what came before and after it in view: how still the golfer
stood, how hard they pushed, how far and how fast the share went, whether the finish was held, what the feet did. Each
answer adds to the odds, for or against; their weights stand in evidence.toml and were learnt on some of the twin's
golfers and judged on others (`make study NAME=balls`). Causal: nothing after the 1.27 s is used, so the live form and
review say the same.
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
LEAST_BURST = 0.45
# No two bursts nearer than this belong to two swings.
APART_S = 0.9
# Stillness is looked for in pieces of this length, which end between these times before the burst.
STILL_S, STILL_ENDS_S = 0.5, (0.25, 2.3)


def burst(share: Array, weights: Array, i: int) -> float:
    """How much of a burst of movement sample `i` is in the middle of, about 1 for an ordinary swing's.

    Parameters
    ----------
    share, weights : ndarray, shape (n,)
        Lead share and total vertical force in body weights on the grid, smoothed over five samples.
    i : int
        At least LEAST_S after the first sample and RISE_S before the last.
    """
    rise_n, push_n, least_n = _n(RISE_S), _n(PUSH_S), _n(LEAST_S)
    rise = float(share[i + rise_n] - share[i - rise_n])
    push = float(weights[i - push_n : i + push_n + 1].max() - weights[i - least_n : i + 1].min())
    return max(rise, 0.0) / RISE_UNIT + max(push - PUSH_NOISE, 0.0) / PUSH_UNIT


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
        The force's peak above its least before, body weights.
    fastest_s : float
        When the share rose fastest, s from the burst.
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


def evidence_at(share: Array, weights: Array, toes: Array, i: int) -> Evidence:
    """The evidence around sample `i`.

    Parameters
    ----------
    share, weights : ndarray, shape (n,)
        As for `burst`.
    toes : ndarray, shape (n,)
        Heel-toe position of the trail foot less that of the lead foot; where a foot had none, what it last was, and
        NaN where nothing was ever known of it.
    i : int
        At least BEFORE_S after the first sample and AFTER_S before the last.
    """

    def cut(low_s: float, high_s: float) -> slice:
        return slice(i + _n(low_s), i + _n(high_s) + 1)

    push_cut = cut(-0.30, 0.40)
    peak = push_cut.start + int(np.argmax(weights[push_cut]))
    push = float(weights[peak] - weights[peak - _n(LEAST_S) : peak + 1].min())
    near = share[cut(-0.35, 0.35)]
    steps = near[15:] - near[:-15]
    fastest = int(np.argmax(steps))
    still = _stillest(share, weights, i)
    k = _n(STILL_S)
    setup = float(np.median(share[still - k : still]))
    between = share[still : i + 1]
    least = still + int(np.argmin(between))
    fall, over = setup - float(between.min()), float(between.max()) - setup
    after = float(np.median(share[cut(0.15, 0.5)]))
    late = float(np.median(share[cut(0.9, 1.25)]))
    held, held_force = np.ptp(share[cut(0.55, 1.25)]), np.ptp(weights[cut(0.55, 1.25)])
    toes_after, toes_before = float(np.median(toes[cut(0.3, 1.2)])), float(np.median(toes[still - k : still]))
    back = share[cut(-1.2, 0.0)]
    values = {
        "push": math.log(max(push, 0.01)),
        "rise": after - float(share[cut(-0.45, 0.0)].min()),
        "speed": float(steps[fastest]),
        "across": after - setup,
        "unrest": math.log(max(_unrest(share, weights, still), 0.01)),
        "since still": abs((i - still) * STEP_S - 1.0),
        "finish moves": math.log(max(float(held), 0.004)),
        "finish force": math.log(max(float(held_force), 0.004)),
        "trail toes": toes_after - toes_before,
        "goes back": late - after,
        "least force": float(weights[cut(-0.1, 0.9)].min()),
        "one foot": max(0.05 - min(float(back.min()), 1.0 - float(back.max())), 0.0),
        "to and fro": float(np.abs(np.diff(share[cut(-3.0, 0.0)])).sum()),
        "over": over,
        "fall": fall,
    }
    return Evidence(
        values, (still - i) * STEP_S, setup, fall, over, (least - i) * STEP_S, (peak - i) * STEP_S, push,
        (fastest - _n(0.35) + 7) * STEP_S,
    )  # fmt: skip


def odds(evidence: Evidence) -> float:
    """Logarithm of the odds that it was a swing, without knowing of a strike; 0 is even."""
    return sum(part for _, part in reasons(evidence))


def reasons(evidence: Evidence) -> list[tuple[str, float]]:
    """Each answer with what it adds to the logarithm of the odds; the first is what every burst begins with."""
    table = _weights()
    out = [("any burst", float(table["begin"]))]
    for name, entry in table["weight"].items():
        x = (evidence.values[name] - entry["middle"]) / entry["unit"]
        x = min(max(x, -3.0), 3.0) if math.isfinite(x) else 0.0  # what is not known speaks neither way
        out.append((name, entry["straight"] * x + entry["square"] * x * x))
    return out


@cache
def _weights() -> Mapping[str, Any]:
    table: Mapping[str, Any] = tomllib.loads((files("groundtone.swing") / "evidence.toml").read_text("utf-8"))
    return table


def _stillest(share: Array, weights: Array, i: int) -> int:
    """End of the stillest half second before the burst; of equally still ones the last."""
    best, end = math.inf, i - _n(STILL_ENDS_S[0])
    for j in range(i - _n(STILL_ENDS_S[0]), i - _n(STILL_ENDS_S[1]), -5):
        unrest = _unrest(share, weights, j)
        if unrest < best - 1e-9:
            best, end = unrest, j
    return end


def _unrest(share: Array, weights: Array, end: int) -> float:
    k = _n(STILL_S)
    return float(np.ptp(share[end - k : end]) + 0.5 * np.ptp(weights[end - k : end]))


def _n(seconds: float) -> int:
    return round(seconds / STEP_S)
