"""Placements as arrays: checked, with the neighbours that tell how a puck lay."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.forms import EXPONENT, Points
from groundtone.calibration.fitting.pooled import Cells
from groundtone.calibration.force_curve import Curves
from groundtone.errors import CalibrationError

LEAST_PLACEMENTS = 8
SAME_LOAD = 0.1
"""Loads closer than this (ln) are the same load."""
FALLS = "force falls where conductance rises: weights and readings do not belong together"
# A neighbour carries part of a weight when it reads more than this part of the loaded cell; less is noise or creep.
_HEARD = 0.01
# What putting down a puck once leaves unknown, relative, when the neighbours have told what they can (invented).
_PUT_DOWN_U = 0.01
# Sides among the eight neighbours of `_neighbourhoods`.
_UP, _LEFT, _RIGHT, _DOWN = 2, 4, 5, 7
# So many placements tell how far pucks lie off in the mean.
_ENOUGH = 12


@dataclass(frozen=True)
class Table:
    """Placements as arrays, checked.

    Attributes
    ----------
    force, factor, peak, falling, known_var, mass_u : ndarray, shape (placements,)
        Weight in N; what the film's memory made of it; what lay there before; reached by taking off; variance of
        ln F that is stated beforehand; uncertainty of the weight.
    fresh : ndarray of bool, shape (placements,)
        Set down anew, not added to what lay there.
    near_s, near_before_s : ndarray, shape (placements, 9)
        Conductance of the cell and of the eight around it, S; and just before.
    near : ndarray of int, shape (placements, 9)
        Which cells these are; beyond a panel's edge the loaded cell itself.
    """

    force: NDArray[np.float64]
    factor: NDArray[np.float64]
    peak: NDArray[np.float64]
    falling: NDArray[np.bool_]
    fresh: NDArray[np.bool_]
    known_var: NDArray[np.float64]
    mass_u: NDArray[np.float64]
    near_s: NDArray[np.float64]
    near_before_s: NDArray[np.float64]
    near: NDArray[np.intp]
    cells: Cells
    shape: tuple[int, int]

    @classmethod
    def of(
        cls,
        placements: Sequence[Placement],
        rows: int,
        columns: int,
        panels: int,
        factor: NDArray[np.float64] | None,
    ) -> Table:
        """Placements as a table; CalibrationError where they are too few or useless."""
        if len(placements) < LEAST_PLACEMENTS:
            raise CalibrationError(
                f"only {len(placements)} placements: a calibration needs at least {LEAST_PLACEMENTS}, "
                f"{LEAST_PLACEMENTS - len(placements)} more, better every cell"
            )
        force = np.array([p.force_n for p in placements], np.float64)
        cell = np.array([p.row * columns + p.column for p in placements])
        grids = np.stack([p.conductance_s for p in placements]).reshape(len(placements), -1)
        own = grids[np.arange(len(placements)), cell]
        if not (np.isfinite(force).all() and (force > 0).all()):
            raise CalibrationError("a weight is zero, negative or not a number: give each weight in newtons above zero")
        wrong = ~(np.isfinite(own) & (own > 0))
        if wrong.any():
            bad = placements[int(wrong.argmax())]
            raise CalibrationError(
                f"the loaded cell of row {bad.row}, column {bad.column} read nothing: press it and look whether it is "
                "alive, then repeat it"
            )
        across = columns // panels if panels > 0 and columns % panels == 0 else columns
        near = _neighbourhoods(rows, columns, across)[cell]
        empty = np.zeros((rows, columns))
        before = np.stack([empty if p.before_s is None else p.before_s for p in placements]).reshape(grids.shape)
        pick = np.arange(len(placements))[:, None]
        panel = np.tile(np.arange(columns) // across, rows)
        mass_u = np.array([p.mass_u for p in placements])
        reading_u = np.array([p.reading_u for p in placements])
        return cls(
            force,
            np.ones_like(force) if factor is None else factor,
            np.array([p.peak_n for p in placements]),
            np.array([p.falling for p in placements]),
            np.array([not p.falling and math.isfinite(p.drift) for p in placements]),
            mass_u**2 + (EXPONENT * reading_u) ** 2,
            mass_u,
            np.nan_to_num(grids[pick, near]),
            np.nan_to_num(before[pick, near]),
            near,
            Cells(cell, panel, int(panel.max()) + 1),
            (rows, columns),
        )

    def check_they_rise(self) -> None:
        """CalibrationError where, on the same cell, more force mostly reads less."""
        up = ~self.falling
        cell = self.cells.own[up]
        count = np.maximum(np.bincount(cell, minlength=self.cells.panel.size), 1)
        y, x = np.log(self.force[up]), np.log(self.near_s[up, 0])
        y, x = (v - (np.bincount(cell, v, count.size) / count)[cell] for v in (y, x))
        if (np.abs(y) > SAME_LOAD).sum() >= 4 and float(np.sum(np.sign(y) * np.sign(x) * (np.abs(y) > SAME_LOAD))) <= 0:
            raise CalibrationError(FALLS)

    def on_cell(self, curves: Curves) -> NDArray[np.float64]:
        """Force on each placement's own cell, N.

        A puck that is a little off its cell leaves part of the weight with the neighbours, and they tell how much. At a
        panel's edge there is no neighbour to tell: there it is what pucks of this run left on that axis in the mean.
        """
        part = self._parts(curves)
        lost, _ = self._beyond(part)
        out: NDArray[np.float64] = self.force * part[:, 0] * (1 - lost)
        return out

    def put_down_var(self, curves: Curves) -> NDArray[np.float64]:
        """Variance of each cell's level that the residuals do not show: an error of putting the puck down is the same
        for everything that is stacked on it, and at an edge part of it is not seen at all. Shape (cells,).
        """
        _, var = self._beyond(self._parts(curves))
        count = self.cells.panel.size
        fresh = np.maximum(np.bincount(self.cells.own, self.fresh, count), 1.0)
        touched = np.bincount(self.cells.own, minlength=count)
        edge = np.bincount(self.cells.own, var, count) / np.maximum(touched, 1)
        return np.where(touched > 0, (_PUT_DOWN_U**2 + edge) / fresh, 0.0)

    def _parts(self, curves: Curves) -> NDArray[np.float64]:
        """Part of each weight on its cell and on the eight around it, shape (placements, 9)."""
        lean = None if curves.lean is None else curves.lean.ravel()[self.near]
        gain = None if curves.gain is None else curves.gain.ravel()[self.near]
        at = replace(curves, level=curves.level.ravel()[self.near], lean=lean, gain=gain)
        forces, before = at.force_n(self.near_s), at.force_n(self.near_before_s)
        # What the neighbours read before the weight came is their memory of others.
        forces[:, 1:] = np.maximum(forces[:, 1:] - before[:, 1:], 0.0)
        own = forces[:, :1].copy()
        forces = np.where((forces > _HEARD * own) & (self.near != self.near[:, :1]), forces, 0.0)
        forces[:, :1] = own
        out: NDArray[np.float64] = forces / forces.sum(1, keepdims=True)
        return out

    def _beyond(self, part: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Mean part of a placement's weight that went over a panel's edge, and its variance, shape (placements,)."""
        lost, var = np.zeros(len(part)), np.zeros(len(part))
        there = self.near != self.near[:, :1]
        for sides in ((_UP, _DOWN), (_LEFT, _RIGHT)):
            seen = np.concatenate([part[there[:, side] & self.fresh, side] for side in sides])
            if seen.size >= _ENOUGH:
                for side in sides:
                    lost[~there[:, side]] += float(seen.mean())
                    var[~there[:, side]] += float(seen.var())
        return np.minimum(lost, 0.5), var

    def points(self, on_cell: NDArray[np.float64]) -> Points:
        """What the forms are fitted to, for forces on the placements' own cells, N."""
        down = self.falling & np.isfinite(self.peak)
        ratio = np.divide(self.force, self.peak, out=np.ones_like(self.force), where=down)
        # A way down from an unknown peak says nothing of the curve: it keeps its place and does not count.
        known_var = np.where(self.falling & ~down, np.inf, self.known_var)
        return Points(self.near_s[:, 0], np.log(on_cell * self.factor), known_var, 1 - ratio, self.cells)


def _neighbourhoods(rows: int, columns: int, across: int) -> NDArray[np.intp]:
    """Each cell and the eight around it within its panel; the cell itself stands in beyond the edge: (cells, 9)."""
    row, column = np.divmod(np.arange(rows * columns), columns)
    steps = [(0, 0)] + [(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if (i, j) != (0, 0)]
    out = []
    for i, j in steps:
        inside = (row + i >= 0) & (row + i < rows) & (column + j >= 0) & (column + j < columns)
        inside &= (column + j) // across == column // across
        out.append(np.where(inside, (row + i) * columns + column + j, row * columns + column))
    return np.stack(out, axis=1)
