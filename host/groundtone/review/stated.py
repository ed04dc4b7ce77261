"""What the mat's uncertainty budget says of a recording's swings: frames that are kept for it, stand by stand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film, typical_film
from groundtone.calibration.profile import Profile, profile_from_text
from groundtone.calibration.shoes.shoe import ShoeResult
from groundtone.calibration.uncertainty import Budget, budget_of
from groundtone.mat.layout import Layout
from groundtone.pressure.stands import NOBODY_N
from groundtone.swing.doubts import Doubts, doubts_of

Array = NDArray[np.float64]

# One frame in so much time is kept of who stands there, s: a doubt moves slowly; one that is so near tells of a
# moment.
_EVERY_S, _NEAR_S = 0.05, 0.15
# A profile of the oldest programs says nothing of its cells: what a cell's level is known by, by what it was made of
# (about the worst that newer profiles of either kind say of theirs on the twin's wide mats).
_BENCH_U, _STANDING_U = 0.08, 0.15
NO_BUDGET = (
    "The mat's profile is of an older program and says nothing of how sure it is: the doubt of a mat calibrated {} is "
    "taken; calibrating again gives its own."
)


def budgeted(profile: Profile | None, film: Film) -> tuple[Film, str]:
    """The film with what its cells' levels are known by, and a sentence where that is the class's, not its own.

    Parameters
    ----------
    profile : Profile or None
        None: nobody has calibrated the mat, and a sheet's own spread is what is known.
    film : Film
        To measure with.
    """
    if profile is None or film.level_u is not None:
        return film, ""
    bench = bool(profile.weights_n)
    level_u = np.full(film.curves.level.shape, _BENCH_U if bench else _STANDING_U)
    return replace(film, level_u=level_u), NO_BUDGET.format("with weights" if bench else "by standing")


def calibration_doubts(profile_text: str | None, layout: Layout) -> Doubts:
    """What a recording's calibration leaves open, by its profile's text alone; None: nobody has calibrated the mat."""
    if profile_text is None:
        return doubts_of(typical_film(layout.rows, layout.columns), layout)
    profile = profile_from_text(profile_text, "of the recording")
    return doubts_of(budgeted(profile, profile.film)[0], layout)


class KeptFrames:
    """Gathers what the budget needs of a recording's frames, in order of time: 5 kB a second of somebody there."""

    def __init__(self) -> None:
        self._t_s: list[Array] = []
        self._force: list[NDArray[np.float16]] = []
        self._last_s = -math.inf

    def take(self, t_s: Array, force_n: Array) -> None:
        """A block of frames on the soles, (n,) s and (n, rows, columns) N; NaN counts as nothing."""
        turn = np.floor(t_s / _EVERY_S)
        first = np.flatnonzero(np.diff(turn, prepend=math.floor(self._last_s / _EVERY_S) if self._t_s else -1.0) > 0)
        there = first[np.nan_to_num(force_n[first]).sum(axis=(1, 2)) > NOBODY_N]
        if there.size:
            self._t_s.append(t_s[there])
            self._force.append(force_n[there].astype(np.float16))
            self._last_s = float(t_s[there][-1])

    def stated(
        self, layout: Layout, film: Film, stands: Sequence[tuple[float, ShoeResult | None]], lead: int
    ) -> StatedFrames | None:
        """What the budget says of them; None where nothing was kept.

        Parameters
        ----------
        film : Film
            With all cells that are filled, and what its levels are known by.
        stands : sequence of (float, ShoeResult or None)
            When each began, device time, s, and what was learnt of the shoes in it.
        lead : int
            Which foot leads, 0 left.
        """
        if not self._t_s:
            return None
        unlearnt = budget_of(layout, film)
        budgets = [budget_of(layout, film, shoe) if shoe is not None else unlearnt for _, shoe in stands]
        begun_s = np.array([begun for begun, _ in stands])
        t_s = np.concatenate(self._t_s)
        return StatedFrames(t_s, np.concatenate(self._force), begun_s, (*budgets, unlearnt), lead)


@dataclass(frozen=True, eq=False)
class StatedFrames:
    """The frames that were kept with the budget of their stand: a `groundtone.swing.doubts.Stated`.

    Attributes
    ----------
    t_s : ndarray, shape (n,)
    force_n : ndarray of float16, shape (n, rows, columns)
    begun_s : ndarray, shape (stands,)
    budgets : tuple of Budget
        One a stand, and last the one of who stands there before any.
    lead : int
    """

    t_s: Array
    force_n: NDArray[np.float16]
    begun_s: Array
    budgets: tuple[Budget, ...]
    lead: int

    def _budget(self, t_s: float) -> Budget:
        return self.budgets[int(np.searchsorted(self.begun_s, t_s + 1e-6, side="right")) - 1]

    def frames(self, t_s: Array) -> tuple[Array, Array]:
        """See `Stated`."""
        low, high = np.searchsorted(self.t_s, [t_s[0] - _NEAR_S, t_s[-1] + _NEAR_S])
        share, along = np.full(len(t_s), math.nan), np.full((len(t_s), 2), math.nan)
        if high <= low:
            return share, along
        at_s = self.t_s[low:high]
        # A swing lies in one stand: the one of its middle.
        stated = self._budget(float(t_s[len(t_s) // 2])).of(self.force_n[low:high].astype(np.float64))
        near = np.abs(at_s[_nearest(at_s, t_s)] - t_s) <= _NEAR_S
        order = [self.lead, 1 - self.lead]
        for out, known in ((share, stated.share), (along[:, 0], stated.along_mm[:, order[0]]),
                           (along[:, 1], stated.along_mm[:, order[1]])):  # fmt: skip
            finite = np.isfinite(known)
            if finite.any():
                out[near] = np.interp(t_s[near], at_s[finite], known[finite])
        return share, along

    def change(self, first_s: float, second_s: float) -> tuple[float, float, float, float]:
        """See `Stated`."""
        if not len(self.t_s):
            return (math.nan,) * 4
        at = _nearest(self.t_s, np.array([first_s, second_s]))
        if np.abs(self.t_s[at] - [first_s, second_s]).max() > _NEAR_S:
            return (math.nan,) * 4
        first, second = (self.force_n[k][None].astype(np.float64) for k in at)
        found = self._budget(second_s).between(first, second)
        along = found.along_mm[0]
        return float(found.share[0]), float(along[self.lead]), float(along[1 - self.lead]), float(found.total[0])


def _nearest(known_s: Array, t_s: Array) -> NDArray[np.intp]:
    after = np.clip(np.searchsorted(known_s, t_s), 1, max(len(known_s) - 1, 1))
    after = np.minimum(after, len(known_s) - 1)
    before = np.maximum(after - 1, 0)
    return np.where(np.abs(known_s[before] - t_s) <= np.abs(known_s[after] - t_s), before, after)
