"""A golfer's own lead of the force's peak over impact, learnt from swings whose moment of impact a sensor has told."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from groundtone.swing.definition import OWN_PEAK_S, PEAK_DOUBT_S, PEAK_TO_IMPACT_S

# What is believed of how much a golfer's own peaks differ weighs as much as so many swings.
_BELIEVED = 3
# A golfer's other swings (chips, a late push) may peak otherwise than those that were struck: no surer than this, s.
_LEAST_U_S = 0.010


def own_lead(seen_s: Sequence[float]) -> tuple[float, float]:
    """How long the force's peak comes before impact, and how sure that is of one more swing.

    The usual lead and its doubt (`definition`) weighed with the golfer's own: the law of normal mean and known spread.

    Parameters
    ----------
    seen_s : sequence of float
        Impact less the force's peak in swings with a sensor, s; NaN does not count.

    Returns
    -------
    lead_s, u_s : float

    Examples
    --------
    >>> own_lead([])
    (0.03, 0.038)
    >>> [round(value, 3) for value in own_lead([0.08, 0.085, 0.075, 0.08])]
    [0.079, 0.01]
    """
    seen = np.array([value for value in seen_s if math.isfinite(value)])
    if not seen.size:
        return PEAK_TO_IMPACT_S, PEAK_DOUBT_S
    middle = float(np.median(seen))
    # Robust, for a swing that peaks after impact would take the others' certainty away.
    spread = 1.4826 * float(np.median(np.abs(seen - middle)))
    own = math.sqrt((_BELIEVED * OWN_PEAK_S**2 + seen.size * spread**2) / (_BELIEVED + seen.size))
    believed, told = 1 / PEAK_DOUBT_S**2, seen.size / own**2
    lead_s = (believed * PEAK_TO_IMPACT_S + told * middle) / (believed + told)
    return lead_s, max(math.hypot(own, 1 / math.sqrt(believed + told)), _LEAST_U_S)
