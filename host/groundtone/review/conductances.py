"""From recorded frames to conductances: `groundtone.mat.conductance.ConductanceMeter` over blocks, the same numbers.

References are running means and the drivers are looked at anew every 50 frames, as on the live path; between two looks
the inverse runs over the whole block at once, which takes a twentieth of the time.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.conductance import DRIVER_INTERVAL, FIRST_LOOK, TOLERANCE
from groundtone.mat.layout import Layout
from groundtone.mat.network import conductances
from groundtone.mat.references import SLOW, References, drivers_from
from groundtone.record.frames import Frames

# Frames whose cells are unpacked at once.
_BLOCK = 2000


def conductance_blocks(
    frames: Frames, layout: Layout, panel: int | None = None
) -> Iterator[tuple[int, NDArray[np.float64]]]:
    """Conductances of all frames, block by block.

    Parameters
    ----------
    frames : Frames
    layout : Layout
    panel : int, optional
        The one panel that is there; see `ConductanceMeter`.

    Yields
    ------
    begin : int
        Number of the block's first frame.
    conductance : ndarray, shape (n, rows, columns)
        S; NaN as from `ConductanceMeter.measure`.
    """
    means = _running_means(frames)
    shape = (layout.rows, layout.columns)
    drivers = layout.nominal_drivers()
    measured, next_look = 0, FIRST_LOOK
    for begin in range(0, len(frames), _BLOCK):
        end = min(begin + _BLOCK, len(frames))
        zero, span = means[begin:end, 0], means[begin:end, 1] - means[begin:end, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            scale = np.where(span > 0, 0.5 / span, math.nan)
        reading = ((frames.readings(begin, end) - zero[:, None]) * scale[:, None]).reshape(-1, *shape)
        if panel is not None:
            reading[..., layout.column_lines(1 - panel)] = 0.0
        out = np.full(reading.shape, math.nan)
        # References are complete from some frame on; what was before is no measurement.
        at = int(np.count_nonzero(~np.isfinite(means[begin:end]).all(1)))
        while at < end - begin:
            due = next_look - measured
            count = min(due if due > 0 else DRIVER_INTERVAL, end - begin - at)
            cells, _ = conductances(reading[at : at + count], drivers, tolerance=TOLERANCE)
            looked = _first_look(cells, due)
            if looked is None:
                out[at : at + count] = cells
                at, measured = at + count, measured + count
            else:
                out[at : at + looked + 1] = cells[: looked + 1]
                at, measured = at + looked + 1, measured + looked + 1
                drivers = drivers_from(_references(means[begin + at - 1]), layout, cells[looked])
                next_look = measured + DRIVER_INTERVAL
        yield begin, layout.to_places(out)


def _first_look(cells: NDArray[np.float64], due: int) -> int | None:
    """The first frame of a block that is due for a look at the drivers and has conductances."""
    finite: NDArray[np.bool_] = np.asarray(np.isfinite(cells).all(axis=(1, 2)))
    finite[: max(0, due - 1)] = False
    return int(np.argmax(finite)) if finite.any() else None


def _references(means: NDArray[np.float64]) -> References:
    zero, supply, tap_high, tap_low = means.tolist()
    return References(zero, supply, tap_high, tap_low, 1, 1)


def _running_means(frames: Frames) -> NDArray[np.float64]:
    """Zero, supply, tap high, tap low after each frame as `References.updated` has them, shape (n, 4)."""
    out = np.full((len(frames), 4), math.nan)
    even = frames.seq % 2 == 0
    for parity, columns in ((True, (0, 2)), (False, (1, 3))):
        at = np.flatnonzero(even == parity)
        if not at.size:
            continue
        weight = np.maximum(SLOW, 1 / np.arange(1, at.size + 1)).tolist()
        last = np.searchsorted(at, np.arange(len(frames)), side="right") - 1
        for which, column in enumerate(columns):
            mean, values = 0.0, []
            for part, new in zip(weight, frames.references[at, which].tolist(), strict=True):
                mean += part * (new - mean)
                values.append(mean)
            known = np.array([math.nan, *values])
            out[:, column] = known[last + 1]
    return out
