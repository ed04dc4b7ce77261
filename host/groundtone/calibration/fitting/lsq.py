"""Weighted least squares: linear, and nonlinear by Levenberg-Marquardt within a trust region.

The step solves min |J p + r| with |D p| ≤ radius (J. J. Moré, The Levenberg-Marquardt algorithm: implementation and
theory, 1978): D are the largest column norms of J met so far, the damping comes from the singular values of J / D by
Newton's method on the secular equation, the radius follows how well the last step did what it promised. Derivatives
are exact: given by the caller, or by the complex step, f'(x) = Im f(x + ih) / h, which has no cancellation (W. Squire
and G. Trapp, SIAM Review 40, 1998). The covariance is (JᵀJ)⁻¹ with the residual variance over n - p degrees of
freedom; where the uncertainties of the data are known it may stand without it (GUM, JCGM 100:2008, H.3).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.errors import CalibrationError

Array = NDArray[np.float64]
_COMPLEX_STEP = 1e-30
_TURNS = 2000
# Standing still: the step, and the fall of the sum of squares that is still promised, relative.
_STEP, _FALL = 1e-11, 1e-15
# First radius over |D x|; the next is tried where the search runs away or stands still before it has come anywhere.
_RADII = (1.0, 100.0, 0.01)
# Singular values below this part of the largest say nothing.
_RANK = 1e-15


class FitError(CalibrationError):
    """A fit that came to nothing; the sentence says why."""


@dataclass(frozen=True)
class Found:
    """What a fit found.

    Attributes
    ----------
    value : ndarray, shape (p,)
    covariance : ndarray, shape (p, p)
    residual : ndarray, shape (n,)
        Data less model, over the data's uncertainty where one was given.
    freedom : int
        Data less parameters.
    turns : int
        Steps that were taken; 0 in the linear case.
    """

    value: Array
    covariance: Array
    residual: Array
    freedom: int
    turns: int

    @property
    def u(self) -> Array:
        """Standard uncertainties, shape (p,)."""
        out: Array = np.sqrt(np.diag(self.covariance))
        return out

    @property
    def correlation(self) -> Array:
        """Correlations, shape (p, p)."""
        out: Array = self.covariance / np.outer(self.u, self.u)
        return out

    @property
    def scatter(self) -> float:
        """Residual standard deviation; NaN without freedom."""
        square = float(self.residual @ self.residual)
        return math.sqrt(square / self.freedom) if self.freedom else math.nan


def linear(columns: Array, y: Array, sigma: Array | None = None, *, scaled: bool = True) -> Found:
    """Linear least squares.

    Parameters
    ----------
    columns : ndarray, shape (n, p)
    y : ndarray, shape (n,)
    sigma : ndarray, shape (n,), optional
        Standard uncertainties of y; all alike without.
    scaled : bool
        The covariance is multiplied by the residual variance; False where `sigma` is known absolutely.

    Raises
    ------
    FitError
        Too few data, data that are no numbers, or columns that are not independent.
    """
    over = np.ones_like(y) if sigma is None else 1 / sigma
    matrix, target = columns * over[:, None], y * over
    _check(target, columns.shape[1])
    scale = np.linalg.norm(matrix, axis=0)
    q, triangle = np.linalg.qr(matrix / np.where(scale > 0, scale, 1.0))
    _independent(triangle)
    value = np.linalg.solve(triangle, q.T @ target) / scale
    return _found(value, matrix, target - matrix @ value, 0, scaled)


def fit(
    model: Callable[[NDArray[np.complex128] | Array], NDArray[np.complex128] | Array],
    start: Array,
    y: Array,
    sigma: Array | None = None,
    *,
    jacobian: Callable[[Array], Array] | None = None,
    scaled: bool = True,
) -> Found:
    """Nonlinear least squares.

    Parameters
    ----------
    model : callable
        From the parameters, shape (p,), to what y ought to be, shape (n,). Without `jacobian` it must take complex
        parameters (any formula of numpy functions without abs does).
    start : ndarray, shape (p,)
    y : ndarray, shape (n,)
    sigma : ndarray, shape (n,), optional
        Standard uncertainties of y; all alike without.
    jacobian : callable, optional
        Derivatives of the model, shape (n, p).
    scaled : bool
        The covariance is multiplied by the residual variance; False where `sigma` is known absolutely.

    Raises
    ------
    FitError
        Too few data, a model without a value at the start, a search without an end, or parameters that the data
        cannot tell apart.
    """
    over = np.ones_like(y) if sigma is None else 1 / sigma
    _check(y * over, start.size)

    def residual(b: Array) -> Array:
        with np.errstate(all="ignore"):
            out: Array = np.asarray((y - np.real(model(b))) * over, np.float64)
        return out

    def slopes(b: Array) -> Array:
        if jacobian is not None:
            return jacobian(b) * over[:, None]
        columns = []
        with np.errstate(all="ignore"):
            for j in range(b.size):
                aside = b.astype(np.complex128)
                step = _COMPLEX_STEP * max(abs(float(b[j])), 1e-300) if b[j] else _COMPLEX_STEP
                aside[j] += 1j * step
                columns.append(np.imag(model(aside)) / step * over)
        return np.stack(columns, axis=1)

    if not np.isfinite(residual(start)).all():
        raise FitError("the model has no value at the start of the fit: begin nearer to the data")
    tried = [_search(residual, slopes, start.astype(np.float64), radius) for radius in _RADII[:1]]
    for radius in _RADII[1:]:
        if tried[-1].still:
            break
        tried.append(_search(residual, slopes, start.astype(np.float64), radius))
    best = min(tried, key=lambda each: (not each.still, each.square))
    if not best.still:
        raise FitError(f"the fit came to no end in {_TURNS} steps: look at the data, or begin nearer to them")
    return _found(best.value, slopes(best.value), residual(best.value), best.turns, scaled)


@dataclass(frozen=True)
class _Search:
    value: Array
    square: float
    turns: int
    still: bool


def _search(
    residual: Callable[[Array], Array], slopes: Callable[[Array], Array], start: Array, first_radius: float
) -> _Search:
    """One search; `still` says whether it came to rest."""
    b = start.copy()
    r = residual(b)
    square = float(r @ r)
    scale = np.zeros_like(b)
    radius = math.nan
    for turn in range(_TURNS):
        matrix = slopes(b)
        if not np.isfinite(matrix).all():
            return _Search(b, square, turn, False)
        scale = np.maximum(scale, np.linalg.norm(matrix, axis=0))
        d = np.where(scale > 0, scale, 1.0)
        if math.isnan(radius):
            radius = first_radius * (float(np.linalg.norm(d * b)) or 1.0)
        u, s, vt = np.linalg.svd(matrix / d, full_matrices=False)
        target = u.T @ r
        while True:
            turned, promised = _step(s, target, radius)
            step = (vt.T @ turned) / d
            length = float(np.linalg.norm(turned))
            small = float(np.linalg.norm(d * step)) <= _STEP * float(np.linalg.norm(d * b))
            if (promised <= _FALL * square and small) or length == 0.0:
                return _Search(b, square, turn, True)
            fresh = residual(b + step)
            new = _square(fresh)
            kept = (square - new) / promised if promised > 0 else 0.0
            if kept < 0.25:
                radius = 0.25 * min(radius, length)
            elif kept > 0.75 or length < 0.9 * radius:
                radius = max(radius, 2 * length)
            if new < square:
                break
            if small or radius < 1e-14 * float(np.linalg.norm(d * b)):
                # What is left to gain is less than rounding.
                return _Search(b, square, turn, promised <= 1e-9 * square)
        b, r, square = b + step, fresh, new
    return _Search(b, square, _TURNS, False)


def _step(s: Array, target: Array, radius: float) -> tuple[Array, float]:
    """The step within the radius in the basis of the singular vectors, and by how much the squares ought to fall."""
    known = s > _RANK * s[0] if s[0] > 0 else np.zeros(s.shape, bool)
    if not known.any():
        return np.zeros_like(s), 0.0
    damping = 0.0

    def at(damping: float) -> Array:
        out: Array = np.where(known, s * target / np.where(known, s * s + damping, 1.0), 0.0)
        return out

    p = at(0.0)
    if float(np.linalg.norm(p)) > 1.1 * radius:
        # Newton on 1/|p| - 1/radius, which is nearly straight in the damping: from below it never overshoots.
        for _ in range(30):
            length = float(np.linalg.norm(p))
            if abs(length - radius) <= 0.1 * radius:
                break
            slope = -float(np.sum(np.where(known, p * p / np.where(known, s * s + damping, 1.0), 0.0))) / length
            damping = max(damping + (radius - length) / slope * length / radius, 0.0)
            p = at(damping)
    sp = s * p
    return p, float(2 * sp @ target - sp @ sp)


def _square(residual: Array) -> float:
    """Sum of squares; infinite where the model has no value or a value beyond all numbers."""
    with np.errstate(all="ignore"):
        out = float(residual @ residual)
    return out if math.isfinite(out) else math.inf


def _check(target: Array, parameters: int) -> None:
    if target.size < parameters:
        raise FitError(
            f"{target.size} data for {parameters} parameters: at least {parameters - target.size} more are needed"
        )
    if not np.isfinite(target).all():
        raise FitError("a datum or its uncertainty is not a number: leave it out or repeat it")


def _independent(triangle: Array) -> None:
    singular = np.linalg.svd(triangle, compute_uv=False)
    if not singular.size or singular[-1] <= _RANK * singular[0]:
        raise FitError("the data cannot tell the parameters apart: vary what was the same in all of them")


def _found(value: Array, matrix: Array, residual: Array, turns: int, scaled: bool) -> Found:
    scale = np.linalg.norm(matrix, axis=0)
    if not (np.isfinite(scale).all() and (scale > 0).all()):
        raise FitError("the data say nothing of one of the parameters: leave it out")
    _, triangle = np.linalg.qr(matrix / scale)
    _independent(triangle)
    inverse = np.linalg.inv(triangle)
    covariance = inverse @ inverse.T / np.outer(scale, scale)
    freedom = residual.size - value.size
    if scaled:
        covariance = covariance * (float(residual @ residual) / freedom if freedom else math.nan)
    return Found(value, covariance, residual, freedom, turns)
