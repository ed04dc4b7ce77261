"""How sure every force, share and centre of pressure is: the uncertainty budget, propagated frame by frame.

The law of propagation of uncertainty (JCGM 100:2008, GUM, 5.2.2, with correlations) with the logarithms of the cells'
forces as inputs. For a measure q and its sensitivities g[i] = F[i] ∂q/∂F[i],

    u²(q) = gᵀ C g + Σ g² (own²) + Σ_k (g · s_k)² + Σ (∂q/∂F)² n²

C is what weights, fit and shoe leave (covariance of the cells' ln factors, correlations and all); `own` is what each
cell has for itself: its exponent, a loop and a creep unlike the others', a guess where it is dead; each s_k is one
cause that moves many cells together: the curve's shape, a foot's creep and loop, what the stand's own totals left, the
curve above the highest calibrated load; n is the converter's noise and what an empty film reads, N. A change from one
frame to another has the difference of both sensitivities: what both have in common drops out, save what turns over with
the load or the posture. A law linear in small errors: its check is a Monte Carlo run (tests, and `make study
NAME=evidence-mats`). Expanded intervals are ±2 u (about 95 %).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import UNSEEN_ARCH, Film
from groundtone.calibration.shoes.body_weight import sole_basis
from groundtone.calibration.shoes.shoe import SHOE_SPAN, ShoeResult, film_prior
from groundtone.mat.layout import Layout

Array = NDArray[np.float64]

# Half a loop's height over the arch that makes it: a loop of 5 % has an arch of about 0.075 on the twin.
_LOOP_OF_ARCH = 1 / 3
# Where nobody kept how heavy the highest load was, a curve is believed up to what a cell carries under a heel, N.
_UNTOLD_N = 100.0
# A weight that is known better than this was told, not guessed.
_TOLD_U = 0.01


@dataclass(frozen=True)
class Terms:
    """What the film's memory and the electronics leave, as the budget assumes it; each with where it is from.

    Chosen on the twin's mats 150000 to 150015 of the ordinary and of the wide population.

    Attributes
    ----------
    cell_u : float
        Relative, each cell for itself: loops and creeps unlike the others'.
    exponent : float
        Part of the exponents' spread from cell to cell that postures have not met.
    loop_u : float
        Part of the film's loop that its correction has not met: all cells of a foot alike, one foot on the way up while
        the other is on the way down; and the same of the toes and the heel of a foot.
    creep_u, creep_unknown : float
        Part of a decade's creep that is not known, common to all cells of a foot, each foot for itself; and where it
        could not be told what the film keeps.
    creep_decades : float
        Decades of time between the moment for which the curve holds and the frames that are judged.
    left : float
        Of a foot, and of its toes against its heel, over what the still body's total was off by in the stand.
    shoe_span : float
        A shoe's factor at any place lies in 1 ± this, evenly; the shoes are learnt as if they could be worse.
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

    cell_u: float = 0.012
    exponent: float = 0.7
    loop_u: float = 0.1
    creep_u: float = 0.05
    creep_unknown: float = 1.0
    creep_decades: float = 1.5
    left: float = 0.7
    shoe_span: float = 0.08
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
class Changed:
    """Standard uncertainties of changes from one frame to another.

    Attributes
    ----------
    share, total : ndarray, shape (n,)
        Of the share, and, relative, of the total force.
    along_mm : ndarray, shape (n, 2)
    """

    share: Array
    along_mm: Array
    total: Array


