"""The frames around one swing, lead foot first, lightly smoothed: what its measures are read from."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.pressure.feet import OUTWARDS
from groundtone.pressure.series import Series
from groundtone.swing.events import Swing

Array = NDArray[np.float64]

# Running mean over this many frames to either side (25 ms in all at 200 Hz): zero-phase.
_SIDE = 2
BEFORE_S, AFTER_S = 3.0, 4.0


@dataclass(frozen=True)
class Window:
    """Frames around a swing.

    Attributes
    ----------
    t_s : ndarray, shape (n,)
    share, overall : ndarray, shape (n,)
    lead, trail : ndarray, shape (n,)
        Heel-toe position of each foot.
    lead_u, trail_u : ndarray, shape (n,)
        What their footprints leave open.
    lead_out_mm, trail_out_mm : ndarray, shape (n,)
        Where each foot's pressure lies across it, outwards positive, mm from the panel's left edge turned so.
    weights : ndarray, shape (n,)
        Total vertical force in body weights.
    centre_mm : ndarray, shape (n, 2)
    lead_mm, trail_mm : float
        Length of each footprint; NaN where there is none.
    width_mm : float
        Between the panels' centres.
    lifted_s : float
        When a foot was lifted after impact; NaN: none was.
    """

    t_s: Array
    share: Array
    overall: Array
    lead: Array
    trail: Array
    lead_u: Array
    trail_u: Array
    lead_out_mm: Array
    trail_out_mm: Array
    weights: Array
    centre_mm: Array
    lead_mm: float
    trail_mm: float
    width_mm: float
    lifted_s: float

    def cut(self, low_s: float, high_s: float) -> slice:
        """Frames from one time to another."""
        low = int(np.searchsorted(self.t_s, low_s - 1e-9))
        return slice(low, max(low, int(np.searchsorted(self.t_s, high_s + 1e-9))))


def window_of(swing: Swing, series: Series) -> Window:
    """The frames around a swing, from its setup to its end and a while on."""
    begin_s = swing.takeaway.t_s - BEFORE_S
    end = swing.impact.t_s if swing.impact is not None else swing.takeaway.t_s + 2.0
    end_s = max(end + AFTER_S * swing.slow, swing.end_s + 1.0 if math.isfinite(swing.end_s) else 0.0)
    t = series.t_s
    cut = slice(int(np.searchsorted(t, begin_s)), int(np.searchsorted(t, end_s)))
    here = [s for s in series.stands if s.begin_s <= swing.takeaway.t_s <= s.end_s]
    lengths, lifted = {}, math.nan
    for stand in here:
        # Beyond the stand somebody else may stand there.
        cut = slice(max(cut.start, stand.begin), min(cut.stop, stand.end))
        for foot in stand.settled:
            if foot.footprint is not None and t[foot.begin] <= swing.takeaway.t_s <= t[foot.end - 1]:
                lengths[foot.foot] = foot.footprint.toe_mm - foot.footprint.heel_mm
            off_s = float(t[foot.end - 1])
            if foot.end < stand.end and off_s > end and not off_s > lifted:
                lifted = off_s
    lead, trail = series.lead, series.trail
    return Window(
        t_s=t[cut],
        share=_mean(series.share[cut]),
        overall=_mean(series.overall[cut]),
        lead=_mean(series.position[cut, lead]),
        trail=_mean(series.position[cut, trail]),
        lead_u=series.position_u[cut, lead],
        trail_u=series.position_u[cut, trail],
        lead_out_mm=_mean(OUTWARDS[lead] * series.v_mm[cut, lead]),
        trail_out_mm=_mean(OUTWARDS[trail] * series.v_mm[cut, trail]),
        weights=_mean(series.total_n[cut] / series.weight_n[cut]),
        centre_mm=np.stack([_mean(series.centre_mm[cut, 0]), _mean(series.centre_mm[cut, 1])], axis=1),
        lead_mm=lengths.get(lead, math.nan),
        trail_mm=lengths.get(trail, math.nan),
        width_mm=series.width_mm,
        lifted_s=lifted,
    )


def _mean(values: Array) -> Array:
    """Running mean that leaves NaN where NaN was and takes none in."""
    known = np.isfinite(values)
    kernel = np.ones(2 * _SIDE + 1)
    count = np.convolve(known, kernel, "same")
    total = np.convolve(np.where(known, values, 0.0), kernel, "same")
    out: Array = np.where(known, total / np.maximum(count, 1), np.nan)
    return out


def middle(values: Array) -> float:
    """The median of what is known; 0 where nothing is."""
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else 0.0


def known(value: float) -> float:
    """The value; 0 where it is not known."""
    return value if math.isfinite(value) else 0.0


def finite(values: Array) -> Array:
    """What is known of some values; one NaN where nothing is."""
    seen: Array = values[np.isfinite(values)]
    return seen if seen.size else np.array([math.nan])


def any_known(values: Array, span: slice | None) -> bool:
    """Whether anything is known there."""
    return span is not None and bool(np.isfinite(values[span]).any())
