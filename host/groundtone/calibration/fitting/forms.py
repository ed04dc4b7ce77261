"""The forms that a film's curve may take, each fitted robustly.

A form is the pooled part of ln F = level + exponent·x + bend·x² (see `calibration.force_curve`): a plain power,
one that bends, one with a saturation (of all cells or by gain), one with an offset. Each is fitted robustly; which
one is taken is `form_choice`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.descent import Descent
from groundtone.calibration.fitting.expected import TYPICAL, Expected
from groundtone.calibration.fitting.pooled import USUAL_SPREAD, Cells, Solved, Spread, spread_between
from groundtone.calibration.fitting.robust import (
    LEAST_FREED,
    exponent_spread,
    final_scatter,
    first_look,
    scatter_of,
    surprise,
    trusted,
)
from groundtone.calibration.force_curve import UNIT_S, log_conductance

# An error beyond so many scatters counts as that many when forms are compared: a slipped weight votes for none.
LARGEST_ERROR = 4.0


# What stands in where the data are silent. The exponent and the saturation are a typical film's (invented), each with
# the standard deviation that goes with it; bend and offset are expected to be nothing.
EXPONENT, EXPONENT_U = 1.1, 0.1
BEND_U = 0.05
SATURATION_S, SATURATION_U = 5e-3, 0.7
"""S, and its relative standard uncertainty."""
OFFSET_U_S = 1e-6
ARCH, ARCH_U = 0.07, 0.05
"""Loops of up to 10 % were measured (docs/figures.md, real film); a dozen hands alone tell one to 0.06."""

# A curve that rises less than this, and a reading farther than this (ln) from where it ought to be, are not followed.
_LEAST_SLOPE, _FARTHEST = 0.3, 0.7

_EXPECTED = {"exponent": EXPONENT, "bend": 0.0, "inverse": 1 / SATURATION_S, "offset": 0.0, "arch": ARCH}
_WIDE = {
    "exponent": EXPONENT_U,
    "bend": BEND_U,
    "inverse": SATURATION_U / SATURATION_S,
    "offset": OFFSET_U_S,
    "arch": ARCH_U,
}

# Where the search for the spread of exponents begins: wide, or a far cell is taken for slipped weights.
_FIRST_LEAN = 0.1

# The search stands still when no term moves by more than this part of its expected range.
_STILL, _TURNS = 1e-3, 30
# The slopes are taken where weights ought to have read, so near its end the search may lead a little upwards.
_MAY_RISE = 0.1
# A term that a step takes over its bound goes this part of the way there, and stays on it from this near (part of its
# expected range): one that were held at the first step too far would never come back.
_TOWARDS, _AT_BOUND = 0.8, 0.02
# How often the cells' gains are found anew for saturations that go with them, and how far (ln) they are followed.
_GAIN_TURNS, _MOST_GAIN = 2, 2.0
# Below this inverse, 1/S, there is no saturation (1 kS).
_NO_SATURATION = 1e-3


@dataclass(frozen=True)
class Form:
    """A candidate: what is free in it.

    Attributes
    ----------
    by_gain : bool
        A cell of twice the gain saturates at twice the conductance.
    held_saturation_s : float
        Saturation that is not fitted but stands, S; infinite: none.
    """

    name: str
    bend: bool = False
    saturation: bool = False
    by_gain: bool = False
    offset: bool = False
    held_saturation_s: float = math.inf

    @property
    def terms(self) -> int:
        """Number of free pooled terms."""
        return 1 + self.bend + self.saturation + self.offset

    @property
    def usual(self) -> bool:
        """Films are known for it."""
        return not self.bend and not self.offset


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
    """

    conductance_s: NDArray[np.float64]
    y: NDArray[np.float64]
    known_var: NDArray[np.float64]
    arch: NDArray[np.float64]
    cells: Cells
    expected: Expected = TYPICAL


@dataclass(frozen=True)
class Fitted:
    """A form, fitted.

    Attributes
    ----------
    solved : Solved
        In the order exponent, bend, saturation, offset, arch, as far as they are free. The saturation's own term is
        the inverse of it.
    names : tuple of str
        Of the terms of `solved.shared`.
    centre : float
        The x from which `solved.lean` runs.
    scatter : float
        Standard deviation of one placement.
    trust : ndarray, shape (points,)
        1 for a placement like the others, down to next to nothing for a slipped one.
    weight : ndarray, shape (points,)
        Trust over variance, as solved with.
    x : ndarray, shape (points,)
    cell_part : ndarray, shape (points,)
        Level and lean of each placement's cell.
    gain : ndarray, shape (cells,)
        By how much each cell saturates higher; 1 where all saturate alike.
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
    gain: NDArray[np.float64]

    @property
    def left_out(self) -> NDArray[np.float64]:
        """Error of each placement's prediction by the fit without it (ln F)."""
        return self.solved.error / np.maximum(1 - self.solved.leverage, 1e-6)


