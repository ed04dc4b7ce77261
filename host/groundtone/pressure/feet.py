"""Force and centre of pressure of each foot, in its panel, and of both together in the stance frame."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.layout import LEFT, RIGHT, Layout

OUTWARDS = (-1.0, 1.0)
"""Which way of v is outwards: towards the panel's left edge under the left foot, away from it under the right one."""


def least_force_n(weight_n: float) -> float:
    """A foot that carries less has no centre of pressure: 30 N or 5 % of body weight, whichever is more."""
    return max(30.0, 0.05 * weight_n)


@dataclass(frozen=True)
class Stance:
    """Where the panels lie, and which foot leads.

    The stance frame: +x from trail to lead foot, +y from heels to toes, origin midway between the panels' centres, mm.

    Attributes
    ----------
    lead : int
        LEFT for a right-handed golfer, RIGHT for a left-handed one.
    width_mm : float
        Between the panels' centres.
    offset_mm : float
        How far the lead panel's centre lies ahead of the trail panel's, along y.
    flare_deg : (float, float)
        Left and right panel, toes outward positive.
    """

    lead: int = LEFT
    width_mm: float = 400.0
    offset_mm: float = 0.0
    flare_deg: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        if self.lead not in (LEFT, RIGHT):
            raise ValueError("lead must be LEFT or RIGHT")
        if not all(map(math.isfinite, (self.width_mm, self.offset_mm, *self.flare_deg))) or self.width_mm <= 0:
            raise ValueError("the stance's width, offset and flare must be numbers, the width above zero")

    @property
    def trail(self) -> int:
        """The other foot."""
        return 1 - self.lead

    def to_stance(self, panel: int, u_mm: float, v_mm: float, layout: Layout) -> tuple[float, float]:
        """A point of a panel in the stance frame, mm."""
        along, across = u_mm - layout.length_mm / 2, v_mm - layout.width_mm / 2
        # Towards the golfer's right is +, until the last line turns that into towards the lead foot.
        outward = 1 if panel == RIGHT else -1
        angle = math.radians(self.flare_deg[panel]) * outward
        right = across * math.cos(angle) + along * math.sin(angle)
        forward = along * math.cos(angle) - across * math.sin(angle)
        right += outward * self.width_mm / 2
        forward += self.offset_mm * (0.5 if panel == self.lead else -0.5)
        return (right if self.lead == RIGHT else -right), forward


@dataclass(frozen=True)
class Feet:
    """What both feet do in one frame; index 0 left, 1 right.

    Attributes
    ----------
    u_mm, v_mm : (float, float)
        Centre of pressure in the panel; NaN where the foot carries too little.
    """

    force_n: tuple[float, float]
    u_mm: tuple[float, float]
    v_mm: tuple[float, float]

    @property
    def total_n(self) -> float:
        """Vertical force of both feet, N."""
        return self.force_n[0] + self.force_n[1]


def foot_forces(force_n: NDArray[np.float64], layout: Layout) -> NDArray[np.float64]:
    """Force of each foot.

    Parameters
    ----------
    force_n : ndarray, shape (..., rows, columns)

    Returns
    -------
    ndarray, shape (..., 2)
        N; left, right. A cell without a value (NaN) counts as nothing.
    """
    total: NDArray[np.float64] = layout.by_panel(force_n).sum(axis=(-2, -1))
    if np.isnan(total).any():
        total = np.nansum(layout.by_panel(force_n), axis=(-2, -1))
    return total


def centres(
    force_n: NDArray[np.float64], layout: Layout, least_n: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Force and centre of pressure of each foot.

    Parameters
    ----------
    force_n : ndarray, shape (..., rows, columns)
        Force of each cell, N. A cell without a value (NaN) counts as nothing.
    least_n : float
        A foot that carries less has no centre of pressure.

    Returns
    -------
    force, u_mm, v_mm : ndarray, shape (..., 2)
        u and v are NaN where the foot carries less than `least_n`.
    """
    panels = np.nan_to_num(layout.by_panel(force_n))
    by_row, by_column = panels.sum(-1), panels.sum(-2)
    force = by_row.sum(-1)
    carrying = np.where(force >= least_n, force, np.nan)
    return force, by_row @ layout.u_mm / carrying, by_column @ layout.v_mm / carrying


def feet_of(force_n: NDArray[np.float64], layout: Layout, least_n: float) -> Feet:
    """`centres` for one frame, as plain numbers."""
    force, u_mm, v_mm = (values.tolist() for values in centres(force_n, layout, least_n))
    return Feet((force[0], force[1]), (u_mm[0], u_mm[1]), (v_mm[0], v_mm[1]))


def lead_share(feet: Feet, lead: int, least_n: float) -> float:
    """Lead force over total force, 0-1; NaN where both feet together carry less than `least_n`."""
    total = feet.total_n
    return feet.force_n[lead] / total if total >= least_n else math.nan


def overall_centre(feet: Feet, stance: Stance, layout: Layout) -> tuple[float, float]:
    """Centre of pressure of both feet in the stance frame, mm.

    A foot that carries too little for a centre of its own is left out; (NaN, NaN) where both do.
    """
    x = y = weight = 0.0
    for panel in (LEFT, RIGHT):
        if math.isnan(feet.u_mm[panel]):
            continue
        at_x, at_y = stance.to_stance(panel, feet.u_mm[panel], feet.v_mm[panel], layout)
        force = feet.force_n[panel]
        x, y, weight = x + force * at_x, y + force * at_y, weight + force
    return (x / weight, y / weight) if weight > 0 else (math.nan, math.nan)
