"""The certificate: what a profile says of its mat, as figures and as text that a person reads before trusting it."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film
from groundtone.calibration.fitting.fit_notes import FitNotes
from groundtone.calibration.force_curve import UNIT_S, Curves
from groundtone.calibration.profile import Profile

Array = NDArray[np.float64]

LOADS_N = (20.0, 50.0, 100.0, 200.0, 300.0)
"""Loads on one cell for which the uncertainty is stated."""
_WIDTH = 96
_COVER = 1.96  # 95 % of a normal distribution
# A placement with less trust than this counts as left out.
_LEFT_OUT = 0.2


@dataclass(frozen=True)
class Doubt:
    """95 % uncertainty of the force on one cell, relative, at some loads.

    Attributes
    ----------
    force_n : ndarray, shape (n,)
    middle, worst : ndarray, shape (n,)
        Of the median cell and of the worst one that is alive.
    """

    force_n: Array
    middle: Array
    worst: Array


def gains_of(film: Film) -> Array:
    """Each cell's force for the same reading, over the median of all, shape (rows, columns); NaN where it is dead."""
    level = film.curves.level.copy()
    for cell in film.dead:
        level[cell] = math.nan
    out: Array = np.exp(level - np.nanmedian(level))
    return out


def force_u(film: Film, notes: FitNotes | None, x: Array) -> Array:
    """Relative standard uncertainty of each cell's force at readings.

    Parameters
    ----------
    notes : FitNotes or None
        With them the whole covariance of each cell counts, without them its level and the common shape.
    x : ndarray, shape (n, rows, columns)
        x of `groundtone.calibration.force_curve`.

    Returns
    -------
    ndarray, shape (n, rows, columns)
        NaN where nothing is known.
    """
    if notes is not None:
        basis = np.stack([np.ones_like(x), x, x * x], axis=-1)
        own = np.einsum("nrca,rcab,nrcb->nrc", basis, notes.cell_cov, basis)
    elif film.level_u is not None:
        shape = np.stack([x - film.x_centre, x * x - film.x_centre**2], axis=-1)
        own = film.level_u**2 + np.einsum("nrca,ab,nrcb->nrc", shape, film.shape_cov, shape)
        own = own + (film.exponent_spread * (x - film.x_centre)) ** 2
    else:
        own = np.full(x.shape, np.nan)
    out: Array = np.sqrt(np.maximum(own, 0.0) + film.mass_u**2)
    return out


def doubt_of(film: Film, notes: FitNotes | None, force_n: Array) -> Doubt:
    """95 % uncertainty of the force on one cell.

    Parameters
    ----------
    force_n : ndarray, shape (n,)
    """
    alive = np.isfinite(gains_of(film))
    u = _COVER * force_u(film, notes, readings_of(film.curves, force_n))[:, alive]
    if not u.size or np.isnan(u).all():
        nothing = np.full(force_n.shape, np.nan)
        return Doubt(force_n, nothing, nothing)
    return Doubt(force_n, np.nanmedian(u, axis=1), np.nanmax(u, axis=1))


def readings_of(curves: Curves, force_n: Array) -> Array:
    """The x at which each cell carries a force, shape (n, rows, columns): the curve turned over on a fine grid."""
    grid_x = np.linspace(math.log(2e-6 / UNIT_S), math.log(20e-3 / UNIT_S), 4000)
    inside = np.clip(grid_x, curves.x_low, curves.x_high)
    slope = curves.exponent + 2 * curves.bend * inside
    shape = inside * (curves.exponent + curves.bend * inside) + slope * (grid_x - inside)
    wanted = np.log(force_n)[:, None, None] - curves.level
    out: Array = np.interp(wanted.ravel(), shape, grid_x).reshape(wanted.shape)
    return out


def certificate_lines(profile: Profile, turned: Callable[[str], str] = str) -> list[str]:
    """The certificate as text; `turned` puts a sentence into a reader's language."""
    film, notes = profile.film, profile.notes
    out = [
        turned(f"Calibration certificate of mat {profile.uid}"),
        turned(f"Layout {profile.layout}, calibrated {profile.date}, written by groundtone {profile.program or '?'}"),
    ]
    out += _wrapped(turned(profile.note)) if profile.note else []
    if profile.temperature_c is not None:
        out.append(turned(f"Temperature of the mat: {profile.temperature_c:g} °C"))
    weights = ", ".join(profile.weights) or ", ".join(f"{n:.0f} N" for n in profile.weights_n)
    out += _wrapped(turned(f"Weights: {weights or 'none; a person of known mass stood on it'}"))
    out += ["", turned("Curve"), *map(turned, _curve_lines(profile, turned))]
    if notes is not None and notes.made:
        out += ["", turned("Placements"), *map(turned, _placement_lines(notes))]
    told = "Force of a cell for the same reading, per cent of the median cell (toes above, heels below)"
    out += ["", turned(told), *_map_lines(gains_of(film), turned("dead"))]
    out += ["", *map(turned, _doubt_lines(film, notes))]
    if notes is not None and notes.said:
        out += ["", turned("To be known")]
        for sentence in notes.said:
            out += _wrapped(f"- {turned(sentence)}")
    return out


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, subsequent_indent="  ") or [""]


