"""The map of a bench run: how many placements each cell has and should have, as text and as a picture."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.guided.tare import Cell
from groundtone.calibration.guided.worklist import Step
from groundtone.errors import GroundtoneError


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


# Ink on paper as on the certificate.
_PAPER, _INK, _HUE = "#FCFBF7", "#1B2433", "#1F4E79"
_DOT = 26.0  # area of one placement, points squared


def draw_coverage(path: Path, coverage: Coverage, columns_per_panel: int) -> None:
    """Draws the map: filled dots are taken, rings around them still to be made, crosses left out.

    Raises
    ------
    GroundtoneError
        The file cannot be written.
    """
    from matplotlib import style  # half a second, for the one picture in the end
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    rows, columns = coverage.taken.shape
    row, column = (np.asarray(index) for index in np.indices(coverage.taken.shape))
    x = 1.4 * (column + np.where(column >= columns_per_panel, 1.0, 0.0))
    with style.context("default"):
        figure = Figure(figsize=(5.6, 0.30 * rows + 1.7), dpi=120, facecolor=_PAPER)
        FigureCanvasAgg(figure)
        axes = figure.add_axes((0.10, 0.16, 0.86, 0.72))
        axes.set_facecolor(_PAPER)
        whole = coverage.taken + coverage.left
        axes.scatter(x, row, s=_DOT * whole, facecolor="none", edgecolor=_HUE, linewidth=0.9)
        made = coverage.taken > 0
        axes.scatter(x[made], row[made], s=_DOT * coverage.taken[made], color=_HUE, linewidths=0)
        for cell in coverage.ill:
            axes.scatter(x[cell], cell[0], s=50, marker="x", color=_INK, linewidths=1.5)
        for panel, words in ((0, "left panel"), (1, "right panel")):
            first = panel * columns_per_panel
            middle = float(x[0, first : first + columns_per_panel].mean())
            axes.text(middle, rows + 0.1, words, ha="center", va="bottom", fontsize=10, color=_INK)
        axes.set_xlim(float(x.min()) - 1.1, float(x.max()) + 1.1)
        axes.set_ylim(-0.9, rows - 0.1)
        axes.set_xticks(x[0], [str(c) for c in range(columns)])
        axes.set_yticks(range(rows))
        axes.tick_params(labelsize=8, colors=_INK, length=0)
        for side in axes.spines.values():
            side.set_visible(False)
        axes.set_ylabel("row, 0 at the heels", fontsize=9, color=_INK)
        taken, left = int(coverage.taken.sum()), int(coverage.left.sum())
        ill = f", {len(coverage.ill)} cells left out (crosses)" if coverage.ill else ""
        words = f"{taken} placements taken (filled), {left} to go (rings){ill}"
        figure.text(0.53, 0.03, words, ha="center", fontsize=9, color=_INK)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            figure.savefig(path)
        except OSError as error:
            raise GroundtoneError(
                f"the map {path} cannot be written ({error.strerror}): check the folder and the disk"
            ) from error
