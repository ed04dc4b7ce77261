"""Watches a mat for one load at a time: when it comes, when it lies still, and what the mat reads then. Causal."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.guided.lying import binned
from groundtone.calibration.guided.tare import Cell

DWELL_S = (1.0, 2.0)
"""What counts is the mean over this time after a load came to rest: the same for every one, because film creeps."""
REST_S = 6.0
"""A load that has found no rest by then is said to be unsteady."""
LOADED_S = 5e-6
"""A cell may count as loaded above this, about 2 N on the reference film."""

# A load is new when it reads more than the cell still remembers of the one before by half of that.
_MEMORY = 0.5
# Part of the largest reading since the last lift below which the cell is free: the film's memory of a load is smaller
# (3 %, a hard film 5 %), and nobody takes weights off down to less than an eighth without a lift.
_FREE = 0.08
# Creep from a tenth of a second to two seconds is 4 % (hard film 10 %): what stays inside this, in ln, lies still.
_BAND = 0.12
# A change of this size after the dwell, in ln, is another load without a lift.
_CHANGED = 0.15
# A load that has lain this long and then reads less has slipped, or a hand had been leaning on it.
_STOOD_S = 0.4
# A weight that is lifted is off the cell in less than this after it began to read less, s.
_SLIPPING_S = 1.0
# Between the halves of the dwell, in ln, and over its noise: beyond these it does not lie still.
_LEAST_DRIFT, _LEAST_NOISE = 0.03, 0.06
_EARLY_S, _LATE_S = (0.4, 0.7), (1.5, 2.0)
# From then on it tells how it creeps.
_GREW_FROM_S = 0.35
# What an empty mat reads is followed at once downwards and slowly upwards, s.
_FOLLOW_S = 3.0
# A neighbour is heard when it reads this part of the loaded cell; less is noise.
_HEARD = 0.01
# Something else lies elsewhere where a cell that does not touch the loaded one reads this part of it.
_ELSEWHERE = 0.10


class Seen(Enum):
    """What the watch tells."""

    TOUCHED = "touched"
    STEADY = "steady"
    UNSTEADY = "unsteady"
    SLIPPED = "slipped"
    LIFTED = "lifted"
    LIFTED_EARLY = "lifted early"


@dataclass(frozen=True)
class Reading:
    """A load that lay still through its dwell.

    Attributes
    ----------
    cell : (row, column)
        The cell that reads most.
    conductance_s, before_s : ndarray, shape (rows, columns)
        Means over the dwell and before the load came, S.
    t_s, after_s : float
        When it came, and the dwell's mean time after that, s.
    drift : float
        ln of late over early reading, per decade of time.
    reading_u : float
        Relative standard uncertainty of the mean.
    around : tuple of ((row, column), S)
        The loaded cell and the touching cells that are heard, with what they read above before.
    second : (row, column) or None
        The touching cell that reads most beside it, where one is heard.
    elsewhere : tuple of (row, column)
        Cells that do not touch it and read a load too.
    before_level_s : float
        The cell's reading under what lay there before without a lift, S; NaN after a lift.
    frames : slice
        The frames of the dwell, counted from the first one watched.
    grew : tuple of (s, float)
        Times after it came, and ln of the cell's reading over that of the dwell.
    """

    cell: Cell
    conductance_s: NDArray[np.float64]
    before_s: NDArray[np.float64]
    t_s: float
    after_s: float
    drift: float
    reading_u: float
    around: tuple[tuple[Cell, float], ...]
    second: Cell | None
    elsewhere: tuple[Cell, ...]
    before_level_s: float
    frames: slice
    grew: tuple[tuple[float, float], ...] = ()

    @property
    def level_s(self) -> float:
        """Reading of the loaded cell, S."""
        return float(self.conductance_s[self.cell])

    @property
    def stayed(self) -> bool:
        """It was reached without a lift."""
        return not math.isnan(self.before_level_s)

    @property
    def fell(self) -> bool:
        """It was reached by taking weights off without a lift."""
        return bool(self.level_s < self.before_level_s)


@dataclass(frozen=True)
class Event:
    """What was seen, where, and the reading of a steady load."""

    seen: Seen
    cell: Cell
    reading: Reading | None = None


class LoadWatch:
    """Follows the loads on a mat, frame after frame; has no clock of its own.

    Parameters
    ----------
    empty_s : ndarray, shape (rows, columns)
        What the empty mat reads, S.
    columns_per_panel : int
        A load does not reach over from panel to panel.
    ignored : set of (row, column)
        Ill cells that are not looked at.
    """

    def __init__(self, empty_s: NDArray[np.float64], columns_per_panel: int, ignored: frozenset[Cell]) -> None:
        self._background = empty_s.copy()
        self._panel = np.arange(empty_s.shape[1]) // columns_per_panel
        self._mask = np.ones(empty_s.shape, bool)
        for cell in ignored:
            self._mask[cell] = False
        self._frames = 0
        self._last_s = math.nan
        self._recent: deque[tuple[int, float, NDArray[np.float64]]] = deque()
        self._free()

    @property
    def loaded(self) -> Cell | None:
        """The cell that carries a load now."""
        return self._cell

    def step(self, t_s: float, conductance_s: NDArray[np.float64]) -> Event | None:
        """One frame.

        Parameters
        ----------
        t_s : float
            Device time, s, rising.
        conductance_s : ndarray, shape (rows, columns)
            S; a frame with a NaN is left out.
        """
        self._frames += 1
        if not np.isfinite(conductance_s).all():
            return None
        since = t_s - self._last_s if t_s > self._last_s else 0.0
        self._last_s = t_s
        excess = np.where(self._mask, conductance_s - self._background, 0.0)
        top = divmod(int(excess.argmax()), excess.shape[1])
        if self._cell is None:
            if excess[top] > max(LOADED_S, _MEMORY * self._background[top]):
                self._begin(top, t_s)
                self._keep(t_s, conductance_s)
                return Event(Seen.TOUCHED, top)
            rise = 1.0 - math.exp(-since / _FOLLOW_S)
            up = self._background + rise * (conductance_s - self._background)
            self._background = np.where(conductance_s < self._background, conductance_s, up)
            return None
        self._keep(t_s, conductance_s)
        return self._follow(t_s, excess, top)

    def _free(self) -> None:
        self._cell: Cell | None = None
        self._steady_s = math.nan  # level of the load that was told last
        self._told_s = math.nan  # when
        self._spoilt = False
        self._falling_s = math.nan  # since when it has read less than before, while it is not known why
        self._strongest = 0.0
        self._began_s = math.nan
        self._recent.clear()

    def _begin(self, cell: Cell, t_s: float) -> None:
        self._free()
        self._cell, self._began_s = cell, t_s

    def _keep(self, t_s: float, conductance_s: NDArray[np.float64]) -> None:
        self._recent.append((self._frames - 1, t_s, conductance_s))
        while self._recent[0][1] < t_s - REST_S - 1.0:
            self._recent.popleft()

    def _follow(self, t_s: float, excess: NDArray[np.float64], top: Cell) -> Event | None:
        assert self._cell is not None
        cell, told = self._cell, not math.isnan(self._told_s)
        here = float(excess[cell])
        if max(here, float(excess[top])) < max(LOADED_S, _FREE * self._strongest):
            stood = told or t_s - self._began_s > _STOOD_S
            spoilt = self._spoilt
            # What the film still remembers is no new load.
            self._background = np.maximum(self._background, self._recent[-1][2])
            self._free()
            if told:
                return Event(Seen.LIFTED, cell)
            return Event(Seen.LIFTED_EARLY, cell) if stood and not spoilt else None
        if top != cell and excess[top] > 1.1 * max(here, 0.0):
            # Another cell: at first a hand that finds its place, later a slip, after the tick a new load.
            slipped = not told and not self._spoilt and self._had_stood(max(here, 1e-12))
            self._cell = cell = top
            self._strongest = 0.0
            if told:
                self._steady_s = self._told_s = math.nan
                self._began_s = t_s
                for _ in range(len(self._recent) - 1):
                    self._recent.popleft()
            if slipped:
                self._spoilt = True
                return Event(Seen.SLIPPED, cell)
            here = float(excess[top])
        before, self._strongest = self._strongest, max(self._strongest, here)
        if self._spoilt:
            return None
        if not told and here < before * math.exp(-_CHANGED) and self._had_stood(here):
            # On its way up into the hand, or lying askew now? That shows when it goes on lying there.
            if math.isnan(self._falling_s):
                self._falling_s = t_s
            if t_s - self._falling_s < _SLIPPING_S:
                return None
            self._spoilt = True
            return Event(Seen.SLIPPED, cell)
        self._falling_s = math.nan
        return self._rest(t_s, cell)

    def _levels(self, cell: Cell) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        t = np.array([t for _, t, _ in self._recent])
        level = np.array([g[cell] for _, _, g in self._recent]) - self._background[cell]
        return t, np.maximum(level, 1e-12)

    def _since(self, cell: Cell) -> float:
        """Since when the cell has read what it reads now."""
        t, level = self._levels(cell)
        inside = np.abs(np.log(level / level[-3:].mean())) < _BAND
        if not inside[-1]:
            return float(t[-1])
        outside = np.flatnonzero(~inside)
        return float(t[outside[-1] + 1]) if outside.size else float(t[0])

    def _came(self, cell: Cell, since: float) -> float:
        """When the load came: half of the step from what lay there before to what the cell has read since it rested.

        A film that creeps by a fifth a decade comes into the band of rest half a second late, and by a clock that
        began then it would seem to creep by a third less than it does.
        """
        t, level = self._levels(cell)
        rest = float(level[np.searchsorted(t, since) :][:3].mean())
        before = 0.0 if math.isnan(self._told_s) else self._steady_s
        far = (t < since) & (np.abs(level - rest) > 0.5 * abs(rest - before))
        last = np.flatnonzero(far)
        return float(t[last[-1] + 1]) if last.size else min(float(t[0]), since)

    def _had_stood(self, here: float) -> bool:
        """Did it read clearly more than now, and stand there, before it fell?"""
        assert self._cell is not None
        t, level = self._levels(self._cell)
        high = level > here * math.exp(_CHANGED)
        if not high.any():
            return False
        peak = level[high].max()
        stood = t[np.abs(np.log(level / peak)) < _BAND]
        return bool(stood.size) and float(stood[-1] - stood[0]) > _STOOD_S

    def _rest(self, t_s: float, cell: Cell) -> Event | None:
        """The reading of a load that has lain still through its dwell."""
        since = self._since(cell)
        if not math.isnan(self._told_s):
            # Only another load without a lift counts now, not the creep of the one that was told.
            _, level = self._levels(cell)
            if since <= self._told_s or abs(math.log(level[-1] / self._steady_s)) < _CHANGED:
                return None
        if t_s - since < DWELL_S[1]:
            return self._restless(t_s, cell)
        inside = [item for item in self._recent if item[1] >= t_s - (DWELL_S[1] - DWELL_S[0])]
        grids = np.stack([g for _, _, g in inside])
        own = grids[:, *cell]
        half = len(own) // 2
        if half < 2:
            return None
        drift = abs(math.log(float(own[half:].mean()) / float(own[:half].mean())))
        noise = float(own.std() / own.mean())
        if drift > _LEAST_DRIFT or noise > _LEAST_NOISE:
            return self._restless(t_s, cell)
        mean = grids.mean(0)
        dwell_s = np.array([t for _, t, _ in inside])
        around, second, elsewhere = self._around(mean, cell)
        before_level = self._steady_s + self._background[cell] if not math.isnan(self._told_s) else math.nan
        came_s = self._came(cell, since)
        self._steady_s, self._told_s = float(mean[cell] - self._background[cell]), t_s
        frames = slice(inside[0][0], inside[-1][0] + 1)
        reading = Reading(
            cell,
            mean,
            self._background.copy(),
            came_s,
            float(dwell_s.mean()) - came_s,
            self._drift(cell, came_s),
            noise / math.sqrt(len(own)),
            around,
            second,
            elsewhere,
            before_level,
            frames,
            self._grew(cell, came_s),
        )
        return Event(Seen.STEADY, cell, reading)

    def _restless(self, t_s: float, cell: Cell) -> Event | None:
        if math.isnan(self._told_s) and t_s - self._began_s > REST_S:
            self._spoilt = True
            return Event(Seen.UNSTEADY, cell)
        return None

    def _drift(self, cell: Cell, since: float) -> float:
        t, level = self._levels(cell)
        early = (t >= since + _EARLY_S[0]) & (t <= since + _EARLY_S[1])
        late = (t >= since + _LATE_S[0]) & (t <= since + _LATE_S[1])
        if not early.any() or not late.any():
            return math.nan
        decades = math.log10(float((t[late] - since).mean()) / float((t[early] - since).mean()))
        return math.log(float(level[late].mean()) / float(level[early].mean())) / decades

    def _grew(self, cell: Cell, came_s: float) -> tuple[tuple[float, float], ...]:
        t, level = self._levels(cell)
        return binned(t - came_s, np.log(level / self._steady_s), _GREW_FROM_S)

    def _around(
        self, grid: NDArray[np.float64], cell: Cell
    ) -> tuple[tuple[tuple[Cell, float], ...], Cell | None, tuple[Cell, ...]]:
        excess = np.where(self._mask, grid - self._background, 0.0)
        own = float(excess[cell])
        rows, columns = np.indices(excess.shape)
        near = (np.abs(rows - cell[0]) <= 1) & (np.abs(columns - cell[1]) <= 1)
        near &= self._panel[columns] == self._panel[cell[1]]
        heard = near & (excess > _HEARD * own)
        heard[cell] = False
        touching = [(int(r), int(c)) for r, c in zip(*np.nonzero(heard), strict=True)]
        around = ((cell, own), *((other, float(excess[other])) for other in touching))
        others = np.where(heard, excess, 0.0)
        second = divmod(int(others.argmax()), excess.shape[1]) if others.max() > 0 else None
        far = ~near & (excess > max(LOADED_S, _ELSEWHERE * own))
        elsewhere = tuple((int(r), int(c)) for r, c in zip(*np.nonzero(far), strict=True))
        return around, second, elsewhere
