"""What the studies of coverage and the tests of the formula read off a mat's uncertainty budget."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.uncertainty import Budget

COVERAGE = 2.0
"""Half a 95 % interval over a standard uncertainty."""


def cell_u_n(budget: Budget, force_n: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standard uncertainty of each cell's force, N; shape as given, (n, rows, columns)."""
    force = np.maximum(np.nan_to_num(force_n).reshape(len(force_n), -1), 0.0)
    own, common = budget.relative(force)
    relative = budget.covariance.diagonal() + own**2 + sum(cause**2 for cause in common)
    variance = force**2 * relative + budget.terms.noise_n**2 + budget.terms.rest_n**2
    return np.asarray(np.sqrt(variance).reshape(force_n.shape), dtype=np.float64)
