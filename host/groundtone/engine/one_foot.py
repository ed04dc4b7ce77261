"""Whether the toes cue may sound where one panel alone is there: only while its foot stands loaded as before.

Without the other foot there is no lead share, so no turn of pressure can be seen and no swing is followed. In every
good swing the trail foot runs onto its toes after the turn, and no tone may come of that; but every swing first moves
load onto the foot or off it. So the cue is let go when the load leaves its level, and comes back only when the foot has
stood quietly inside the band: whoever ends a swing on the toes of this foot hears nothing of it.

In the first hour the film is not calibrated, and the same load reads a quarter more or less as it moves from cell to
cell. So there is a level for each place along the panel: the slow rock that shows the footprint shows them too.
"""

from __future__ import annotations

import math
from collections import deque

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.layout import Layout

# The load has left its level when it is this many times it, or the level this many times the load. Chosen on the twin,
# on guessed films: rocking stays within 1.07, shuffling into the setup within 1.28, and a swing goes beyond it in the
# backswing, or just after the turn at the latest.
LEAVE = 1.3
# The foot stands quietly when its load keeps within this ratio for this long.
QUIET, QUIET_S = 1.25, 1.0
# A load is looked at this often; the level of its place then goes this part of the way to it (5 s to settle).
_EVERY_S, _PART = 0.05, 0.01
# Places are this long, mm, and a minute of loads is kept until the footprint is there.
_PLACE_MM, _KEPT = 20.0, 1200
# While stepping on, the foot carries nearly nothing or everything: further than this from the median shows no level.
_STEPPING = 1.6


class OneFoot:
    """Follows the load under one foot.

    Parameters
    ----------
    length_mm : float
        Active length of the panel.

    Attributes
    ----------
    armed : bool
        The toes cue may sound.
    """

    def __init__(self, length_mm: float) -> None:
        self._centre_mm = np.arange(0.5 * _PLACE_MM, length_mm + _PLACE_MM, _PLACE_MM)
        self._gathered: deque[tuple[float, float]] = deque(maxlen=_KEPT)
        self._quiet: deque[tuple[float, float]] = deque()
        self.forget()

    def forget(self) -> None:
        """Begins anew: the golfer has stepped off."""
        self.armed = False
        self._level_n: NDArray[np.float64] = np.full(self._centre_mm.size, math.nan)
        self._gathered.clear()
        self._quiet.clear()
        self._taken_s = -math.inf

    def gather(self, t_s: float, force_n: float, u_mm: float) -> None:
        """One frame before the footprint is known: time s, load N, its centre along the panel mm (NaN: none)."""
        if force_n > 0 and not math.isnan(u_mm) and self._due(t_s):
            self._gathered.append((u_mm, force_n))

    def arm(self) -> None:
        """The footprint is known: learns the levels from what was gathered, and lets the cue sound from now on."""
        if not self._gathered:
            return
        u_mm, load = np.array(self._gathered).T
        middle = np.median(load)
        standing = (load > middle / _STEPPING) & (load < middle * _STEPPING)
        place = (u_mm / _PLACE_MM).astype(int).clip(0, self._centre_mm.size - 1)
        for k in np.unique(place[standing]).tolist():
            self._level_n[k] = np.median(load[standing & (place == k)])
        self._gathered.clear()
        self.armed = True

    def watch(self, t_s: float, force_n: float, u_mm: float, *, inside: bool) -> None:
        """One frame from then on.

        Parameters
        ----------
        t_s : float
            Device time, s, never falling.
        force_n : float
            Load of the foot, N.
        u_mm : float
            Its centre along the panel, mm; NaN where the foot carries too little for one.
        inside : bool
            That centre lies inside the band of the toes cue.
        """
        ratio = force_n / self._level_at(u_mm)
        if self.armed:
            self.armed = 1 / LEAVE <= ratio <= LEAVE
            if self.armed and self._due(t_s):
                self._follow(force_n, u_mm)
            return
        if not (inside and ratio > 0):
            self._quiet.clear()
            return
        self._quiet.append((t_s, ratio))
        while self._quiet[0][0] < t_s - QUIET_S - 1e-6:
            self._quiet.popleft()
        ratios = [value for _, value in self._quiet]
        if t_s - self._quiet[0][0] >= 0.95 * QUIET_S and max(ratios) <= QUIET * min(ratios):
            # The foot carries another part of the weight now: so it does at every place.
            self._level_n *= float(np.median(ratios))
            self._quiet.clear()
            self.armed = True

    def _level_at(self, u_mm: float) -> float:
        """The level at a place, between the known ones and beyond them as the nearest, N; NaN in, NaN out."""
        known = ~np.isnan(self._level_n)
        if math.isnan(u_mm) or not known.any():
            return math.nan
        return float(np.interp(u_mm, self._centre_mm[known], self._level_n[known]))

    def _follow(self, force_n: float, u_mm: float) -> None:
        k = min(max(int(u_mm / _PLACE_MM), 0), self._centre_mm.size - 1)
        before = self._level_n[k]
        self._level_n[k] = force_n if math.isnan(before) else before + _PART * (force_n - before)

    def _due(self, t_s: float) -> bool:
        if t_s - self._taken_s < _EVERY_S - 1e-6:
            return False
        self._taken_s = t_s
        return True


def only_panel(force_n: NDArray[np.float64], layout: Layout, panel: int) -> NDArray[np.float64]:
    """Forces with nothing on the panel that is not there; a frame of which nothing is known stays as it is."""
    if not np.isfinite(force_n).any():
        return force_n
    force = force_n.copy()
    other, width = 1 - panel, layout.columns_per_panel
    force[:, other * width : (other + 1) * width] = 0.0
    return force
