"""Golfers that are not the twin's: another model of people and of a mat's doubts, so that a figure is no echo of it.

Nothing here is drawn as the twin draws: no knots, but sums of smooth steps and pulses; sway is a random walk that is
pulled back; other people stand, walk, settle and bend in their own way. Only the lead share, the force in body weights
and the feet's toes exist, and on them lies what a mat does to them. All sizes are invented, wider than ordinary.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

Array = NDArray[np.float64]

GRID_S = 0.005
BESIDES = ("stand", "settle", "walk", "mill", "waggle", "bend", "shift", "turn round")


@dataclass(frozen=True)
class Doubts:
    """What a mat adds to what is true.

    Attributes
    ----------
    gain : float
        Error of either foot's force, standard deviation as a part of it.
    noise : float
        Of share and force, standard deviation.
    weight : float
        The body's weight is known wrongly by this part.
    jitter_s, dropped : float
        Standard deviation of a frame's time; part of the frames that never come.
    toes_known : bool
        Whether anything is known of the feet's heel-toe positions.
    """

    gain: float = 0.04
    noise: float = 0.004
    weight: float = 0.0
    jitter_s: float = 0.0
    dropped: float = 0.0
    toes_known: bool = True


@dataclass
class Act:
    """A session: its curves on the grid and what was struck. `struck` holds (style, impact s, strike heard or not)."""

    share: Array
    force: Array
    toes: Array
    struck: list[tuple[str, float, bool]] = field(default_factory=list)


def step(t: Array, at_s: float, length_s: float) -> Array:
    """From 0 to 1 about `at_s`, most of it within `length_s`, as a logistic curve."""
    out: Array = 1.0 / (1.0 + np.exp(-np.clip((t - at_s) * 6.0 / length_s, -60, 60)))
    return out


def pulse(t: Array, at_s: float, width_s: float) -> Array:
    """1 at `at_s`, a bell."""
    out: Array = np.exp(-0.5 * ((t - at_s) / width_s) ** 2)
    return out


@dataclass(frozen=True)
class Style:
    """Ranges of a style: lead share at setup, its change on the way back, at impact, in the finish; force's peak."""

    setup: tuple[float, float]
    back: tuple[float, float]
    impact: tuple[float, float]
    finish: tuple[float, float]
    peak: tuple[float, float]
    toes: tuple[float, float] = (0.12, 0.35)
    back_s: tuple[float, float] = (0.6, 1.0)
    down_s: tuple[float, float] = (0.2, 0.32)
    pause_s: tuple[float, float] = (0.0, 0.0)
    lifted: bool = False
    short: bool = False


STYLES: dict[str, Style] = {
    "plain": Style((0.46, 0.58), (-0.35, -0.15), (0.65, 0.85), (0.80, 0.95), (1.2, 1.8)),
    "centred": Style((0.46, 0.58), (-0.08, 0.04), (0.55, 0.72), (0.72, 0.92), (1.15, 1.6)),
    "rising": Style((0.46, 0.58), (0.05, 0.15), (0.58, 0.80), (0.72, 0.92), (1.15, 1.6)),
    "hanging": Style((0.45, 0.56), (-0.35, -0.12), (0.25, 0.45), (0.35, 0.55), (1.15, 1.6), toes=(0.0, 0.12)),
    "reverse": Style((0.46, 0.56), (-0.35, -0.15), (0.38, 0.50), (0.60, 0.85), (1.15, 1.7)),
    "wedge": Style((0.68, 0.76), (-0.20, -0.02), (0.74, 0.90), (0.82, 0.95), (1.1, 1.4), toes=(0.08, 0.3)),
    "gentle half": Style((0.48, 0.60), (-0.20, -0.06), (0.58, 0.80), (0.70, 0.90), (1.06, 1.15), toes=(0.05, 0.25)),
    "pause": Style((0.46, 0.58), (-0.35, -0.12), (0.62, 0.85), (0.8, 0.95), (1.15, 1.6), pause_s=(0.4, 1.5)),
    "lifted lead foot": Style((0.46, 0.56), (-0.5, -0.4), (0.65, 0.85), (0.8, 0.95), (1.2, 1.7), lifted=True),
    "pitch": Style((0.58, 0.72), (-0.12, 0.04), (0.66, 0.86), (0.72, 0.92), (1.04, 1.2), toes=(0.03, 0.25),
                   back_s=(0.4, 0.75), down_s=(0.22, 0.36), short=True),
    "chip": Style((0.58, 0.76), (-0.06, 0.04), (0.64, 0.84), (0.66, 0.86), (1.01, 1.08), toes=(0.0, 0.12),
                  back_s=(0.35, 0.6), down_s=(0.2, 0.34), short=True),
    "putt": Style((0.48, 0.60), (-0.015, 0.015), (0.48, 0.62), (0.48, 0.62), (1.0, 1.005), toes=(0.0, 0.02),
                  back_s=(0.5, 0.9), down_s=(0.25, 0.45), short=True),
}  # fmt: skip


