"""The result of a commissioning as one picture: the steps as a list, and how every cell answered."""

from __future__ import annotations

import textwrap
from pathlib import Path

import numpy as np
from matplotlib import style
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from groundtone.build.commission import STEPS, TITLES, Record, verdict
from groundtone.build.faults import PANELS, Kind
from groundtone.errors import GroundtoneError, Telling

_PAPER, _INK, _FAINT, _HUE = "#FCFBF7", "#1B2433", "#5F6772", "#1F4E79"
_MARKS = {"passed": "yes", "failed": "NO", "not done": "·"}
_WRAP = 64
_LARGEST = 150.0  # area of the strongest cell's dot, points²


def draw_page(path: Path, record: Record) -> None:
    """Write the picture.

    Raises
    ------
    GroundtoneError
        It cannot be written.
    """
    with style.context("default"):
        figure = Figure(figsize=(11.0, 7.6), dpi=100, facecolor=_PAPER)
        FigureCanvasAgg(figure)
        _list(figure, record)
        for panel in (0, 1):
            _panel(figure.add_axes((0.61 + 0.195 * panel, 0.09, 0.17, 0.78)), record, panel)
        figure.text(0.61, 0.945, "How each cell answered", color=_INK, fontsize=12, weight="bold", va="top")
        figure.text(
            0.61, 0.045, "A larger dot answered more strongly; a cross did not answer.\nThe heels' end is below.",
            color=_FAINT, fontsize=8.5, va="top",
        )  # fmt: skip
        with Telling(GroundtoneError, f"the picture {path} cannot be written", "check the folder and the disk"):
            path.parent.mkdir(parents=True, exist_ok=True)
            figure.savefig(path, facecolor=_PAPER)


def _list(figure: Figure, record: Record) -> None:
    """The steps, one under the other, with what is to be mended."""
    figure.text(0.03, 0.945, "Commissioning", color=_INK, fontsize=16, weight="bold", va="top")
    about = f"mat {record.uid}, layout {record.bench.layout.id}"
    if record.simulated:
        about += ", simulated: no real mat was measured"
    figure.text(0.03, 0.895, about, color=_FAINT, fontsize=9, va="top")
    y = 0.845
    results = record.results()
    lines = sum(len(textwrap.wrap(c, _WRAP)) for r in results for c in r.causes)
    step, line = 0.045, min(0.021, (0.72 - 0.045 * len(STEPS)) / max(lines, 1))
    for number, result in enumerate(results, 1):
        bad = result.outcome == "failed"
        figure.text(
            0.03, y, _MARKS[result.outcome], color=_PAPER if bad else _INK, fontsize=10, va="top", weight="bold",
            bbox={"facecolor": _INK if bad else _PAPER, "edgecolor": _INK, "pad": 2.0, "linewidth": 0.8},
        )  # fmt: skip
        words = TITLES[result.key] + (" (not done)" if result.outcome == "not done" else "")
        figure.text(0.075, y, f"{number}  {words}", color=_INK, fontsize=11, va="top")
        y -= 0.6 * step
        for cause in result.causes:
            for part in textwrap.wrap(cause[:1].upper() + cause[1:], _WRAP):
                figure.text(0.095, y, part, color=_INK if bad else _FAINT, fontsize=8.5, va="top")
                y -= line
        y -= 0.4 * step
    for i, part in enumerate(textwrap.wrap(verdict(record), 70)):
        figure.text(0.03, 0.08 - 0.03 * i, part, color=_INK, fontsize=11, weight="bold", va="top")


def _panel(axes: Axes, record: Record, panel: int) -> None:
    """One panel as a field of dots, heels below."""
    layout = record.bench.layout
    half = layout.columns_per_panel
    columns = np.arange(panel * half, (panel + 1) * half)
    axes.set_facecolor(_PAPER)
    axes.set_xlim(columns[0] - 0.7, columns[-1] + 0.7)
    axes.set_ylim(-0.8, layout.rows - 0.2)
    axes.set_xticks(columns)
    axes.set_yticks(range(layout.rows))
    axes.tick_params(length=0, labelsize=8, labelcolor=_FAINT)
    axes.set_title(f"{PANELS[panel]} panel", color=_INK, fontsize=10)
    for side in axes.spines.values():
        side.set_color(_FAINT)
        side.set_linewidth(0.6)
    diagnosis = record.diagnosis()
    if diagnosis.places is None or "press" not in record.done:
        axes.text(
            float(columns.mean()), layout.rows / 2, "not pressed yet", ha="center", va="center", color=_FAINT,
            fontsize=9,
        )  # fmt: skip
        return
    answer = diagnosis.places.answer[:, columns]
    rows, cols = np.mgrid[0 : layout.rows, 0:half]
    dead = np.zeros(answer.shape, dtype=bool)
    for fault in diagnosis.faults:
        if fault.kind is Kind.CELL_DEAD and fault.lines[1] in columns:
            dead[fault.lines[0], fault.lines[1] - columns[0]] = True
    silent = (answer <= 0) | dead
    # Columns differ by what their resistors make of a press: the root keeps weak ones in sight.
    area = _LARGEST * np.sqrt(np.where(silent, 0.0, answer) / max(float(diagnosis.places.answer.max()), 1e-9))
    axes.scatter(cols[~silent] + columns[0], rows[~silent], s=area[~silent], color=_HUE, linewidths=0)
    axes.scatter(cols[silent] + columns[0], rows[silent], s=28, marker="x", color=_INK, linewidths=1.2)


__all__ = ["draw_page"]
