"""Weights of the answers that speak for a swing: logistic regression with a few bent sums beside it, and as a file."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

Array = NDArray[np.float64]

# Ridge of the single answers' weights and of those in the bent sums; what "begin" is moved by; so many bent sums, and
# where their search begins.
RIDGE, RIDGE_BENT, RAISED, BENT, SEED = 3.0, 1.0, -1.0, 8, 0


@dataclass(frozen=True)
class Weights:
    """What evidence.toml holds.

    Attributes
    ----------
    names : list of str
        Of the answers.
    middle, unit : ndarray, shape (answers,)
        Their usual value and scatter.
    begin : float
        What every burst starts with.
    straight, square : ndarray, shape (answers,)
    inner : ndarray, shape (1 + answers, BENT)
        Weights of none and of each answer in each bent sum.
    outer : ndarray, shape (BENT,)
    """

    names: list[str]
    middle: Array
    unit: Array
    begin: float
    straight: Array
    square: Array
    inner: Array
    outer: Array

    def odds(self, table: Array) -> Array:
        """Logarithm of the odds of each row of answers."""
        x = _in_units(table, self.middle, self.unit)
        bent = np.tanh(self.inner[0] + x @ self.inner[1:]) @ self.outer
        out: Array = self.begin + x @ self.straight + x**2 @ self.square + bent
        return out


def learnt(names: list[str], table: Array, was: Array) -> Weights:
    """Weights of answers by which it was a swing.

    Parameters
    ----------
    table : ndarray, shape (moments, answers)
        NaN where not known.
    was : ndarray, shape (moments,)
        1 for a swing.
    """
    middle = np.nanmedian(table, axis=0)
    low, high = np.nanpercentile(table, [16, 84], axis=0)
    unit = np.maximum((high - low) / 2, 1e-3)
    plain, inner, outer = _fitted(_in_units(table, middle, unit), was)
    n = len(names)
    return Weights(names, middle, unit, float(plain[0]) + RAISED, plain[1 : 1 + n], plain[1 + n :], inner, outer)


def as_toml(w: Weights) -> str:
    """The file without its head."""
    text = f"begin = {w.begin:.3f}\n"
    for k, name in enumerate(w.names):
        text += f'\n[weight."{name}"]\nmiddle = {w.middle[k]:.4f}\nunit = {w.unit[k]:.4f}\n'
        text += f"straight = {w.straight[k]:.3f}\nsquare = {w.square[k]:.3f}\n"
    lines = "".join(f"  [{', '.join(f'{value:.3f}' for value in row)}],\n" for row in w.inner)
    return text + f"\n[together]\ninner = [\n{lines}]\nouter = [{', '.join(f'{value:.3f}' for value in w.outer)}]\n"


def _in_units(table: Array, middle: Array, unit: Array) -> Array:
    x: Array = np.nan_to_num(np.clip((table - middle) / unit, -3, 3))
    return x


def _fitted(x: Array, was: Array) -> tuple[Array, Array, Array]:
    """Begin, straight and square weights; those of the answers in the bent sums; those of the bent sums."""
    rng = np.random.default_rng(SEED)
    plain, one = np.hstack([np.ones((len(x), 1)), x, x**2]), np.hstack([np.ones((len(x), 1)), x])
    k, rows = plain.shape[1], one.shape[1]
    ridge = np.concatenate([[0.0], np.full(k - 1, RIDGE), np.full((rows + 1) * BENT, RIDGE_BENT)])

    def parts(w: Array) -> tuple[Array, Array, Array]:
        return w[:k], w[k : k + rows * BENT].reshape(rows, BENT), w[k + rows * BENT :]

    def loss(w: Array) -> tuple[float, Array]:
        single, inner, outer = parts(w)
        bent = np.tanh(one @ inner)
        z = plain @ single + bent @ outer
        off = 1 / (1 + np.exp(-z)) - was
        inward = one.T @ (off[:, None] * outer * (1 - bent**2))
        gradient = np.concatenate([plain.T @ off, inward.ravel(), bent.T @ off]) + ridge * w
        return float((np.logaddexp(0, z) - was * z).sum() + (ridge * w) @ w / 2), gradient

    begin = np.concatenate([np.zeros(k), rng.normal(0.0, 0.3, rows * BENT), rng.normal(0.0, 0.1, BENT)])
    found: Array = minimize(loss, begin, jac=True, method="L-BFGS-B", options={"maxiter": 600}).x
    return parts(found)
