"""The footprint: where each sole begins and ends on its panel, found while stepping on and rocking.

It is made of every row that carried load during the rock, so that someone who stands on the heels does not get a short
foot. A sole presses little at its very edge: the edge is set where a small part of the load of the heel (or of the
toes) lies outside it, between the rows by interpolation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.layout import Layout

# How far the centre of pressure of a foot must have travelled for the rock to have shown both ends, part of the print.
_ROCK_SPAN = 0.40
# The heel's (the toes') load is what lies within this distance of the first row that carries anything, mm,
_END_MM = 80.0
# and this part of it lies outside the edge (chosen on the twin's soles).
_OUTSIDE = 0.025
# A row carries something when it reached this part of the strongest row.
_SOMETHING = 0.01
# A print this short or long is no foot in a shoe (children's shoes to the largest made), mm.
_PLAUSIBLE_MM = (130.0, 360.0)
# Soles that carry so much (part of the strongest row) so far beyond the length of before are another golfer's, mm.
_LONGER_MM, _BEYOND = 15.0, 0.08


@dataclass(frozen=True)
class Footprint:
    """Heel edge and toe edge of one sole along its panel, mm from the heel end."""

    heel_mm: float
    toe_mm: float

    def position(self, u_mm: float) -> float:
        """Heel-toe position: 0 at the heel edge, 1 at the toe edge; NaN in, NaN out."""
        return (u_mm - self.heel_mm) / (self.toe_mm - self.heel_mm)


def edges(envelope_n: NDArray[np.float64], layout: Layout, shoe_mm: float | None = None) -> Footprint | None:
    """Edges of a sole from the greatest load that each row of its panel carried.

    Parameters
    ----------
    envelope_n : ndarray, shape (rows,)
        Greatest force of each row during the rock, N.
    shoe_mm : float, optional
        Outer length of the shoe. Where it is known the print's middle is kept and its length set.

    Returns
    -------
    Footprint or None
        None where too little was loaded to tell.
    """
    strongest = float(envelope_n.max(initial=0.0))
    if strongest <= 0 or np.count_nonzero(envelope_n > _SOMETHING * strongest) < 3:
        return None
    heel = _edge(envelope_n, layout.row_pitch_mm)
    toe = layout.length_mm - _edge(envelope_n[::-1], layout.row_pitch_mm)
    if shoe_mm is not None:
        middle = (heel + toe) / 2
        heel, toe = middle - shoe_mm / 2, middle + shoe_mm / 2
    if not _PLAUSIBLE_MM[0] <= toe - heel <= _PLAUSIBLE_MM[1]:
        return None
    return Footprint(heel, toe)


def _edge(envelope_n: NDArray[np.float64], pitch_mm: float) -> float:
    """Distance of the sole's edge from the end at which the envelope begins, mm."""
    first = int(np.argmax(envelope_n > _SOMETHING * envelope_n.max()))
    bounds = np.arange(envelope_n.size + 1) * pitch_mm
    inside = np.concatenate([[0.0], np.cumsum(np.maximum(envelope_n, 0.0))])
    whole = float(np.interp(first * pitch_mm + _END_MM, bounds, inside))
    return float(np.interp(_OUTSIDE * whole, inside, bounds))


class FootprintFinder:
    """Gathers the envelope from step-on to the end of the rock; one foot each, begun again after each step-off.

    Parameters
    ----------
    shoe_mm : float, optional
        Outer length of the shoes.
    panel : int, optional
        The one panel that is there, LEFT or RIGHT: its print alone is enough, the other's stays None.

    Attributes
    ----------
    prints : (Footprint or None, Footprint or None) or None
    taken_over : bool
        They have their lengths from the stand before, until somebody rocks.
    """

    def __init__(self, layout: Layout, shoe_mm: float | None = None, panel: int | None = None) -> None:
        self._layout = layout
        self._shoe_mm = shoe_mm
        self._feet = (0, 1) if panel is None else (panel,)
        self.prints: tuple[Footprint | None, Footprint | None] | None = None
        self._before: tuple[Footprint | None, Footprint | None] | None = None
        self.forget()

    def forget(self) -> None:
        """Begins anew: the golfer has stepped off."""
        rows = self._layout.rows
        self._before = self.prints or self._before
        self.taken_over = False
        self._envelope = np.zeros((2, rows))
        self._low = [math.inf, math.inf]
        self._high = [-math.inf, -math.inf]
        self.prints = None

    def take_over(self) -> bool:
        """The golfer of before is back: soles as long as theirs, beginning where a heel came down this time.

        Returns
        -------
        bool
            Whether that could be: False where nobody was here before, a foot has shown too little yet, or the soles
            that stand there are longer.
        """
        if self.prints is not None or self._before is None:
            return False
        found: list[Footprint | None] = [None, None]
        for foot in self._feet:
            mark, before = edges(self._envelope[foot], self._layout), self._before[foot]
            if mark is None or before is None:
                return False
            length = before.toe_mm - before.heel_mm
            beyond = self._envelope[foot][self._layout.u_mm > mark.heel_mm + length + _LONGER_MM]
            if beyond.max(initial=0.0) > _BEYOND * self._envelope[foot].max():
                return False
            found[foot] = Footprint(mark.heel_mm, mark.heel_mm + length)
        self.prints, self.taken_over = (found[0], found[1]), True
        return True

    def add(self, force_n: NDArray[np.float64], u_mm: tuple[float, float]) -> bool:
        """Takes one frame in; True in the one frame in which all prints have been found.

        Parameters
        ----------
        force_n : ndarray, shape (rows, columns)
        u_mm : (float, float)
            Centre of pressure of each foot along its panel; NaN where it has none.
        """
        if self.prints is not None and not self.taken_over:
            return False
        np.fmax(self._envelope, self._layout.by_panel(force_n).sum(-1), out=self._envelope)
        for foot in self._feet:
            if not math.isnan(u_mm[foot]):
                self._low[foot] = min(self._low[foot], u_mm[foot])
                self._high[foot] = max(self._high[foot], u_mm[foot])
        found: list[Footprint | None] = [None, None]
        for foot in self._feet:
            mark = edges(self._envelope[foot], self._layout, self._shoe_mm)
            if mark is None:
                return False
            found[foot] = mark
            # Both ends have been loaded, and the centre is on its way back: the rock's far end lies behind.
            length = mark.toe_mm - mark.heel_mm
            if not self._high[foot] - self._low[foot] >= _ROCK_SPAN * length:
                return False
            if not self._high[foot] - 0.15 * length > u_mm[foot] > self._low[foot] + 0.15 * length:
                return False
        self.prints, self.taken_over = (found[0], found[1]), False
        return True
