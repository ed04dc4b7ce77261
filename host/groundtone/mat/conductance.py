"""From frames to conductances: the live form, one frame at a time, that keeps what frames have in common."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.layout import Layout
from groundtone.mat.network import Start, conductances
from groundtone.mat.references import References, drivers_from, fractions
from groundtone.wire.messages import Frame

# Frames between two looks at the drivers: their resistance changes in minutes.
_DRIVER_INTERVAL = 50
# Frames until the first look; before that the nominal drivers stand in.
_FIRST_LOOK = 8


class ConductanceMeter:
    """Turns frames into cell conductances; keeps the running references and the last solution.

    Parameters
    ----------
    layout : Layout

    Attributes
    ----------
    references : References
    drivers : Drivers
    """

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.references = References()
        self.drivers = layout.nominal_drivers()
        self._start: Start | None = None
        self._frames = 0
        self._next_look = _FIRST_LOOK

    def measure(self, frame: Frame) -> NDArray[np.float64]:
        """Conductances of one frame.

        Returns
        -------
        ndarray, shape (rows, columns)
            S. NaN until all references have been seen, and where the readings belong to no network
            (see `groundtone.mat.network.conductances`).
        """
        shape = (self.layout.rows, self.layout.columns)
        self.references = self.references.updated(frame.seq, frame.ref_a, frame.ref_b)
        if not self.references.complete:
            return np.full(shape, np.nan)
        reading = fractions(frame.cells.astype(np.float64), self.references).reshape(1, *shape)
        result, self._start = conductances(reading, self.drivers, tolerance=1e-6, start=self._start)
        cells: NDArray[np.float64] = result[0]
        self._frames += 1
        # A frame without conductances says nothing of the drivers: what is known of them stays until the next.
        if self._frames >= self._next_look and np.isfinite(cells).all():
            self.drivers = drivers_from(self.references, self.layout, cells)
            self._next_look = self._frames + _DRIVER_INTERVAL
        return cells