def session(styles: list[str], seed: int, restless: bool = True) -> Act:
    """One stranger, a ball of each style in order, and what they do between."""
    rng = np.random.default_rng([seed, 41])
    lead_s, effort = float(rng.uniform(-0.02, 0.10)), float(rng.uniform(0.7, 1.3))
    parts: list[Act] = [_standing(rng, 3.0, 0.5)]
    for style in styles:
        for _ in range(int(rng.integers(0, 3)) if restless else 0):
            parts.append(besides(str(rng.choice(BESIDES)), rng))
        parts.append(_ball(style, rng, lead_s, effort))
    parts.append(_standing(rng, 3.0, 0.5))
    return _swaying(_joined(parts), rng)


def idle(seed: int, length_s: float) -> Act:
    """A stranger who hits nothing."""
    rng = np.random.default_rng([seed, 42])
    parts = [_standing(rng, 3.0, 0.5)]
    while sum(part.share.size for part in parts) * GRID_S < length_s:
        parts.append(besides(str(rng.choice(BESIDES)), rng))
    return _swaying(_joined(parts), rng)


def frames(act: Act, doubts: Doubts, seed: int, rate_hz: float = 200.0) -> Array:
    """(time, share, body weights, toes) of each frame as a mat tells it."""
    rng = np.random.default_rng([seed, 43])
    t = np.arange(0.0, act.share.size * GRID_S - GRID_S, 1.0 / rate_hz)
    grid = np.arange(act.share.size) * GRID_S
    share, force, toes = (np.interp(t, grid, values) for values in (act.share, act.force, act.toes))
    gain = 1.0 + rng.normal(0.0, doubts.gain, 2)
    lead, trail = share * force * gain[0], (1.0 - share) * force * gain[1]
    lead += rng.normal(0.0, doubts.noise, t.size) * np.sqrt(np.maximum(share, 0.0))
    trail += rng.normal(0.0, doubts.noise, t.size) * np.sqrt(np.maximum(1.0 - share, 0.0))
    total = lead + trail
    seen = np.where(total > 0.1, np.clip(lead / np.maximum(total, 0.05), 0.0, 1.0), np.nan)
    total *= (1.0 + doubts.weight * rng.choice([-1.0, 1.0])) / gain.mean()
    toes = toes * rng.uniform(0.85, 1.15) + rng.normal(0.0, 0.03) + rng.normal(0.0, 0.004, t.size)
    known = (lead > 0.05) & (trail > 0.05) & doubts.toes_known
    told = np.maximum.accumulate(t + rng.normal(0.0, doubts.jitter_s, t.size)) if doubts.jitter_s else t
    out = np.column_stack([told, seen, total, np.where(known, toes, np.nan)])
    kept: Array = out[rng.random(t.size) >= doubts.dropped]
    return kept


def _joined(parts: list[Act]) -> Act:
    struck, at = [], 0.0
    for part in parts:
        struck += [(style, impact_s + at, heard) for style, impact_s, heard in part.struck]
        at += part.share.size * GRID_S
    share, force, toes = (np.concatenate([getattr(p, name) for p in parts]) for name in ("share", "force", "toes"))
    # Where two parts meet nobody jumps: 0.3 s to go from one to the other.
    kernel = np.hanning(31) / np.hanning(31).sum()
    edge = np.zeros(share.size, dtype=bool)
    for end in np.cumsum([p.share.size for p in parts])[:-1]:
        edge[max(0, end - 40) : end + 40] = True
    for values in (share, toes):
        values[:] = np.where(edge, np.convolve(np.pad(values, 15, mode="edge"), kernel, "valid"), values)
    return Act(share, force, toes, struck)


