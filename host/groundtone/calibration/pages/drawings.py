"""The drawings of calibration/README.md: where the cells are, the stack, the lever, the rock, the check."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
from matplotlib import rc_context, style
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import FancyArrowPatch, FancyBboxPatch, Polygon, Rectangle

from groundtone.calibration.guided.bench_plan import plan_bench
from groundtone.calibration.guided.weight_sets import set_of_masses
from groundtone.errors import GroundtoneError, Telling
from groundtone.mat.layout import Layout, layout_of

_PAPER, _INK, _FAINT, _HUE, _PALE = "#FCFBF7", "#1B2433", "#5F6772", "#1F4E79", "#CFE0EE"


def draw_all(folder: Path, ending: str = "svg") -> list[Path]:
    """Draws every drawing into a folder; the files.

    Raises
    ------
    GroundtoneError
        The folder cannot be written.
    """
    drawings: dict[str, tuple[tuple[float, float], Callable[[Axes], None]]] = {
        "cells": ((6.6, 4.0), _cells),
        "stack": ((6.2, 3.4), _stack),
        "lever": ((6.2, 3.0), _lever),
        "rock": ((4.6, 4.4), _rock),
        "check": ((8.4, 3.0), _check),
    }
    out = []
    # Text stays text, and the same drawing is the same file every time.
    with style.context("default"), rc_context({"svg.fonttype": "none", "svg.hashsalt": "groundtone"}):
        for name, (size, draw) in drawings.items():
            figure = Figure(figsize=size, dpi=100, facecolor=_PAPER)
            FigureCanvasAgg(figure)
            axes = figure.add_axes((0.02, 0.02, 0.96, 0.96))
            axes.set_axis_off()
            axes.set_aspect("equal")
            draw(axes)
            path = folder / f"{name}.{ending}"
            with Telling(GroundtoneError, f"{path} cannot be written", "choose another folder"):
                folder.mkdir(parents=True, exist_ok=True)
                figure.savefig(path, metadata={"Date": None} if ending == "svg" else None)
            out.append(path)
    return out


def _words(axes: Axes, x: float, y: float, text: str, size: float = 9.0, **more: object) -> None:
    look = {"ha": "center", "va": "center", "color": _INK, **more}
    axes.text(x, y, text, fontsize=size, **look)  # type: ignore[arg-type]


def _arrow(axes: Axes, begin: tuple[float, float], end: tuple[float, float], curve: float = 0.0) -> None:
    axes.add_patch(
        FancyArrowPatch(
            begin, end, arrowstyle="-|>", mutation_scale=12, color=_INK, linewidth=1.3,
            connectionstyle=f"arc3,rad={curve}",
        )
    )  # fmt: skip


def _panel_x(layout: Layout, column: int) -> float:
    """Where a column stands in the drawings: the panels have a gap of one and a half columns."""
    return column + (1.5 if column >= layout.columns_per_panel else 0.0)


def _cells(axes: Axes) -> None:
    layout = layout_of("reference-16x4")
    plan = plan_bench(layout.rows, layout.columns, set_of_masses((2.0, 5.0, 10.0, 20.0), weighed=True).loads)
    high = 0.9
    for column in range(layout.columns):
        x = 2 * _panel_x(layout, column)
        for ladder in (False, True):
            rows = [high * r for r in range(layout.rows) if ((r, column) in plan.sample) is ladder]
            face = _HUE if ladder else "none"
            axes.scatter([x] * len(rows), rows, s=32, facecolor=face, edgecolor=_HUE, linewidth=1.0)
        _words(axes, x, -1.1, str(column), color=_FAINT)
    for row in range(0, layout.rows, 3):
        _words(axes, -1.2, high * row, str(row), color=_FAINT)
    top = high * layout.rows
    for panel, words in ((0, "left panel"), (1, "right panel")):
        first = 2 * _panel_x(layout, panel * layout.columns_per_panel)
        last = first + 2 * (layout.columns_per_panel - 1)
        axes.add_patch(
            FancyBboxPatch((first - 0.55, -0.4), last - first + 1.1, top + 0.15, boxstyle="round,pad=0.05",
                           facecolor="none", edgecolor=_FAINT, linewidth=1.0)
        )  # fmt: skip
        _words(axes, (first + last) / 2, top + 0.75, words, 10.0)
    _words(axes, -2.4, top / 2, "row", color=_FAINT, rotation=90)
    _words(axes, 8.5, -1.1, "column", color=_FAINT)
    _words(axes, 8.5, top - 0.3, "toes", 9.5)
    _words(axes, 8.5, 0.0, "heels", 9.5)
    x = 2 * _panel_x(layout, layout.columns - 1) + 1.8
    for y, face, words in ((9.0, "none", "a heavy and\na light weight"), (7.0, _HUE, "every weight,\nup and down")):
        axes.scatter([x], [y], s=32, facecolor=face, edgecolor=_HUE, linewidth=1.0)
        _words(axes, x + 0.7, y, words, ha="left")
    axes.set_xlim(-3.0, x + 6.0)
    axes.set_ylim(-2.4, top + 1.6)


def _stack(axes: Axes) -> None:
    layers = (
        # bottom, height, left, width, face, words
        (0.0, 0.9, 0.0, 8.0, _FAINT, "stiff base"),
        (0.9, 0.16, 0.0, 8.0, "#B87333", "copper of a column"),
        (1.06, 0.22, 0.0, 8.0, _INK, "film"),
        (1.28, 0.16, 2.9, 2.2, "#B87333", "copper of a row"),
        (1.44, 0.34, 2.9, 2.2, _HUE, "spreader pad, the cell's own size"),
        (1.78, 0.42, 0.0, 8.0, _PALE, "elastomer cover"),
        (2.20, 0.75, 2.9, 2.2, "#E8E2D2", "puck, the cell's own size"),
        (2.95, 1.35, 2.2, 3.6, "none", "weights"),
    )
    heights = np.linspace(0.1, 4.0, len(layers))
    for (bottom, height, left, width, face, words), at in zip(layers, heights, strict=True):
        axes.add_patch(Rectangle((left, bottom), width, height, facecolor=face, edgecolor=_INK, linewidth=0.8))
        middle = bottom + height / 2
        axes.plot([left + width, 8.5, 8.8], [middle, at, at], color=_FAINT, linewidth=0.7)
        _words(axes, 8.95, at, words, ha="left")
    axes.set_xlim(-0.4, 14.2)
    axes.set_ylim(-0.5, 4.7)


def _lever(axes: Axes) -> None:
    axes.add_patch(Rectangle((0.0, 0.0), 9.0, 0.5, facecolor=_FAINT, edgecolor=_INK, linewidth=0.8))
    axes.add_patch(Rectangle((2.6, 0.5), 0.8, 0.7, facecolor="#E8E2D2", edgecolor=_INK, linewidth=0.8))
    axes.add_patch(Polygon([(-0.2, 0.5), (0.4, 0.5), (0.1, 1.2)], facecolor=_PALE, edgecolor=_INK, linewidth=0.8))
    axes.add_patch(Rectangle((-0.2, 1.2), 8.6, 0.22, facecolor="#E8E2D2", edgecolor=_INK, linewidth=0.8))
    axes.add_patch(Rectangle((7.0, 1.42), 1.2, 1.2, facecolor="none", edgecolor=_INK, linewidth=1.2))
    _words(axes, 7.6, 2.02, "W", 11.0)
    for begin, end, y, words in ((0.1, 3.0, 3.1, "a"), (0.1, 7.6, 3.9, "b")):
        axes.annotate("", (begin, y), (end, y), arrowprops={"arrowstyle": "<->", "color": _INK, "linewidth": 1.0})
        _words(axes, (begin + end) / 2, y + 0.28, words, 10.0)
        for x in (begin, end):
            axes.plot([x, x], [2.7 if x > 7 else 1.5, y], color=_FAINT, linewidth=0.7, linestyle=(0, (3, 3)))
    _words(axes, 0.1, -0.45, "hinge, an edge", 8.5)
    _words(axes, 3.0, -0.45, "puck on the cell", 8.5)
    _words(axes, 10.6, 2.0, "force on the cell\n= W · b / a", 10.0)
    axes.set_xlim(-1.4, 12.6)
    axes.set_ylim(-0.9, 4.6)


def _sole(axes: Axes, x: float, face: str = "none", scale: float = 1.0, y: float = 0.0) -> None:
    t = np.linspace(0, 2 * np.pi, 80)
    width = 0.42 + 0.10 * np.sin(t) - 0.05 * np.cos(2 * t)
    outline = np.stack([x + scale * width * np.cos(t), y + scale * 1.35 * np.sin(t)], axis=1)
    axes.add_patch(Polygon(outline, closed=True, facecolor=face, edgecolor=_HUE, linewidth=1.3))


def _rock(axes: Axes) -> None:
    for x in (-1.0, 1.0):
        _sole(axes, x)
    t = np.linspace(0, 2 * np.pi, 200)
    axes.plot(1.05 * np.cos(t), 0.95 * np.sin(t), color=_INK, linewidth=1.4, linestyle=(0, (5, 3)))
    for angle in (0.25 * np.pi, 0.75 * np.pi, 1.25 * np.pi, 1.75 * np.pi):
        here = np.array([1.05 * np.cos(angle), 0.95 * np.sin(angle)])
        ahead = np.array([1.05 * np.cos(angle + 0.12), 0.95 * np.sin(angle + 0.12)])
        _arrow(axes, (float(here[0]), float(here[1])), (float(ahead[0]), float(ahead[1])))
    _words(axes, 0.0, 1.65, "toes", 10.0)
    _words(axes, 0.0, -1.65, "heels", 10.0)
    _words(axes, 0.0, 0.0, "once round\nin 8 to 10 s", 9.5)
    axes.set_xlim(-2.1, 2.1)
    axes.set_ylim(-2.0, 2.0)


def _check(axes: Axes) -> None:
    steps = ("1  step off", "2  stand still", "3  rock slowly", "4  lift the left", "5  lift the right")
    for i, words in enumerate(steps):
        middle = 3.2 * i
        for side in (-1, 1):
            lifted = (i == 3 and side < 0) or (i == 4 and side > 0)
            x = middle + 0.62 * side
            axes.add_patch(Rectangle((x - 0.55, -1.6), 1.1, 3.2, facecolor="none", edgecolor=_FAINT, linewidth=0.8))
            if i and not lifted:
                _sole(axes, x, _HUE if i > 2 else _PALE, 0.95)
        if i == 2:
            axes.annotate("", (middle, 1.3), (middle, -1.3),
                          arrowprops={"arrowstyle": "<->", "color": _INK, "linewidth": 1.6})  # fmt: skip
        _words(axes, middle, -2.1, words, 9.5)
    axes.set_xlim(-1.7, 14.5)
    axes.set_ylim(-2.6, 1.9)