@dataclass(frozen=True)
class _Frames:
    """Forces, (n, cells), and what of them is uncertain: each cell for itself, and causes that last or turn over."""

    force: Array
    own: Array
    lasting: list[Array]
    turning: list[Array]


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
        A body of known weight has stood on the mat since: its total has taken out what the curve's shape does to all
        cells alike, and only what it does to one cell more than to another is left.
    left : float
        What was left of a still body's total over its weight in this stand, relative, root mean square.
    """

    layout: Layout
    film: Film
    covariance: Array
    terms: Terms = Terms()
    place_mm: Array | None = None
    anchored: bool = False
    left: float = 0.0

    def of(self, force_n: Array) -> Stated:
        """Standard uncertainties of frames.

        Parameters
        ----------
        force_n : ndarray, shape (n, rows, columns)
            Corrected forces, N. NaN and less than nothing count as nothing.
        """
        terms, frames = self.terms, self._frames(force_n)
        slopes = self._slopes(frames.force)

        def u(name: str) -> Array:
            slope = slopes[name]
            return np.sqrt(self._variance(slope, frames))

        force_u = np.stack([u("force 0"), u("force 1")], 1)
        along = np.hypot(np.stack([u("along 0"), u("along 1")], 1), terms.along_mm)
        across = np.hypot(np.stack([u("across 0"), u("across 1")], 1), terms.across_mm)
        place = None
        if self.place_mm is not None:
            floor = np.array([terms.across_mm, terms.along_mm]) / math.sqrt(2)
            place = np.hypot(np.stack([u("place 0"), u("place 1")], 1), floor)
        return Stated(force_u, along, across, u("share"), place)

    def between(self, first_n: Array, second_n: Array) -> Changed:
        """Standard uncertainties of what has changed from frames to others of the same stand, one by one.

        Parameters
        ----------
        first_n, second_n : ndarray, shape (n, rows, columns)
            As in `of`.
        """
        first, second = self._frames(first_n), self._frames(second_n)
        slopes = self._slopes(first.force), self._slopes(second.force)

        def u(name: str) -> Array:
            return np.sqrt(self._variance(slopes[1][name], second, slopes[0][name], first))

        floor = math.sqrt(2) * self.terms.along_mm
        along = np.hypot(np.stack([u("along 0"), u("along 1")], 1), floor)
        return Changed(u("share"), along, u("total"))

    def _frames(self, force_n: Array) -> _Frames:
        force = np.maximum(np.nan_to_num(force_n).reshape(len(force_n), -1), 0.0)
        own, lasting, turning = self._causes(force)
        return _Frames(force, own, lasting, turning)

    def _slopes(self, force: Array) -> dict[str, Array]:
        """How each measure changes with each cell's force, (n, cells)."""
        layout = self.layout
        row, column = np.divmod(np.arange(layout.cells), layout.columns)
        foot, _ = self._places()
        at = {"along": layout.u_mm[row], "across": layout.v_mm[column % layout.columns_per_panel]}
        total = _safe(force.sum(1))[:, None]
        out = {"total": np.broadcast_to(1.0 / total, force.shape)}
        for side in (0, 1):
            here = (foot == side).astype(np.float64)
            carried = _safe(force @ here)[:, None]
            out[f"force {side}"] = np.broadcast_to(here, force.shape)
            for name, where in at.items():
                out[f"{name} {side}"] = here * (where - (force * here) @ where[:, None] / carried) / carried
        left = (foot == 0).astype(np.float64)
        out["share"] = (left - (force @ left)[:, None] / total) / total
        for axis, where in enumerate(self.place_mm.T if self.place_mm is not None else ()):
            out[f"place {axis}"] = (where - (force @ where)[:, None] / total) / total
        return out

    def _variance(
        self, slope: Array, frames: _Frames, before: Array | None = None, others: _Frames | None = None
    ) -> Array:
        """Of a measure with a slope, or of its change since other frames."""
        terms = self.terms
        g = slope * frames.force
        own, lasting, rest = g * frames.own, [g * cause for cause in frames.lasting], slope
        variance = terms.noise_n**2 * (slope**2).sum(1)
        for cause in frames.turning:
            variance = variance + (g * cause).sum(1) ** 2
        if before is not None and others is not None:
            b = before * others.force
            own, rest = own - b * others.own, slope - before
            lasting = [mine - b * cause for mine, cause in zip(lasting, others.lasting, strict=True)]
            variance = variance + terms.noise_n**2 * (before**2).sum(1)
            for cause in others.turning:
                variance = variance + (b * cause).sum(1) ** 2
            g = g - b
        variance = variance + np.einsum("ni,ni->n", g @ self.covariance, g) + (own**2).sum(1)
        for mine in lasting:
            variance = variance + mine.sum(1) ** 2
        foot, ahead = self._places()
        for side in (0, 1):
            for half in (False, True):
                there = (terms.rest_n * ((foot == side) & (ahead == half))).astype(np.float64)
                variance = variance + (rest @ there) ** 2
        return np.asarray(variance)

    def _places(self) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
        """Foot of each cell, 0 left, and whether it lies in the front half of its panel."""
        row, column = np.divmod(np.arange(self.layout.cells), self.layout.columns)
        return column // self.layout.columns_per_panel, row >= self.layout.rows // 2

    def relative(self, force: Array) -> tuple[Array, list[Array]]:
        """Each cell's own relative uncertainty, and the causes that cells share, (n, cells) each."""
        own, lasting, turning = self._causes(force)
        return own, [*lasting, *turning]

    def _causes(self, force: Array) -> tuple[Array, list[Array], list[Array]]:
        film, terms = self.film, self.terms
        level = np.nan_to_num(film.curves.level.ravel())
        x = (np.log(np.maximum(force, 0.5)) - level) / film.curves.exponent
        off = x - film.x_centre
        own = np.hypot(terms.cell_u, terms.exponent * film.exponent_spread * off)
        dead = np.zeros(self.layout.cells, dtype=bool)
        for row, column in film.dead:
            dead[row * self.layout.columns + column] = True
        own = np.hypot(own, np.where(dead, terms.fill, 0.0))
        values, vectors = np.linalg.eigh(film.shape_cov)
        lasting = [
            math.sqrt(max(float(value), 0.0)) * (float(vector[0]) * off + float(vector[1]) * off * (x + film.x_centre))
            for value, vector in zip(values, vectors.T, strict=True)
        ]
        if self.anchored:
            weight = force / np.maximum(force.sum(1, keepdims=True), 1.0)
            lasting = [cause - (cause * weight).sum(1, keepdims=True) for cause in lasting]
        highest = film.highest_n if film.highest_n > 0 else _UNTOLD_N
        lasting.append(terms.beyond * np.log(np.maximum(force / highest, 1.0)))
        foot, ahead = self._places()
        loop = terms.loop_u * max(film.arch, UNSEEN_ARCH) * _LOOP_OF_ARCH
        unknown = terms.creep_unknown if math.isnan(film.kept) else terms.creep_u
        creep = unknown * max(film.creep, 0.01) * terms.creep_decades
        left = terms.left * self.left
        tilt = np.where(ahead, 1.0, -1.0)
        turning = [loop * np.where(foot == 0, 1.0, -1.0)]
        for side in (0, 1):
            here = (foot == side).astype(np.float64)
            lasting.append(creep * here)
            turning += [loop * here * tilt, left * here, left * here * tilt]
        return own, [np.broadcast_to(cause, force.shape) for cause in lasting], turning


