"""What the film remembers: creep and hysteresis.

Creep: the film goes on giving way under a load, and remembers it for a while when it is gone.

Under a steady load F the film reads F·(1 + c·log10(t/t0)): c a decade of time. That is a linear memory, and a sum of
exponentials spread evenly over the decades comes within a few hundredths of c of it,

    reading = F + Σ_i w (low-pass of F with time constant τ_i),      w = c / (time constants a decade).

The same sum, run beside the live frames, takes the memory out again (causal, no delay). It is linear in conductance, so
each change of load on a bench counts on its own (`grown`): of a peak of 200 N less is left under 60 N than a memory of
forces would say, for F = G^p, and what that gets wrong would be taken for hysteresis. That such films grow
with the logarithm of time is what a maker states (Sensitronics, www.sensitronics.com/low_drift.php: drift rate times
log10 of seconds, 12 % of conductance in two days); c is measured on the bench.

Hysteresis: coming down from a heavy load the film reads more than it did on the way up.

Between a peak P and nothing the way down lies above the way up by a flat arch,

    excess = b · (P − r) · r / P,

zero at both ends; b is measured on the bench, where weights are taken off. A turn of the load does not jump from one
way to the other but passes over within a tenth of the peak. This is a plain description of a loop, chosen for its one
number; nothing in it knows how the film does it.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.capture import Placement

_PER_DECADE = 2
TIME_CONSTANTS_S = 10.0 ** np.arange(-1.25, 3.01, 1 / _PER_DECADE)
"""From a twentieth of a second, below which calibration and use do not differ, to nearly ten minutes."""

# Frames that are solved together, and the longest time they may span: exp(span / shortest time constant)
# must stay a number.
_BLOCK, _SPAN_S = 32, 20.0

MOST_CREEP = 0.2
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
        unknown = np.isnan(reading_n)
        first = self._last_s if not math.isnan(self._last_s) else t_s[0]
        step = np.diff(t_s, prepend=first)
        if t_s[-1] - first > _SPAN_S or (step < 0).any() or (unknown.any(0) != unknown.all(0)).any():
            return np.stack([self.force_n(float(t), reading) for t, reading in zip(t_s, reading_n, strict=True)])
        flat, nothing = reading_n.reshape(len(t_s), -1), unknown[0].reshape(-1)
        state = self._state.reshape(TIME_CONSTANTS_S.size, -1)
        decay = np.exp(-np.multiply.outer(np.cumsum(step), 1 / TIME_CONSTANTS_S))
        taken = -np.expm1(-np.multiply.outer(step, 1 / TIME_CONSTANTS_S))
        fed = taken / decay
        system = np.tril(self._weight * decay @ fed.T)
        np.fill_diagonal(system, 1 + self._weight * taken.sum(1))
        # The inverse of so small and plain a matrix is exact enough, and far quicker than a threaded library's solver.
        force = np.linalg.inv(system) @ (flat - self._weight * (decay @ state))
        remembered = np.where(nothing, 0.0, force)
        state = decay[-1, :, None] * (state + fed.T @ remembered)
        self._state = state.reshape(self._state.shape)
        self._last_s = float(t_s[-1])
        return force.reshape(reading_n.shape)


def grown(placements: Sequence[Placement], c_per_decade: float, exponent: float = 1.0) -> NDArray[np.float64]:
    """Force as it is read over force of each placement.

    Parameters
    ----------
    placements : sequence of Placement
        With `t_s` where it is known; those without it count as from rest, or from their peak where `falling`.
    c_per_decade : float
        Creep of the force that is read.
    exponent : float
        The curves': the conductance creeps by `c_per_decade / exponent`.

    Returns
    -------
    ndarray, shape (placements,)
        1 without creep.
    """
    share = c_per_decade / exponent
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
                lifted_s = 0.5 * (read_s + max(begun[bisect_right(begun, was.t_s)], read_s))
                steps.append((lifted_s, -size_of[before]))
            steps.append((now.t_s, size_of[i] - lying))
            read_s = now.t_s + now.after_s
            reading = sum(size * step_response(share, read_s - at_s) for at_s, size in steps)
            # A cell that was far heavier loaded just before must not make its memory the whole reading.
            out[i] = max(reading / size_of[i], 0.5) ** exponent
            before = i
        for i in set(indices) - set(timed):
            out[i] = _from_rest(placements[i], share, exponent) ** exponent
    return out


def _from_rest(placement: Placement, share: float, exponent: float) -> float:
    """From rest to G it is S(t); from rest to a peak P for T, then down to G, S(t) + (S(t + T) - S(t))·P/G."""
    now = step_response(share, placement.after_s)
    if not placement.falling or math.isnan(placement.peak_n):
        return now
    later = step_response(share, placement.after_s + placement.peak_s)
    above: float = (placement.peak_n / placement.force_n) ** (1 / exponent)
    return now + (later - now) * above


# A turn of the load has gone over to the other way within about this part of the peak.
_PASSAGE = 0.1
# Movements smaller than this are noise and turn nothing: part of the peak, and N.
_QUIET, _QUIET_N = 0.01, 0.5
# Below this part of the peak the load is gone, and so is what the film remembers of it.
_GONE = 0.05


class HysteresisMemory:
    """Takes the way down's excess out of readings, frame after frame; causal, no delay.

    Parameters
    ----------
    arch : float
        b of the module's text.
    shape : tuple of int
        Shape of a frame's forces.
    """

    def __init__(self, arch: float, shape: tuple[int, ...]) -> None:
        self._arch = arch
        self._peak = np.full(shape, 1e-3)
        self._followed = np.zeros(shape)
        self._excess = np.zeros(shape)

    def force_n(self, reading_n: NDArray[np.float64]) -> NDArray[np.float64]:
        """Force without hysteresis.

        Parameters
        ----------
        reading_n : ndarray
            Forces by the curve of the way up, N. NaN stays NaN and changes nothing that is remembered.

        Returns
        -------
        ndarray, same shape
        """
        if self._arch == 0:
            return reading_n
        reading = np.where(np.isnan(reading_n), self._followed, reading_n)
        peak = np.maximum(self._peak, reading)
        gone = reading < _GONE * peak
        self._peak = np.where(gone, np.maximum(reading, 1e-3), peak)
        quiet = np.maximum(_QUIET_N, _QUIET * self._peak)
        followed = np.clip(self._followed, reading - quiet, reading + quiet)
        moved = followed - self._followed
        self._followed = followed
        most = self._arch * np.maximum(self._peak - reading, 0) * np.maximum(reading, 0) / self._peak
        kept = np.exp(-np.abs(moved) / (_PASSAGE * self._peak))
        goal = np.where(moved < 0, most, 0.0)
        self._excess = np.where(gone, 0.0, np.minimum(goal + (self._excess - goal) * kept, most))
        return reading_n - self._excess

    def forces_n(self, reading_n: NDArray[np.float64]) -> NDArray[np.float64]:
        """Forces without hysteresis of a block of frames: the same numbers as `force_n` for one after the other.

        Only what a frame needs of the one before it is done frame by frame, all the rest for the block. A block in
        which a cell comes and goes (NaN in some frames) is taken frame by frame.

        Parameters
        ----------
        reading_n : ndarray, shape (n, ...)

        Returns
        -------
        ndarray, same shape
        """
        if self._arch == 0 or not len(reading_n):
            return reading_n
        unknown = np.isnan(reading_n)
        if (unknown.any(0) != unknown.all(0)).any():
            return np.stack([self.force_n(reading) for reading in reading_n])
        reading = np.where(unknown, self._followed, reading_n)
        peak, gone = self._peaks(reading)
        quiet = np.maximum(_QUIET_N, _QUIET * peak)
        followed = np.empty_like(reading)
        last = self._followed
        for now, low, high in zip(followed, reading - quiet, reading + quiet, strict=True):
            np.maximum(last, low, out=now)
            last = np.minimum(now, high, out=now)
        moved = np.diff(followed, axis=0, prepend=self._followed[None])
        most = self._arch * np.maximum(peak - reading, 0) * np.maximum(reading, 0) / peak
        most[gone] = 0.0
        kept = np.exp(-np.abs(moved) / (_PASSAGE * peak))
        goal = np.where(moved < 0, most, 0.0)
        excess = np.empty_like(reading)
        last = self._excess
        for now, to, keep, limit in zip(excess, goal, kept, most, strict=True):
            np.subtract(last, to, out=now)
            now *= keep
            now += to
            last = np.minimum(now, limit, out=now)
        self._peak, self._followed, self._excess = peak[-1].copy(), followed[-1].copy(), excess[-1].copy()
        return reading_n - excess

    def _peaks(self, reading: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
        """The peak that counts in each frame of a block, and where the load was gone."""
        peaks, gone = np.empty_like(reading), np.empty(reading.shape, bool)
        fresh = np.maximum(reading, 1e-3)
        least = np.empty_like(self._peak)
        last = self._peak
        for now, away, value, new in zip(peaks, gone, reading, fresh, strict=True):
            np.maximum(last, value, out=now)
            np.multiply(now, _GONE, out=least)
            np.less(value, least, out=away)
            np.copyto(now, new, where=away)
            last = now
        return peaks, gone
