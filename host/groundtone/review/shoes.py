"""The golfer's shoes in review: learnt from the first part of each stand, applied to the whole of it.

The live engine learns them as frames come and applies them from the next frame on (`calibration.shoes.shoe`). Here
the beginning of a stand waits until it has been learnt from, so that the frames before have the same factors.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film
from groundtone.calibration.shoes.postures import NOBODY_N
from groundtone.calibration.shoes.shoe import ShoeLearner, ShoeResult, soles_from
from groundtone.mat.layout import Layout
from groundtone.pressure.feet import foot_forces
from groundtone.pressure.foot_factors import FootFactors

Array = NDArray[np.float64]

# What stepping on, rocking and the first setup take at most, s.
LEARN_S = 45.0
# Frames that come sooner after one another tell nothing more, s.
_EVERY_S = 0.0095
# Nobody has been there for so long: whoever comes next wears other shoes.
_AWAY_S = 0.4
# The share of one foot moves by more than this within `_FAST_S` in a swing, and by less in a rock (chosen on the twin);
# swings are nothing to learn from.
_FAST_SHARE, _FAST_S = 0.2, 0.5


class SoleForces:
    """Turns forces of the film into forces on the soles, block after block.

    Parameters
    ----------
    feet : bool
        The mat told feet too, see `on_feet`.

    Attributes
    ----------
    left : float
        What was left of the total over the weight in the postures that were learnt from, root mean square: the largest
        of all stands.
    stands : list of (float, ShoeResult or None)
        When each stand began, device time, s, and what was learnt of the shoes in it.
    """

    def __init__(self, layout: Layout, film: Film, *, feet: bool = False) -> None:
        self.left = 0.0
        self.stands: list[tuple[float, ShoeResult | None]] = []
        self._told: list[tuple[float, FootFactors | None]] | None = [] if feet else None
        self._layout = layout
        self._learner = ShoeLearner(layout, film)
        self._waiting: list[Array] = []
        self._begun_s: float | None = None
        self._learnt = False
        self._last_there_s = self._seen_s = -np.inf

    def take(self, t_s: Array, force_n: Array) -> Array:
        """Takes a block in and gives back what is ready: all frames in order, some of them blocks later.

        Parameters
        ----------
        t_s : ndarray, shape (n,)
            Device time, s, rising.
        force_n : ndarray, shape (n, rows, columns)
            N; NaN in, NaN out.

        Returns
        -------
        ndarray, shape (m, rows, columns)
        """
        out: list[Array] = []
        feet = foot_forces(force_n, self._layout)
        total = feet.sum(1)
        there = total >= NOBODY_N
        # Where the mat tells feet, frames end before the first swing: all of the rock counts, as it did live.
        calm = there if self._told is not None else there & ~_fast(t_s, feet[:, 0] / np.maximum(total, NOBODY_N))
        changes = np.append(np.flatnonzero(np.diff(there)) + 1, len(t_s))
        at = 0
        while at < len(t_s):
            until = int(changes[np.searchsorted(changes, at, side="right")])
            if there[at]:
                self._begun_s = t_s[at] if self._begun_s is None else self._begun_s
                if not self._learnt:
                    learnt_at = int(np.searchsorted(t_s, self._begun_s + LEARN_S, side="right"))
                    until = max(at + 1, min(until, learnt_at))
                    self._gather(t_s[at:until], force_n[at:until], calm[at:until])
                out += self._pass_on(force_n[at:until])
                self._last_there_s = float(t_s[until - 1])
                if not self._learnt and self._last_there_s + 1e-9 >= self._begun_s + LEARN_S - _EVERY_S:
                    out += self._ready()
            else:
                for t, force in zip(t_s[at:until].tolist(), force_n[at:until], strict=True):
                    if self._begun_s is not None and t - self._last_there_s >= _AWAY_S:
                        out += self._ready()
                        self._learner.forget()
                        self._begun_s, self._learnt = None, False
                    self._learner.take(t, force, gather=False)
                    out += self._pass_on(force[None])
            at = until
        return np.concatenate([np.empty((0, *force_n.shape[1:])), *out])

    def _gather(self, t_s: Array, force_n: Array, calm: NDArray[np.bool_]) -> None:
        """Lets the learner see calm frames, a hundred a second at most."""
        seen = []
        for i, at_s in zip(np.flatnonzero(calm).tolist(), t_s[calm].tolist(), strict=True):
            if at_s - self._seen_s >= _EVERY_S:
                self._seen_s = at_s
                seen.append(i)
        if seen:
            self._learner.take_all(t_s[seen], force_n[seen])

    def _pass_on(self, force_n: Array) -> list[Array]:
        """Frames as they are on the soles, or none yet while the shoes are being learnt."""
        if self._begun_s is not None and not self._learnt:
            self._waiting.append(force_n)
            return []
        return [self._learner.on_soles(force_n)]

    def on_feet(self, t_s: Array, force_n: Array, u: Array) -> tuple[Array, Array]:
        """What the mat told of whole feet, on the soles as the frames of the same stand told them; after `end`.

        Parameters
        ----------
        t_s : ndarray, shape (n,)
        force_n, u : ndarray, shape (n, 2)
            N, and cells from the first one's middle along the foot; NaN in, NaN out.
        """
        force, moved = force_n.copy(), u.copy()
        told = self._told or []
        stand = np.searchsorted([begun_s for begun_s, _ in told], t_s, side="right") - 1
        for i, (_, factors) in enumerate(told):
            if factors is not None:
                force[stand == i], moved[stand == i] = factors.on_soles(force_n[stand == i], u[stand == i])
        return force, moved

    def end(self) -> Array:
        """What is left at the end of the recording."""
        return np.concatenate([np.empty((0, self._layout.rows, self._layout.columns)), *self._ready()])

    def _ready(self) -> list[Array]:
        """Learns from what waits, and gives it with its factors."""
        self._learnt = True
        if not self._waiting:
            return []
        waiting = np.concatenate(self._waiting)
        self._waiting = []
        soles = soles_from(np.nan_to_num(waiting).max(0), self._layout)
        if soles is not None:
            found = self._learner.solve(soles)
            self.left = max(self.left, found.left if found is not None else 0.0)
        if self._begun_s is not None:
            self.stands.append((self._begun_s, self._learner.result))
        if self._told is not None and self._begun_s is not None:
            result = self._learner.result
            known = FootFactors(self._learner.frames(), result.factor, self._layout) if result is not None else None
            self._told.append((self._begun_s, known))
        return [self._learner.on_soles(waiting)]


def _fast(t_s: Array, share: Array) -> NDArray[np.bool_]:
    """Frames within `_FAST_S` of which the share moves fast."""
    from scipy.ndimage import maximum_filter1d, minimum_filter1d

    if len(t_s) < 2:
        return np.zeros(len(t_s), bool)
    width = max(1, round(_FAST_S / float(np.median(np.diff(t_s)))))
    padded = np.pad(np.nan_to_num(share), width, mode="edge")
    moved = maximum_filter1d(padded, width + 1) - minimum_filter1d(padded, width + 1)
    # The windows that end with a frame and begin with it.
    half = (width + 1) // 2
    before, after = moved[width - half :][: len(t_s)], moved[width + half :][: len(t_s)]
    fast: NDArray[np.bool_] = np.maximum(before, after) > _FAST_SHARE
    return fast
