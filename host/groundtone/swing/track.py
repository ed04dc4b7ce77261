"""One stand on an even grid of time, smoothed without delay: what the review form of the phases works on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from groundtone.pressure.series import Series
from groundtone.pressure.stands import Stand

GRID_S = 0.005
# Zero-phase low-pass (forwards and backwards, delay 0), Hz: the shift of a swing has nothing above this.
SHARE_HZ, FORCE_HZ = 12.0, 15.0
# No frame for this long: events in it are doubtful by its length.
GAP_S = 0.03

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Track:
    """A stand at every 5 ms.

    Attributes
    ----------
    t_s : ndarray, shape (n,)
    share : ndarray, shape (n,)
        Lead share, smoothed.
    weights : ndarray, shape (n,)
        Total vertical force in body weights, smoothed.
    position : ndarray, shape (n, 2)
        Heel-toe position of the lead and the trail foot; NaN where a foot has none.
    noise : float
        Scatter of the smoothed share, standard deviation.
    gaps : ndarray, shape (m, 2)
        Begin and end of each time without frames, s.
    """

    t_s: Array
    share: Array
    weights: Array
    position: Array
    noise: float
    gaps: Array

    def between(self, low_s: float, high_s: float) -> slice:
        """Samples from one time to another, the last included."""
        low = max(int(np.searchsorted(self.t_s, low_s - 1e-9)), 0)
        return slice(low, max(int(np.searchsorted(self.t_s, high_s + 1e-9)), low))

    def gap_u_s(self, when_s: float) -> float:
        """What a gap in the frames adds to the doubt of an event in it or beside it, s.

        The straight line over a gap has its bends at the ends, and a fit is drawn there: nearly half the gap.
        """
        near = self.gaps[(self.gaps[:, 0] - GAP_S <= when_s) & (when_s <= self.gaps[:, 1] + GAP_S)]
        return 0.4 * float((near[:, 1] - near[:, 0]).max(initial=0.0))


def track_of(series: Series, stand: Stand) -> Track | None:
    """A stand on the grid; None where it is too short or has too few frames."""
    cut = slice(stand.begin, stand.end)
    known = np.isfinite(series.share[cut])
    t_s = series.t_s[cut][known]
    if t_s.size < 100 or t_s[-1] - t_s[0] < 2.0:
        return None
    grid = np.arange(t_s[0], t_s[-1], GRID_S)
    raw = np.interp(grid, t_s, series.share[cut][known])
    total = np.interp(grid, t_s, series.total_n[cut][known])
    feet = [series.lead, series.trail]
    position = np.stack(
        [np.interp(grid, series.t_s[cut], series.position[cut, foot], np.nan, np.nan) for foot in feet], axis=1
    )
    step = np.diff(t_s)
    wide = step > GAP_S
    share = smooth(raw, SHARE_HZ)
    # What smoothing took away is white; it leaves about this part of it in the band that stays.
    noise = float(1.4826 * np.median(np.abs(raw - share))) * (2 * SHARE_HZ * GRID_S) ** 0.5
    gaps = np.stack([t_s[:-1][wide], t_s[1:][wide]], axis=1)
    return Track(grid, share, smooth(total, FORCE_HZ) / stand.weight_n, position, noise, gaps)


def smooth(values: Array, cut_hz: float) -> Array:
    """Zero-phase Butterworth low-pass of second order, forwards and backwards, on the grid."""
    from scipy.signal import sosfiltfilt  # it loads all of scipy.stats: a second

    out: Array = sosfiltfilt(_low_pass(cut_hz), values, padlen=min(60, values.size - 1))
    return out


@cache
def _low_pass(cut_hz: float) -> Array:
    from scipy.signal import butter

    sections: Array = butter(2, cut_hz * 2 * GRID_S, output="sos")
    return sections
