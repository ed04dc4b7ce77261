"""Is a reading what such a weight can read on this cell? Told from the cell's own placements, else from the panel's."""

from __future__ import annotations

import math

import numpy as np

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.force_curve import typical_curves
from groundtone.calibration.guided.load_watch import Reading
from groundtone.calibration.guided.tare import Cell

# ln conductance over ln force of the typical film; the tolerances leave room for others.
_SLOPE = 0.9
# How far, in ln, a reading may lie from what is expected: from the cell's own placements, from the panel's (four times
# the spread that was seen, no less than this), and from the typical film while the panel is not known.
_OWN, _PANEL, _TYPICAL = 0.25, 1.10, 1.80
# A cell's own expectation is worth less, in ln for each ln of force, the further the load is from the one before.
_PER_LN = 0.12
# What a hard film remembers of a peak: creep of a decade, and the way down.
_REMEMBERED = 0.08
# So many cells make a panel known; and the room for the others is larger by this over their number.
_KNOWN, _FEW = 6, 3.0


class Expectation:
    """What weights read, learnt while they are put down."""

    def __init__(self, rows: int, columns: int) -> None:
        typical = typical_curves(rows, columns)
        # The typical reading of 100 N, by bisection on the typical curve.
        low, high = 1e-6, 1e-1
        for _ in range(60):
            middle = math.sqrt(low * high)
            force = float(typical.force_n(np.full((rows, columns), middle))[0, 0])
            low, high = (middle, high) if force < 100.0 else (low, middle)
        self._typical = math.log(middle) - _SLOPE * math.log(100.0)
        self._levels: dict[Cell, list[tuple[float, float]]] = {}

    def learn(self, placement: Placement) -> None:
        """Takes a placement into account."""
        cell = (placement.row, placement.column)
        level = math.log(float(placement.conductance_s[cell]))
        self._levels.setdefault(cell, []).append((math.log(placement.force_n), level))

    def forget(self, placement: Placement) -> None:
        """Takes a placement out of account that had been learnt."""
        cell = (placement.row, placement.column)
        level = math.log(float(placement.conductance_s[cell]))
        pairs = self._levels.get(cell, [])
        if (pair := (math.log(placement.force_n), level)) in pairs:
            pairs.remove(pair)
        if not pairs:
            self._levels.pop(cell, None)

    def share(self, reading: Reading, force_n: float = math.nan) -> float:
        """Part of a load that lies on its own cell: readings weighed by what is known of each cell's gain.

        A neighbour that reads three times as much as others under the same load would else pass for half a puck. Nor
        is a cell that reads little for the one its puck lies on half a puck: what its neighbours carry of the whole
        weight is told by themselves, and the milder of the two counts.

        Parameters
        ----------
        force_n : float
            What is said to lie there, N; NaN: not known.
        """
        bases = {cell: float(np.median([g - _SLOPE * f for f, g in pairs])) for cell, pairs in self._levels.items()}
        middle = float(np.median(list(bases.values()))) if bases else self._typical
        parts = [excess / math.exp(bases.get(cell, middle)) for cell, excess in reading.around]
        by_all = float(parts[0] / sum(parts))
        if math.isnan(force_n):
            return by_all
        beside_n = float(sum(part ** (1 / _SLOPE) for part in parts[1:]))
        return max(by_all, 1.0 - beside_n / force_n)

    def judge(self, reading: Reading, force_n: float, peak_n: float = 0.0) -> float | None:
        """What a reading looks like, N, where that is not the weight that is said to lie there; else None.

        Parameters
        ----------
        force_n : float
            What is said to lie on the cell.
        peak_n : float
            What lay there before weights were taken off: the film still remembers a part of it.
        """
        level, log_force = math.log(reading.level_s), math.log(force_n)
        own = self._levels.get(reading.cell)
        if own:
            near, known = min(own, key=lambda pair: abs(pair[0] - log_force))
            expected = known + _SLOPE * (log_force - near)
            allowed = _OWN + _PER_LN * abs(log_force - near)
        elif len(self._levels) >= _KNOWN:
            bases = np.array([np.median([g - _SLOPE * f for f, g in pairs]) for pairs in self._levels.values()])
            middle = float(np.median(bases))
            spread = 1.4826 * float(np.median(np.abs(bases - middle)))
            # Few cells tell little of how far cells lie apart.
            allowed = max(_PANEL, 4.0 * spread) * (1 + _FEW / len(self._levels))
            expected = middle + _SLOPE * log_force
        else:
            expected, allowed = self._typical + _SLOPE * log_force, _TYPICAL
        allowed += _REMEMBERED * peak_n / force_n
        off = level - expected
        return None if abs(off) <= allowed else force_n * math.exp(off / _SLOPE)
