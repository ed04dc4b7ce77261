"""The certificate as one page: curves, residuals, the map of gains and the uncertainty; one hue, no rainbow."""

from __future__ import annotations

import math
import textwrap
from pathlib import Path

import numpy as np
from matplotlib import style
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

from groundtone.calibration.force_curve import UNIT_S
from groundtone.calibration.pages.certificate import doubt_of, gains_of
from groundtone.calibration.profile import Profile
from groundtone.errors import GroundtoneError, Telling

# Ink on paper as in the lanes.
_PAPER, _INK, _FAINT, _HUE, _PALE = "#FCFBF7", "#1B2433", "#5F6772", "#1F4E79", "#CFE0EE"
_SIZE_IN, _DPI = (8.27, 11.69), 110
_LOADS = (10, 20, 50, 100, 200, 500)
# A dot of this area, points squared, is a median cell; the area follows the gain.
_DOT = 150.0


def draw_certificate(path: Path, profile: Profile) -> None:
    """Draws the page.

    Raises
    ------
    GroundtoneError
        The file cannot be written.
    """
    with style.context("default"):
        figure = Figure(figsize=_SIZE_IN, dpi=_DPI, facecolor=_PAPER)
        FigureCanvasAgg(figure)
        _head(figure, profile)
        _curves(_axes(figure, (0.10, 0.53, 0.36, 0.26), "Curves of all cells, and the placements"), profile)
        _residuals(_axes(figure, (0.60, 0.53, 0.36, 0.26), "Residuals of the placements"), profile)
        _gains(_axes(figure, (0.10, 0.14, 0.36, 0.32), "Gains: a larger dot needs more force for a reading"), profile)
        _doubt(_axes(figure, (0.60, 0.14, 0.36, 0.32), "Uncertainty of the force on one cell"), profile)
        _foot(figure, profile)
        with Telling(GroundtoneError, f"the page {path} cannot be written", "check the folder and the disk"):
            path.parent.mkdir(parents=True, exist_ok=True)
            figure.savefig(path)


def _axes(figure: Figure, box: tuple[float, float, float, float], title: str) -> Axes:
    axes = figure.add_axes(box)
    axes.set_facecolor(_PAPER)
    axes.set_title(title, fontsize=10, color=_INK, loc="left", pad=8)
    axes.tick_params(labelsize=8.5, colors=_INK, length=3)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(_FAINT)
    return axes


def _head(figure: Figure, profile: Profile) -> None:
    figure.text(0.07, 0.955, "Calibration certificate", fontsize=20, fontweight="bold", color=_INK, va="center")
    weights = ", ".join(profile.weights) or ", ".join(f"{n:.0f} N" for n in profile.weights_n)
    lines = [
        f"Mat {profile.uid}, layout {profile.layout}",
        f"Calibrated {profile.date[:16].replace('T', ' ')}, groundtone {profile.program or '?'}",
        f"Weights: {weights or 'none; a person of known mass stood on it'}",
        *([profile.note[:1].upper() + profile.note[1:]] if profile.note else []),
        _curve_words(profile),
    ]
    text = "\n".join(line for part in lines for line in textwrap.wrap(part, 100))
    figure.text(0.07, 0.932, text, fontsize=9.5, color=_INK, va="top", linespacing=1.5)


def _curve_words(profile: Profile) -> str:
    film, curves = profile.film, profile.film.curves
    form = f"Form: {profile.notes.model}. " if profile.notes is not None else ""
    saturation = "" if math.isinf(curves.saturation_s) else f", saturation {1e3 * curves.saturation_s:.1f} mS"
    return (
        f"{form}Exponent {curves.exponent:.3f}, bend {curves.bend:.3f}{saturation}. "
        f"Creep {100 * film.creep:.1f} % a decade, hysteresis arch {film.arch:.3f}."
    )


