"""One way down for curves that are not straight in their terms: steps of pooled least squares, held back as needed.

Each step solves the curve's tangent with `pooled.solve`. It is held back by what D. W. Marquardt (J. SIAM 11, 1963)
adds to the diagonal, each term by the largest slope it has shown (J. J. More, Lecture Notes in Mathematics 630, 1978):
a step after which the points lie farther off is not taken, and the next is held back more.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.pooled import Cells, Solved, Spread, apart, solve

Array = NDArray[np.float64]
# How much a step is held back at first; by how much more after a bad one, doubled with each; the most.
_FIRST, _MORE, _MOST, _LEAST = 1e-6, 2.0, 1e24, 1e-30
# No step is longer than the way to nothing: what lies beyond is another place. A step of this part of where it goes,
# which would gain this part of the squares, is none: the search stands still.
_STEP, _GAIN = 1e-10, 1e-14


class Curve(Protocol):
    """What is fitted."""

    def rest(self, value: Array) -> Array:
        """What the terms leave of y, shape (points,); levels are still in it. Not finite: no such curve."""

    def slopes(self, value: Array) -> tuple[Array, Array]:
        """Derivatives of y by the terms, shape (points, terms), and the place z of each point along its cell's lean."""


class Descent:
    """A search as it goes on; the weights may change from step to step.

    Parameters
    ----------
    value : ndarray, shape (terms,)
        Where it begins.
    may_rise : float
        By this part of the sum of squares it may rise in a step. Nothing, where the slopes are those of the rest.

    Attributes
    ----------
    value : ndarray, shape (terms,)
    still : bool
        The newest step led nowhere any more.
    """

    def __init__(self, curve: Curve, value: Array, may_rise: float = 0.0) -> None:
        self.value = value.astype(np.float64)
        self.still = False
        self._curve, self._may_rise = curve, may_rise
        self._held, self._more = _FIRST, _MORE
        self._largest = np.zeros(value.size)

    def step(self, weight: Array, cells: Cells, spread: Spread, prior: tuple[Array, Array]) -> Solved:
        """Goes one step; what the tangent gives for the place that was left, `shared` the new value.

        Parameters
        ----------
        weight, cells, spread, prior
            As for `groundtone.calibration.fitting.pooled.solve`.
        """
        rest = self._curve.rest(self.value)
        columns, z = self._curve.slopes(self.value)

        def square(rest: Array, value: Array) -> float:
            if not np.isfinite(rest).all():
                return np.inf
            whole = apart(rest, z, weight, cells, spread) + float(prior[1] @ (value - prior[0]) ** 2)
            return whole if np.isfinite(whole) else np.inf

        before = square(rest, self.value)
        self._largest = np.maximum(self._largest, weight @ columns**2)
        while True:
            pull, mass = prior[1] * (prior[0] - self.value), prior[1] + self._held * self._largest
            wish = np.divide(pull, mass, out=np.zeros_like(pull), where=mass > 0), mass
            solved = solve(columns, z, rest, weight, cells, spread, wish, covariances=False)
            step, new = solved.shared, self.value + solved.shared
            promised = before - square(rest - columns @ step, new)
            short = bool((np.abs(step) <= _STEP * np.abs(new)).all()) and promised <= _GAIN * before
            after = square(self._curve.rest(new), new)
            far = float(self._largest @ step**2) > float(self._largest @ self.value**2) > 0
            if after <= before * (1 + self._may_rise) and not far:
                kept = (before - after) / promised if promised > 0 else 1.0
                self._held = max(self._held * max(1 / 3, 1 - (2 * kept - 1) ** 3), _LEAST)
                self._more = _MORE
                self.value, self.still = new, short
                return replace(solved, shared=new)
            if short or self._held > _MOST:
                self.still = True
                return replace(solved, shared=self.value)
            self._held *= self._more
            self._more *= 2

    def here(self, weight: Array, cells: Cells, spread: Spread, prior: tuple[Array, Array]) -> Solved:
        """All that the tangent at the present value says, not held back; `shared` is where it would go."""
        columns, z = self._curve.slopes(self.value)
        wish = prior[0] - self.value, prior[1]
        solved = solve(columns, z, self._curve.rest(self.value), weight, cells, spread, wish)
        return replace(solved, shared=self.value + solved.shared)
