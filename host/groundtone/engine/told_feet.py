"""Feet that the mat itself has told, as forces on the soles that the live engine goes on with."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.shoes.shoe import ShoeLearner, ShoeResult
from groundtone.mat.layout import Layout
from groundtone.pressure.foot_factors import FootFactors
from groundtone.pressure.from_feet import forces_from_feet, told_feet
from groundtone.wire.messages import Feet


class ToldFeet:
    """What the shoes, learnt from whole frames, make of feet messages."""

    def __init__(self, layout: Layout, shoe: ShoeLearner) -> None:
        self._layout, self._shoe = layout, shoe
        self._known: tuple[ShoeResult, FootFactors] | None = None

    def force_n(self, feet: Feet) -> NDArray[np.float64]:
        """Forces of cells, N, shape (rows, columns), whose sums and centres are the soles'; NaN where not known."""
        force, u, v = told_feet([feet])
        result = self._shoe.result
        if result is not None:
            if self._known is None or self._known[0] is not result:
                self._known = result, FootFactors(self._shoe.frames(), result.factor, self._layout)
            force, u = self._known[1].on_soles(force, u)
        cells: NDArray[np.float64] = forces_from_feet(force, u, v, self._layout)[0]
        return cells
