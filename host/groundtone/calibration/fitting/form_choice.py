"""The choice among the forms of a film's curve, by leaving placements out.

Every placement is predicted by the fit without it, which for least squares needs no second fit (D. M. Allen,
Technometrics 16, 1974): the error is residual / (1 - leverage). From the simplest on, a form takes the place of another
that it beats by more than a hair if films are known for it (a saturation), for sure otherwise (bend, offset), in
standard errors of the difference (after L. Breiman et al., Classification and Regression Trees, 1984).
"""

from __future__ import annotations

import math

import numpy as np

from groundtone.calibration.fitting.forms import LARGEST_ERROR, Fitted
from groundtone.calibration.fitting.pooled import Cells
from groundtone.calibration.fitting.robust import LEAST_SCATTER

# A form that films are known for is taken from this many standard errors on: where hands scatter by a tenth none is
# ever better by two, and what its terms do unneeded is little, for they are drawn towards what is expected. Bend
# and offset go astray at loads that nobody laid (by 40 % at 2 N): they must be better for sure, and by more than this
# part of the squares. (Taken by two errors and a thirtieth they made films worse in both worlds they were tried on.)
_BY_A_HAIR, _FOR_SURE, _WORTH_IT = 0.5, 2.0, 0.92


def choose(fitted: list[Fitted], cells: Cells) -> tuple[Fitted, dict[str, float]]:
    """The form that the placements ask for, and each form's score.

    Returns
    -------
    Fitted, dict of str to float
        Score: root mean square relative error of placements that were left out.
    """
    # Placements that do not count have no vote.
    votes = np.stack([each.weight > 0 for each in fitted]).all(0)
    bound = LARGEST_ERROR * min(each.scatter for each in fitted)
    loss = np.array([np.where(votes, np.minimum(np.abs(each.left_out), bound) ** 2, 0.0) for each in fitted])
    scores = {each.form.name: float(np.sqrt(row.sum() / votes.sum())) for each, row in zip(fitted, loss, strict=True)}
    used = np.unique(cells.own)

    def gain_over(index: int, other: int) -> float:
        """By how many standard errors a form is better than another."""
        # Placements of a cell share its level, so the cell is the unit that varies.
        apart = cells.sums(loss[other] - loss[index])[used]
        return float(apart.sum()) / max(float(apart.std()) * math.sqrt(used.size), 0.1 * LEAST_SCATTER**2 * used.size)

    at = 0
    for index, each in enumerate(fitted):
        sure = each.form.usual or loss[index].sum() < _WORTH_IT * loss[at].sum()
        if sure and gain_over(index, at) > (_BY_A_HAIR if each.form.usual else _FOR_SURE):
            at = index
    return fitted[at], scores
