"""A mat's uncertainty budget as the studies of coverage and the tests of the formula put it together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film
from groundtone.calibration.shoes.body_weight import sole_basis
from groundtone.calibration.shoes.shoe import ShoeResult, film_prior
from groundtone.calibration.uncertainty import Budget, Terms
from groundtone.mat.layout import Layout

COVERAGE = 2.0
"""Half a 95 % interval over a standard uncertainty."""

# A weight that is known better than this was told, not guessed.
_TOLD_U = 0.01


def budget_of(
    layout: Layout,
    film: Film,
    shoe: ShoeResult | None = None,
    place_mm: NDArray[np.float64] | None = None,
    terms: Terms | None = None,
) -> Budget:
    """The budget of a mat, with what the golfer's stand has told or without it.

    Parameters
    ----------
    shoe : ShoeResult, optional
        From `groundtone.calibration.shoes.shoe`; None: the shoe is as unknown as it is before anybody stands there.
    place_mm : ndarray, shape (cells, 2), optional
        Where each cell lies in the stance frame.
    """
    covariance = shoe.covariance if shoe is not None else None
    if covariance is None:
        middle = ((0.0, layout.length_mm), (0.0, layout.length_mm))
        basis = sole_basis(middle, layout.u_mm, layout.rows, layout.columns)
        covariance = film_prior(film).cells_covariance(basis)
    return Budget(layout, film, covariance, terms or Terms(), place_mm, shoe is not None and shoe.weight_u < _TOLD_U)


def cell_u_n(budget: Budget, force_n: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standard uncertainty of each cell's force, N; shape as given, (n, rows, columns)."""
    force = np.maximum(np.nan_to_num(force_n).reshape(len(force_n), -1), 0.0)
    own, common = budget.relative(force)
    relative = budget.covariance.diagonal() + own**2 + sum(cause**2 for cause in common)
    variance = force**2 * relative + budget.terms.noise_n**2 + budget.terms.rest_n**2
    return np.asarray(np.sqrt(variance).reshape(force_n.shape), dtype=np.float64)