def candidates(loads: int, span: float, held_s: float = SATURATION_S) -> tuple[Form, ...]:
    """The forms that so many different loads can tell apart.

    Parameters
    ----------
    loads : int
        Different loads on the way up.
    span : float
        Largest over smallest.
    held_s : float
        The saturation that stands in where they do not tell it, S.
    """
    held = math.inf if loads >= 4 and span >= 4 else held_s
    out = [Form("power", held_saturation_s=held)]
    if math.isinf(held):
        out.append(Form("power with saturation", saturation=True))
        out.append(Form("power with saturation by gain", saturation=True, by_gain=True))
    if loads >= 3:
        out.append(Form("power with bend", bend=True, held_saturation_s=held))
    if math.isinf(held):
        out += [
            Form("power with offset", offset=True),
            Form("power with bend and offset", bend=True, offset=True),
        ]
    return tuple(out)


class _Terms:
    """The curve of a form as `Descent` asks for it, and which of its terms are free."""

    def __init__(self, form: Form, points: Points, gain: NDArray[np.float64], start: float | None) -> None:
        self._gain = gain[points.cells.own]
        self._expected = expected = _EXPECTED | dict(points.expected.values)
        self._width = _WIDE | dict(points.expected.widths)
        inverse = 0.0 if math.isinf(form.held_saturation_s) else 1 / form.held_saturation_s
        if form.saturation:
            inverse = expected["inverse"] if start is None else start
        self._held = dict(expected, inverse=inverse)
        free = {
            "exponent": True,
            "bend": form.bend,
            "inverse": form.saturation,
            "offset": form.offset,
            "arch": bool(points.arch.any()),
        }
        self._points = points
        self.cell_part = np.zeros_like(points.y)
        self.centre = 0.0
        least = float(points.conductance_s.min())
        self._bounds = {
            "inverse": (0.0, math.inf),
            "offset": (-3 * OFFSET_U_S, min(3 * OFFSET_U_S, 0.5 * least)),
        }
        self._free([name for name in free if free[name]])

    def _free(self, names: list[str]) -> None:
        self.names = tuple(names)
        self._wide = np.array([self._width[n] for n in names])
        self._prior = np.array([self._expected[n] for n in names]), self._wide**-2.0
        self._descent = Descent(self, np.array([self._held[n] for n in names]), _MAY_RISE)

    @property
    def now(self) -> dict[str, float]:
        """The value of every term, free or not."""
        return self._with(self._descent.value)

    @property
    def values(self) -> NDArray[np.float64]:
        """Of the free terms, each over what is expected of its size."""
        out: NDArray[np.float64] = self._descent.value / self._wide
        return out

    @property
    def x(self) -> NDArray[np.float64]:
        """The logarithm x of each placement, see the curve."""
        return self._x(self.now)

    def ought(self, now: dict[str, float]) -> NDArray[np.float64]:
        """The x at which each weight ought to have read.

        The weight is what is known and the reading is what scatters. Columns taken at the reading itself would go with
        its error and flatten the curve (W. A. Fuller, Measurement Error Models, 1987).
        """
        x = self._x(now)
        slope = np.maximum(now["exponent"] + 2 * now["bend"] * x, _LEAST_SLOPE)
        error = self._points.y - self._curve(now, x) - self.cell_part
        out: NDArray[np.float64] = x + np.clip(error / slope, -_FARTHEST, _FARTHEST)
        return out

    def rest(self, value: NDArray[np.float64]) -> NDArray[np.float64]:
        """See `groundtone.calibration.fitting.descent.Curve`."""
        now = self._with(value)
        if now["offset"] >= self._points.conductance_s.min():
            return np.full(self._points.y.shape, np.inf)
        return self._points.y - self._curve(now, self._x(now))

    def slopes(self, value: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """See `groundtone.calibration.fitting.descent.Curve`."""
        now = self._with(value)
        x = self.ought(now)
        free = UNIT_S * np.exp(x)
        above = free / (1 + free * now["inverse"] / self._gain)
        slope = now["exponent"] + 2 * now["bend"] * x
        table = {
            "exponent": x,
            "bend": x * x,
            "arch": -self._points.arch,
            "inverse": slope * free / self._gain,
            "offset": -slope * free / above**2,
        }
        return np.stack([table[name] for name in self.names], axis=1), x - self.centre

    def step(self, weight: NDArray[np.float64], spread: Spread) -> Solved:
        """One step down, with the bounds of what films are."""
        ought = self.ought(self.now)
        before = self._descent.value
        out = self._descent.step(weight, self._points.cells, spread, self._prior)
        found = dict(zip(self.names, map(float, out.shared), strict=True))
        for name, (low, high) in self._bounds.items():
            if name not in found or low < found[name] < high:
                continue
            # It wants to go where no film is: most of the way to the bound, and from close by it stays there.
            at, bound = self.names.index(name), min(max(found[name], low), high)
            if abs(before[at] - bound) > _AT_BOUND * self._width[name]:
                self._descent.value[at] = before[at] + _TOWARDS * (bound - before[at])
                continue
            self._held |= dict(zip(self.names, map(float, before), strict=True))
            self._held[name] = bound
            self._free([n for n in self.names if n != name])
            return self.step(weight, spread)
        self._follow(out, ought)
        return out

    def here(self, weight: NDArray[np.float64], spread: Spread) -> Solved:
        """The solution where the search stands, with its covariances."""
        out = self._descent.here(weight, self._points.cells, spread, self._prior)
        self._follow(out, self.ought(self.now))
        return out

    def _follow(self, solved: Solved, ought: NDArray[np.float64]) -> None:
        own = self._points.cells.own
        self.cell_part = solved.level[own] + (ought - self.centre) * solved.lean[own]

    def _with(self, value: NDArray[np.float64]) -> dict[str, float]:
        return self._held | dict(zip(self.names, map(float, value), strict=True))

    def _x(self, now: dict[str, float]) -> NDArray[np.float64]:
        above = self._points.conductance_s - now["offset"]
        return log_conductance(above) if now["inverse"] <= 0 else log_conductance(above, self._gain / now["inverse"])

    def _curve(self, now: dict[str, float], x: NDArray[np.float64]) -> NDArray[np.float64]:
        """What the shared terms make of y."""
        out: NDArray[np.float64] = x * (now["exponent"] + now["bend"] * x) - now["arch"] * self._points.arch
        return out


def fit_form(form: Form, points: Points, start: Fitted | None = None) -> Fitted:
    """Robust fit of one form, from several starts where one may lead astray; with gains where they matter.

    Parameters
    ----------
    start : Fitted, optional
        A fit of another form to the same points: where the search for trust, scatter and spread begins.
    """
    gain = np.ones(points.cells.panel.size)
    if not form.saturation or start is None:
        return _fitted(form, points, gain, start, None)
    most = float(np.percentile(points.conductance_s, 99))
    # Hardly any, and one of which the highest readings are nearly a half.
    tried = [_fitted(form, points, gain, start, part / most) for part in (0.02, 0.4)]
    best = min(tried, key=_loss)
    for _ in range(_GAIN_TURNS if form.by_gain and not math.isinf(best.saturation_s) else 0):
        level = best.solved.level - best.solved.mean[points.cells.panel]
        gain = np.exp(np.clip(-level / best.exponent, -_MOST_GAIN, _MOST_GAIN))
        best = _fitted(form, points, gain, best, None if math.isinf(best.saturation_s) else 1 / best.saturation_s)
    return best


def _loss(fitted: Fitted) -> float:
    """Mean square error of placements that were left out, slipped ones held down."""
    return float(np.mean(np.minimum(np.abs(fitted.left_out), LARGEST_ERROR * fitted.scatter) ** 2))


def _fitted(
    form: Form, points: Points, gain: NDArray[np.float64], start: Fitted | None, inverse: float | None
) -> Fitted:
    """Iteratively reweighted steps of `Descent`, spread and scatter found; `inverse` of a saturation to begin with."""
    cells, terms = points.cells, _Terms(form, points, gain, inverse)
    scatter, spread = 0.1, Spread(USUAL_SPREAD, _FIRST_LEAN)
    if start is None:
        steep = points.expected.values.get("exponent", EXPONENT)
        trust, terms.cell_part = first_look(points.y - steep * log_conductance(points.conductance_s), cells)
    else:
        trust, scatter, spread, terms.cell_part = start.trust, start.scatter, start.spread, start.cell_part
    for turn in range(_TURNS):
        names, before = terms.names, terms.values
        terms.centre = float(np.average(terms.x, weights=trust))
        ought = terms.ought(terms.now)
        solved = terms.step(trust / (scatter**2 + points.known_var), spread)
        freed = np.maximum(solved.freed, LEAST_FREED)
        scatter = scatter_of(solved.error, points.known_var, freed, scatter)
        variance = scatter**2 + points.known_var
        trust = trusted(surprise(solved.error, solved.freed, variance, trust))
        rest = solved.residual + solved.level[cells.own]
        lean = exponent_spread(ought - terms.centre, solved.residual, trust, points.known_var, cells)
        spread = Spread(spread_between(rest, trust / variance, cells, spread.level), lean)
        if turn >= 2 and terms.names == names and np.abs(terms.values - before).max() < _STILL:
            break
    scatter = final_scatter(solved.error, points.known_var, freed, scatter)
    weight = trust / (scatter**2 + points.known_var)
    terms.centre = float(np.average(terms.x, weights=trust))
    terms.step(weight, spread)
    solved, now = terms.here(weight, spread), terms.now
    saturation = math.inf if now["inverse"] <= _NO_SATURATION else 1 / now["inverse"]
    return Fitted(
        form, now["exponent"], now["bend"], saturation, now["offset"], now["arch"], solved, terms.names, terms.centre,
        scatter, spread, trust, weight, terms.x, terms.cell_part, gain,
    )  # fmt: skip