def _swaying(act: Act, rng: np.random.Generator) -> Act:
    n = act.share.size

    def wander(size: float, back_s: float) -> Array:
        keep = np.exp(-GRID_S / back_s)
        out: Array = lfilter([size * np.sqrt(1 - keep**2)], [1.0, -keep], rng.normal(size=n))
        return np.convolve(out, np.ones(21) / 21, "same")

    calm = np.minimum(1.0, 8.0 * np.maximum(act.share * (1 - act.share), 0.0))
    share = np.clip(act.share + calm * wander(float(rng.uniform(0.003, 0.009)), 0.8), 0.0, 1.0)
    force = np.maximum(act.force * (1 + wander(0.003, 0.3)), 0.0)
    return Act(share, force, act.toes + wander(0.008, 0.7), act.struck)


def _blank(seconds: float, share: float) -> tuple[Array, Act]:
    t = np.arange(0.0, seconds, GRID_S)
    return t, Act(np.full(t.size, share), np.ones(t.size), np.zeros(t.size))


def _standing(rng: np.random.Generator, seconds: float, share: float) -> Act:
    return _blank(seconds, share + float(rng.uniform(-0.04, 0.04)))[1]


def _ball(name: str, rng: np.random.Generator, lead_s: float, effort: float) -> Act:
    """A setup, a swing, a finish that is held, and back."""
    style = STYLES[name]

    def pick(low_high: tuple[float, float]) -> float:
        return float(rng.uniform(*low_high))

    setup, back_s, down_s, pause_s = pick(style.setup), pick(style.back_s), pick(style.down_s), pick(style.pause_s)
    takeaway = float(rng.uniform(1.2, 3.0))
    impact = takeaway + back_s + pause_s + down_s
    early = float(rng.uniform(0.0, 0.2)) if pause_s == 0.0 else 0.0
    t, act = _blank(impact + float(rng.uniform(2.0, 3.5)), setup)
    back, at_impact, finish, toes = pick(style.back), pick(style.impact), pick(style.finish), pick(style.toes)
    low = float(np.clip(setup + back, 0.03, 0.97))
    turn = takeaway + back_s + pause_s - early * min(1.0, back_s)
    share = setup + (low - setup) * step(t, takeaway + 0.45 * back_s, 0.9 * back_s)
    if style.lifted:
        up = float(rng.uniform(0.3, 0.6))
        share *= 1.0 - step(t, turn - up, 0.12) * (1.0 - step(t, turn, 0.12))
    forth_s = impact - turn
    share = share + (at_impact - low) * step(t, turn + 0.55 * forth_s, 0.9 * forth_s)
    share = share + (finish - at_impact) * step(t, impact + 0.25, 0.4)
    act.share[:] = np.clip(share, 0.0, 1.0)
    push = 1.0 + (pick(style.peak) - 1.0) * effort
    least = float(rng.uniform(0.2, 0.4)) * (push - 1.0)
    peak_s = impact - lead_s + float(rng.normal(0.0, 0.008))
    act.force[:] += (push - 1.0) * pulse(t, peak_s, float(rng.uniform(0.04, 0.07)))
    act.force[:] -= least * pulse(t, impact - down_s - 0.02, 0.08) + least * pulse(t, impact + 0.16, 0.07)
    act.toes[:] = float(rng.uniform(-0.03, 0.03)) + toes * step(t, impact + float(rng.uniform(0.1, 0.3)), 0.35)
    act.toes[:] += float(rng.uniform(-0.08, 0.04)) * pulse(t, turn, 0.25)
    act.struck.append((name, impact, True))
    return act


def besides(kind: str, rng: np.random.Generator) -> Act:
    """One thing that somebody does who hits nothing, 3 to 10 s of it."""
    t, act = _blank(float(rng.uniform(3.0, 10.0)), 0.5 + float(rng.uniform(-0.05, 0.05)))
    _BESIDES[kind](t, act, rng)
    np.clip(act.share, 0.0, 1.0, out=act.share)
    np.maximum(act.force, 0.0, out=act.force)
    return act


def _nothing(t: Array, act: Act, rng: np.random.Generator) -> None:
    pass


