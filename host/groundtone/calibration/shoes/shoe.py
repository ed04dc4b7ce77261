"""The shoe: what the golfer's own soles make of the film, learnt from stepping on and rocking.

A shoe hands its load to the film otherwise than the puck of the bench, and differently at heel, arch, ball and toes: by
up to 15 % with pads. No calibration can know that beforehand. But whoever stands still weighs the same in every
posture, and before the first ball every golfer steps on, first with one foot, and rocks: that is enough to learn the
factors, if the rock goes round (from the heels over one foot to the toes and over the other foot back). A rock straight
to and fro moves both feet alike and never tells the left shoe from the right.

An empty film does not read quite nothing. What it reads just before somebody steps on is taken off every frame: on 64
cells even 0.05 N each move the centre of pressure of a light foot by 4 mm.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film
from groundtone.calibration.shoes.body_weight import Gains, Sole, prior_gains, sole_basis, weigh
from groundtone.calibration.shoes.postures import NOBODY_N, Postures, SteadyFrames
from groundtone.mat.layout import Layout

Array = NDArray[np.float64]

SHOE_SPAN, SHOE_SPAN_NO_PADS = 0.15, 0.30
"""How far a shoe's factor is expected from 1, with a pad on each crossing and without (the mat's specification)."""

# No cell's level is known better than this on a shoe: exponents differ from cell to cell, pads do not lie the same
# twice. And what all cells share: the bench's weights, the time at which film is read.
LEAST_FILM_U, COMMON_U = 0.03, 0.02
# A film that was never calibrated: spread of its cells, and of the sheet (published: part to part ±15 to ±25 %, FSR
# Integration Guide, Interlink Electronics).
RAW_FILM_U, RAW_COMMON_U = 0.25, 0.15
# A dead cell is filled from its neighbours: under the middle of a heel it would carry twice as much, at a rim half.
FILLED_U = 0.5
# A typed mass leaves clothes, bag and club open.
MASS_U = 0.006
# Fewer postures than this say nothing.
LEAST_POSTURES = 6
# An empty mat's reading follows with this weight a frame; a cell that moves by more, N, is being stepped on.
_FOLLOW, _MOVED_N = 0.02, 1.5
# What noise makes of an empty cell at most, N, where it is not known; in standard deviations, where it is.
_NOISE_N, _SIGMAS = 0.05, 3.0
# A row carries something when it reached this part of the strongest; and a panel is stood on when a row reached this.
_CARRIES, _STOOD_ON_N = 0.04, 20.0


@dataclass(frozen=True)
class ShoeResult:
    """What the shoes make of the film, for one stand.

    Attributes
    ----------
    gains : Gains
        Film's and shoes' factors with covariance.
    factor : ndarray, shape (rows, columns)
        What each cell's force is multiplied by.
    covariance : ndarray, shape (cells, cells)
        Of the cells' ln factors.
    soles : two of (heel edge, toe edge)
        mm along the panel.
    weight_n, weight_u : float
        The body's weight as found, N, and its relative standard uncertainty.
    postures, still, moving : int
        How many postures counted, frames in them, and frames left out because the body was moving.
    left : float
        Root mean square of what is left of total over weight in the postures.
    surprise : float
        See `groundtone.calibration.shoes.body_weight.Weighed`.
    """

    gains: Gains
    factor: Array
    covariance: Array
    soles: tuple[Sole, Sole]
    weight_n: float
    weight_u: float
    postures: int
    still: int
    moving: int
    left: float
    surprise: float


def above_empty(force_n: Array, empty_n: Array, noise_n: Array | float = 0.0) -> Array:
    """Forces with the empty mat's reading taken off.

    No foot pulls. Where a heavy load has just gone the correction of the film's memory may take a little too much, and
    half a newton under each cell of the heel moves the centre of a foot that stands lightly on its toes by 6 mm.

    Parameters
    ----------
    force_n : ndarray, shape (..., rows, columns)
        N; NaN in, NaN out.
    empty_n : ndarray, shape (rows, columns)
        N.
    noise_n : ndarray, shape (rows, columns)
        Standard deviation of each empty cell's reading, N. Noise is left as it is, or its positive half alone would
        pull the centre of a light foot to the middle of its panel.
    """
    out: Array = np.maximum(force_n - empty_n, -np.maximum(_NOISE_N, _SIGMAS * np.asarray(noise_n)))
    return out


def soles_from(envelope_n: Array, layout: Layout) -> tuple[Sole, Sole] | None:
    """Where each sole begins and ends, roughly: what carries something, half a row beyond the middle of its end rows.

    The footprint proper is found in `groundtone.pressure.footprint`; a factor along the sole does not need it.

    Parameters
    ----------
    envelope_n : ndarray, shape (rows, columns)
        Greatest force of each cell while the person rocked, N.

    Returns
    -------
    two of (heel edge, toe edge), mm, or None
        None where one panel was not stood on.
    """
    rows = np.nan_to_num(layout.by_panel(envelope_n)).sum(-1)
    out = []
    for by_row in rows:
        strong = np.flatnonzero(by_row > _CARRIES * by_row.max(initial=0.0))
        if by_row.max(initial=0.0) < _STOOD_ON_N or strong.size < 3:
            return None
        out.append((float(layout.u_mm[strong[0]]) - 5.0, float(layout.u_mm[strong[-1]]) + 5.0))
    return out[0], out[1]


def film_prior(film: Film, shoe_span: float = SHOE_SPAN) -> Gains:
    """What is believed of a film's cells before anybody stands on it.

    A film without uncertainties has never been calibrated, and gets those of a sheet as it is sold.
    """
    shape = film.curves.level.shape
    if film.level_u is None:
        return prior_gains(np.full(shape, RAW_FILM_U), RAW_COMMON_U, shoe_span)
    own = np.maximum(np.nan_to_num(film.level_u, nan=RAW_FILM_U), LEAST_FILM_U)
    for row, column in film.dead:
        own[row, column] = FILLED_U
    return prior_gains(own, COMMON_U, shoe_span)


def shoe_from(
    gains: Gains,
    postures: Postures,
    soles: tuple[Sole, Sole],
    layout: Layout,
    weight_n: float | None = None,
    weight_u: float = MASS_U,
) -> ShoeResult | None:
    """The shoes' factors from postures.

    Parameters
    ----------
    gains : Gains
        What is believed so far: `film_prior`, or what a check or an earlier stand in the same shoes has found.
    postures : Postures
        Forces by the film's curves alone, the empty mat's reading taken off.
    soles : two of (heel edge, toe edge)
        mm along the panel.
    weight_n : float, optional
        The body's weight where its mass was told. Without it only differences between postures can be learnt.
    weight_u : float
        Its relative standard uncertainty.

    Returns
    -------
    ShoeResult or None
        None where there are too few postures to learn from.
    """
    count = len(postures.frames)
    if count < LEAST_POSTURES:
        return None
    basis = sole_basis(soles, layout.u_mm, layout.rows, layout.columns)
    found = weigh(gains, basis, postures.force_n, postures.u, weight_n, weight_u)
    return ShoeResult(
        found.gains,
        found.gains.on_cells(basis),
        found.gains.cells_covariance(basis),
        soles,
        found.weight_n,
        found.weight_u,
        count,
        postures.still,
        postures.moving,
        float(np.sqrt(np.mean(found.residual**2))),
        found.surprise,
    )


class ShoeLearner:
    """Learns a golfer's shoes while frames come; causal, no delay. Begun again after each step-off.

    Parameters
    ----------
    weight_n : float, optional
        The golfer's weight, N, where the mass was told.
    gains : Gains, optional
        What a check in the same shoes has found.

    Attributes
    ----------
    result : ShoeResult or None
        None until the soles have been found and enough has been seen.
    """

    def __init__(
        self, layout: Layout, film: Film, *, weight_n: float | None = None, gains: Gains | None = None
    ) -> None:
        self._layout = layout
        self._gains = self._first = gains if gains is not None else film_prior(film)
        self._before: ShoeResult | None = None
        self._weight_n = weight_n
        self._steady = SteadyFrames(layout.rows, layout.columns)
        self._empty: Array | None = None
        self._noise: Array = np.zeros((layout.rows, layout.columns))
        self.result: ShoeResult | None = None

    def take(self, t_s: float, force_n: Array, *, gather: bool) -> Array:
        """Takes one frame in and gives it back as the forces on the soles.

        Parameters
        ----------
        t_s : float
            Device time, s, rising.
        force_n : ndarray, shape (rows, columns)
            What the film's curves say, N. NaN in, NaN out.
        gather : bool
            Whether to learn from it: not in a swing.
        """
        if float(force_n.sum()) < NOBODY_N:
            self._look_at_empty(force_n)
        if gather:
            self._steady.add(t_s, force_n if self._empty is None else above_empty(force_n, self._empty, self._noise))
        return self.on_soles(force_n)

    def take_all(self, t_s: Array, force_n: Array) -> None:
        """Learns from frames of somebody who stands there and does not swing, one after the other."""
        self._steady.add_all(t_s, force_n if self._empty is None else above_empty(force_n, self._empty))

    def on_soles(self, force_n: Array) -> Array:
        """Forces on the soles by what is known now, of one frame or of many; learns nothing from them."""
        above = force_n if self._empty is None else above_empty(force_n, self._empty, self._noise)
        return above if self.result is None else above * self.result.factor

    def frames(self) -> Array:
        """The still frames that it has gathered, by the film alone, N, shape (n, rows, columns)."""
        return self._steady.postures().force_n

    def solve(self, soles: tuple[Sole, Sole]) -> ShoeResult | None:
        """Learns from what has been gathered so far; called when the soles have been found, and again for more."""
        found = shoe_from(self._gains, self._steady.postures(), soles, self._layout, self._weight_n)
        self.result = found if found is not None else self.result
        return self.result

    def forget(self) -> None:
        """The golfer has stepped off."""
        self._steady.forget()
        self._before, self.result = self.result or self._before, None
        self._gains = self._first

    def take_over(self, soles: tuple[Sole, Sole]) -> None:
        """The golfer of before is back in the same shoes: what they make of the film, where they stand now."""
        if self._before is None or self.result is not None:
            return
        self._gains = self._before.gains
        basis = sole_basis(soles, self._layout.u_mm, self._layout.rows, self._layout.columns)
        self.result = replace(
            self._before,
            factor=self._gains.on_cells(basis),
            covariance=self._gains.cells_covariance(basis),
            soles=soles,
        )

    def _look_at_empty(self, force_n: Array) -> None:
        if self._empty is None:
            # The first frame may already be one of stepping on: what a cell reads at rest is small.
            self._empty = np.clip(force_n, -_MOVED_N, _MOVED_N)
            return
        moved = force_n - self._empty
        if float(np.abs(moved).max()) < _MOVED_N:
            self._empty = self._empty + _FOLLOW * moved
            self._noise = np.sqrt(self._noise**2 + _FOLLOW * (moved**2 - self._noise**2))
