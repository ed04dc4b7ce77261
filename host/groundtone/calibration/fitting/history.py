"""What creep has made of each placement by the time it was read, from all that lay on its cell before.

The film's memory is linear in its conductance (`calibration.fitting.creep`), so each change of load counts on its
own: a step of ΔG reads ΔG·S(t) a time t later, with S the step response. A cell's reading is the sum over its steps.
Force goes with a power of conductance, F = G^p: of a peak of 200 N less is left under 60 N than a memory of forces
would say, and what that gets wrong would be taken for hysteresis.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.creep import step_response


def grown(placements: Sequence[Placement], c_per_decade: float, exponent: float = 1.0) -> NDArray[np.float64]:
    """Force as it is read over force of each placement.

    Parameters
    ----------
    placements : sequence of Placement
        With `t_s` where it is known; those without it count as from rest, or from their peak where `falling`.
    c_per_decade : float
        Creep of the force that is read.
    exponent : float
        The curves': the conductance creeps by `c_per_decade / exponent`.

    Returns
    -------
    ndarray, shape (placements,)
        1 without creep.
    """
    share = c_per_decade / exponent
    size_of = [placement.force_n ** (1 / exponent) for placement in placements]
    out = np.ones(len(placements))
    begun = sorted(placement.t_s for placement in placements if not math.isnan(placement.t_s))
    by_cell: dict[tuple[int, int], list[int]] = {}
    for i, placement in enumerate(placements):
        by_cell.setdefault((placement.row, placement.column), []).append(i)
    for indices in by_cell.values():
        timed = sorted((i for i in indices if not math.isnan(placements[i].t_s)), key=lambda i: placements[i].t_s)
        steps: list[tuple[float, float]] = []
        before: int | None = None
        for i in timed:
            now, was = placements[i], None if before is None else placements[before]
            lying = 0.0
            if before is None or was is None:
                if now.falling and not math.isnan(now.peak_n):
                    lying = now.peak_n ** (1 / exponent)
                    steps.append((now.t_s - now.peak_s, lying))
            elif now.falling or math.isnan(now.drift):
                # Weights were added or taken off where it lay: a drift is only told from rest.
                lying = size_of[before]
            else:
                # Lifted at some time after it was read and before the next load lay anywhere: one lies there at a time.
                read_s = was.t_s + was.after_s
                lifted_s = 0.5 * (read_s + max(begun[bisect_right(begun, was.t_s)], read_s))
                steps.append((lifted_s, -size_of[before]))
            steps.append((now.t_s, size_of[i] - lying))
            read_s = now.t_s + now.after_s
            reading = sum(size * step_response(share, read_s - at_s) for at_s, size in steps)
            # A cell that was far heavier loaded just before must not make its memory the whole reading.
            out[i] = max(reading / size_of[i], 0.5) ** exponent
            before = i
        for i in set(indices) - set(timed):
            out[i] = _from_rest(placements[i], share, exponent) ** exponent
    return out


def _from_rest(placement: Placement, share: float, exponent: float) -> float:
    """From rest to G it is S(t); from rest to a peak P for T, then down to G, S(t) + (S(t + T) - S(t))·P/G."""
    now = step_response(share, placement.after_s)
    if not placement.falling or math.isnan(placement.peak_n):
        return now
    later = step_response(share, placement.after_s + placement.peak_s)
    above: float = (placement.peak_n / placement.force_n) ** (1 / exponent)
    return now + (later - now) * above
