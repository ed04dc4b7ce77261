"""How sure every force, share and centre of pressure is: the uncertainty budget, propagated frame by frame.

The law of propagation of uncertainty (JCGM 100:2008, GUM, 5.2.2, with correlations) with the logarithms of the cells'
forces as inputs. For a measure q and its sensitivities g[i] = F[i] ∂q/∂F[i],

    u²(q) = gᵀ C g + Σ g² (own²) + Σ_k (g · s_k)² + Σ (∂q/∂F)² n²

C is what weights, fit and shoe leave (covariance of the cells' ln factors, correlations and all); `own` is what each
cell has for itself: its exponent, its loop, a guess where it is dead; each s_k is one cause that moves many cells
together: the curve's shape, creep, the curve above the highest calibrated load; n is the converter's noise and what an
empty film reads, N. A law linear in small errors: its check is a Monte Carlo run (tests, and `make study
NAME=calibration-coverage`). Expanded intervals are ±2 u (about 95 %).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film
from groundtone.mat.layout import Layout

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Terms:
    """What the film's memory and the electronics leave, as the budget assumes it; each with where it is from.

    Attributes
    ----------
    loop_u : float
        Relative, each cell for itself: half of a 5 % loop that the correction of hysteresis has not met.
    loop_common_u : float
        Relative, all cells alike: the same.
    creep_u : float
        Part of a decade's creep that is not known, common to all cells of a foot.
    creep_decades : float
        Decades of time between the moment for which the curve holds and the frames that are judged.
    noise_n : float
        Converter, reference and quantisation noise of one cell, N.
    rest_n : float
        What an empty or just unloaded cell reads too much or too little, alike over half a foot, N.
    fill : float
        Relative error of a dead cell's filled force.
    beyond : float
        Relative error of force for each unit of ln(force / highest calibrated load).
    along_mm, across_mm : float
        What sampling a foot with cells of this size does to its centre.
    """

    loop_u: float = 0.026
    loop_common_u: float = 0.002
    creep_u: float = 0.05
    creep_decades: float = 1.5
    noise_n: float = 0.06
    rest_n: float = 0.035
    fill: float = 0.40
    beyond: float = 0.15
    along_mm: float = 0.3
    across_mm: float = 0.7


@dataclass(frozen=True)
class Stated:
    """Standard uncertainties of a block of frames; feet left, right. NaN where a foot carries nothing.

    Attributes
    ----------
    force_n, along_mm, across_mm : ndarray, shape (n, 2)
        Of each foot's force, N, and of its centre in the panel's frame, mm.
    share : ndarray, shape (n,)
        Of left over total force (the right foot's share has the same).
    place_mm : ndarray, shape (n, 2), or None
        Of the overall centre in the frame of `Budget.place_mm`.
    """

    force_n: Array
    along_mm: Array
    across_mm: Array
    share: Array
    place_mm: Array | None


@dataclass(frozen=True)
class Budget:
    """The uncertainty budget of one mat and one stand.

    Attributes
    ----------
    covariance : ndarray, shape (cells, cells)
        Of the cells' ln factors: weights, fit, shoe.
    place_mm : ndarray, shape (cells, 2), or None
        Where each cell lies in the stance frame, for the overall centre.
    anchored : bool
        A body of known weight has stood on the mat since: its total has taken out what the curve's shape and the loop
        do to all cells alike, and only what they do to one cell more than to another is left.
    """

    layout: Layout
    film: Film
    covariance: Array
    terms: Terms = Terms()
    place_mm: Array | None = None
    anchored: bool = False

    def of(self, force_n: Array) -> Stated:
        """Standard uncertainties of frames.

        Parameters
        ----------
        force_n : ndarray, shape (n, rows, columns)
            Corrected forces, N. NaN and less than nothing count as nothing.
        """
        layout = self.layout
        shape = (len(force_n), layout.cells)
        force = np.maximum(np.nan_to_num(force_n).reshape(shape), 0.0)
        own, common = self.relative(force)
        row, column = np.divmod(np.arange(layout.cells), layout.columns)
        foot = column // layout.columns_per_panel
        u_mm, v_mm = layout.u_mm[row], layout.v_mm[column % layout.columns_per_panel]
        total = _safe(force.sum(1))
        ahead = row >= layout.rows // 2
        rest = [self.terms.rest_n * ((foot == side) & (ahead == half)) for side in (0, 1) for half in (False, True)]

        def u(slope: Array) -> Array:
            """Of a measure with the given sensitivity to each cell's force, (n, cells)."""
            g = slope * force
            variance = np.einsum("ni,ni->n", g @ self.covariance, g) + ((g * own) ** 2).sum(1)
            for cause in common:
                variance += np.einsum("ni,ni->n", g, cause) ** 2
            for cause in rest:
                variance += (slope @ cause) ** 2
            variance += (slope**2).sum(1) * self.terms.noise_n**2
            out: Array = np.sqrt(variance)
            return out

        force_u: list[Array] = []
        along: list[Array] = []
        across: list[Array] = []
        for side in (0, 1):
            here = (foot == side).astype(np.float64)
            carried = _safe(force @ here)
            force_u.append(u(np.broadcast_to(here, shape)))
            for out, at, floor in ((along, u_mm, self.terms.along_mm), (across, v_mm, self.terms.across_mm)):
                centre = (force * here) @ at / carried
                out.append(np.hypot(u(here * (at - centre[:, None]) / carried[:, None]), floor))
        left = (foot == 0).astype(np.float64)
        share = (force @ left) / total
        share_u = u((left - share[:, None]) / total[:, None])
        place = None
        if self.place_mm is not None:
            parts = []
            for at, floor in zip(self.place_mm.T, (self.terms.across_mm, self.terms.along_mm), strict=True):
                centre = force @ at / total
                parts.append(np.hypot(u((at - centre[:, None]) / total[:, None]), floor / math.sqrt(2)))
            place = np.stack(parts, axis=1)
        return Stated(np.stack(force_u, 1), np.stack(along, 1), np.stack(across, 1), share_u, place)

    def relative(self, force: Array) -> tuple[Array, list[Array]]:
        """Each cell's own relative uncertainty, and the causes that cells share, (n, cells) each."""
        film, terms = self.film, self.terms
        level = np.nan_to_num(film.curves.level.ravel())
        x = (np.log(np.maximum(force, 0.5)) - level) / film.curves.exponent
        off = x - film.x_centre
        own = np.hypot(terms.loop_u, film.exponent_spread * off)
        dead = np.zeros(self.layout.cells, dtype=bool)
        for row, column in film.dead:
            dead[row * self.layout.columns + column] = True
        own = np.hypot(own, np.where(dead, terms.fill, 0.0))
        values, vectors = np.linalg.eigh(film.shape_cov)
        common = [
            math.sqrt(max(float(value), 0.0)) * (float(vector[0]) * off + float(vector[1]) * off * (x + film.x_centre))
            for value, vector in zip(values, vectors.T, strict=True)
        ]
        common.append(np.full_like(force, terms.loop_common_u))
        if self.anchored:
            weight = force / np.maximum(force.sum(1, keepdims=True), 1.0)
            common = [cause - (cause * weight).sum(1, keepdims=True) for cause in common]
        unknown = 1.0 if math.isnan(film.kept) else terms.creep_u
        common.append(np.full_like(force, unknown * max(film.creep, 0.01) * terms.creep_decades))
        highest = film.highest_n if film.highest_n > 0 else 1.0
        common.append(terms.beyond * np.log(np.maximum(force / highest, 1.0)))
        return own, common


def _safe(force: Array) -> Array:
    """Forces to divide by: NaN where there is next to none."""
    out: Array = np.where(force > 1.0, force, np.nan)
    return out
