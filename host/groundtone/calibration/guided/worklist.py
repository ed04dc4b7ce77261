"""The placements of a bench run that are still to be made: which comes next, and which one a load on a cell is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from groundtone.calibration.guided.tare import Cell


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
    """

    cell: Cell
    force_n: float
    words: str
    falling: bool = False
    mass_u: float = 0.0


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
