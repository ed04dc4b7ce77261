"""Designs and tests of other people's, on the same swings: what power is to be had, from textbooks alone.

Each from memory: paired t of neighbouring blocks (a series of crossovers in one person, S. Senn, Cross-over Trials in
Clinical Research), t of block means, analysis of covariance with the order as a covariate (R. A. Fisher; D. R. Cox,
Planning of Experiments), the randomisation test of all orders (E. S. Edgington, Randomization Tests), least squares on
single swings with an autoregressive error (D. Cochrane and G. H. Orcutt, 1949). Nine looks by S. Holm (1979).
"""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from studies.evidence_golfers import Drawn

Array = NDArray[np.float64]
LEVEL, LOOKS = 0.05, 9


def claims(drawn: Drawn) -> dict[str, NDArray[np.bool_]]:
    """Which of the nine measures each design claims, shape (lessons, measures), by its name."""
    return {name: _holm(p) for name, p in chances(drawn).items()}


def chances(drawn: Drawn) -> dict[str, Array]:
    """p of each design, two-sided, shape (lessons, measures)."""
    plan, values = drawn.plan, drawn.values[:, 0, :, :LOOKS]
    used = [k for k, (side, _) in enumerate(plan.blocks) if side >= 0]
    sides = np.array([plan.blocks[k][0] for k in used])
    means = np.stack([values[:, plan.block == k].mean(1) for k in used], axis=1)
    out = {"swings as if independent (Welch)": _welch(values, plan.side)}
    if len(used) >= 4:
        pairs = means.reshape(len(means), -1, 2, means.shape[2])
        turned = np.where(sides.reshape(-1, 2)[:, 0] == 0, 1.0, -1.0)[:, None]
        apart = (pairs[:, :, 1] - pairs[:, :, 0]) * turned
        out["pairs of blocks"] = _t(apart.mean(1), apart.std(1, ddof=1) / np.sqrt(apart.shape[1]), apart.shape[1] - 1)
        order = np.arange(len(used), dtype=float)
        out["block means"] = _slope(means, sides[:, None].astype(float))
        out["block means, order taken out"] = _slope(means, np.stack([sides, order], axis=1).astype(float))
        out["all orders drawn"] = _orders(means, sides)
    out["autoregressive error, order taken out"] = _cochrane(values, plan.side)
    return out


def _t(size: Array, u: Array, degrees: float) -> Array:
    return np.asarray(2 * stats.t.sf(np.abs(size) / np.maximum(u, 1e-12), degrees))


def _welch(values: Array, side: NDArray[np.int64]) -> Array:
    return np.asarray(stats.ttest_ind(values[:, side == 0], values[:, side == 1], axis=1, equal_var=False).pvalue)


def _slope(means: Array, columns: Array) -> Array:
    """p of the first column in a regression of the block means on the columns and a constant."""
    x = np.column_stack([columns, np.ones(len(columns))])
    inverse = np.linalg.inv(x.T @ x)
    fit = np.einsum("ij,kj,lkm->lim", inverse, x, means)
    left = means - np.einsum("ki,lim->lkm", x, fit)
    degrees = len(x) - x.shape[1]
    u = np.sqrt((left**2).sum(1) / degrees * inverse[0, 0])
    return _t(fit[:, 0], u, degrees)


def _orders(means: Array, sides: NDArray[np.int64]) -> Array:
    """Randomisation test over the orders in which each pair of blocks could have come."""
    pairs = means.reshape(len(means), -1, 2, means.shape[2])
    apart = (pairs[:, :, 1] - pairs[:, :, 0]) * np.where(sides.reshape(-1, 2)[:, 0] == 0, 1.0, -1.0)[:, None]
    seen = np.abs(apart.sum(1))
    ways = [
        np.abs((apart * np.array(way)[:, None]).sum(1)) for way in itertools.product((-1, 1), repeat=apart.shape[1])
    ]
    return np.asarray(np.mean([way >= seen - 1e-12 for way in ways], axis=0))


def _cochrane(values: Array, side: NDArray[np.int64]) -> Array:
    """Swings regressed on side, order and a constant, the error's autocorrelation estimated from the residuals."""
    kept = side >= 0
    y = values[:, kept]
    x = np.column_stack([side[kept], np.linspace(-0.5, 0.5, kept.sum()), np.ones(kept.sum())]).astype(float)
    rho = np.zeros((len(y), y.shape[2]))
    for _ in range(6):
        # Differenced by rho, the first swing kept (S. J. Prais and C. B. Winsten, 1954).
        first = np.sqrt(1 - rho**2)
        y_r = np.concatenate([(y[:, :1] * first[:, None]), y[:, 1:] - rho[:, None] * y[:, :-1]], axis=1)
        x_r = np.concatenate(
            [first[:, :, None, None] * x[:1], x[1:] - rho[:, :, None, None] * x[:-1]], axis=2
        )  # (lessons, measures, swings, 3)
        gram = np.einsum("lmki,lmkj->lmij", x_r, x_r)
        inverse = np.linalg.inv(gram)
        fit = np.einsum("lmij,lmkj,lkm->lmi", inverse, x_r, y_r)
        left = y - np.einsum("ki,lmi->lkm", x, fit)
        rho = np.clip((left[:, 1:] * left[:, :-1]).sum(1) / (left**2).sum(1), -0.95, 0.95)
    noise = y_r - np.einsum("lmki,lmi->lkm", x_r, fit)
    degrees = len(x) - 4
    u = np.sqrt((noise**2).sum(1) / degrees * inverse[:, :, 0, 0])
    return _t(fit[:, :, 0], u, degrees)


def _holm(p: Array) -> NDArray[np.bool_]:
    """Which are claimed at `LEVEL` among all of a lesson."""
    order = np.argsort(p, axis=1)
    ranked = np.take_along_axis(p, order, axis=1) * (p.shape[1] - np.arange(p.shape[1]))
    passed = np.maximum.accumulate(ranked, axis=1) < LEVEL
    out = np.zeros_like(passed)
    np.put_along_axis(out, order, passed, axis=1)
    return out
