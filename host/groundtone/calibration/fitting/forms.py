"""The forms that a film's curve may take, and the choice among them by leaving placements out.

A form is the pooled part of ln F = level + exponent·x + bend·x² (see `groundtone.calibration.curve`): a plain power,
one that bends, one with a saturation, one with an offset. Each is fitted robustly; then every placement is predicted
by the fit without it, which for least squares needs no second fit (D. M. Allen, Technometrics 16, 1974): the error is
residual / (1 - leverage). The simplest form wins whose score is within two standard errors of the best (after L.
Breiman et al., Classification and Regression Trees, 1984, who take one), and among equally simple ones the one that
films are known for comes first: saturation, then bend, then offset.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.curve import UNIT_S, log_conductance
from groundtone.calibration.fitting.pooled import USUAL_SPREAD, Cells, Solved, Spread, solve, spread_between

# A slipped weight must not spoil a cell. Residuals beyond this many standard deviations are pulled in (Huber 1964);
# from there on, those beyond so many more count next to nothing (bisquare; Beaton and Tukey 1974).
_HUBER, _BISQUARE = 1.5, 4.685
_BISQUARE_SQUARE = 0.828
# What "next to nothing" is: a cell whose points are all odd still has a level of its own.
_LEAST_WEIGHT = 0.05
# No placement is known better than this, relative.
LEAST_SCATTER = 0.002
# An error beyond so many scatters counts as that many when forms are compared: a slipped weight votes for none.
_LARGEST_ERROR = 4.0

# What stands in where the data are silent. The exponent and the saturation are a typical film's (invented), each with
# the standard deviation that goes with it; bend and offset are expected to be nothing.
EXPONENT, EXPONENT_U = 1.1, 0.1
BEND_U = 0.1
SATURATION_S, SATURATION_U = 5e-3, 0.7
"""S, and its relative standard uncertainty."""
OFFSET_U_S = 1e-6
ARCH_U = 0.2
EXPONENT_SPREAD = 0.02
"""How far the exponent differs from cell to cell where placements cannot tell."""

# A curve that rises less than this, and a reading farther than this (ln) from where it ought to be, are not followed.
_LEAST_SLOPE, _FARTHEST = 0.3, 0.7

_EXPECTED = {"exponent": EXPONENT, "bend": 0.0, "inverse": 1 / SATURATION_S, "offset": 0.0, "arch": 0.0}
_WIDE = {
    "exponent": EXPONENT_U,
    "bend": BEND_U,
    "inverse": SATURATION_U / SATURATION_S,
    "offset": OFFSET_U_S,
    "arch": ARCH_U,
}

# A point that its cell's level follows by more than the rest of this tells nothing of the scatter.
_LEAST_FREED = 0.1
# A cell tells of its exponent when it does so within this.
_TELLING, _USUAL_CELLS = 0.05, 6
# The search stands still when no term moves by more than this part of its expected range.
_STILL, _TURNS = 1e-3, 30
# Below this inverse, 1/S, there is no saturation (1 kS).
_NO_SATURATION = 1e-3


@dataclass(frozen=True)
class Form:
    """A candidate: what is free in it.

    Attributes
    ----------
    name : str
    bend, saturation, offset : bool
    held_saturation_s : float
        Saturation that is not fitted but stands, S; infinite: none.
    """

    name: str
    bend: bool = False
    saturation: bool = False
    offset: bool = False
    held_saturation_s: float = math.inf

    @property
    def terms(self) -> int:
        """Number of free pooled terms."""
        return 1 + self.bend + self.saturation + self.offset


@dataclass(frozen=True)
class Points:
    """All placements as arrays, shape (points,) each.

    Attributes
    ----------
    conductance_s : ndarray
        Of the loaded cell, S, above zero.
    y : ndarray
        ln of the force in N on the cell.
    known_var : ndarray
        Variance of y that is stated beforehand: weights and readings. Infinite: the placement does not count.
    arch : ndarray
        What multiplies the hysteresis arch: 1 - F/peak on the way down, else 0.
    cells : Cells
    """

    conductance_s: NDArray[np.float64]
    y: NDArray[np.float64]
    known_var: NDArray[np.float64]
    arch: NDArray[np.float64]
    cells: Cells


@dataclass(frozen=True)
class Fitted:
    """A form, fitted.

    Attributes
    ----------
    form : Form
    exponent, bend, saturation_s, offset_s, arch : float
    solved : Solved
        In the order exponent, bend, saturation, offset, arch, as far as they are free. The saturation's own term is
        the inverse of it.
    names : tuple of str
        Of the terms of `solved.shared`.
    centre : float
        The x from which `solved.lean` runs.
    scatter : float
        Standard deviation of one placement.
    spread : Spread
    trust : ndarray, shape (points,)
        1 for a placement like the others, down to next to nothing for a slipped one.
    weight : ndarray, shape (points,)
        Trust over variance, as solved with.
    x : ndarray, shape (points,)
    cell_part : ndarray, shape (points,)
        Level and lean of each placement's cell.
    """

    form: Form
    exponent: float
    bend: float
    saturation_s: float
    offset_s: float
    arch: float
    solved: Solved
    names: tuple[str, ...]
    centre: float
    scatter: float
    spread: Spread
    trust: NDArray[np.float64]
    weight: NDArray[np.float64]
    x: NDArray[np.float64]
    cell_part: NDArray[np.float64]

    @property
    def left_out(self) -> NDArray[np.float64]:
        """Error of each placement's prediction by the fit without it (ln F)."""
        return self.solved.error / np.maximum(1 - self.solved.leverage, 1e-6)


