"""Figures of a fit: covariances, hysteresis and repeatability of panels and cells, and what a person ought to know."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.forms import SATURATION_S, SATURATION_U, Fitted, Points
from groundtone.calibration.fitting.robust import robust_deviation
from groundtone.calibration.force_curve import UNIT_S

# A placement with less trust than this slipped, or its weight was misread.
_SLIPPED = 0.2
_WORTH_SAYING = 0.08
# A cell whose placements are distrusted by this part in the mean is in doubt itself.
_CONTRADICTED = 0.4
# A cell without which the exponent would move by this much decides too much.
_HANGS = 0.04
# A single placement that lies this many standard deviations from its panel is worth a second look.
_ODD = 3.5
# A load whose placements all lie off by more than this (and by four standard errors) was weighed or typed wrong.
_ODD_LOAD = 0.02
# The scatter of a cell is its panel's until so many of its own freedoms say otherwise (empirical Bayes; invented).
_PANEL_FREEDOM = 4.0
# How far the loop differs from cell to cell, as relative excess at half the peak (invented).
_LOOP_SPREAD = 0.02
# A placement whose error the fit leaves less than this part of says nothing of the scatter.
_TELLS = 0.2
# What bend a film may have beyond its saturation, where the loads cannot tell (invented).
_UNKNOWN_BEND = 0.03
# Shape is judged up to twice the highest calibrated conductance: people are heavier than weights.
_BEYOND = math.log(2.0)


@dataclass(frozen=True)
class Covered:
    """Uncertainty of a fit, see `groundtone.calibration.fitting.fit.Fit` for the meaning of each."""

    centre: float
    level_u: NDArray[np.float64]
    shape_cov: NDArray[np.float64]
    cell_cov: NDArray[np.float64]


def doubt(fitted: Fitted, points: Points) -> NDArray[np.float64]:
    """How far a cell's placements contradict each other: root mean square of the errors that were not believed.

    Returns
    -------
    ndarray, shape (cells,)
        0 where a clear majority agrees.
    """
    cells = points.cells
    count = np.maximum(np.bincount(cells.own, minlength=cells.panel.size), 1)
    distrust = 1 - fitted.trust
    apart: NDArray[np.float64] = np.sqrt(cells.sums(distrust * fitted.solved.error**2) / count)
    return np.where(cells.sums(distrust) >= _CONTRADICTED * count, apart, 0.0)


def cover(fitted: Fitted, points: Points, loads: int, put_down_var: NDArray[np.float64]) -> Covered:
    """Covariances of a fitted form in terms of level, exponent and bend.

    Saturation and offset move the curve much as a level, an exponent and a bend do: what is not known of them is
    projected on these three by least squares over the calibrated range and as much again above it.

    Parameters
    ----------
    fitted : Fitted
        A form with every term that the loads can tell.
    loads : int
        Different loads on the way up.
    put_down_var : ndarray, shape (cells,)
        Variance of each level that residuals do not show.
    """
    solved, names = fitted.solved, fitted.names
    centre = fitted.centre
    terms = len(names)
    grid = np.linspace(float(fitted.x.min()), float(fitted.x.max()) + _BEYOND, 50)
    basis = np.stack([np.ones_like(grid), grid, grid**2], axis=1)

    def projected(name: str) -> NDArray[np.float64]:
        effect = _effect(name, grid, fitted)
        return np.asarray(np.linalg.lstsq(basis, effect, rcond=None)[0], np.float64)

    to_three = np.zeros((3, 1 + terms))
    to_three[0, 0] = 1.0
    for i, name in enumerate(names):
        to_three[:, 1 + i] = projected(name) if name != "arch" else 0.0
    cells = solved.level.size
    joint = np.empty((cells, 1 + terms, 1 + terms))
    joint[:, 0, 0] = solved.level_var
    joint[:, 0, 1:] = joint[:, 1:, 0] = solved.level_with
    joint[:, 1:, 1:] = solved.covariance
    three = np.einsum("at,ntu,bu->nab", to_three, joint, to_three)
    unknown = np.zeros((3, 3))
    if not math.isinf(fitted.form.held_saturation_s):
        # The level was fitted with it: at the centre nothing moves.
        effect = projected("inverse") * points.expected.widths.get("inverse", SATURATION_U / SATURATION_S)
        effect[0] = -(effect[1] * centre + effect[2] * centre**2)
        unknown += np.outer(effect, effect)
    if loads < 3:
        effect = np.array([-(centre**2), 0.0, 1.0]) * _UNKNOWN_BEND
        unknown += np.outer(effect, effect)
    three = three + unknown
    three[:, 0, 0] += doubt(fitted, points) ** 2 + put_down_var
    own = np.array([-centre, 1.0, 0.0]) * fitted.spread.lean
    at_centre = np.array([1.0, centre, centre**2])
    level_var = np.einsum("a,nab,b->n", at_centre, three, at_centre)
    return Covered(
        centre, np.sqrt(np.maximum(level_var, 0.0)), three[0, 1:, 1:], three + np.outer(own, own)
    )  # fmt: skip


def _effect(name: str, x: NDArray[np.float64], fitted: Fitted) -> NDArray[np.float64]:
    """Derivative of ln F by a pooled term along x."""
    slope = fitted.exponent + 2 * fitted.bend * x
    free = UNIT_S * np.exp(x)
    above = 1 + free / fitted.saturation_s
    table: dict[str, NDArray[np.float64]] = {
        "exponent": x,
        "bend": x * x,
        "inverse": slope * free,
        "offset": -slope * above**2 / free,
    }
    return table[name]


def hysteresis(fitted: Fitted, points: Points) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Relative excess at half the peak on the way down, of panels and of cells; NaN without unloading."""
    cells = points.cells
    if "arch" not in fitted.names:
        return np.full(cells.panels, np.nan), np.full(cells.panel.size, np.nan)
    weight = fitted.weight
    found = (fitted.arch * points.arch - fitted.solved.error) * points.arch
    down = points.arch > 0
    weight = np.where(down, weight, 0.0)
    by_panel = cells.panel[cells.own]
    mass = np.bincount(by_panel, weight * points.arch**2, cells.panels)
    sums = np.bincount(by_panel, weight * found, cells.panels)
    # Half the peak: 1 - F/P is a half there.
    panel = 0.5 * np.divide(sums, mass, out=np.full(cells.panels, fitted.arch), where=mass > 0)
    tie = 1 / (2 * _LOOP_SPREAD) ** 2
    own = cells.sums(weight * found) + tie * 2 * panel[cells.panel]
    return panel, 0.5 * own / (cells.sums(weight * points.arch**2) + tie)