def budget_of(
    layout: Layout,
    film: Film,
    shoe: ShoeResult | None = None,
    place_mm: Array | None = None,
    terms: Terms | None = None,
) -> Budget:
    """The budget of a mat, with what the golfer's stand has told or without it.

    Shoes are learnt from a prior that is wider than shoes are (`SHOE_SPAN`), which is safe for what is learnt; what is
    left is reckoned with the narrower `Terms.shoe_span`: an estimate with gain K, its sensitivity H and a prior P of
    which T is true leaves (1 - KH) T (1 - KH)ᵀ + K R Kᵀ, and 1 - KH is what was left over P (Joseph's form; A. Gelb,
    Applied Optimal Estimation, 1974, from memory).

    Parameters
    ----------
    shoe : ShoeResult, optional
        From `groundtone.calibration.shoes.shoe`, learnt from `film_prior`; None: the shoe is as unknown as it is before
        anybody stands there.
    place_mm : ndarray, shape (cells, 2), optional
        Where each cell lies in the stance frame.
    """
    terms = terms or Terms()
    prior = film_prior(film).covariance
    true = prior.copy()
    true[layout.cells :, layout.cells :] *= (terms.shoe_span / SHOE_SPAN) ** 2
    soles = shoe.soles if shoe is not None else ((0.0, layout.length_mm), (0.0, layout.length_mm))
    basis = sole_basis(soles, layout.u_mm, layout.rows, layout.columns)
    if shoe is None:
        return Budget(layout, film, basis @ true @ basis.T, terms, place_mm)
    after = shoe.gains.covariance
    kept = np.linalg.solve(prior, after).T
    covariance = basis @ (after + kept @ (true - prior) @ kept.T) @ basis.T
    return Budget(layout, film, covariance, terms, place_mm, shoe.weight_u < _TOLD_U, shoe.left)


def _safe(force: Array) -> Array:
    """Forces to divide by: NaN where there is next to none."""
    out: Array = np.where(force > 1.0, force, np.nan)
    return out