def kept_words(kept: float) -> str:
    """What of the creep stays after lifting, in words."""
    if math.isnan(kept):
        return "whether it stays after lifting was not told: not taken out"
    return f"{100 * kept:.0f} % of it stays after lifting"


def _curve_lines(profile: Profile, turned: Callable[[str], str]) -> list[str]:
    film, curves = profile.film, profile.film.curves
    saturation = "none fitted" if math.isinf(curves.saturation_s) else f"{1e3 * curves.saturation_s:.2f} mS"
    exponent_u = math.sqrt(max(0.0, float(film.shape_cov[0, 0])))
    known = f" ± {_COVER * exponent_u:.3f}" if exponent_u > 0 else ""
    out = [
        "  ln F = level + exponent x + bend x², x = ln(conductance / 100 µS), F in N; each cell has its level",
        f"  exponent {curves.exponent:.3f}{known}, bend {curves.bend:.4f}, saturation {saturation}, "
        f"offset {1e6 * curves.offset_s:.2f} µS",
        f"  creep {100 * film.creep:.1f} % a decade of time ({kept_words(film.kept)}), hysteresis arch {film.arch:.3f}",
    ]
    if math.isfinite(film.highest_n):
        out.append(f"  highest calibrated load {film.highest_n:.0f} N on one cell; above it the doubt widens")
    if profile.notes is not None:
        told = {name: turned(f"{100 * value:.2f}") for name, value in profile.notes.scores.items()}
        scores = ", ".join(f"{turned(name)} {value}\u00a0%" for name, value in told.items())
        out += [
            f"  form chosen: {profile.notes.model}; error of placements that were left out of the fit:",
            *(
                f"    {line}".replace("\u00a0", " ")
                for line in textwrap.wrap(scores or "no other form was possible", _WIDTH - 6)
            ),
        ]
    return out


def _placement_lines(notes: FitNotes) -> list[str]:
    residual = np.array([made.residual for made in notes.made])
    kept = np.array([made.trust > _LEFT_OUT for made in notes.made])
    cells = {(made.row, made.column) for made in notes.made}
    worst = notes.made[int(np.abs(residual).argmax())]
    out = [
        f"  {len(notes.made)} on {len(cells)} cells, {sum(m.falling for m in notes.made)} of them on the way down; "
        f"{int((~kept).sum())} left out as slipped or misread",
        f"  residuals of the others: standard deviation {100 * residual[kept].std():.2f} %, "
        f"95 % within {100 * np.quantile(np.abs(residual[kept]), 0.95):.2f} %",
        f"  largest of all: {100 * worst.residual:+.1f} % at row {worst.row}, column {worst.column}, "
        f"{worst.force_n:.0f} N",
    ]
    panels = ("left", "right") if len(notes.repeatability_panel) == 2 else tuple(map(str, range(9)))
    for name, again, loop in zip(panels, notes.repeatability_panel, notes.hysteresis_panel, strict=False):
        loops = "not measured" if math.isnan(loop) else f"{100 * loop:.1f} % at half the peak"
        out.append(
            f"  {name} panel: loads on one cell keep to its curve within {100 * again:.1f} %, hysteresis {loops}"
        )
    return out


def _map_lines(gains: Array, dead: str) -> list[str]:
    rows, columns = gains.shape
    half = columns // 2

    def cell(value: float) -> str:
        return f" {dead:>4}" if math.isnan(value) else f"{100 * value:5.0f}"

    out = []
    for row in reversed(range(rows)):
        left, right = "".join(map(cell, gains[row, :half])), "".join(map(cell, gains[row, half:]))
        out.append(f"  {row:2d} {left}    {right}")
    numbers = [f"{column:5d}" for column in range(columns)]
    out.append(f"     {''.join(numbers[:half])}    {''.join(numbers[half:])}")
    return out


def _doubt_lines(film: Film, notes: FitNotes | None) -> list[str]:
    doubt = doubt_of(film, notes, np.array(LOADS_N))
    if np.isnan(doubt.middle).all():
        return ["Uncertainty of the force on one cell: not known (a calibration of an older program)"]
    out = ["Uncertainty of the force on one cell, 95 %, by load: median cell, worst cell"]
    for load, middle, worst in zip(doubt.force_n, doubt.middle, doubt.worst, strict=True):
        beyond = "  above the highest calibrated load" if load > film.highest_n else ""
        out.append(f"  {load:4.0f} N   ± {100 * middle:4.1f} %   ± {100 * worst:4.1f} %{beyond}")
    return out