def _curves(axes: Axes, profile: Profile) -> None:
    film, curves = profile.film, profile.film.curves
    x = np.linspace(curves.x_low - 0.7, curves.x_high + 0.7, 80)
    above = UNIT_S * np.exp(x)
    conductance = above / (1 + above / curves.saturation_s) + curves.offset_s
    grid = np.broadcast_to(conductance[:, None, None], (x.size, *curves.level.shape))
    force = curves.force_n(grid).reshape(x.size, -1)
    axes.loglog(1e6 * conductance, force, color=_HUE, alpha=0.18, linewidth=0.7)
    middle = np.nanmedian(force, axis=1)
    axes.loglog(1e6 * conductance, middle, color=_HUE, linewidth=2.2)
    made = profile.notes.made if profile.notes is not None else ()
    if made:
        loads = np.array([m.force_n for m in made])
        residual = np.array([m.residual for m in made])
        levels = np.array([curves.level[m.row, m.column] for m in made])
        # Where the placement lay: the reading at which its own curve says the load times its residual.
        at = _reading(curves.exponent, curves.bend, np.log(loads) - residual - levels)
        axes.loglog(1e6 * UNIT_S * np.exp(at), loads, ".", color=_INK, markersize=2.5, alpha=0.7)
    if math.isfinite(film.highest_n):
        axes.axhline(film.highest_n, color=_FAINT, linewidth=0.8, linestyle=(0, (4, 3)))
        axes.text(
            0.02, film.highest_n * 1.06, "highest calibrated load", fontsize=7.5, color=_FAINT,
            transform=axes.get_yaxis_transform(), va="bottom",
        )  # fmt: skip
    axes.set_xlabel("conductance, µS", fontsize=9, color=_INK)
    axes.set_ylabel("force on one cell, N", fontsize=9, color=_INK)
    _plain(axes)
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_locator(FixedLocator([1, 2, 5, *_LOADS, 1000]))
        axis.set_minor_locator(NullLocator())


def _reading(exponent: float, bend: float, shape: np.ndarray) -> np.ndarray:
    """The x with exponent x + bend x² = shape; the rising branch."""
    if abs(bend) < 1e-9:
        return np.asarray(shape / exponent)
    root = np.sqrt(np.maximum(exponent**2 + 4 * bend * shape, 0.0))
    return np.asarray((root - exponent) / (2 * bend))


def _plain(axes: Axes) -> None:
    """Numbers as people write them, not powers."""
    words = FuncFormatter(lambda value, _: f"{value:g}")
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(words)


def _residuals(axes: Axes, profile: Profile) -> None:
    made = profile.notes.made if profile.notes is not None else ()
    if not made:
        axes.text(0.5, 0.5, "no placements:\nnot from a bench run", ha="center", va="center", fontsize=10, color=_FAINT,
                  transform=axes.transAxes)  # fmt: skip
        axes.set_xticks([])
        axes.set_yticks([])
        return
    loads = np.array([m.force_n for m in made])
    residual = 100 * np.array([m.residual for m in made])
    falling = np.array([m.falling for m in made])
    out = np.array([m.trust <= 0.2 for m in made])
    shift = np.where(falling, 1.06, 1 / 1.06)
    for mask, sign, words in (
        (~falling & ~out, "o", "way up"),
        (falling & ~out, "v", "way down"),
        (out, "x", "left out"),
    ):
        if mask.any():
            face, edge = (_HUE, _HUE) if sign == "o" else ("none", _INK if sign == "x" else _HUE)
            axes.plot(loads[mask] * shift[mask], residual[mask], sign, markersize=3.2, alpha=0.65, label=words,
                      linestyle="none", markerfacecolor=face, markeredgecolor=edge)  # fmt: skip
    axes.axhline(0.0, color=_FAINT, linewidth=0.8)
    high = max(5.0, 1.4 * float(np.quantile(np.abs(residual[~out]), 0.99)) if (~out).any() else 5.0)
    axes.set_ylim(-high, high)
    axes.set_xscale("log")
    _plain(axes)
    axes.xaxis.set_major_locator(FixedLocator(_LOADS))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.set_xlabel("load, N", fontsize=9, color=_INK)
    axes.set_ylabel("measured over fitted, %", fontsize=9, color=_INK)
    axes.legend(fontsize=7.5, frameon=False, loc="lower right", ncols=3, handletextpad=0.2, columnspacing=0.9)


