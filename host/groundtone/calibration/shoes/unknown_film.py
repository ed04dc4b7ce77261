"""A film that was never calibrated, from postures of a person of known weight: level, exponent, saturation, cells.

Of each cell, ln F = common + gain[cell] + shoe(place) + (exponent + lean[cell]) (x - from), with x the logarithm of its
conductance, bent where the film saturates. Whatever the posture, the forces add up to the weight. Exponents and
saturations are tried one by one; with each, the most probable gains, shoes and leans are searched until they stay (a
Gauss-Newton search that halves its step where it would climb), and each trial is as likely as Laplace's approximation
of its evidence says (D. J. C. MacKay, Neural Computation 4, 1992): gains that differ by a factor of two from cell to
cell are no small correction, and one straight step from the prior misses them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film
from groundtone.calibration.fitting.expected import TYPICAL, Expected
from groundtone.calibration.force_curve import STRAIGHT_S, UNIT_S, Curves, log_conductance
from groundtone.calibration.shoes.body_weight import prior_gains
from groundtone.calibration.shoes.postures import Postures
from groundtone.calibration.shoes.shoe import MASS_U, SHOE_SPAN

Array = NDArray[np.float64]

# Standard deviation of ln of a film's level against the typical one (films of other makers and thicknesses lie from a
# quarter to four times it), of its exponent over the typical one, and of the cells' exponents (0.05 to 0.17 published).
UNKNOWN_LEVEL_U, UNKNOWN_EXPONENT_U, LEAN_U = 0.7, 0.2, 0.10
# Exponents that are tried, over the typical one, and no exponent is surer than this.
_EXPONENTS = np.linspace(0.7, 1.6, 10)
_LEAST_EXPONENT_U = 0.03
# Those of pooled films, in standard deviations about theirs; films that do not agree leave none below this part of it.
_AROUND, _LEAST_EXPONENT = np.linspace(-2.0, 2.0, 9), 0.4
# Saturations, spreads between cells (ln of conductance), and what creep, hysteresis and a body that is not quite still
# leave of a posture's total: each is tried.
_SATURATIONS_S, _SPREADS = (math.inf, 5e-3, 2.5e-3, 1.5e-3, 0.8e-3, 0.5e-3), (0.25, 0.5)
_LEFT = (0.01, 0.02, 0.04, 0.08)
# The first that is taken while the others are tried.
_LEFT_FIRST = 0.02
# A cell that the typical curve gives less than this in a posture counts as nothing there, N.
_NOTHING_N = 0.02
# A posture whose total is off by so many times what is usual fits nowhere.
_OUTSIDE = 4.0
_TURNS, _STAYS, _LEAST_STEP = 30, 0.01, 1e-3


@dataclass(frozen=True)
class Learnt:
    """What the weight has told of the film.

    Attributes
    ----------
    level, lean : ndarray, shape (rows, columns)
        ln F at x = `x_from` and what each cell's exponent has over the film's.
    level_u : ndarray, shape (rows, columns)
    exponent, exponent_u : float
    saturation_s, x_from : float
    left : float
        Root mean square of what is left of total over weight.
    """

    level: Array
    level_u: Array
    lean: Array
    exponent: float
    exponent_u: float
    saturation_s: float
    x_from: float
    left: float
    before_u: Array


@dataclass(frozen=True)
class _Read:
    """Postures as conductances: x, what lies below the curve's straight beginning and whether the cell counts."""

    x: Array
    below: Array
    counts: NDArray[np.bool_]
    x_from: float
    u: Array


@dataclass(frozen=True)
class _Usual:
    """What is believed of such a film: exponents over the typical one."""

    level_u: float
    exponent_u: float
    exponents: tuple[float, ...]
    saturations_s: tuple[float, ...]
    spreads: tuple[float, ...]


def _usual(expected: Expected, exponent: float) -> _Usual:
    if not expected.mats:
        return _Usual(UNKNOWN_LEVEL_U, UNKNOWN_EXPONENT_U, tuple(_EXPONENTS.tolist()), _SATURATIONS_S, _SPREADS)
    u = expected.widths["exponent"] / exponent
    spreads = _SPREADS if math.isnan(expected.spread) else (max(expected.spread / exponent, 0.05),)
    saturations = (math.inf, 1 / max(expected.values["inverse"], 1.0))
    tried = np.unique(np.maximum(1.0 + u * _AROUND, _LEAST_EXPONENT))
    return _Usual(expected.level_u, u, tuple(tried.tolist()), saturations, spreads)