def candidates(loads: int, span: float) -> tuple[Form, ...]:
    """The forms that so many different loads can tell apart.

    Parameters
    ----------
    loads : int
        Different loads on the way up.
    span : float
        Largest over smallest.
    """
    held = math.inf if loads >= 4 and span >= 4 else SATURATION_S
    out = [Form("power", held_saturation_s=held)]
    if math.isinf(held):
        out.append(Form("power with saturation", saturation=True))
    if loads >= 3:
        out.append(Form("power with bend", bend=True, held_saturation_s=held))
    if math.isinf(held):
        out += [
            Form("power with offset", offset=True),
            Form("power with bend and offset", bend=True, offset=True),
        ]
    return tuple(out)


class _Terms:
    """Where a search stands: the value of every term, and which of them are free."""

    def __init__(self, form: Form, points: Points) -> None:
        inverse = 0.0 if math.isinf(form.held_saturation_s) else 1 / form.held_saturation_s
        self.now = dict(_EXPECTED, inverse=_EXPECTED["inverse"] if form.saturation else inverse)
        free = {
            "exponent": True,
            "bend": form.bend,
            "inverse": form.saturation,
            "offset": form.offset,
            "arch": bool(points.arch.any()),
        }
        self.names = tuple(name for name in free if free[name])
        self._points = points
        self.cell_part = np.zeros_like(points.y)
        least = float(points.conductance_s.min())
        self._bounds = {
            "inverse": (0.0, math.inf),
            "offset": (-3 * OFFSET_U_S, min(3 * OFFSET_U_S, 0.5 * least)),
        }

    def look(self) -> None:
        """The columns at the present values, where each weight ought to have read.

        The weight is what is known and the reading is what scatters. Columns taken at the reading itself would go with
        its error and flatten the curve (W. A. Fuller, Measurement Error Models, 1987).
        """
        now = self.now
        saturation = math.inf if now["inverse"] <= 0 else 1 / now["inverse"]
        self.x = log_conductance(self._points.conductance_s - now["offset"], saturation)
        slope = np.maximum(now["exponent"] + 2 * now["bend"] * self.x, _LEAST_SLOPE)
        error = self._points.y - _curve(now, self.x, self._points) - self.cell_part
        self.ought = self.x + np.clip(error / slope, -_FARTHEST, _FARTHEST)
        self.columns = _columns(self.names, now, self.ought, self._points.arch)

    @property
    def values(self) -> NDArray[np.float64]:
        """Of the free terms, each over what is expected of its size."""
        return np.array([self.now[n] / _WIDE[n] for n in self.names])

    def solve(self, weight: NDArray[np.float64], centre: float, spread: Spread, *, covariances: bool) -> Solved:
        """One step: Gauss-Newton, y + slope·θ stands for y where saturation and offset are linearised at θ."""
        prior = np.array([_EXPECTED[n] for n in self.names]), np.array([_WIDE[n] ** -2.0 for n in self.names])
        y = self._points.y - _curve(self.now, self.x, self._points)
        y = y + self.columns @ np.array([self.now[n] for n in self.names])
        z = self.ought - centre
        out = solve(self.columns, z, y, weight, self._points.cells, spread, prior, covariances=covariances)
        found = dict(zip(self.names, map(float, out.shared), strict=True))
        for name, (low, high) in self._bounds.items():
            if name in found and not low < found[name] < high:
                # It wants to go where no film is: it stays at the bound and is free no longer.
                self.now[name] = min(max(found[name], low), high)
                self.names = tuple(n for n in self.names if n != name)
                self.look()
                return self.solve(weight, centre, spread, covariances=covariances)
        self.now.update(found)
        self.cell_part = out.level[self._points.cells.own] + z * out.lean[self._points.cells.own]
        return out


