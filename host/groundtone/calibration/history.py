"""What creep has made of each placement by the time it was read, from all that lay on its cell before.

The film's memory is linear (`groundtone.calibration.creep`), so each change of load counts on its own: a step of ΔF
reads ΔF·S(t) a time t later, with S the step response. A cell's reading is the sum over its steps.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.capture import Placement
from groundtone.calibration.creep import step_response


def grown(placements: Sequence[Placement], c_per_decade: float) -> NDArray[np.float64]:
    """Reading over force of each placement, both in newtons.

    Parameters
    ----------
    placements : sequence of Placement
        With `t_s` where it is known; those without it count as from rest, or from their peak where `falling`.
    c_per_decade : float
        Creep.

    Returns
    -------
    ndarray, shape (placements,)
        1 without creep.
    """
    out = np.ones(len(placements))
    by_cell: dict[tuple[int, int], list[int]] = {}
    for i, placement in enumerate(placements):
        by_cell.setdefault((placement.row, placement.column), []).append(i)
    for indices in by_cell.values():
        timed = sorted((i for i in indices if not math.isnan(placements[i].t_s)), key=lambda i: placements[i].t_s)
        steps: list[tuple[float, float]] = []
        before: Placement | None = None
        for i in timed:
            now = placements[i]
            if before is None and now.falling and not math.isnan(now.peak_n):
                steps.append((now.t_s - now.peak_s, now.peak_n))
                lying_n = now.peak_n
            elif before is None:
                lying_n = 0.0
            elif now.falling or math.isnan(now.drift):
                # Weights were added or taken off where it lay: a drift is only told from rest.
                lying_n = before.force_n
            else:
                # Lifted at some time after it was read: the middle of what is possible.
                lifted_s = 0.5 * (before.t_s + before.after_s + now.t_s)
                steps.append((lifted_s, -before.force_n))
                lying_n = 0.0
            steps.append((now.t_s, now.force_n - lying_n))
            read_s = now.t_s + now.after_s
            reading = sum(size * step_response(c_per_decade, read_s - at_s) for at_s, size in steps)
            # A cell that was far heavier loaded just before must not make its memory the whole reading.
            out[i] = max(reading / now.force_n, 0.5)
            before = now
        for i in set(indices) - set(timed):
            out[i] = _from_rest(placements[i], c_per_decade)
    return out


def _from_rest(placement: Placement, c_per_decade: float) -> float:
    """From rest to F it is S(t); from rest to a peak P for T, then down to F, S(t) + (S(t + T) - S(t))·P/F."""
    now = step_response(c_per_decade, placement.after_s)
    if not placement.falling or math.isnan(placement.peak_n):
        return now
    later = step_response(c_per_decade, placement.after_s + placement.peak_s)
    return now + (later - now) * placement.peak_n / placement.force_n
