"""Cells that go ill during a lesson, and things that lie on the mat: noticed from the frames themselves. Causal.

A cell between two loaded ones along the foot carries something of its own: how much against them is learnt while it
lives, whoever stands there. One that then reads next to nothing while both carry is dead; one that reads several times
more or less than it did against them has drifted, or sticks. On a mat on which nobody stands a single cell that reads
much sticks too; what reads little, steadily, is something that lies there (a club), and no foot.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.shoes.dead_cells import Filling, filled, filling
from groundtone.mat.layout import PANELS, Layout

Array = NDArray[np.float64]

# Looked at so often, s. Both neighbours carry this much, N, or nothing is said of a cell.
_EVERY_S, _CARRIES_N = 0.1, 8.0
# A living cell carries this part of what its neighbours do in the mean, for so long in all; a dead one less than this,
# for so long without a break.
_ALIVE, _ALIVE_S, _NOTHING, _NOTHING_N, _DEAD_S = 0.25, 4.0, 0.05, 0.8, 1.5
# Drifted: so many times more or less against them than at first, and beyond so many standard deviations of what it did
# then, for so long; learnt over so long at first. A cell that hangs in an arch tells nothing of itself.
_TIMES, _SPREADS, _FIRST_S, _NOW_S, _LONG_S, _USUAL = 3.0, 2.5, 30.0, 6.0, 20.0, (0.3, 8.0)
# Nobody stands there below this, N; then what stays within this for so long lies there. One cell with this much is no
# club but sticks, and less than that in all is nothing.
_NOBODY_N, _STEADY_N, _LIES_S, _STUCK_N, _SOMETHING_N, _CELL_N = 60.0, 0.7, 1.0, 20.0, 4.0, 0.7
# A film keeps something of who has left: it lies on both panels over this much of a foot's length, mm, or is shared out
# as the load of who stood there was (cosine), learnt with this weight a look; cells with this much count, N. A club
# does neither.
_SOLE_MM, _ALIKE, _FOLLOWS, _KEEPS_N = 90.0, 0.85, 0.02, 0.25
# Something that was taken away leaves less than nothing where it lay, for so long.
_GONE_N, _GONE_S = 0.6, 0.3


@dataclass(frozen=True)
class Ill:
    """A cell that has gone ill.

    Attributes
    ----------
    row, column : int
    what : str
        "dead", "drifting" or "stuck".
    t_s : float
        When it was noticed, device time.
    """

    row: int
    column: int
    what: str
    t_s: float

    def sentence(self, layout: Layout) -> str:
        """What is wrong and what to do."""
        panel, column = divmod(self.column, layout.columns_per_panel)
        reads = {"dead": "reads nothing any more", "drifting": "reads quite otherwise than before",
                 "stuck": "reads without a load"}[self.what]  # fmt: skip
        return (
            f"The cell in row {self.row}, column {column} of the {PANELS[panel]} panel {reads}: it is filled from its "
            "neighbours and figures are less sure; press there, and check the mat after the lesson."
        )


class CellWatch:
    """Follows the cells of one mat.

    Parameters
    ----------
    layout : Layout
    known : tuple of (row, column)
        Cells that are known to be dead: nothing is said of them.

    Attributes
    ----------
    ill : list of Ill
        In the order in which they were noticed.
    lying_n : ndarray, shape (rows, columns)
        What lies on the mat and is no foot, N.
    """

    def __init__(self, layout: Layout, known: tuple[tuple[int, int], ...] = ()) -> None:
        self._layout = layout
        shape = (layout.rows, layout.columns)
        self._off = np.zeros(shape, bool)
        for row, column in known:
            self._off[row, column] = True
        self._usable = self._told_by_neighbours()
        self.ill: list[Ill] = []
        self.lying_n = np.zeros(shape)
        self._alive_s, self._nothing_s, self._seen_s = np.zeros(shape), np.zeros(shape), np.zeros(shape)
        self._first, self._now, self._other_s = np.zeros(shape), np.zeros(shape), np.zeros(shape)
        self._square = np.zeros(shape)
        self._looked_s = -math.inf
        self._filling: tuple[Filling, tuple[tuple[int, int, float], ...]] | None = None
        self._rest: Array | None = None
        self._rest_s = self._gone_s = 0.0
        self._stood_n = np.zeros(shape)

    @property
    def cells(self) -> tuple[tuple[int, int], ...]:
        """The ill ones."""
        return tuple((each.row, each.column) for each in self.ill)

    def take(self, t_s: float, force_n: Array) -> list[str]:
        """One frame.

        Parameters
        ----------
        t_s : float
            Device time, s, rising.
        force_n : ndarray, shape (rows, columns)
            By the film's curves, N; a frame with NaN says nothing.

        Returns
        -------
        list of str
            Sentences about what was noticed in it, each once.
        """
        passed_s = min(t_s - self._looked_s, 2 * _EVERY_S)
        if passed_s < _EVERY_S - 1e-6 or not np.isfinite(force_n).all():
            return []
        self._looked_s = t_s
        if float(force_n.sum()) < _NOBODY_N + float(self.lying_n.sum()):
            return self._nobody(t_s, force_n, passed_s)
        self._rest, self._rest_s = None, 0.0
        self._stood_n = self._stood_n + _FOLLOWS * (force_n - self._stood_n)
        self._taken_away(force_n, passed_s)
        return self._between_neighbours(t_s, force_n, passed_s)

    def mended(self, force_n: Array) -> Array:
        """Forces without what lies there, the ill cells filled from their neighbours; of one frame or of many."""
        if self.lying_n.any():
            force_n = force_n - self.lying_n
        if self._filling is None:
            return force_n
        how, own = self._filling
        out: Array = filled(force_n, how)
        for row, column, part in own:
            out[..., row, column] = part * (force_n[..., row - 1, column] + force_n[..., row + 1, column]) / 2
        return out

    def take_block(self, t_s: Array, force_n: Array) -> Array:
        """Frame after frame as `take`, and the frames mended as they would have been live.

        Parameters
        ----------
        t_s : ndarray, shape (n,)
        force_n : ndarray, shape (n, rows, columns)
        """
        out, begin = [], 0
        for i, t in enumerate(t_s.tolist()):
            if t - self._looked_s < _EVERY_S - 1e-6:
                continue
            before = self.lying_n, self._filling
            self.take(t, force_n[i])
            now = self.lying_n, self._filling
            if before[0] is not now[0] or before[1] is not now[1]:
                self.lying_n, self._filling = before
                out.append(self.mended(force_n[begin:i]))
                (self.lying_n, self._filling), begin = now, i
        return np.concatenate([*out, self.mended(force_n[begin:])])

    def _between_neighbours(self, t_s: float, force_n: Array, passed_s: float) -> list[str]:
        said: list[str] = []
        before, own, after = force_n[:-2], force_n[1:-1], force_n[2:]
        tells = (before > _CARRIES_N) & (after > _CARRIES_N) & self._usable
        if not tells.any():
            return said
        mean = np.where(tells, (before + after) / 2, 1.0)
        part = np.maximum(own, 0.0) / mean
        step: Array = tells * np.float64(passed_s)
        self._alive_s[1:-1] += step * (part > _ALIVE)
        nothing = (part < _NOTHING) & (own < _NOTHING_N)
        silent_s = self._nothing_s[1:-1]
        silent_s += step * nothing
        np.copyto(silent_s, 0.0, where=tells & ~nothing)
        self._drifts(part, step, nothing)
        # Which cells it is, is seldom asked.
        if silent_s.max() >= _DEAD_S:
            for row, column in np.argwhere((self._nothing_s >= _DEAD_S) & (self._alive_s >= _ALIVE_S) & ~self._off):
                said.append(self._found(int(row), int(column), "dead", t_s))
        if self._other_s.max() < _LONG_S:
            return said
        far = np.where((self._other_s >= _LONG_S) & ~self._off, np.abs(self._now - self._first), 0.0)
        if far.any():
            # Its neighbours seem to have drifted the other way: the one that has done most is the one.
            row, column = np.unravel_index(int(np.argmax(far)), far.shape)
            said.append(self._found(int(row), int(column), "drifting", t_s))
            self._other_s[:] = 0.0
        return said

    def _told_by_neighbours(self) -> NDArray[np.bool_]:
        """Cells within their column that are well, between two that are."""
        out: NDArray[np.bool_] = ~(self._off[1:-1] | self._off[:-2] | self._off[2:])
        return out

    def _drifts(self, part: Array, step: Array, nothing: NDArray[np.bool_]) -> None:
        """Means of how much a cell carries against its neighbours, at first and now, and for how long they differ."""
        inside = slice(1, -1)
        step = np.where(nothing, 0.0, step)
        log = np.log(np.maximum(part, _NOTHING))
        seen = self._seen_s[inside] + step
        early = seen <= _FIRST_S
        learns = early & (step > 0)
        first = self._first[inside]
        if learns.any():
            weight = np.where(learns, step / np.maximum(seen, _EVERY_S), 0.0)
            first = first + weight * (log - first)
            self._square[inside] += weight * (log**2 - self._square[inside])
            self._first[inside] = first
        now = self._now[inside]
        weight = np.maximum(step / _NOW_S, step / np.maximum(seen, 1e-9))
        self._now[inside] = now + weight * (log - now)
        self._seen_s[inside] = seen
        spread = np.sqrt(np.maximum(self._square[inside] - first**2, 0.0))
        usual = (first > math.log(_USUAL[0])) & (first < math.log(_USUAL[1])) & ~early
        far = usual & (np.abs(self._now[inside] - first) > math.log(_TIMES) + _SPREADS * spread)
        other = self._other_s[inside]
        self._other_s[inside] = np.where(far, other + step, np.where(step > 0, 0.0, other))

    def _nobody(self, t_s: float, force_n: Array, passed_s: float) -> list[str]:
        """Whether something lies on the mat, and whether it is a cell that sticks."""
        if self._rest is None or float(np.abs(force_n - self._rest).max()) > _STEADY_N:
            self._rest, self._rest_s = force_n.copy(), 0.0
            return []
        self._rest += 0.1 * (force_n - self._rest)
        self._rest_s += passed_s
        if self._rest_s < _LIES_S:
            return []
        said = [
            self._found(int(row), int(column), "stuck", t_s)
            for row, column in np.argwhere((self._rest > _STUCK_N) & ~self._off)
        ]
        lies = np.where(self._off | (self._rest < _CELL_N), 0.0, self._rest)
        if self._is_kept(np.where(self._off | (self._rest < _KEEPS_N), 0.0, self._rest)):
            return said
        new = lies.sum() > _SOMETHING_N and not self.lying_n.any()
        if new or (self.lying_n.any() and float(np.abs(lies - self.lying_n).max()) > _STEADY_N):
            self.lying_n = lies if lies.sum() > _SOMETHING_N else np.zeros_like(lies)
        if new:
            panel = PANELS[int(np.argmax(self._layout.by_panel(lies).sum((1, 2))))]
            said.append(
                f"Something of about {lies.sum():.0f} N lies on the {panel} panel: it is left out of all figures; "
                "take it off the mat."
            )
        return said

    def _is_kept(self, lies_n: Array) -> bool:
        """Whether it is what the film keeps of somebody's feet, and nothing that lies there."""
        spans, alike, size = [], 0.0, 1e-9
        for kept, stood in zip(self._layout.by_panel(lies_n), self._layout.by_panel(self._stood_n), strict=True):
            rows = np.flatnonzero(kept.any(axis=1))
            spans.append(float(np.ptp(self._layout.u_mm[rows])) if rows.size else 0.0)
            alike += float((kept * stood).sum())
            size += float(np.linalg.norm(kept) * np.linalg.norm(stood))
        return min(spans) >= _SOLE_MM or alike > _ALIKE * size

    def _taken_away(self, force_n: Array, passed_s: float) -> None:
        """What lay there is gone when less than nothing is left of it."""
        if not self.lying_n.any():
            return
        left = force_n - self.lying_n
        gone = bool(np.any((self.lying_n > 0) & (left < -_GONE_N)))
        self._gone_s = self._gone_s + passed_s if gone else 0.0
        if self._gone_s >= _GONE_S:
            self.lying_n, self._gone_s = np.zeros_like(self.lying_n), 0.0

    def _found(self, row: int, column: int, what: str, t_s: float) -> str:
        self._off[row, column] = True
        self._usable = self._told_by_neighbours()
        self.lying_n = np.where(self._off, 0.0, self.lying_n)
        self.ill.append(Ill(row, column, what, t_s))
        rows, columns = self._off.shape
        # What it carried against its neighbours while it lived tells more than any cell's neighbours do.
        own = tuple(
            (r, c, math.exp(float(self._first[r, c])))
            for r, c in self.cells
            if self._seen_s[r, c] > _ALIVE_S and not (self._off[r - 1, c] or self._off[r + 1, c])
        )
        self._filling = filling(self.cells, rows, columns, pitch_mm=self._layout.pitch_mm), own
        return self.ill[-1].sentence(self._layout)


FILLED = 0.40
"""Relative standard uncertainty of a filled cell's force (as in the budget of a calibration)."""


def filled_doubt(cells: tuple[tuple[int, int], ...], force_n: Array, layout: Layout) -> tuple[float, float]:
    """What filled cells add to the doubt of the lead share, and of a foot's heel-toe position in parts of the panel.

    Parameters
    ----------
    force_n : ndarray, shape (n, rows, columns)
        Frames with somebody on the mat, N, the cells filled.

    Returns
    -------
    share_u, position_u : float
        Over the frames in the mean; the law of propagation with every filled cell for itself.
    """
    force = np.maximum(np.nan_to_num(force_n), 0.0).mean(0)
    total = float(force.sum())
    feet = layout.by_panel(force)
    share = place = 0.0
    for row, column in cells:
        panel = column // layout.columns_per_panel
        foot = float(feet[panel].sum())
        if foot <= 1.0:
            continue
        u_n = FILLED * float(force[row, column])
        share += (u_n * (1 - foot / total) / total) ** 2
        centre = float(feet[panel].sum(1) @ layout.u_mm) / foot
        place = max(place, u_n * abs(float(layout.u_mm[row]) - centre) / foot / layout.length_mm)
    return math.sqrt(share), place