def fit_form(form: Form, points: Points, start: Fitted | None = None) -> Fitted:
    """Robust fit of one form: iteratively reweighted, Gauss-Newton in saturation and offset, spread and scatter found.

    Parameters
    ----------
    form : Form
    points : Points
    start : Fitted, optional
        A fit of another form to the same points: where the search for trust, scatter and spread begins.
    """
    cells, terms = points.cells, _Terms(form, points)
    scatter, spread = 0.1, Spread(USUAL_SPREAD, EXPONENT_SPREAD)
    if start is None:
        trust, terms.cell_part = _first_look(points)
    else:
        trust, scatter, spread, terms.cell_part = start.trust, start.scatter, start.spread, start.cell_part
    for weigh in (_huber, _bisquare) if start is None else (_bisquare,):
        for turn in range(_TURNS):
            names, before = terms.names, terms.values
            terms.look()
            centre = float(np.average(terms.x, weights=trust))
            solved = terms.solve(trust / (scatter**2 + points.known_var), centre, spread, covariances=False)
            freed = np.maximum(solved.freed, _LEAST_FREED)
            scatter = _scatter(solved.error, points.known_var, freed, scatter)
            variance = scatter**2 + points.known_var
            trust = weigh(np.abs(solved.error) / np.sqrt(variance * freed))
            rest = solved.residual + solved.level[cells.own]
            lean = exponent_spread(terms.ought, solved.residual, trust / variance, cells)
            spread = Spread(spread_between(rest, trust / variance, cells, spread.level), lean)
            if turn >= 2 and terms.names == names and np.abs(terms.values - before).max() < _STILL:
                break
    terms.look()
    centre = float(np.average(terms.x, weights=trust))
    scatter = _final_scatter(solved.error, points.known_var, freed, scatter)
    weight = trust / (scatter**2 + points.known_var)
    solved = terms.solve(weight, centre, spread, covariances=True)
    now = terms.now
    saturation = math.inf if now["inverse"] <= _NO_SATURATION else 1 / now["inverse"]
    return Fitted(
        form, now["exponent"], now["bend"], saturation, now["offset"], now["arch"], solved, terms.names, centre,
        scatter, spread, trust, weight, terms.x, terms.cell_part,
    )  # fmt: skip


def _first_look(points: Points) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Trust of each placement, and its cell's level: along the typical curve, through the middle of the placements.

    Where three or more lie on a cell, one far from the middle is not trusted from the start: least squares would share
    its error out among the others.
    """
    own = points.cells.own
    rest = points.y - EXPONENT * log_conductance(points.conductance_s)
    order = np.lexsort((rest, own))
    count = np.bincount(own, minlength=points.cells.panel.size)
    first = np.minimum(np.cumsum(count) - count, own.size - 1)
    low, high = (np.minimum(first + (count - 1 + up) // 2, own.size - 1) for up in (0, 1))
    middle = 0.5 * (rest[order[low]] + rest[order[high]])[own]
    error = rest - middle
    several = count[own] >= 3
    if several.sum() < 6:
        return np.ones_like(rest), middle
    size = np.abs(error) / max(1.4826 * float(np.median(np.abs(error[several]))), LEAST_SCATTER)
    return np.where(several, _bisquare(size), 1.0), middle


def exponent_spread(
    x: NDArray[np.float64], residual: NDArray[np.float64], weight: NDArray[np.float64], cells: Cells
) -> float:
    """Standard deviation of the exponent from cell to cell, with the scatter of placements taken off.

    Robust: the middle of the cells' own slopes counts, so that a slipped weight does not.

    Parameters
    ----------
    x, residual, weight : ndarray, shape (points,)
    cells : Cells

    Returns
    -------
    float
        `EXPONENT_SPREAD` where fewer than six cells have loads that tell.
    """
    mass = np.maximum(cells.sums(weight), 1e-300)
    apart = x - (cells.sums(weight * x) / mass)[cells.own]
    square = cells.sums(weight * apart**2)
    told = square > 1 / _TELLING**2
    if told.sum() < 6:
        return EXPONENT_SPREAD
    own = cells.sums(weight * apart * residual)[told] / square[told]
    seen = max(robust_deviation(own) ** 2 - float(np.median(1 / square[told])), 0.0)
    # A dozen cells tell little of a spread: what is usual counts as a few more.
    return math.sqrt((own.size * seen + _USUAL_CELLS * EXPONENT_SPREAD**2) / (own.size + _USUAL_CELLS))


def _curve(now: dict[str, float], x: NDArray[np.float64], points: Points) -> NDArray[np.float64]:
    """What the shared terms make of y."""
    out: NDArray[np.float64] = x * (now["exponent"] + now["bend"] * x) - now["arch"] * points.arch
    return out


def _columns(
    names: tuple[str, ...], now: dict[str, float], x: NDArray[np.float64], arch: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Derivatives of y by the free terms at x, shape (points, terms)."""
    free = UNIT_S * np.exp(x)
    above = free / (1 + free * now["inverse"])
    slope = now["exponent"] + 2 * now["bend"] * x
    table = {"exponent": x, "bend": x * x, "arch": -arch, "inverse": slope * free, "offset": -slope * free / above**2}
    return np.stack([table[name] for name in names], axis=1)


