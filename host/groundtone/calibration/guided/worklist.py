"""The placements of a bench run: what is still to be made, which one a load on a cell is, and the map of them all."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.guided.tare import Cell
from groundtone.errors import GroundtoneError, Telling


@dataclass(frozen=True)
class Step:
    """One placement that is asked for.

    Attributes
    ----------
    cell : (row, column)
    force_n : float
        Weight of all that lies on the cell then, the puck included, N.
    words : str
        How a person names it, for example "5 kg".
    falling : bool
        To be reached from the step before, on the same cell, by taking weights off without a lift.
    mass_u : float
        Relative standard uncertainty of the weight.
    hold_s : float
        It is to lie for so long, s, so that its creep is seen; 0: until it is taken.
    """

    cell: Cell
    force_n: float
    words: str
    falling: bool = False
    mass_u: float = 0.0
    hold_s: float = 0.0


# Loads that differ by less are the same.
_SAME = 0.02


def same_load(a_n: float, b_n: float) -> bool:
    """Two loads that a plan does not tell apart."""
    return abs(a_n - b_n) <= _SAME * max(a_n, b_n)


class Worklist:
    """What is still to be done, in the plan's order, and how it changes with what is done.

    Parameters
    ----------
    plan : sequence of Step
        All steps of the run in the order in which they are asked for.
    """

    def __init__(self, plan: Sequence[Step]) -> None:
        self._all = {float(i): step for i, step in enumerate(plan)}
        self._left = dict(self._all)
        self._next = min(self._left, default=None)

    @property
    def left(self) -> tuple[Step, ...]:
        """Steps that are still to be done, in order."""
        return tuple(self._left[place] for place in sorted(self._left))

    @property
    def from_named(self) -> tuple[Step, ...]:
        """Steps that are still to be done, the named one first, then as the plan goes on."""
        places = sorted(self._left, key=lambda place: (self._next is not None and place < self._next, place))
        return tuple(self._left[place] for place in places)

    @property
    def every(self) -> tuple[Step, ...]:
        """All steps of the run, done or not."""
        return tuple(self._all.values())

    @property
    def named(self) -> Step | None:
        """The step that is asked for now; None when everything is done."""
        return None if self._next is None else self._left[self._next]

    def find(self, cell: Cell, force_n: float, falling: bool) -> Step | None:
        """The step that such a placement would do: the named one first."""
        fits = [step for step in (self.named, *self.left) if step is not None and step.cell == cell]
        return next((s for s in fits if s.falling == falling and same_load(s.force_n, force_n)), None)

    def on(self, cell: Cell) -> Step | None:
        """The first step that is left on a cell."""
        return next((step for step in self.left if step.cell == cell), None)

    def name(self, step: Step) -> None:
        """Asks for a step that is left."""
        self._next = self._place(step)

    def done(self, step: Step) -> None:
        """Takes a step off the list; the plan goes on after it."""
        place = self._place(step)
        del self._left[place]
        self._go_on_after(place)

    def undo(self, cell: Cell, force_n: float, falling: bool) -> None:
        """Such a step that had been done is to be done again, and is asked for now."""
        for place, step in self._all.items():
            fits = step.cell == cell and step.falling == falling and same_load(step.force_n, force_n)
            if fits and place not in self._left:
                self._left[place], self._next = step, place
                return

    def pass_over(self, cell: Cell, force_n: float) -> None:
        """Goes on after such a step, done or not; what was named stays for later."""
        places = [p for p, s in self._all.items() if s.cell == cell and same_load(s.force_n, force_n)]
        self._go_on_after(max(places, default=-1.0))

    def mend_ways_down(self) -> list[Step]:
        """Asks once more for the peak of every way down whose peak no longer lies there; the peaks that were put in.

        To be called when nothing lies on the mat. A way down without a peak in the plan cannot be made: it is left out.
        """
        out = []
        for cell in dict.fromkeys(step.cell for step in self.left if step.falling):
            mine = [(place, step) for place, step in sorted(self._left.items()) if step.cell == cell]
            place, first = next((p, s) for p, s in mine if s.falling)
            if any(p < place and not s.falling and s.force_n > first.force_n for p, s in mine):
                continue
            peaks = [s for s in self.every if s.cell == cell and not s.falling and s.force_n > first.force_n]
            if not peaks:
                self.leave_way_down(cell)
                continue
            below = max((p for p in self._left if p < place), default=place - 1.0)
            peak = max(peaks, key=lambda step: step.force_n)
            self._left[0.5 * (below + place)] = peak
            if self._next == place:
                self._next = 0.5 * (below + place)
            out.append(peak)
        return out

    def leave_way_down(self, cell: Cell) -> None:
        """Leaves the way down on a cell out of the run."""
        self._left = {p: s for p, s in self._left.items() if s.cell != cell or not s.falling}
        if self._next not in self._left:
            self._go_on_after(-1.0 if self._next is None else self._next)

    def skip_repeated(self, cell: Cell) -> None:
        """Leaves out on a cell what had been asked for once more."""
        self._left = {p: s for p, s in self._left.items() if s.cell != cell or p in self._all}
        if self._next not in self._left:
            self._go_on_after(-1.0 if self._next is None else self._next)

    def skip(self, cell: Cell) -> None:
        """Leaves a cell out of the run."""
        self._left = {place: step for place, step in self._left.items() if step.cell != cell}
        if self._next not in self._left:
            self._go_on_after(-1.0 if self._next is None else self._next)

    def _place(self, step: Step) -> float:
        if self._next is not None and self._left[self._next] is step:
            return self._next
        return next(place for place in sorted(self._left) if self._left[place] is step)

    def _go_on_after(self, place: float) -> None:
        later = [p for p in self._left if p > place]
        self._next = min(later or self._left, default=None)


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
        with Telling(GroundtoneError, f"the map {path} cannot be written", "check the folder and the disk"):
            path.parent.mkdir(parents=True, exist_ok=True)
            figure.savefig(path)