@dataclass(frozen=True)
class _Found:
    cost: float
    q: float
    at: Array
    covariance: Array
    common: float
    rest: Array


def read_back(curves: Curves, force_n: Array) -> Array:
    """Conductances of forces by the typical curve, none below zero, S: its straight beginning too."""
    at_n = np.exp(curves.level + curves.exponent * math.log(STRAIGHT_S / UNIT_S))
    power = UNIT_S * np.exp((np.log(np.maximum(force_n, 1e-6)) - curves.level) / curves.exponent)
    out: Array = np.where(force_n < at_n, STRAIGHT_S * np.maximum(force_n, 0.0) / at_n, power)
    return out


def learn(postures: Postures, film: Film, basis: Array, weight_n: float, expected: Expected = TYPICAL) -> Learnt:
    """The film by what a known weight tells of it.

    Parameters
    ----------
    postures : Postures
        Forces by `film`'s curves.
    film : Film
        Never calibrated: the typical curve.
    basis : ndarray
        From `sole_basis`.
    expected : Expected
        What pooled films say of level, exponent, saturation and spread.
    """
    curves = film.curves
    usual = _usual(expected, curves.exponent)
    force = np.maximum(np.nan_to_num(postures.force_n), 0.0)
    conductance = read_back(curves, force)
    log_weight = math.log(weight_n)
    shape = curves.level.shape

    def tried(read: _Read, q: float, spread: float, left: float, start: Array | None = None) -> _Found:
        return _fit(read, basis, shape, log_weight, (q, curves.exponent), usual, spread, left, start)

    best: tuple[float, float, _Read, dict[float, _Found]] | None = None
    for saturation in (s for s in usual.saturations_s if s > 1.2 * float(conductance.max())):
        read = _read(force, conductance, saturation, postures)
        row: dict[float, _Found] = {}
        start = None
        for q in usual.exponents:
            row[q] = tried(read, q * curves.exponent, usual.spreads[-1], _LEFT_FIRST, start)
            start = row[q].at
        cost = min(found.cost for found in row.values())
        if best is None or cost < best[0]:
            best = cost, saturation, read, row
    assert best is not None  # no saturation at all is always tried
    _, saturation, read, row = best
    peak = min(row.values(), key=lambda found: found.cost)
    read = replace(read, u=_pulled_in(read.u, peak.rest))
    spread, left = min(
        ((s, u) for s in usual.spreads for u in _LEFT),
        key=lambda how: tried(read, peak.q, how[0], how[1], peak.at).cost,
    )
    near = [found.q for found in row.values() if abs(math.log(found.q / peak.q)) < 0.35]
    again = [tried(read, q, spread, left, peak.at) for q in near]
    return _mixed(again, read, saturation, shape, spread, film)


def _pulled_in(u: Array, rest: Array) -> Array:
    """Doubts of postures, larger where one fits nowhere among the others (who stepped on or off in it)."""
    usual = 1.4826 * float(np.median(np.abs(rest))) + _LEFT[0]
    out: Array = np.where(np.abs(rest) > _OUTSIDE * usual, np.hypot(u, np.abs(rest)), u)
    return out


def _read(force_n: Array, conductance_s: Array, saturation_s: float, postures: Postures) -> _Read:
    count = len(force_n)
    x = log_conductance(np.maximum(conductance_s, STRAIGHT_S), saturation_s).reshape(count, -1)
    below = np.log(np.clip(conductance_s / STRAIGHT_S, 1e-6, 1.0)).reshape(count, -1)
    weight = force_n.reshape(count, -1) * postures.frames[:, None]
    return _Read(
        x,
        below,
        force_n.reshape(count, -1) > _NOTHING_N,
        float((x * weight).sum() / max(weight.sum(), 1e-9)),
        postures.u,
    )