def _scatter(
    residual: NDArray[np.float64], known_var: NDArray[np.float64], freed: NDArray[np.float64], before: float
) -> float:
    """Scatter beyond what is stated of weights and readings, such that the middle error is as large as it should be."""
    tells = (freed > 2 * _LEAST_FREED) & np.isfinite(known_var)
    if tells.sum() < 4:
        return max(before, LEAST_SCATTER)
    residual, known_var, freed = residual[tells], known_var[tells], freed[tells]
    middle, square = float(np.median(known_var)), before**2
    for _ in range(3):
        size = robust_deviation(residual / np.sqrt((square + known_var) * freed))
        square = max((square + middle) * size**2 - middle, LEAST_SCATTER**2)
    return math.sqrt(square)


def _final_scatter(
    error: NDArray[np.float64], known_var: NDArray[np.float64], freed: NDArray[np.float64], before: float
) -> float:
    """Scatter from all placements that did not slip, by the bisquare's own weights.

    The median of the errors finds the slipped ones, but a robust fit lies too near to the middle of few points, so the
    median comes out small. Of a normal sample the weighted mean square is 0.828 of the variance: the moments of
    (1 - (z/c)²)² at c = 4.685.
    """
    tells = (freed > 2 * _LEAST_FREED) & np.isfinite(known_var)
    if tells.sum() < 4:
        return before
    error, known_var, freed = error[tells], known_var[tells], freed[tells]
    variance = before**2 + known_var
    size = np.minimum(np.abs(error) / np.sqrt(variance * freed) / _BISQUARE, 1.0)
    weight = (1 - size**2) ** 2
    ratio = float(np.sum(weight * error**2 / variance) / np.sum(weight * freed)) / _BISQUARE_SQUARE
    middle = float(np.median(known_var))
    return math.sqrt(max((before**2 + middle) * ratio - middle, LEAST_SCATTER**2))


def _huber(size: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.minimum(1.0, _HUBER / np.maximum(size, 1e-12))


def _bisquare(size: NDArray[np.float64]) -> NDArray[np.float64]:
    weight: NDArray[np.float64] = np.maximum((1 - np.minimum(size / _BISQUARE, 1.0) ** 2) ** 2, _LEAST_WEIGHT)
    return weight


def robust_deviation(residual: NDArray[np.float64]) -> float:
    """1.4826 times the median absolute deviation: the standard deviation of a normal sample (Hampel 1974)."""
    return float(1.4826 * np.median(np.abs(residual - np.median(residual))))


def choose(fitted: list[Fitted], cells: Cells) -> tuple[Fitted, dict[str, float]]:
    """The form that the placements ask for, and each form's score.

    Parameters
    ----------
    fitted : list of Fitted
    cells : Cells

    Returns
    -------
    Fitted, dict of str to float
        Score: root mean square relative error of placements that were left out.
    """
    # Placements that do not count have no vote.
    votes = np.stack([each.weight > 0 for each in fitted]).all(0)
    bound = _LARGEST_ERROR * min(each.scatter for each in fitted)
    loss = np.array([np.where(votes, np.minimum(np.abs(each.left_out), bound) ** 2, 0.0) for each in fitted])
    scores = {each.form.name: float(np.sqrt(row.sum() / votes.sum())) for each, row in zip(fitted, loss, strict=True)}
    best = int(loss.mean(1).argmin())
    used = np.unique(cells.own).size

    def close(index: int) -> bool:
        # Placements of a cell share its level, so the cell is the unit that varies.
        apart = cells.sums(loss[index] - loss[best])
        apart = apart[np.unique(cells.own)]
        error = float(apart.std()) * math.sqrt(used)
        return float(apart.sum()) <= max(2 * error, 0.1 * LEAST_SCATTER**2 * int(votes.sum()))

    near = [i for i in range(len(fitted)) if i == best or close(i)]
    fewest = min(fitted[i].form.terms for i in near)
    return next(fitted[i] for i in near if fitted[i].form.terms == fewest), scores
