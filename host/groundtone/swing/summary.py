"""What one swing showed: lead share and heel-toe position at its events."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.swing.events import Moment, Swing


@dataclass(frozen=True)
class SwingSummary:
    """Values at the events of one swing; NaN where the event is not known.

    Attributes
    ----------
    number : int
    share_setup, share_top, share_impact : float
        Lead share, 0-1.
    position_setup, position_impact : float
        Overall heel-toe position, 0 heel edge to 1 toe edge.
    top, impact : Moment or None
    heard : tuple of (str, float, float)
        Cue, begin and end in s from impact (from the end of the swing where impact is not known).
    """

    number: int
    share_setup: float
    share_top: float
    share_impact: float
    position_setup: float
    position_impact: float
    top: Moment | None
    impact: Moment | None
    heard: tuple[tuple[str, float, float], ...]


def at(t_s: NDArray[np.float64], values: NDArray[np.float64], when_s: float) -> float:
    """Value at a time, straight between the frames around it; NaN where either is NaN or lies outside.

    Parameters
    ----------
    t_s : ndarray, shape (n,), rising
    values : ndarray, shape (n,)
    when_s : float
    """
    if not t_s.size or not t_s[0] <= when_s <= t_s[-1]:
        return math.nan
    after = min(int(np.searchsorted(t_s, when_s)), t_s.size - 1)
    before = max(after - 1, 0)
    if before == after or t_s[after] == when_s:
        return float(values[after])
    part = (when_s - t_s[before]) / (t_s[after] - t_s[before])
    return float(values[before] + part * (values[after] - values[before]))


def summarise(
    swing: Swing, t_s: NDArray[np.float64], share: NDArray[np.float64], overall: NDArray[np.float64]
) -> SwingSummary:
    """Values at the events of a swing.

    Parameters
    ----------
    swing : Swing
    t_s, share, overall : ndarray, shape (n,)
        Device time (s, rising), lead share and overall heel-toe position around the swing.
    """

    def value(values: NDArray[np.float64], moment: Moment | None) -> float:
        return at(t_s, values, moment.t_s) if moment is not None else math.nan

    zero = swing.impact.t_s if swing.impact is not None else swing.end_s
    heard = tuple((cue, begin - zero, end - zero) for cue, begin, end in swing.heard)
    return SwingSummary(
        number=swing.number,
        share_setup=swing.setup_share,
        share_top=value(share, swing.top),
        share_impact=value(share, swing.impact),
        position_setup=value(overall, swing.takeaway),
        position_impact=value(overall, swing.impact),
        top=swing.top,
        impact=swing.impact,
        heard=heard,
    )
