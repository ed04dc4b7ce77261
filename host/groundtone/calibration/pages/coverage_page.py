"""The coverage of a bench run as a picture: a dot a cell, its area follows the number of placements; one hue."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib import style
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from groundtone.calibration.guided.coverage import Coverage
from groundtone.errors import GroundtoneError

# Ink on paper as on the certificate.
_PAPER, _INK, _FAINT, _HUE = "#FCFBF7", "#1B2433", "#5F6772", "#1F4E79"
_DOT = 26.0  # area of one placement, points squared


def draw_coverage(path: Path, coverage: Coverage, columns_per_panel: int) -> None:
    """Draws the map: filled dots are taken, rings around them still to be made, crosses left out.

    Raises
    ------
    GroundtoneError
        The file cannot be written.
    """
    rows, columns = coverage.taken.shape
    row, column = (np.asarray(index) for index in np.indices(coverage.taken.shape))
    x = 1.4 * (column + np.where(column >= columns_per_panel, 1.0, 0.0))
    with style.context("default"):
        figure = Figure(figsize=(5.6, 0.30 * rows + 1.7), dpi=120, facecolor=_PAPER)
        FigureCanvasAgg(figure)
        axes = figure.add_axes((0.10, 0.16, 0.86, 0.72))
        axes.set_facecolor(_PAPER)
        whole = coverage.taken + coverage.left
        axes.scatter(x, row, s=_DOT * whole, facecolor="none", edgecolor=_HUE, linewidth=0.9)
        made = coverage.taken > 0
        axes.scatter(x[made], row[made], s=_DOT * coverage.taken[made], color=_HUE, linewidths=0)
        for cell in coverage.ill:
            axes.scatter(x[cell], cell[0], s=50, marker="x", color=_INK, linewidths=1.5)
        for panel, words in ((0, "left panel"), (1, "right panel")):
            first = panel * columns_per_panel
            middle = float(x[0, first : first + columns_per_panel].mean())
            axes.text(middle, rows + 0.1, words, ha="center", va="bottom", fontsize=10, color=_INK)
        axes.set_xlim(float(x.min()) - 1.1, float(x.max()) + 1.1)
        axes.set_ylim(-0.9, rows - 0.1)
        axes.set_xticks(x[0], [str(c) for c in range(columns)])
        axes.set_yticks(range(rows))
        axes.tick_params(labelsize=8, colors=_INK, length=0)
        for side in axes.spines.values():
            side.set_visible(False)
        axes.set_ylabel("row, 0 at the heels", fontsize=9, color=_INK)
        taken, left = int(coverage.taken.sum()), int(coverage.left.sum())
        ill = f", {len(coverage.ill)} cells left out (crosses)" if coverage.ill else ""
        words = f"{taken} placements taken (filled), {left} to go (rings){ill}"
        figure.text(0.53, 0.03, words, ha="center", fontsize=9, color=_INK)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            figure.savefig(path)
        except OSError as error:
            raise GroundtoneError(
                f"the map {path} cannot be written ({error.strerror}): check the folder and the disk"
            ) from error
