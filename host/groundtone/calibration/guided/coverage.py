"""The map of a bench run: how many placements each cell has, and how many it should have."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.guided.worklist import Cell, Step


@dataclass(frozen=True)
class Coverage:
    """What is taken and what is left, cell by cell.

    Attributes
    ----------
    taken, left : ndarray of int, shape (rows, columns)
    ill : frozenset of (row, column)
        Cells that are left out of the run.
    """

    taken: NDArray[np.int_]
    left: NDArray[np.int_]
    ill: frozenset[Cell] = frozenset()


def coverage_of(
    shape: tuple[int, int], taken: Sequence[Placement], left: Sequence[Step], ill: Collection[Cell] = ()
) -> Coverage:
    """The map.

    Parameters
    ----------
    shape : (rows, columns)
    taken : sequence of Placement
    left : sequence of Step
    ill : collection of (row, column)
    """
    made, open_ = np.zeros(shape, int), np.zeros(shape, int)
    for placement in taken:
        made[placement.row, placement.column] += 1
    for step in left:
        open_[step.cell] += 1
    return Coverage(made, open_, frozenset(ill))


def coverage_lines(coverage: Coverage, columns_per_panel: int, named: Cell | None = None) -> list[str]:
    """The map as text, the toes' end at the top, the panels side by side, row numbers at the left.

    A figure is a number of placements (+ from ten on), brackets are around the named cell, a dot is a cell that has
    none and should have one, a space one that needs none, x a cell that is left out.

    Examples
    --------
    >>> taken = np.array([[1, 0, 2, 0], [0, 12, 0, 0]])
    >>> for line in coverage_lines(Coverage(taken, np.array([[0, 1, 0, 0], [0, 0, 0, 1]])), 2, (0, 1)):
    ...     print(line)
        left   right
     1    +      .
     0  1[.]   2
        0 1    2 3
    """
    rows = coverage.taken.shape[0]

    def sign(cell: Cell) -> str:
        if cell in coverage.ill:
            return "x"
        count = int(coverage.taken[cell])
        if count == 0:
            return "." if coverage.left[cell] else " "
        return str(count) if count < 10 else "+"

    def part(row: int, panel: int) -> str:
        gaps = [" "] * (columns_per_panel + 1)
        if named is not None and named[0] == row and named[1] // columns_per_panel == panel:
            place = named[1] % columns_per_panel
            gaps[place : place + 2] = "[", "]"
        signs = [sign((row, panel * columns_per_panel + j)) for j in range(columns_per_panel)]
        return gaps[0] + "".join(s + gap for s, gap in zip(signs, gaps[1:], strict=True))

    width = 2 * columns_per_panel + 1
    out = [f"    {'left':<{width}}  {'right':<{width}}".rstrip()]
    for row in reversed(range(rows)):
        out.append(f"{row:2d} {part(row, 0)}  {part(row, 1)}".rstrip())
    left, right = (" ".join(str(c) for c in range(p * columns_per_panel, (p + 1) * columns_per_panel)) for p in (0, 1))
    out.append(f"    {left:<{width - 1}}   {right}".rstrip())
    return out
