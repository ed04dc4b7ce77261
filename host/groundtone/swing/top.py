"""The top of the swing: pressure does not show it, so it is an estimate with an interval.

What is known: takeaway, turn and impact with their doubts; how the tempo (backswing over downswing) of golfers is
spread, about 3 and less in short swings; and that pressure mostly turns up to a quarter of a second before the club
does (`definition`). Each tempo gives a top, weighed by how usual it is and by what the turn allows. The interval is the
middle 95 % of what is left.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from groundtone.swing import definition as d
from groundtone.swing.events import Moment

Array = NDArray[np.float64]

# Where no tempo agrees with the turn, the turn is set aside: it weighs no more than this.
_FLOOR = 1e-3


def top_of(
    takeaway: Moment, turn: Moment | None, impact: Moment, slow: float = 1.0
) -> tuple[Moment, tuple[float, float]]:
    """The top and the interval in which it lies with 95 % probability.

    Parameters
    ----------
    takeaway, impact : Moment
    turn : Moment or None
        None: pressure did not turn, and tells nothing of the top.
    slow : float
        How many times slower than at full speed; the lead of the turn stretches with it.

    Returns
    -------
    Moment
        Mean and standard deviation of what is possible.
    (float, float)
        s of device time.
    """
    from scipy.special import ndtr  # whoever only waits for a mat need not load it

    off = np.linspace(-3.0, 3.0, 181)
    tempo = d.TEMPO * np.exp(d.TEMPO_SPREAD * off)
    part = tempo / (1 + tempo)
    whole = impact.t_s - takeaway.t_s
    top = takeaway.t_s + part * whole
    # The doubt of each top: takeaway and impact move it by their parts.
    own = np.hypot((1 - part) * takeaway.doubt_s, part * impact.doubt_s)
    weight = np.exp(-0.5 * off**2)
    if turn is not None:
        edge = np.hypot(own, turn.doubt_s)
        lead = top - turn.t_s
        allowed = d.RARE_LEAD * _between(lead, edge, *d.RARE_LEAD_S, slow) + _FLOOR
        weight *= (1 - d.RARE_LEAD) * _between(lead, edge, *d.TURN_LEAD_S, slow) + allowed
    weight /= weight.sum()
    mean = float(weight @ top)
    spread = math.sqrt(float(weight @ ((top - mean) ** 2 + own**2)))
    grid = np.linspace(mean - 5 * spread, mean + 5 * spread, 400)
    below = weight @ ndtr((grid[None, :] - top[:, None]) / own[:, None])
    low, high = np.interp([0.025, 0.975], below, grid).tolist()
    return Moment(mean, "estimate", spread), (low, high)


def _between(lead: Array, edge: Array, low: float, high: float, slow: float) -> Array:
    """How far a lead lies inside its range, 0 to 1, with the doubt of its ends."""
    from scipy.special import ndtr

    inside: Array = ndtr((lead - low) / edge) * ndtr((high * slow - lead) / edge)
    return inside