def _settle(t: Array, act: Act, rng: np.random.Generator) -> None:
    """Sinks to the trail side by about 0.12, and comes back or does not."""
    length = float(rng.uniform(0.8, 3.0))
    act.share[:] -= float(rng.uniform(0.08, 0.18)) * step(t, 0.6 * length, length)
    if rng.random() < 0.6:
        act.share[:] += float(rng.uniform(0.08, 0.18)) * step(t, t[-1] - 0.8, float(rng.uniform(0.25, 1.0)))


def _walk(t: Array, act: Act, rng: np.random.Generator) -> None:
    """Steps on the spot, a foot in the air each time; the force has two humps a step."""
    pace = float(rng.uniform(0.9, 1.6))
    side = np.sin(2 * np.pi * pace / 2 * t + rng.uniform(0, 6))
    act.share[:] = 0.5 + 0.5 * np.tanh(4.0 * side) * step(t, 0.5, 0.3) * (1 - step(t, t[-1] - 0.5, 0.3))
    inside = step(t, 0.5, 0.3) * (1 - step(t, t[-1] - 0.5, 0.3))
    act.force[:] += float(rng.uniform(0.05, 0.25)) * np.sin(2 * np.pi * pace * t + rng.uniform(0, 6)) * inside
    act.toes[:] = 0.15 * side * inside


def _mill(t: Array, act: Act, rng: np.random.Generator) -> None:
    for _ in range(3):
        act.share[:] += float(rng.uniform(0.02, 0.08)) * np.sin(
            2 * np.pi * rng.uniform(0.2, 1.0) * t + rng.uniform(0, 6)
        )
        act.toes[:] += float(rng.uniform(0.0, 0.05)) * np.sin(2 * np.pi * rng.uniform(0.2, 0.8) * t + rng.uniform(0, 6))


def _waggle(t: Array, act: Act, rng: np.random.Generator) -> None:
    for at in np.arange(0.8, t[-1] - 0.8, float(rng.uniform(0.7, 1.6))):
        act.share[:] += float(rng.uniform(-0.08, 0.06)) * pulse(t, at, float(rng.uniform(0.1, 0.2)))
        act.force[:] += float(rng.uniform(-0.02, 0.02)) * pulse(t, at, 0.1)


def _bend(t: Array, act: Act, rng: np.random.Generator) -> None:
    """Down for a ball and up again."""
    down, up = 0.8, min(float(rng.uniform(1.8, 3.0)), t[-1] - 0.6)
    size = float(rng.uniform(0.05, 0.25))
    for at, sign in ((down, 1.0), (up, -1.0)):
        act.force[:] += sign * size * (pulse(t, at + 0.2, 0.12) - pulse(t, at - 0.15, 0.12))
    there = step(t, down, 0.6) - step(t, up, 0.6)
    act.share[:] += float(rng.uniform(-0.25, 0.25)) * there
    act.toes[:] += float(rng.uniform(-0.1, 0.15)) * there


def _shift(t: Array, act: Act, rng: np.random.Generator) -> None:
    at, side = 0.6, float(rng.choice([-1.0, 1.0]))
    now = 0.0
    while at < t[-1] - 0.8:
        goal = side * float(rng.uniform(0.05, 0.38))
        act.share[:] += (goal - now) * step(t, at, float(rng.uniform(0.4, 1.4)))
        act.force[:] += float(rng.uniform(0.0, 0.04)) * pulse(t, at, 0.12)
        now, side = goal, -side
        at += float(rng.uniform(0.9, 2.8))


def _turn_round(t: Array, act: Act, rng: np.random.Generator) -> None:
    """Looks behind: one foot carries nearly all, the other rolls on its toes, a little force."""
    at, back = 0.9, t[-1] - 0.9
    there = step(t, at, 0.7) - step(t, back, 0.7)
    side = float(rng.choice([-1.0, 1.0]))
    act.share[:] += side * float(rng.uniform(0.25, 0.42)) * there
    act.toes[:] += side * float(rng.uniform(0.05, 0.25)) * there
    act.force[:] += float(rng.uniform(0.0, 0.06)) * (pulse(t, at, 0.15) + pulse(t, back, 0.15))


_BESIDES: dict[str, Callable[[Array, Act, np.random.Generator], None]] = {
    "stand": _nothing, "settle": _settle, "walk": _walk, "mill": _mill, "waggle": _waggle, "bend": _bend,
    "shift": _shift, "turn round": _turn_round,
}  # fmt: skip
