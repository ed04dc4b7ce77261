"""What the film remembers of a load: creep.

The film goes on giving way under a load. Some films remember that for a while when the load is gone (a memory of
conductance); on others it is the gain of a loaded cell that grows, and 0.1 s after lifting nothing is left of it (so
all 102 presses of docs/figures.md, real film); a film may lie between. What is left after a lift tells (`kept_part`).

Under a steady load F the film reads F·(1 + c·log10(t/t0)): c a decade of time. That is a linear memory, and a sum of
exponentials spread evenly over the decades comes within a few hundredths of c of it,

    reading = F + Σ_i w (low-pass of F with time constant τ_i),      w = c / (time constants a decade).

The same sum, run beside the live frames, takes the memory out again (causal, no delay); what acts on the gain is
divided out by the time for which a cell has been loaded (`gain_memory`). The memory is linear in conductance, so
each change of load on a bench counts on its own (`grown`): of a peak of 200 N less is left under 60 N than a memory of
forces would say, for F = G^p, and what that gets wrong would be taken for hysteresis. That such films grow
with the logarithm of time is what a maker states (Sensitronics, www.sensitronics.com/low_drift.php: drift rate times
log10 of seconds, 12 % of conductance in two days); c is measured on the bench.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.capture import Placement

_PER_DECADE = 2
TIME_CONSTANTS_S = 10.0 ** np.arange(-1.25, 3.01, 1 / _PER_DECADE)
"""From a twentieth of a second, below which calibration and use do not differ, to nearly ten minutes."""

# Frames that are solved together, and the longest time they may span: exp(span / shortest time constant)
# must stay a number.
_BLOCK, _SPAN_S = 64, 20.0

_RATES, _BELOW = -1 / TIME_CONSTANTS_S, np.tri(_BLOCK, k=-1, dtype=bool)

MOST_CREEP = 0.6
# Mean times of the two parts of a dwell whose difference is the drift (`groundtone.calibration.fitting.capture`).
DRIFT_S = (0.25, 0.825)


def step_response(c_per_decade: float, t_s: float) -> float:
    """Reading over force a time after a load was set down and left."""
    weight = c_per_decade / _PER_DECADE
    return 1.0 + weight * float(np.sum(1 - np.exp(-t_s / TIME_CONSTANTS_S)))


def creep_from_drift(drift: NDArray[np.float64], exponent: float, between_s: tuple[float, float] = DRIFT_S) -> float:
    """Creep per decade from the drifts of placements.

    Parameters
    ----------
    drift : ndarray
        Change of ln conductance per decade of time, each placement (NaN: not known).
    exponent : float
        Change of ln force with ln conductance.
    between_s : tuple of float
        The two times after a load came between which it was told, s.

    Returns
    -------
    float
        The c, 0 to `MOST_CREEP`, whose `step_response` grows between those times as the placements' median does; 0
        where nothing is known.
    """
    known = drift[np.isfinite(drift)]
    if not known.size:
        return 0.0
    early, late = between_s
    ratio = math.exp(float(np.median(known)) * exponent * math.log10(late / early))
    # 1 + c·late = ratio · (1 + c·early), each with the response of c = 1 less 1.
    grown_early, grown_late = step_response(1.0, early) - 1.0, step_response(1.0, late) - 1.0
    left = grown_late - ratio * grown_early
    return float(np.clip((ratio - 1.0) / left, 0.0, MOST_CREEP)) if left > 0 else MOST_CREEP


class CreepMemory:
    """Takes creep out of forces, frame after frame.

    Parameters
    ----------
    shape : tuple of int
        Shape of a frame's forces.
    """

    def __init__(self, c_per_decade: float, shape: tuple[int, ...]) -> None:
        self._weight = c_per_decade / _PER_DECADE
        self._state = np.zeros((TIME_CONSTANTS_S.size, *shape))
        self._last_s = math.nan

    def force_n(self, t_s: float, reading_n: NDArray[np.float64]) -> NDArray[np.float64]:
        """Force without creep.

        Parameters
        ----------
        t_s : float
            Time of the frame, s, rising.
        reading_n : ndarray
            What the curves make of the conductances, N. NaN stays NaN and is remembered as nothing.

        Returns
        -------
        ndarray, same shape
        """
        if self._weight == 0:
            return reading_n
        step_s = t_s - self._last_s if t_s > self._last_s else 0.0
        self._last_s = t_s
        keep = np.exp(-step_s / TIME_CONSTANTS_S)
        taken = 1 - keep
        # reading = F + w Σ (keep·state + taken·F): solved for F, the force that held since the last frame.
        self._state *= keep.reshape(-1, *([1] * reading_n.ndim))
        force: NDArray[np.float64] = (reading_n - self._weight * self._state.sum(0)) / (
            1 + self._weight * float(taken.sum())
        )
        self._state += np.multiply.outer(taken, np.nan_to_num(force))
        return force

    def forces_n(self, t_s: NDArray[np.float64], reading_n: NDArray[np.float64]) -> NDArray[np.float64]:
        """Forces without creep of a block of frames: `force_n` for one after the other, up to rounding.

        The sums of `force_n` over the frames of a block make a triangular system, which is solved for all cells at
        once. A block in which a cell comes and goes (NaN in some frames) is taken frame by frame.

        Parameters
        ----------
        t_s : ndarray, shape (n,)
        reading_n : ndarray, shape (n, ...)

        Returns
        -------
        ndarray, same shape as `reading_n`
        """
        if self._weight == 0:
            return reading_n
        out = np.empty_like(reading_n)
        for begin in range(0, len(t_s), _BLOCK):
            cut = slice(begin, begin + _BLOCK)
            out[cut] = self._block(t_s[cut], reading_n[cut])
        return out

    def _block(self, t_s: NDArray[np.float64], reading_n: NDArray[np.float64]) -> NDArray[np.float64]:
        # One sum says whether any is NaN; which, is seldom asked.
        nothing = np.isnan(reading_n) if math.isnan(float(reading_n.sum())) else None
        mixed = nothing is not None and bool((nothing.any(0) != nothing.all(0)).any())
        first = self._last_s if not math.isnan(self._last_s) else float(t_s[0])
        step = t_s - np.concatenate([[first], t_s[:-1]])
        if t_s[-1] - first > _SPAN_S or (step < 0).any() or mixed:
            return np.stack([self.force_n(float(t), reading) for t, reading in zip(t_s, reading_n, strict=True)])
        flat = reading_n.reshape(len(t_s), -1)
        state = self._state.reshape(TIME_CONSTANTS_S.size, -1)
        decay = np.exp(np.multiply.outer(np.cumsum(step), _RATES))
        taken = -np.expm1(np.multiply.outer(step, _RATES))
        fed = taken / decay
        system = np.where(_BELOW[: len(t_s), : len(t_s)], self._weight * decay @ fed.T, 0.0)
        system.flat[:: len(t_s) + 1] = 1 + self._weight * taken.sum(1)
        # The inverse of so small and plain a matrix is exact enough, and far quicker than a threaded library's solver.
        force: NDArray[np.float64] = np.linalg.inv(system) @ (flat - self._weight * (decay @ state))
        remembered = force if nothing is None else np.where(nothing[0].reshape(-1), 0.0, force)
        state = decay[-1, :, None] * (state + fed.T @ remembered)
        self._state = state.reshape(self._state.shape)
        self._last_s = float(t_s[-1])
        return force.reshape(reading_n.shape)


def growth(t_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """What creep of one a decade adds to a load of one by a time after it came."""
    out: NDArray[np.float64] = (1 - np.exp(-t_s[..., None] / TIME_CONSTANTS_S)).sum(-1) / _PER_DECADE
    return out


def gain_growth(
    c_per_decade: NDArray[np.float64] | float, straight: float, t_s: NDArray[np.float64] | float
) -> NDArray[np.float64]:
    """By how much a gain has grown when its cell has been loaded for so long, s (see `gain_memory`); 1 at once."""
    grown = c_per_decade * growth(np.asarray(t_s, np.float64))
    out: NDArray[np.float64] = np.exp(grown) if straight < 1e-3 else (1.0 + straight * grown) ** (1.0 / straight)
    return out


# So many lifts tell what is kept, if they tell it within this.
_LEAST_LIFTS, _TOLD_KEPT_U = 6, 0.2
# Creep of conductance below this does nothing that a kind of memory could change.
NO_CREEP = 0.003


def kept_part(placements: Sequence[Placement], share: float) -> tuple[float, float]:
    """Which part of the creep stays after lifting, from what cells read before the next load lay anywhere.

    Parameters
    ----------
    placements : sequence of Placement
        Those that lay alone, whose lift was seen, and after which `before_s` of the next was read, tell.
    share : float
        Creep of conductance a decade.

    Returns
    -------
    kept, u : float
        0 (all on the gain) to 1 (all a memory of conductance), and its standard uncertainty; NaN and infinity where no
        lift was seen.
    """
    timed = sorted((p for p in placements if not math.isnan(p.t_s)), key=lambda p: p.t_s)
    left, full = [], []
    for now, after in pairwise(timed):
        alone = not now.falling and not math.isnan(now.drift) and after.t_s > now.lifted_s > now.t_s
        if alone and now.before_s is not None and after.before_s is not None:
            cell = now.row, now.column
            since = np.array([after.t_s - now.t_s, after.t_s - now.lifted_s, now.after_s])
            loaded, lifted, read = growth(since).tolist()
            start = float(now.conductance_s[cell] - now.before_s[cell]) / (1 + share * read)
            left.append(float(after.before_s[cell] - now.before_s[cell]))
            full.append(start * share * (loaded - lifted))
    if len(left) < _LEAST_LIFTS:
        return math.nan, math.inf
    # Under the heavier loads more is left, and the converter's noise says less: the upper half counts.
    heavy = np.array(full) >= np.median(full)
    part = np.array(left)[heavy] / np.array(full)[heavy]
    middle = float(np.median(part))
    u = 1.25 * 1.4826 * float(np.median(np.abs(part - middle))) / math.sqrt(part.size)
    return float(np.clip(middle, 0.0, 1.0)), u


# Nobody stands on a mat that reads less than this part of what it read mostly, however its film remembers (one foot or
# two make less difference), once it falls no quicker than this over this time, 1/s and s; and so many frames tell.
_GONE, _FALLS, _OVER_S, _LEAST_FREE = 0.6, 1.5, 0.2, 8


def kept_creep(t_s: NDArray[np.float64], conductance_s: NDArray[np.float64]) -> float:
    """Creep of conductance a decade that stays when a body steps off, from what an empty mat reads then.

    It is the creep whose memory, taken out, leaves nothing on the cells that were stood on.

    Parameters
    ----------
    t_s : ndarray, shape (n,)
        s, rising.
    conductance_s : ndarray, shape (n, rows, columns)
        S, the empty mat's reading taken off; from before somebody stepped on until after.

    Returns
    -------
    float
        0 to `MOST_CREEP`; NaN where nobody was seen to step off.
    """
    reading = np.nan_to_num(conductance_s).reshape(len(t_s), -1)
    total = reading.sum(1)
    # One frame's noise is not what a body weighs.
    count = max(1, round(_OVER_S / 2 / max(float(np.median(np.diff(t_s))), 1e-3)))
    total = np.convolve(np.pad(total, (count - 1, 0), mode="edge"), np.full(count, 1 / count), "valid")
    mostly = float(np.percentile(total, 80))
    # Only after the last frame that reads much is nobody there: a posture on cells that read little is no empty mat.
    after = np.arange(len(total)) > np.max(np.flatnonzero(total >= _GONE * mostly), initial=-1)
    earlier = np.interp(t_s - _OVER_S, t_s, total)
    free = after & (np.maximum(total, earlier) < _GONE * mostly)
    # On a film without a memory nothing is left that could fall.
    free &= np.abs(total - earlier) < _FALLS * _OVER_S * np.maximum(total, 0.02 * mostly)
    if free.sum() < _LEAST_FREE:
        return math.nan
    used = reading.max(0) > 0.2 * float(reading.max())
    stood = reading[:, used].mean(0)

    def left(c_per_decade: float) -> float:
        steady = CreepMemory(c_per_decade, stood.shape).forces_n(t_s, reading[:, used])
        return float((steady[free] @ stood).mean())

    low, high = 0.0, MOST_CREEP
    if left(low) <= 0.0:
        return 0.0
    for _ in range(8):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if left(middle) > 0.0 else (low, middle)
    # No film keeps so much: somebody stands there still.
    return 0.5 * (low + high) if high < MOST_CREEP else math.nan


def told(kept_u: float) -> bool:
    """Whether lifts told the kind of memory well enough to take it out."""
    return kept_u <= _TOLD_KEPT_U


def grown(
    placements: Sequence[Placement],
    c_per_decade: float,
    exponent: float = 1.0,
    kept: float = 1.0,
    straight: float = 1.0,
) -> NDArray[np.float64]:
    """Force as it is read over force of each placement.

    Parameters
    ----------
    placements : sequence of Placement
        With `t_s` where it is known; those without it count as from rest, or from their peak where `falling`.
    c_per_decade : float
        Creep of the force that is read.
    exponent : float
        The curves': the conductance creeps by `c_per_decade / exponent`.
    kept : float
        Part of the creep that is a memory; the rest acts on the gain while a cell is loaded.
    straight : float
        How straight that gain grows, see `gain_growth`.

    Returns
    -------
    ndarray, shape (placements,)
        1 without creep.
    """
    share, of_gain = c_per_decade * kept / exponent, c_per_decade * (1 - kept) / exponent
    size_of = [placement.force_n ** (1 / exponent) for placement in placements]
    out = np.ones(len(placements))
    begun = sorted(placement.t_s for placement in placements if not math.isnan(placement.t_s))
    by_cell: dict[tuple[int, int], list[int]] = {}
    for i, placement in enumerate(placements):
        by_cell.setdefault((placement.row, placement.column), []).append(i)
    for indices in by_cell.values():
        timed = sorted((i for i in indices if not math.isnan(placements[i].t_s)), key=lambda i: placements[i].t_s)
        steps: list[tuple[float, float]] = []
        before: int | None = None
        loaded_s = math.nan
        for i in timed:
            now, was = placements[i], None if before is None else placements[before]
            lying = 0.0
            if before is None or was is None:
                if now.falling and not math.isnan(now.peak_n):
                    lying = now.peak_n ** (1 / exponent)
                    steps.append((now.t_s - now.peak_s, lying))
            elif now.falling or math.isnan(now.drift):
                # Weights were added or taken off where it lay: a drift is only told from rest.
                lying = size_of[before]
            else:
                # Lifted at some time after it was read and before the next load lay anywhere: one lies there at a time.
                read_s = was.t_s + was.after_s
                lifted_s = was.lifted_s
                if math.isnan(lifted_s):
                    lifted_s = 0.5 * (read_s + max(begun[bisect_right(begun, was.t_s)], read_s))
                steps.append((lifted_s, -size_of[before]))
            steps.append((now.t_s, size_of[i] - lying))
            # What was lying already has been loaded since the first of it.
            loaded_s = now.t_s if not lying else (steps[0][0] if before is None else loaded_s)
            read_s = now.t_s + now.after_s
            reading = sum(size * step_response(share, read_s - at_s) for at_s, size in steps)
            # A cell that was far heavier loaded just before must not make its memory the whole reading.
            aged = float(gain_growth(of_gain, straight, read_s - loaded_s))
            out[i] = (max(reading / size_of[i], 0.5) * aged) ** exponent
            before = i
        for i in set(indices) - set(timed):
            age_s = placements[i].after_s + placements[i].peak_s * placements[i].falling
            aged = float(gain_growth(of_gain, straight, age_s))
            out[i] = (_from_rest(placements[i], share, exponent) * aged) ** exponent
    return out


def _from_rest(placement: Placement, share: float, exponent: float) -> float:
    """From rest to G it is S(t); from rest to a peak P for T, then down to G, S(t) + (S(t + T) - S(t))·P/G."""
    now = step_response(share, placement.after_s)
    if not placement.falling or math.isnan(placement.peak_n):
        return now
    later = step_response(share, placement.after_s + placement.peak_s)
    above: float = (placement.peak_n / placement.force_n) ** (1 / exponent)
    return now + (later - now) * above