def repeatability(fitted: Fitted, points: Points) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Relative standard deviation of one placement, of panels and of cells (drawn towards their panel)."""
    cells = points.cells
    freed = 1 - np.minimum(fitted.solved.leverage, 0.999)
    rising = (points.arch == 0) & np.isfinite(points.known_var)
    by_panel = cells.panel[cells.own]
    # The only load on a cell is met by the cell's own level, and says nothing of the others.
    tells = rising & (freed > _TELLS)
    panel = np.array([
        robust_deviation(fitted.solved.error[tells & (by_panel == p)] / np.sqrt(freed[tells & (by_panel == p)]))
        if (tells & (by_panel == p)).sum() > 2 else fitted.scatter
        for p in range(cells.panels)
    ])  # fmt: skip
    square = cells.sums(np.where(rising, fitted.trust * fitted.solved.error**2, 0.0))
    freedom = cells.sums(np.where(rising, fitted.trust * freed, 0.0))
    cell = (square + _PANEL_FREEDOM * panel[cells.panel] ** 2) / (freedom + _PANEL_FREEDOM)
    return panel, np.sqrt(cell)


def _hangs(fitted: Fitted, points: Points, columns: int) -> list[str]:
    """A sentence where one cell alone decides how steep the film's curve is."""
    cells, along = points.cells, fitted.x - fitted.centre
    weight = np.where((points.arch == 0) & np.isfinite(points.known_var), fitted.weight, 0.0)
    whole = cells.sums(weight)
    middle, own = (np.divide(cells.sums(weight * v), whole, out=np.zeros_like(whole), where=whole > 0)[cells.own]
                   for v in (along, fitted.solved.residual))  # fmt: skip
    square = cells.sums(weight * (along - middle) ** 2)
    turn = cells.sums(weight * (along - middle) * (fitted.solved.residual - own))
    tells = square > 1e-9
    # What each cell says of the exponent, and how much its word counts beside the spread between cells.
    says = np.divide(turn, square, out=np.zeros_like(turn), where=tells)
    counts = np.where(tells, 1 / (1 / np.maximum(square, 1e-9) + fitted.spread.lean**2), 0.0)
    if np.count_nonzero(tells) < 2:
        return []
    moved = np.abs(counts * says / np.maximum(counts.sum() - counts, 1e-9))
    cell = int(moved.argmax())
    if moved[cell] < _HANGS:
        return []
    row, column = divmod(cell, columns)
    return [
        f"the curve hangs on row {row}, column {column}: without it the exponent were {100 * moved[cell]:.0f} % of one "
        "off; repeat that cell, and lay several loads on more cells"
    ]