def _gains(axes: Axes, profile: Profile) -> None:
    gains = gains_of(profile.film)
    rows, columns = gains.shape
    half = columns // 2
    row, column = (np.asarray(index) for index in np.indices(gains.shape))
    x = column + np.where(column >= half, 1.0, 0.0)
    alive = np.isfinite(gains)
    area = np.where(alive, _DOT * 16 / max(rows, 10) * np.nan_to_num(gains, nan=1.0) * 0.62, 0.0)
    axes.scatter(x[alive], row[alive], s=area[alive], color=_HUE, linewidths=0)
    if (~alive).any():
        axes.scatter(x[~alive], row[~alive], s=60, marker="x", color=_INK, linewidths=1.4)
    for panel, words in ((0, "left"), (1, "right")):
        middle = (half - 1) / 2 + panel * (half + 1)
        axes.text(middle, rows - 0.2, words, ha="center", va="bottom", fontsize=9, color=_INK)
    axes.set_xlim(-0.8, columns + 0.8)
    axes.set_ylim(-0.8, rows + 0.5)
    axes.set_yticks(range(0, rows, 3 if rows > 10 else 1))
    axes.set_xticks([*range(half), *range(half + 1, columns + 1)], [str(c) for c in range(columns)])
    axes.set_xlabel("column", fontsize=9, color=_INK)
    axes.set_ylabel("row, 0 at the heels", fontsize=9, color=_INK)
    low, high = np.nanmin(gains), np.nanmax(gains)
    dead = f", {int((~alive).sum())} dead (crosses)" if (~alive).any() else ""
    axes.text(
        0.0, -0.125, f"from {100 * low:.0f} to {100 * high:.0f} % of the median cell{dead}", fontsize=8.5, color=_INK,
        transform=axes.transAxes, va="top",
    )  # fmt: skip


def _doubt(axes: Axes, profile: Profile) -> None:
    loads = np.geomspace(8, 500, 80)
    doubt = doubt_of(profile.film, profile.notes, loads)
    if np.isnan(doubt.middle).all():
        axes.text(0.5, 0.5, "not known", ha="center", va="center", fontsize=10, color=_FAINT, transform=axes.transAxes)
        return
    axes.fill_between(loads, 0, 100 * doubt.middle, color=_PALE, linewidth=0)
    axes.plot(loads, 100 * doubt.middle, color=_HUE, linewidth=2.2)
    axes.plot(loads, 100 * doubt.worst, color=_HUE, linewidth=1.2, linestyle=(0, (4, 2)))
    axes.set_xscale("log")
    axes.set_ylim(0, 1.1 * 100 * float(np.nanmax(doubt.worst)))
    at = 66
    for line, words in ((doubt.worst, "worst cell "), (doubt.middle, "median cell ")):
        axes.text(loads[at], 100 * line[at], words, fontsize=8, color=_INK, va="bottom", ha="right")
    if math.isfinite(profile.film.highest_n):
        axes.axvline(profile.film.highest_n, color=_FAINT, linewidth=0.8, linestyle=(0, (4, 3)))
    _plain(axes)
    axes.xaxis.set_major_locator(FixedLocator(_LOADS))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.set_xlabel("load, N (dashed: the highest calibrated)", fontsize=9, color=_INK)
    axes.set_ylabel("95 %, ± % of the force", fontsize=9, color=_INK)


def _foot(figure: Figure, profile: Profile) -> None:
    said = profile.notes.said if profile.notes is not None else ()
    lines = [line for sentence in said[:4] for line in textwrap.wrap(f"- {sentence}", 118, subsequent_indent="  ")]
    figure.text(0.07, 0.072, "\n".join(lines[:5]), fontsize=8, color=_INK, va="top", linespacing=1.35)
