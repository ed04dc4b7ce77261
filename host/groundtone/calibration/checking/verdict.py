"""What a check's minute says of a mat: findings with numbers, a correction, and one of three verdicts."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.checking.check_result import CheckResult, Finding, Kind, Shown, Verdict
from groundtone.calibration.film import Film
from groundtone.calibration.guided.tare import Cell
from groundtone.calibration.shoes.body_weight import Gains, Sole, Weighed, prior_gains, sole_basis, weigh
from groundtone.calibration.shoes.dead_cells import dead_cells, filled, filling, other_foot_n, unevenness
from groundtone.calibration.shoes.shoe import (
    FILLED_U,
    LEAST_FILM_U,
    MASS_U,
    RAW_COMMON_U,
    RAW_FILM_U,
    SHOE_SPAN,
    soles_from,
)
from groundtone.calibration.uncertainty import Budget
from groundtone.mat.layout import Layout

Array = NDArray[np.float64]

# How much a film may have changed since it was calibrated: each cell, and all alike (our choice, for
# ageing of -20 to +20 % each, -15 % common).
AGED_U, AGED_COMMON_U = 0.12, 0.15
# A known weight under a flat block: how well it is read besides the cells' own errors.
_MARK_U = 0.02
# What is worth a line: a common change, and a cell's that is also beyond this many standard deviations.
_COMMON, _CELL, _SURE = 0.03, 0.10, 2.0
# A posture saw a cell that carried this much, N; and a whole foot's part on dead cells that is too much.
_SEEN_N, _DEAD_PART = 5.0, 0.20
# What a filled cell is corrected by at least and at most when the other foot's print says so.
_LEAST_FILL, _MOST_FILL = 0.3, 12.0
# How a filled cell's factor differs from one stand to the next, in ln (seen on the twin; studs are the worst).
_ANOTHER_STAND_U = 1.0
# Beyond these a mat is not fit: standard uncertainties of share, of a foot's force and of its centre along the foot
# when the person just stands; what is left of the totals; the common change; a cell that has doubled or halved; cells
# that are stuck, shorted or noisy, and cells that are new among the dead.
_SHARE_U, _FOOT_U, _ALONG_U_MM = 0.020, 0.08, 5.0
_LEFT, _MOST_COMMON, _MOST_CELL, _ILL_CELLS, _MOST_DEAD = 0.03, 0.45, 0.75, 3, 8


# Two feet of one person, laid over each other: nine tenths of the cells differ by less than this factor, even on a mat
# that has aged by 20 % a cell (0.8 in ln on the twin); a film that is done for lies beyond 1.4.
_UNEVEN, _UNEVEN_AREA_MM2 = 1.05, 700.0


def judge(shown: Shown, film: Film, layout: Layout) -> CheckResult:
    """The verdict on what a check has shown.

    Parameters
    ----------
    film : Film
        The mat's calibration.
    """
    raw = shown.postures.force_n
    findings = [Finding(Kind.SKIPPED, f'"{step}" was not done in its time: repeat the check to see more') for step in
                shown.passed_over]  # fmt: skip
    ill = tuple(sorted(shown.ill))
    pitch_mm = (layout.row_pitch_mm, layout.column_pitch_mm)
    fresh_dead = dead_cells(raw, layout.columns_per_panel, film.dead, pitch_mm=pitch_mm)
    dead = tuple(sorted(set(film.dead) | set(fresh_dead) | set(ill)))
    force = filled(raw, filling(dead, layout.rows, layout.columns, pitch_mm=pitch_mm)) if dead else raw
    most = np.nan_to_num(force).max(0) if len(force) else np.zeros_like(film.curves.level)
    soles = soles_from(most, layout)
    if soles is None or len(force) < 8:
        text = "too little was seen to judge the mat: stand with one foot on each panel and rock slowly"
        return _nothing([*findings, Finding(Kind.UNSURE, text, bad=True)], film, shown)
    prior = _with_other_foot(aged_prior(film, dead), most, dead, layout)
    found = _weighed(shown, prior, force, soles, film, layout)
    fresh, after = _corrected(film, dead, found, raw)
    believed = force * np.exp(prior.mean[: layout.cells]).reshape(most.shape)
    findings += _about_cells(shown, fresh_dead, ill, believed, layout)
    findings += _about_change(found.gains, prior, dead, layout)
    unseen = tuple((int(r), int(c)) for r, c in np.argwhere(most < _SEEN_N) if (int(r), int(c)) not in dead)
    inside = _inside(most, unseen, layout)
    if inside:
        text = f"{len(inside)} cells at the rim of the feet were hardly loaded and were not judged: {_names(inside)}"
        findings.append(Finding(Kind.UNSEEN, text, inside))
    uneven = unevenness(np.nan_to_num(raw).max(0), layout.columns_per_panel, dead, pitch_mm=pitch_mm)
    # Larger cells average less: a rim lies in fewer of them, and two feet lie less alike over them.
    area = layout.row_pitch_mm * layout.column_pitch_mm / _UNEVEN_AREA_MM2
    if uneven > _UNEVEN * math.sqrt(max(area, 1.0)):
        text = (
            f"the prints of the two feet differ cell by cell by up to {math.exp(uneven):.1f} times: "
            "the film is uneven, calibrate the mat again"
        )
        findings.append(Finding(Kind.UNEVEN, text, amount=uneven, bad=True))
    share_u, foot_u, along_u = _sure(found.gains, after, force, soles, layout)
    left = float(np.sqrt(np.mean(found.residual**2)))
    if left > _LEFT:
        text = f"the total changes by {100 * left:.1f} % with the posture and should not: "
        text += "repeat the check, and calibrate the mat if it says so again"
        findings.append(Finding(Kind.DISAGREES, text, amount=left, bad=True))
    # Without any known weight forces are known only against each other, and that is said; shares and places stand.
    known = shown.weight_n is not None or any(mark is not None for mark in shown.marks_n)
    if share_u > _SHARE_U or (known and foot_u > _FOOT_U) or along_u > _ALONG_U_MM:
        text = (
            f"too unsure after this check (share ±{2 * share_u:.3f}, foot ±{200 * foot_u:.0f} %, "
            f"along the foot ±{2 * along_u:.0f} mm): calibrate the mat again"
        )
        findings.append(Finding(Kind.UNSURE, text, amount=share_u, bad=True))
    mass = found.weight_n / shown.gravity
    text = f"the person weighs {mass:.1f} kg within {200 * found.weight_u:.0f} %"
    if not known:
        text += "; no known weight was used, so a change that all cells share cannot be seen"
    findings.append(Finding(Kind.MASS, text, amount=mass))
    changed = any(f.kind in (Kind.DEAD, Kind.ILL, Kind.COMMON, Kind.DRIFTED) for f in findings)
    verdict = Verdict.CORRECTED if changed else Verdict.READY
    if any(f.bad for f in findings):
        verdict = Verdict.NOT_FIT
    common = float(_of_film(found.gains, dead, layout).mean())
    return CheckResult(
        verdict, tuple(findings), fresh, for_another_stand(after, dead), soles, mass, found.weight_u,
        math.expm1(common), unseen, share_u, foot_u, along_u,
    )  # fmt: skip


def aged_prior(film: Film, dead: tuple[Cell, ...] = ()) -> Gains:
    """What is believed of a calibrated film that may have aged since, with these cells filled from their neighbours."""
    shape = film.curves.level.shape
    if film.level_u is None:
        return prior_gains(np.full(shape, RAW_FILM_U), RAW_COMMON_U, SHOE_SPAN)
    own = np.maximum(np.nan_to_num(film.level_u, nan=RAW_FILM_U), LEAST_FILM_U)
    own = np.hypot(own, AGED_U)
    for row, column in dead:
        own[row, column] = FILLED_U
    return prior_gains(own, AGED_COMMON_U, SHOE_SPAN)


def _with_other_foot(gains: Gains, most: Array, dead: tuple[Cell, ...], layout: Layout) -> Gains:
    """What the other foot says of a dead cell: neighbours alone would fill the middle of a heel with half its load."""
    if not dead:
        return gains
    doubtful = np.zeros(most.shape, dtype=bool)
    for row, column in dead:
        doubtful[row, column] = True
    pitch_mm = (layout.row_pitch_mm, layout.column_pitch_mm)
    other = other_foot_n(most, layout.columns_per_panel, doubtful, pitch_mm=pitch_mm)
    mean = gains.mean.copy()
    for row, column in dead:
        if most[row, column] > 1.0 and other[row, column] > 1.0:
            mean[row * layout.columns + column] = math.log(
                min(max(float(other[row, column] / most[row, column]), _LEAST_FILL), _MOST_FILL)
            )
    return replace(gains, mean=mean)


def mark_u(force_n: Array, film: Film, layout: Layout) -> Array:
    """How well a weight on a mark is read, relative, the cells' levels left out; shape (1,).

    A block on many cells loads each of them far below what was calibrated: there the curve's shape is a guess, and the
    less a cell carries the more so.

    Parameters
    ----------
    force_n : ndarray, shape (rows, columns)
        What the film's curves make of the weight, nothing on the other panel, N.
    """
    stated = Budget(layout, film, np.zeros((layout.cells, layout.cells))).of(force_n[None])
    of_panels = np.nan_to_num(stated.force_n[0])
    out: Array = np.hypot(_MARK_U, np.array([float(of_panels.max())]) / max(float(force_n.sum()), 1.0))
    return out


def _weighed(shown: Shown, prior: Gains, force: Array, soles: tuple[Sole, Sole], film: Film, layout: Layout) -> Weighed:
    """Marks first, then the person."""
    basis = sole_basis(soles, layout.u_mm, layout.rows, layout.columns)
    gains = prior
    if shown.mark_n is not None:
        without = basis.copy()
        without[:, layout.cells :] = 0.0
        for side, mark in enumerate(shown.marks_n):
            if mark is not None:
                panel = np.zeros_like(mark)
                columns = slice(side * layout.columns_per_panel, (side + 1) * layout.columns_per_panel)
                panel[:, columns] = mark[:, columns]
                gains = weigh(gains, without, panel[None], mark_u(panel, film, layout), shown.mark_n, 0.002).gains
    return weigh(gains, basis, force, shown.postures.u, shown.weight_n, MASS_U)


def _corrected(film: Film, dead: tuple[Cell, ...], found: Weighed, raw: Array) -> tuple[Film, Gains]:
    """The film with its part of what was found in its levels, and the gains that are left for the shoes."""
    shape = film.curves.level.shape
    cells = film.curves.level.size
    change = found.gains.mean[:cells].reshape(shape).copy()
    # What is filled in has no curve of its own: its factor stays with the gains.
    kept = np.zeros(shape, dtype=bool)
    for row, column in dead:
        kept[row, column] = True
    change[kept] = 0.0
    curves = replace(film.curves, level=film.curves.level + change)
    level_u = np.sqrt(found.gains.covariance.diagonal()[:cells]).reshape(shape)
    mean = found.gains.mean.copy()
    mean[:cells] *= kept.ravel()
    highest = film.highest_n
    if math.isnan(highest) and raw.size:
        highest = float(np.nanmax(raw))
    fresh = replace(film, curves=curves, level_u=level_u, dead=dead, highest_n=highest)
    return fresh, replace(found.gains, mean=mean)


def for_another_stand(gains: Gains, dead: tuple[Cell, ...]) -> Gains:
    """What is believed of a filled cell when the person has stepped off and on again.

    A dead cell is filled from its neighbours, and by which factor depends on where the foot stands: a stud that lay on
    it lies beside it the next time. What one stand has told is a guess for the next, and says nothing of other cells.

    Parameters
    ----------
    dead : tuple of (row, column)
    """
    filled_in = [row * gains.columns + column for row, column in dead]
    covariance = gains.covariance.copy()
    covariance[filled_in, :] = 0.0
    covariance[:, filled_in] = 0.0
    covariance[filled_in, filled_in] = _ANOTHER_STAND_U**2
    return replace(gains, covariance=covariance)


def _about_cells(
    shown: Shown, fresh_dead: tuple[Cell, ...], ill: tuple[Cell, ...], force: Array, layout: Layout
) -> list[Finding]:
    out = []
    for cell in fresh_dead:
        load = float(np.nanmax(force[:, cell[0], cell[1]]))
        text = f"{_name(cell, layout)} is dead under about {load:.0f} N: its neighbours stand in until you mend it"
        out.append(Finding(Kind.DEAD, text, (cell,), load))
    for cell in ill:
        what = shown.ill[cell].value
        text = f"{_name(cell, layout)} is {what}: its reading is not used; look for a crease, a crumb or a bad joint"
        out.append(Finding(Kind.ILL, text, (cell,)))
    gone = [*fresh_dead, *ill]
    if gone and len(force):
        lost = np.zeros_like(force[0])
        for row, column in gone:
            lost[row, column] = 1.0
        carried = layout.by_panel(np.nan_to_num(force)).sum((-2, -1))
        on_lost = layout.by_panel(np.nan_to_num(force) * lost).sum((-2, -1))
        loaded = carried > 0.3 * carried.sum(1, keepdims=True)
        part = float(np.max(np.where(loaded, on_lost / np.maximum(carried, 1.0), 0.0)))
        if part > _DEAD_PART or len(ill) > _ILL_CELLS or len(gone) > _MOST_DEAD:
            text = f"{len(gone)} cells give nothing, under up to {100 * part:.0f} % of a foot: mend the mat first"
            out.append(Finding(Kind.DEAD, text, (), part, bad=True))
    return out


def _about_change(gains: Gains, prior: Gains, dead: tuple[Cell, ...], layout: Layout) -> list[Finding]:
    out = []
    cells = layout.cells
    film = _of_film(gains, dead, layout)
    u = np.sqrt(gains.covariance.diagonal()[:cells])
    common = float(film.mean())
    mean_of = np.full(cells, 1 / cells)
    common_u = math.sqrt(float(mean_of @ gains.covariance[:cells, :cells] @ mean_of))
    known = common_u < 0.6 * math.sqrt(float(mean_of @ prior.covariance[:cells, :cells] @ mean_of))
    if known and abs(common) > max(_COMMON, _SURE * common_u):
        way = "less" if common > 0 else "more"
        text = f"the film reads {100 * abs(math.expm1(-common)):.0f} % {way} than when calibrated: corrected"
        bad = abs(common) > _MOST_COMMON
        if bad:
            text = f"the film reads {100 * abs(math.expm1(-common)):.0f} % {way} than when calibrated: calibrate again"
        out.append(Finding(Kind.COMMON, text, (), math.expm1(common), bad))
    own = film - common
    drifted = np.flatnonzero((np.abs(own) > _CELL) & (np.abs(own) > _SURE * u))
    for index in drifted:
        cell = (int(index) // layout.columns, int(index) % layout.columns)
        bad = abs(float(own[index])) > _MOST_CELL
        deed = "calibrate it again" if bad else "corrected"
        text = f"{_name(cell, layout)} reads {100 * abs(math.expm1(-own[index])):.0f} % "
        text += f"{'less' if own[index] > 0 else 'more'} than its neighbours say: {deed}"
        out.append(Finding(Kind.DRIFTED, text, (cell,), math.expm1(float(own[index])), bad))
    return out


def _of_film(gains: Gains, dead: tuple[Cell, ...], layout: Layout) -> Array:
    """The film's ln factors, a dead cell's the mean of the others: its own is that of what was filled in."""
    film = gains.mean[: layout.cells].copy()
    gone = [row * layout.columns + column for row, column in dead]
    if gone:
        film[gone] = np.delete(film, gone).mean()
    return film


def _inside(most: Array, unseen: tuple[Cell, ...], layout: Layout) -> tuple[Cell, ...]:
    """Unseen cells that touch a loaded one: a foot that stands a little differently will load them."""
    loaded = most >= _SEEN_N
    out = []
    for row, column in unseen:
        panel = column // layout.columns_per_panel
        first = max(column - 1, panel * layout.columns_per_panel)
        last = min(column + 1, (panel + 1) * layout.columns_per_panel - 1)
        if loaded[max(row - 1, 0) : row + 2, first : last + 1].any():
            out.append((row, column))
    return tuple(out)


def _sure(
    gains: Gains, after: Gains, force: Array, soles: tuple[Sole, Sole], layout: Layout
) -> tuple[float, float, float]:
    """Standard uncertainties of share, foot and place when the person stands on both feet."""
    basis = sole_basis(soles, layout.u_mm, layout.rows, layout.columns)
    carried = layout.by_panel(np.nan_to_num(force)).sum((-2, -1))
    share = carried[:, 0] / np.maximum(carried.sum(1), 1.0)
    both = np.abs(share - 0.5) < 0.25
    if not both.any():
        return math.inf, math.inf, math.inf
    from groundtone.calibration.force_curve import typical_curves

    plain = Film(typical_curves(layout.rows, layout.columns), highest_n=1e9)
    stated = Budget(layout, plain, after.cells_covariance(basis)).of(force[both] * gains.on_cells(basis))
    foot = stated.force_n / np.maximum(carried[both], 1.0)
    return float(np.median(stated.share)), float(np.median(foot)), float(np.nanmedian(stated.along_mm))


def _nothing(findings: list[Finding], film: Film, shown: Shown) -> CheckResult:
    nan = math.nan
    return CheckResult(Verdict.NOT_FIT, tuple(findings), film, aged_prior(film), None, nan, nan, 0.0, (), nan, nan, nan)


def _name(cell: Cell, layout: Layout) -> str:
    side = "left" if cell[1] < layout.columns_per_panel else "right"
    return f"the {side} panel's row {cell[0]}, column {cell[1]}"


def _names(cells: tuple[Cell, ...]) -> str:
    shown = ", ".join(f"row {row} column {column}" for row, column in cells[:6])
    return shown + (f" and {len(cells) - 6} more" if len(cells) > 6 else "")