def said(
    fitted: Fitted,
    points: Points,
    force_n: NDArray[np.float64],
    loads: int,
    columns: int,
    missing: Sequence[tuple[int, int]],
) -> tuple[str, ...]:
    """Sentences for a person, the most important first.

    Parameters
    ----------
    fitted : Fitted
        The chosen form.
    force_n : ndarray, shape (points,)
        As the weights were named.
    loads : int
        Different loads on the way up.
    columns : int
        Of the whole mat.
    missing : sequence of (row, column)
    """
    cells, solved = points.cells, fitted.solved
    out = []
    if points.expected.mats:
        out.append(points.expected.sentence)
    elif loads < 2:
        out.append(
            "all weights are about the same: the exponent is the film's typical one (a prior, 1.1 ± 0.1); add a weight "
            "at least twice as heavy on a dozen cells"
        )
    if not math.isinf(fitted.form.held_saturation_s):
        whose = "the pooled films'" if points.expected.mats else "the film's typical"
        prior = "a prior" if points.expected.mats else "a prior, invented"
        out.append(
            f"saturation was not fitted, for the loads do not span it ({loads} different; four are needed, the largest "
            f"four times the smallest): {whose} {fitted.form.held_saturation_s * 1e3:.3g} mS stands in ({prior})"
        )
    elif loads < 3:
        out.append("two weights make a straight line: its bend is not known")
    if not points.arch.any():
        out.append("no weight was taken off another, so a usual loop of hysteresis stands in (a prior, invented)")
    if missing:
        out.append(
            f"{len(missing)} cells have no placement (first: row {missing[0][0]}, column {missing[0][1]}): each takes "
            f"its panel's mean and ± {100 * fitted.spread.level:.0f} %"
        )
    rising = (points.arch == 0) & np.isfinite(points.known_var)
    for load in np.unique(np.round(force_n[rising], 1)):
        of_load = rising & (np.abs(force_n - load) < 0.06) & (fitted.trust > _SLIPPED)
        if of_load.sum() >= 4:
            off = float(np.median(solved.error[of_load]))
            if abs(off) > max(_ODD_LOAD, 4 * fitted.scatter / math.sqrt(of_load.sum())):
                out.append(
                    f"all placements of {load:g} N lie {100 * abs(off):.0f} % "
                    f"{'below' if off > 0 else 'above'} the others: weigh that weight again"
                )
    out += _hangs(fitted, points, columns)
    in_doubt = np.flatnonzero(doubt(fitted, points) > _WORTH_SAYING)
    for cell in in_doubt[:5]:
        row, column = divmod(int(cell), columns)
        out.append(f"the placements on row {row}, column {column} contradict each other: repeat them")
    slipped = np.flatnonzero(
        (fitted.trust < _SLIPPED) & (np.abs(solved.error) > _WORTH_SAYING) & ~np.isin(cells.own, in_doubt)
    )
    for k in slipped[:5]:
        row, column = divmod(int(cells.own[k]), columns)
        off = 100 * (math.exp(-solved.error[k]) - 1)
        out.append(
            f"the {force_n[k]:.0f} N on row {row}, column {column} lie {off:+.0f} % off and hardly count: repeat them"
        )
    if len(slipped) > 5:
        out.append(f"{len(slipped) - 5} more placements hardly count: see the residuals")
    count = np.bincount(cells.own, minlength=cells.panel.size)
    expected = np.sqrt(fitted.spread.level**2 + fitted.scatter**2)
    apart = solved.level - solved.mean[cells.panel]
    for cell in np.flatnonzero((count == 1) & (np.abs(apart) > _ODD * expected * 0.8))[:5]:
        row, column = divmod(int(cell), columns)
        out.append(f"row {row}, column {column} has one placement and it lies far from the others: repeat it")
    return tuple(out)