def _fit(
    read: _Read, basis: Array, shape: tuple[int, ...], log_weight: float, exponents: tuple[float, float],
    usual: _Usual, spread: float, left: float, start: Array | None,
) -> _Found:  # fmt: skip
    """The most probable gains, shoes and leans for one exponent, spread and rest; and what that costs, -2 ln."""
    q, typical = exponents
    known, cells = basis.shape[1], basis.shape[0]
    prior = np.zeros((known + cells, known + cells))
    prior[:known, :known] = prior_gains(np.full(shape, spread * typical), 0.0, SHOE_SPAN).covariance
    prior[np.arange(known, known + cells), np.arange(known, known + cells)] = LEAN_U**2
    way = read.x - read.x_from
    straight = np.where(read.counts, np.exp(q * way + read.below), 0.0)
    common = log_weight - float(np.mean(np.log(np.maximum(straight.sum(1), 1e-12))))
    noise = np.diag(read.u**2 + left**2) + MASS_U**2 + usual.level_u**2
    inverse = np.linalg.inv(noise)
    precision = np.zeros_like(prior)
    precision[:known, :known] = np.linalg.inv(prior[:known, :known])
    precision[np.arange(known, known + cells), np.arange(known, known + cells)] = LEAN_U**-2

    def at_point(point: Array) -> tuple[Array, Array, float]:
        logs = common + basis @ point[:known] + (q + point[known:]) * way + read.below
        grown = np.where(read.counts, np.exp(np.minimum(logs, 15.0)), 0.0)
        total = np.maximum(grown.sum(1), 1e-9)
        part = grown / total[:, None]
        rest = log_weight - np.log(total)
        return (
            rest,
            np.column_stack([part @ basis, part * way]),
            float(rest @ inverse @ rest + point @ precision @ point),
        )

    point = np.zeros(len(prior)) if start is None else start
    rest, slope, cost = at_point(point)
    for _ in range(_TURNS):
        spread_by = slope @ prior
        goal = spread_by.T @ np.linalg.solve(spread_by @ slope.T + noise, rest + slope @ point)
        step = 1.0
        while True:
            trial = point + step * (goal - point)
            found = at_point(trial)
            if found[2] <= cost or step < _LEAST_STEP:
                break
            step /= 2
        gained, (point, (rest, slope, cost)) = cost - found[2], (trial, found)
        if gained < _STAYS:
            break
    spread_by = slope @ prior
    expected = spread_by @ slope.T + noise
    after = prior - spread_by.T @ np.linalg.solve(expected, spread_by)
    cost += float(np.linalg.slogdet(expected)[1])
    cost += ((q / typical - 1) / usual.exponent_u) ** 2
    # What all cells share is what is left of the weight, not of the prior.
    level = float(np.average(rest, weights=1 / (read.u**2 + left**2)))
    return _Found(cost, q, point, after, common + level, rest - level)


def _mixed(
    found: list[_Found], read: _Read, saturation_s: float, shape: tuple[int, ...], spread: float, film: Film
) -> Learnt:
    """Each trial as much as it is likely."""
    cells = math.prod(shape)
    cost = np.array([each.cost for each in found])
    likely = np.exp(-0.5 * (cost - cost.min()))
    likely /= likely.sum()
    q = float(sum(p * each.q for p, each in zip(likely, found, strict=True)))
    at = sum(p * each.at for p, each in zip(likely, found, strict=True))
    common = float(sum(p * each.common for p, each in zip(likely, found, strict=True)))
    best = min(found, key=lambda each: each.cost)
    u = np.sqrt(best.covariance.diagonal()[:cells])
    q_u = math.sqrt(sum(p * (each.q - q) ** 2 for p, each in zip(likely, found, strict=True)))
    gain, lean = at[:cells].reshape(shape), at[-cells:].reshape(shape)
    # No cell's own exponent may make its force fall.
    lean = np.clip(lean, -0.5 * q, 0.5 * q)
    return Learnt(
        common + gain, u.reshape(shape), lean, q, math.hypot(q_u, _LEAST_EXPONENT_U * film.curves.exponent),
        saturation_s, read.x_from, float(np.sqrt(np.mean(best.rest**2))), np.full(shape, spread * film.curves.exponent),
    )  # fmt: skip
