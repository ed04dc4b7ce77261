"""Looks at the empty mat before a run: what it reads, what is ill, and whether something still stands on it."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.conductance import NOISY_S, STUCK_S

TARE_S = 1.5
"""The empty mat is looked at for so long."""
PATIENCE_S = 4.0
"""What still reads a load after this, and does not move, is taken for ill."""
SHORT_S = 3e-3
"""Above this (330 Ω; the film under half a tonne reads less), a cell is a short and no film."""

# A foot covers at least so many cells that touch; a single pressed or stuck cell does not.
_FOOT_CELLS = 4
# A foot is never as still as this over the look, relative.
_STILL = 0.01

Cell = tuple[int, int]


class Ill(Enum):
    """What is wrong with a cell, or with a whole row or column."""

    STUCK = "stuck"
    SHORTED = "shorted"
    NOISY = "noisy"


@dataclass(frozen=True)
class Empty:
    """The empty mat.

    Attributes
    ----------
    level_s : ndarray, shape (rows, columns)
        Median over the look, S.
    ill : dict of (row, column) to Ill
        Cells that read something all the same.
    """

    level_s: NDArray[np.float64]
    ill: dict[Cell, Ill]


@dataclass(frozen=True)
class Standing:
    """Something lies on the mat.

    Attributes
    ----------
    cells : tuple of (row, column)
    foot : bool
        It covers as much as a foot does.
    """

    cells: tuple[Cell, ...]
    foot: bool


class Tare:
    """Waits for an empty mat, frame after frame; has no clock of its own."""

    def __init__(self) -> None:
        self._recent: deque[tuple[float, NDArray[np.float64]]] = deque()
        self._since: tuple[frozenset[Cell], float] | None = None

    def step(self, t_s: float, conductance_s: NDArray[np.float64]) -> Empty | Standing | None:
        """One frame: the empty mat once it is known, what stands on it, or None while it looks.

        Parameters
        ----------
        t_s : float
            Device time, s, rising.
        conductance_s : ndarray, shape (rows, columns)
            S; a frame with a NaN is left out.
        """
        if not np.isfinite(conductance_s).all():
            return None
        self._recent.append((t_s, conductance_s))
        while self._recent[0][0] < t_s - TARE_S:
            self._recent.popleft()
        if t_s - self._recent[0][0] < 0.9 * TARE_S or len(self._recent) < 8:
            return None
        seen = np.stack([g for _, g in self._recent])
        level, high = np.median(seen, axis=0), np.quantile(seen, 0.9, axis=0)
        # A reading that only falls, as the film forgets a load, is not noisy: noise goes from frame to frame.
        jumps = np.median(np.abs(np.diff(seen, axis=0)), axis=0) / 0.954  # of a normal sample's standard deviation
        loaded = frozenset((int(r), int(c)) for r, c in np.argwhere(high > STUCK_S))
        noisy = {(int(r), int(c)): Ill.NOISY for r, c in np.argwhere(jumps > NOISY_S)}
        if not loaded - set(noisy):
            return Empty(level, noisy)
        if self._since is None or self._since[0] != loaded:
            self._since = (loaded, t_s)
        spread = max(float(seen[:, *cell].std() / level[cell]) for cell in loaded)
        foot = _is_foot(loaded)
        if foot or spread > _STILL or t_s - self._since[1] < PATIENCE_S:
            return Standing(tuple(sorted(loaded)), foot)
        ill = noisy | {cell: Ill.SHORTED if level[cell] > SHORT_S else Ill.STUCK for cell in loaded}
        return Empty(level, ill)


def _is_foot(loaded: frozenset[Cell]) -> bool:
    """Do they cover as much as a foot: many that touch, over more than one row and one column?"""
    left = set(loaded)
    while left:
        patch, edge = set(), {left.pop()}
        while edge:
            patch |= edge
            edge = {cell for cell in left if any(touching(cell, other) for other in edge)}
            left -= edge
        rows, columns = {row for row, _ in patch}, {column for _, column in patch}
        if len(patch) >= _FOOT_CELLS and len(rows) > 1 and len(columns) > 1:
            return True
    return False


def by_line(cells: frozenset[Cell], rows: int, columns: int) -> tuple[list[int], list[int], list[Cell]]:
    """Cells as whole rows, whole columns and the rest: a fault of a line is one fault.

    Examples
    --------
    >>> by_line(frozenset({(0, 0), (0, 1), (1, 1)}), 2, 2)
    ([0], [1], [])
    """
    whole_rows = [r for r in range(rows) if all((r, c) in cells for c in range(columns))]
    whole_columns = [c for c in range(columns) if all((r, c) in cells for r in range(rows))]
    rest = sorted(cell for cell in cells if cell[0] not in whole_rows and cell[1] not in whole_columns)
    return whole_rows, whole_columns, rest


def touching(a: Cell, b: Cell) -> bool:
    """Two cells share an edge or a corner."""
    return a != b and max(abs(a[0] - b[0]), abs(a[1] - b[1])) <= 1
