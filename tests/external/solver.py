"""Puts a plain regression to the solver that fits mats (`groundtone.calibration.fitting.pooled`, `descent`).

A mat's fit always gives each cell a level of its own: that is a regression's constant. A regression without a constant
is put in with its mirror image, each half of the weight: the level of the two is nothing, and all else stays.
"""

from dataclasses import dataclass

import numpy as np

from groundtone.calibration.fitting.descent import Descent
from groundtone.calibration.fitting.pooled import Cells, Spread, solve

# One cell is its panel's mean, which is free; its lean has nowhere to lean to, for z is nothing.
SPREAD = Spread(1.0, 0.0)


def one_cell(points):
    return Cells(np.zeros(points, np.intp), np.zeros(1, np.intp), 1)


@dataclass
class Answer:
    value: np.ndarray
    covariance: np.ndarray
    square: float
    freedom: int

    @property
    def u(self):
        return np.sqrt(np.diag(self.covariance))


def nothing(terms):
    return np.zeros(terms), np.zeros(terms)


def with_constant(columns, y, sigma=None):
    """Constant first; without `sigma` the covariance is scaled by the residuals."""
    weight = np.ones_like(y) if sigma is None else sigma**-2.0
    found = solve(columns, np.zeros_like(y), y, weight, one_cell(y.size), SPREAD, nothing(columns.shape[1]))
    square, freedom = float(weight @ found.error**2), y.size - columns.shape[1] - 1
    covariance = np.empty((columns.shape[1] + 1,) * 2)
    covariance[0, 0], covariance[1:, 1:] = found.level_var[0], found.covariance
    covariance[0, 1:] = covariance[1:, 0] = found.level_with[0]
    scale = square / freedom if sigma is None else 1.0
    return Answer(np.concatenate([found.level, found.shared]), covariance * scale, square, freedom)


def through_origin(columns, y):
    both, target = np.concatenate([columns, -columns]), np.concatenate([y, -y])
    weight = np.full(target.size, 0.5)
    found = solve(both, 0 * target, target, weight, one_cell(target.size), SPREAD, nothing(columns.shape[1]))
    square, freedom = float(weight @ found.error**2), y.size - columns.shape[1]
    return Answer(found.shared, found.covariance * square / freedom, square, freedom)


class Mirrored:
    """A formula and its mirror image, as the descent asks for a curve; derivatives by the complex step.

    f'(x) = Im f(x + ih) / h has no cancellation (W. Squire and G. Trapp, SIAM Review 40, 1998).
    """

    def __init__(self, formula, y):
        self.formula, self.y = formula, y

    def rest(self, value):
        left = self.y - np.real(self.formula(value))
        return np.concatenate([left, -left])

    def slopes(self, value):
        columns = []
        for j in range(value.size):
            aside, h = value.astype(complex), 1e-30 * (abs(value[j]) or 1.0)
            aside[j] += 1j * h
            columns.append(np.imag(self.formula(aside)) / h)
        made = np.stack(columns, axis=1)
        return np.concatenate([made, -made]), np.zeros(2 * self.y.size)


def descended(formula, start, y, turns=3000):
    model = Mirrored(formula, y)
    points = 2 * y.size
    weight = np.full(points, 0.5)
    descent = Descent(model, start)
    with np.errstate(all="ignore"):
        for _ in range(turns):
            descent.step(weight, one_cell(points), SPREAD, nothing(start.size))
            if descent.still:
                break
        found = descent.here(weight, one_cell(points), SPREAD, nothing(start.size))
        square = float(weight @ model.rest(descent.value) ** 2)
    freedom = y.size - start.size
    answer = Answer(descent.value, found.covariance * square / freedom, square, freedom)
    return answer, descent.still
