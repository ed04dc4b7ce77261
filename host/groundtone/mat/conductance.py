"""From frames to conductances: the live form, one frame at a time, that keeps what frames share; ill cells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.hum import Hum
from groundtone.mat.layout import Layout
from groundtone.mat.network import Drivers, Start, conductances
from groundtone.mat.references import References, above_end, drivers_after
from groundtone.wire.messages import Frame

DRIVER_INTERVAL = 50
"""Frames between two looks at the drivers: their resistance changes in minutes."""
FIRST_LOOK = 8
"""Frames until the first look; before that the nominal drivers stand in."""
TOLERANCE = 1e-6
"""See `groundtone.mat.network.conductances`."""


class ConductanceMeter:
    """Turns frames into cell conductances; keeps the running references and the last solution.

    Parameters
    ----------
    panel : int, optional
        The one panel that is there, LEFT or RIGHT: the other's lines are not wired, may read anything and count as 0.
    """

    def __init__(self, layout: Layout, panel: int | None = None) -> None:
        self.layout = layout
        self._unwired = layout.column_lines(1 - panel) if panel is not None else []
        self.hum = Hum(self._unwired)
        self.references = References()
        self.drivers = layout.nominal_drivers()
        self._looked: Drivers | None = None
        self._start: Start | None = None
        self._frames = 0
        self._next_look = FIRST_LOOK

    def measure(self, frame: Frame) -> NDArray[np.float64]:
        """Conductances of one frame.

        Returns
        -------
        ndarray, shape (rows, columns)
            S, where the cells lie on the mat. NaN until all references have been seen, and where the readings belong
            to no network (see `groundtone.mat.network.conductances`).
        """
        shape = (self.layout.rows, self.layout.columns)
        self.references = self.references.updated(frame.seq, frame.ref_a, frame.ref_b)
        if not self.references.complete:
            return np.full(shape, np.nan)
        cells, zero, supply = above_end(frame.cells.astype(np.float64), frame.seq, frame.ref_a, self.references)
        reading = self.hum.without(cells.reshape(shape), frame.t_us, zero, supply)[None]
        if self._unwired:
            reading[..., self._unwired] = 0.0
        result, self._start = conductances(reading, self.drivers, tolerance=TOLERANCE, start=self._start)
        cells = result[0]
        self._frames += 1
        # A frame without conductances says nothing of the drivers: what is known of them stays until the next.
        if self._frames >= self._next_look and np.isfinite(cells).all():
            self._looked = drivers_after(self._looked, self.references, self.layout, reading[0], cells)
            self.drivers = self._looked
            self._next_look = self._frames + DRIVER_INTERVAL
        return self.layout.to_places(cells)


# On an empty mat a cell of the reference film stays far below this; a stuck or pressed one lies above it.
STUCK_S = 20e-6
# Standard deviation of a quiet cell's conductance is below 1 µS at 12 bits; ten times that is a bad joint.
NOISY_S = 5e-6


@dataclass(frozen=True)
class CellFault:
    """One ill cell and what is wrong with it."""

    row: int
    column: int
    what: str


def faults_when_empty(conductance_s: NDArray[np.float64]) -> list[CellFault]:
    """Cells that are not as an empty mat's should be.

    Parameters
    ----------
    conductance_s : ndarray, shape (n, rows, columns)
        n frames of an empty mat, at least 5.

    Returns
    -------
    list of CellFault
        "stuck" (conducts without a load) or "noisy". Dead cells cannot be seen on an empty mat.
    """
    if conductance_s.shape[0] < 5:
        raise ValueError("at least 5 frames are needed to judge a mat")
    level, spread = np.nanmedian(conductance_s, axis=0), np.nanstd(conductance_s, axis=0)
    out = []
    for row, column in zip(*np.nonzero((level > STUCK_S) | (spread > NOISY_S)), strict=True):
        what = "stuck" if level[row, column] > STUCK_S else "noisy"
        out.append(CellFault(int(row), int(column), what))
    return out
