"""From placements of known weights to curves and a film: any order, repeats, cells with many, few or none.

The fit is a robust weighted least squares in logarithms, all cells at once (`pooled`), in the form that the placements
ask for (`forms`). Each placement was read at a known time after known steps of load, and what creep makes of those is
known in closed form (`creep.grown`): curves first, then what the film remembers, then the curves without that.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import UNSEEN_ARCH, Film
from groundtone.calibration.fitting.capture import Placement, placements_from
from groundtone.calibration.fitting.expected import TYPICAL, Expected
from groundtone.calibration.fitting.film_memory import NO_CREEP, creep_from_drift, grown, kept_part, told
from groundtone.calibration.fitting.fit_quality import cover, hysteresis, repeatability, said
from groundtone.calibration.fitting.form_choice import choose
from groundtone.calibration.fitting.forms import (
    SATURATION_S,
    Fitted,
    Form,
    Points,
    candidates,
    fit_form,
)
from groundtone.calibration.fitting.gain_memory import USUAL_STRAIGHT, same_start, told_by_holds
from groundtone.calibration.fitting.placement_table import FALLS, LEAST_PLACEMENTS, SAME_LOAD, Table
from groundtone.calibration.fitting.robust import robust_deviation
from groundtone.calibration.force_curve import Curves
from groundtone.errors import CalibrationError

__all__ = ["LEAST_PLACEMENTS", "Fit", "different_loads", "fit_curves"]


@dataclass(frozen=True)
class Kept:
    """What a profile keeps of a fit.

    Attributes
    ----------
    model : str
        Name of the form that was chosen.
    scores : dict of str to float
        Each form's root mean square relative error for placements that were left out.
    cell_cov : ndarray, shape (rows, columns, 3, 3)
        Covariance of each cell's level, exponent and bend, the spread of exponents between cells included.
    gain_spread : float
        Standard deviation of the level from cell to cell.
    hysteresis_panel, hysteresis_cell : ndarray, shapes (panels,) and (rows, columns)
        Relative excess of a reading at half the peak on the way down; NaN where there was no unloading.
    repeatability_panel, repeatability_cell : ndarray, shapes (panels,) and (rows, columns)
        Relative standard deviation of one placement.
    said : tuple of str
        What a person ought to know: priors that stand in, placements that slipped, cells that are odd.
    """

    model: str
    scores: dict[str, float]
    cell_cov: NDArray[np.float64]
    gain_spread: float
    hysteresis_panel: NDArray[np.float64]
    hysteresis_cell: NDArray[np.float64]
    repeatability_panel: NDArray[np.float64]
    repeatability_cell: NDArray[np.float64]
    said: tuple[str, ...]


@dataclass(frozen=True)
class Fit(Kept):
    """Curves, and how well they fit.

    Attributes
    ----------
    residual : ndarray, shape (placements,)
        ln of measured over fitted force, in the order of the placements.
    scatter : float
        Robust standard deviation of the residuals (about the relative error of one placement).
    missing : tuple of (row, column)
        Cells without a placement; they take their panel's mean level.
    on_cell_n : tuple of float
        Force of each placement that lay on its own cell, N; the neighbours carried the rest.
    exponent_cell : ndarray, shape (rows, columns)
        What each cell's own placements make of the exponent, drawn towards the film's; the curves lean accordingly.
    level_u : ndarray, shape (rows, columns)
        Relative standard uncertainty of each cell's force at `x_centre`, errors of shape left out. Cells without a
        placement have the spread between cells in it.
    shape_cov : ndarray, shape (2, 2)
        Covariance of exponent and bend; what is not known of a saturation that was not fitted is in it.
    x_centre : float
        Where errors of shape turn.
    exponent_spread : float
        Standard deviation of the exponent from cell to cell.
    cell_points : ndarray of int, shape (rows, columns)
    arch, arch_u : float
        Size of the hysteresis loop (`calibration.fitting.hysteresis`) and its standard uncertainty; NaN without
        unloading.
    trust : ndarray, shape (placements,)
        Weight that the robust fit left to each placement, 0 to 1.
    highest_n : float
        Highest calibrated load, N.
    mass_u : float
        Relative standard uncertainty that the weights share.
    """

    curves: Curves
    residual: NDArray[np.float64]
    scatter: float
    missing: tuple[tuple[int, int], ...]
    on_cell_n: tuple[float, ...]
    exponent_cell: NDArray[np.float64]
    level_u: NDArray[np.float64]
    shape_cov: NDArray[np.float64]
    x_centre: float
    exponent_spread: float
    cell_points: NDArray[np.intp]
    arch: float
    arch_u: float
    trust: NDArray[np.float64]
    highest_n: float
    mass_u: float


def fit_curves(
    placements: Sequence[Placement],
    rows: int,
    columns: int,
    *,
    panels: int = 2,
    factor: NDArray[np.float64] | None = None,
    forms: Sequence[Form] | None = None,
    expected: Expected = TYPICAL,
) -> Fit:
    """Curves of all cells.

    Parameters
    ----------
    placements : sequence of Placement
        In any order, any number on a cell; at least eight in all.
    rows, columns : int
        Of the whole mat.
    panels : int
        Equal parts of the columns, each with a mean level of its own.
    factor : ndarray, shape (placements,), optional
        What the film's memory makes of each placement's force by the time it was read (creep); 1 without it.
    forms : sequence of Form, optional
        Candidates; those that the loads can tell apart without it.
    expected : Expected
        What stands in where the placements are silent: the typical film, or pooled films.

    Raises
    ------
    CalibrationError
        Too few or useless placements; the sentence says what is missing.
    """
    table = Table.of(placements, rows, columns, panels, factor)
    loads, span = different_loads([p.force_n for p in placements if not p.falling])
    allowed = tuple(forms) if forms is not None else candidates(loads, span, _held_s(expected))
    on_cell = table.force
    table.check_they_rise()
    first = Form("first", bend=loads >= 3, held_saturation_s=allowed[0].held_saturation_s)
    rough = fit_form(first, replace(table.points(on_cell), expected=expected))
    if not _rises(rough):
        first = Form("first", held_saturation_s=first.held_saturation_s)
        rough = fit_form(first, replace(table.points(on_cell), expected=expected))
    for _ in range(2):
        on_cell = table.on_cell(_curves(rough, rows, columns))
        rough = fit_form(first, replace(table.points(on_cell), expected=expected), rough)
        on_cell = table.on_cell(_curves(rough, rows, columns))
    points = replace(table.points(on_cell), expected=expected)
    fitted = [each for each in (fit_form(form, points, rough) for form in allowed) if _rises(each)]
    if not fitted:
        raise CalibrationError(FALLS)
    chosen, scores = choose(fitted, points.cells)
    return _result(chosen, fitted, scores, table, points, on_cell, loads)


def _held_s(expected: Expected) -> float:
    """The saturation that stands in, S; at the most a siemens, which is none."""
    return 1 / max(expected.values.get("inverse", 1 / SATURATION_S), 1.0)


def _rises(fitted: Fitted) -> bool:
    return all(fitted.exponent + 2 * fitted.bend * float(x) > 0 for x in (fitted.x.min(), fitted.x.max()))


def different_loads(force_n: Sequence[float]) -> tuple[int, float]:
    """How many loads differ by a tenth or more from the next, and the largest over the smallest; (0, 1) without any."""
    if not force_n:
        return 0, 1.0
    logs = np.sort(np.log(np.array(force_n)))
    return 1 + int((np.diff(logs) > SAME_LOAD).sum()), float(np.exp(logs[-1] - logs[0]))


# No cell's curve rises less steeply than this part of the film's.
_LEAST_EXPONENT = 0.3


def _curves(fitted: Fitted, rows: int, columns: int) -> Curves:
    level = fitted.solved.level.reshape(rows, columns)
    low, high = float(fitted.x.min()), float(fitted.x.max())
    least = min(fitted.exponent + 2 * fitted.bend * x for x in (low, high))
    lean = np.maximum(fitted.solved.lean.reshape(rows, columns), (_LEAST_EXPONENT - 1) * least)
    gain = fitted.gain.reshape(rows, columns) if fitted.form.by_gain else None
    return Curves(
        level, fitted.exponent, fitted.bend, low, high, fitted.saturation_s, fitted.offset_s, lean, fitted.centre, gain
    )


def _result(
    chosen: Fitted,
    fitted: list[Fitted],
    scores: dict[str, float],
    table: Table,
    points: Points,
    on_cell: NDArray[np.float64],
    loads: int,
) -> Fit:
    rows, columns = table.shape
    cells, solved = points.cells, chosen.solved
    count = np.bincount(cells.own, minlength=rows * columns)
    missing = tuple((int(c) // columns, int(c) % columns) for c in np.flatnonzero(count == 0))
    # Where a plain power was chosen the bend is not known to be nothing: its uncertainty is that of the form with it.
    bent = [each for each in fitted if each.form.bend and each.form.terms == 2]
    covered = cover(
        bent[0] if chosen.form.terms == 1 and bent else chosen,
        points,
        loads,
        table.put_down_var(_curves(chosen, rows, columns)),
    )
    panel_loop, cell_loop = hysteresis(chosen, points)
    panel_repeat, cell_repeat = repeatability(chosen, points)
    at = chosen.names.index("arch") if "arch" in chosen.names else None
    return Fit(
        curves=_curves(chosen, rows, columns),
        residual=solved.residual,
        scatter=robust_deviation(solved.residual),
        missing=missing,
        on_cell_n=tuple(on_cell.tolist()),
        exponent_cell=(chosen.exponent + solved.lean).reshape(rows, columns),
        level_u=covered.level_u.reshape(rows, columns),
        shape_cov=covered.shape_cov,
        cell_cov=covered.cell_cov.reshape(rows, columns, 3, 3),
        x_centre=covered.centre,
        exponent_spread=chosen.spread.lean,
        gain_spread=chosen.spread.level,
        model=chosen.form.name,
        scores=scores,
        cell_points=count.reshape(rows, columns),
        arch=math.nan if at is None else chosen.arch,
        arch_u=math.nan if at is None else math.sqrt(solved.covariance[at, at]),
        hysteresis_panel=panel_loop,
        hysteresis_cell=cell_loop.reshape(rows, columns),
        repeatability_panel=panel_repeat,
        repeatability_cell=cell_repeat.reshape(rows, columns),
        trust=chosen.trust,
        highest_n=float(on_cell.max()),
        mass_u=float(np.median(table.mass_u)),
        said=said(chosen, points, table.force, loads, columns, missing),
    )


@dataclass(frozen=True)
class BenchResult:
    """A film, and how well the bench run fits it.

    Attributes
    ----------
    scatter : float
        Robust relative standard deviation of a placement on the way up.
    missing : tuple of (row, column)
        Cells without a placement.
    fit : Fit
        Everything that the fit says of itself.
    """

    film: Film
    scatter: float
    placements: int
    missing: tuple[tuple[int, int], ...]
    fit: Fit


def film_from_bench(
    t_s: NDArray[np.float64], conductance_s: NDArray[np.float64], weights_n: Sequence[float]
) -> BenchResult:
    """The film of a mat from a bench run.

    Parameters
    ----------
    t_s : ndarray, shape (n,)
    conductance_s : ndarray, shape (n, rows, columns)
    weights_n : sequence of float
        In the order in which they went on each cell, N; see `placements_from`.

    Raises
    ------
    CalibrationError
        Where the run cannot be understood, or is too little.
    """
    placements = placements_from(t_s, conductance_s, weights_n)
    return film_from_placements(placements, *conductance_s.shape[1:])


def film_from_placements(
    placements: Sequence[Placement],
    rows: int,
    columns: int,
    *,
    panels: int = 2,
    dead: Sequence[tuple[int, int]] = (),
    expected: Expected = TYPICAL,
) -> BenchResult:
    """The film of a mat from placements alone, in any order, with repeats, with cells missing.

    Parameters
    ----------
    placements : sequence of Placement
        Those on dead cells are left out.
    rows, columns : int
        Of the whole mat.
    panels : int
        Equal parts of the columns.
    dead : sequence of (row, column)
        Cells that are known to read nothing.
    expected : Expected
        See `fit_curves`.

    Raises
    ------
    CalibrationError
        Too few or useless placements; the sentence says what is missing.
    """
    gone = {(int(row), int(column)) for row, column in dead}
    alive = [p for p in placements if (p.row, p.column) not in gone]
    # For what the film remembers a rough curve will do.
    loads = different_loads([p.force_n for p in alive if not p.falling])
    rough = candidates(*loads, _held_s(expected))[:2]
    fit = fit_curves(alive, rows, columns, panels=panels, forms=rough, expected=expected)
    share, kept, u, straight = _memory_of(alive)
    creep = share * fit.curves.exponent
    factor = grown(alive, creep, fit.curves.exponent, kept, straight)
    fit = fit_curves(alive, rows, columns, panels=panels, factor=factor, expected=expected)
    # What the lifts left open is not taken out of a lesson; while weights lay for seconds it made little difference.
    kept = kept if math.isinf(u) or share < NO_CREEP or told(u) else math.nan
    film = replace(film_of(fit), creep=creep, kept=kept, straight=straight, dead=tuple(sorted(gone)))
    return BenchResult(film, fit.scatter, len(alive), fit.missing, fit)


def _memory_of(placements: Sequence[Placement]) -> tuple[float, float, float, float]:
    """Creep of conductance a decade, the part that is kept and its uncertainty, and how straight the gain grows."""
    share = creep_from_drift(np.array([p.drift for p in placements]), 1.0)
    straight = USUAL_STRAIGHT
    for _ in range(2):
        kept, u = kept_part(placements, share)
        if math.isnan(kept) or share < NO_CREEP:
            kept = 1.0  # a run that tells nothing of lifts: as such runs have always been read
        held = told_by_holds(placements, kept)
        if held is None:
            return kept * share + (1 - kept) * same_start(share, straight), kept, u, straight
        share, straight = held
    return share, kept, u, straight


def film_of(fit: Fit) -> Film:
    """The part of a fit that turns conductances into forces and says how sure it is; without creep."""
    arch = UNSEEN_ARCH if math.isnan(fit.arch) else float(np.clip(fit.arch, 0.0, 0.5))
    return Film(
        fit.curves, 0.0, arch, fit.level_u, fit.shape_cov, fit.highest_n, (), fit.x_centre, fit.exponent_spread,
        fit.mass_u,
    )  # fmt: skip
