"""From frames to conductances: the live form, one frame at a time, that keeps what frames share; hum; ill cells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.layout import Layout
from groundtone.mat.network import Drivers, Start, conductances
from groundtone.mat.references import References, drivers_after, fractions
from groundtone.wire.messages import Frame

DRIVER_INTERVAL = 50
"""Frames between two looks at the drivers: their resistance changes in minutes."""
FIRST_LOOK = 8
"""Frames until the first look; before that the nominal drivers stand in."""
TOLERANCE = 1e-6
"""See `groundtone.mat.network.conductances`."""

# Cells that read less than this part of the supply carry nothing; a step of this size or more is no hum.
_QUIET, _FAR = 0.0015, 0.004
# How far a cell's own noise takes it from what all have in common; so many cells tell.
_NOISE, _LEAST_CELLS = 8e-4, 24
# Weight of a frame in what cells read in the mean (and have in common), and in the size of the hum.
_SLOW, _SIZE = 0.1, 0.02
# Below this, a third of a converter's step of 12 bits, there is no hum and nothing is touched.
_HUM = 8e-5
# No single frame, an impact's least of all, makes a hum.
_MOST_TURNED = 3e-4

# Told from this on, after so many frames; what jumps by more from frame to frame is too much to be taken out.
_TOLD, _ROUGH, _JUDGED, _COUNTS = 2.5e-4, 3e-3, 200, 4096
_WHAT_TO_DO = "keep the mat's lead and its computer away from mains cables and power supplies."


class Hum:
    """The mains' hum in the readings: seen on cells that carry nothing, and taken off all of them. Causal, no delay.

    Hum lies on the converter's input, so every cell of a scan has the same of it, up to the little by which it turns
    from the first row to the last. Cells without a load show it frame by frame, whatever its frequency and the frames'.

    Parameters
    ----------
    ignored : list of int
        Columns that are not wired.
    """

    def __init__(self, ignored: list[int] | None = None) -> None:
        self._ignored = ignored or []
        self._slow: NDArray[np.float64] | None = None
        self._last: NDArray[np.float64] = np.zeros((0, 0))
        self._quiet: NDArray[np.bool_] = np.zeros((0, 0), bool)
        self._frames = 0
        self._square = 0.0
        self._step = 0.0
        self._stays: NDArray[np.float64] | float = 0.0
        self._reading: NDArray[np.float64] | None = None
        self._jumps = 0.0
        self._said = False

    def sentence(self) -> str | None:
        """What a person must know of the hum, once; None where there is none, or it has been said.

        Hum that is taken out is told so that its cause is taken away; more than can be taken out is told as what it is.
        """
        if self._said or self._frames < _JUDGED:
            return None
        size = (self._jumps / 2) ** 0.5
        if size > _ROUGH:
            self._said = True
            return "The mains hum so strongly in the readings that it cannot be taken out: " + _WHAT_TO_DO
        if self._square > _TOLD**2 and size > _TOLD:
            self._said = True
            return f"The mains hum in the readings ({size * _COUNTS:.0f} counts) and are taken out: " + _WHAT_TO_DO
        return None

    def without(self, reading: NDArray[np.float64]) -> NDArray[np.float64]:
        """One frame's readings, parts of the supply, shape (rows, columns), without hum; as they are where none is."""
        if self._slow is None:
            self._slow = self._last = reading.copy()
            self._quiet = np.zeros(reading.shape, bool)
            return reading
        self._frames += 1
        self._jumps += _SIZE * (self._jump(reading) ** 2 - self._jumps)
        common = self._common(reading - self._slow)
        weight = max(_SLOW, 1 / (self._frames + 1))
        self._slow = self._slow + weight * (reading - common - self._slow)
        # Hum is nothing in the mean. What stays is a cell that has just joined the quiet ones, or left them.
        before = self._stays
        self._stays = before + weight * (common - before)
        common = common - (before + self._stays) / 2
        self._look(reading)
        return reading - common if self._square > _HUM**2 else reading

    def _look(self, reading: NDArray[np.float64]) -> None:
        """Learns how large the hum is: what goes on in one direction is a load, hum turns about and goes on doing so.

        Only cells that are quiet in two frames running have a say: a cell that joins them or leaves moves their mean.
        """
        quiet = reading < _QUIET
        quiet[:, self._ignored] = False
        both = quiet & self._quiet
        if both.sum() >= _LEAST_CELLS:
            step = float(np.median((reading - self._last)[both]))
            self._square += _SIZE * (min((step - self._step) ** 2 / 4, _MOST_TURNED**2) - self._square)
            self._step = step
        self._quiet, self._last = quiet, reading

    def _jump(self, reading: NDArray[np.float64]) -> float:
        """How far the middle cell has moved since the frame before: most carry nothing, so a foot moves it little."""
        before, self._reading = self._reading, reading
        if before is None:
            return 0.0
        moved = np.delete(reading - before, self._ignored, axis=1) if self._ignored else reading - before
        return float(np.median(moved))

    def _common(self, off: NDArray[np.float64]) -> NDArray[np.float64]:
        """What all quiet cells have in common, a straight line over the rows; shape (rows, 1)."""
        assert self._slow is not None
        rows = np.arange(len(off), dtype=np.float64)[:, None] + np.zeros_like(off)
        quiet = (self._slow < _QUIET) & (np.abs(off) < _FAR)
        quiet[:, self._ignored] = False
        nothing = np.zeros((len(off), 1))
        if quiet.sum() < _LEAST_CELLS:
            return nothing
        quiet &= np.abs(off - np.median(off[quiet])) < _NOISE
        if quiet.sum() < _LEAST_CELLS:
            return nothing
        at, value = rows[quiet], off[quiet]
        middle = at.mean()
        slope = float((at - middle) @ value) / max(float((at - middle) @ (at - middle)), 1.0)
        out: NDArray[np.float64] = value.mean() + slope * (rows[:, :1] - middle)
        return out


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
        reading = self.hum.without(fractions(frame.cells.astype(np.float64), self.references).reshape(shape))[None]
        if self._unwired:
            reading[..., self._unwired] = 0.0
        result, self._start = conductances(reading, self.drivers, tolerance=TOLERANCE, start=self._start)
        cells: NDArray[np.float64] = result[0]
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
