"""The path of the centre of pressure over the feet, swing by swing: as the golfer sees it from above."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from matplotlib import style
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Polygon
from numpy.typing import NDArray

from groundtone.errors import GroundtoneError, Telling
from groundtone.lesson.report.paper import CORRIDOR, EDGE, FAINT, INK, INSIDE, PAPER
from groundtone.mat.layout import LEFT, PANELS, Layout
from groundtone.pressure.feet import Stance
from groundtone.pressure.series import Series

Array = NDArray[np.float64]

_IN_A_ROW, _SIZE_IN, _DPI = 3, 3.4, 100
_EVENTS = ("takeaway", "turn", "impact", "finish")
_WORDS = {"takeaway": "takeaway", "turn": "turn", "impact": "ball", "finish": "finish"}


@dataclass(frozen=True)
class CentrePath:
    """One swing's path.

    Attributes
    ----------
    at_mm : ndarray, shape (n, 2)
        The overall centre as the golfer sees it from above, takeaway to finish: x to the right, y from heels to toes.
    events : mapping of str to (float, float)
        Where it was at each event that is known.
    feet_mm : two of ndarray, shape (4, 2)
        Corners of the left and the right panel.
    lead : str
        The side on which the lead foot stands, "left" or "right".
    """

    title: str
    at_mm: Array
    events: Mapping[str, tuple[float, float]]
    feet_mm: tuple[Array, Array]
    lead: str


def path_of_swing(title: str, events_s: Mapping[str, float], series: Series, stance: Stance, layout: Layout
                  ) -> CentrePath | None:  # fmt: skip
    """The path of a swing, from its takeaway to its finish (else half a second after impact); None without either.

    Parameters
    ----------
    events_s : mapping of str to float
        Device time, s, of the events by name.
    """
    begin = events_s.get("takeaway", math.nan)
    end = events_s.get("finish", events_s.get("impact", math.nan) + 0.5)
    cut = slice(*np.searchsorted(series.t_s, [begin, end])) if begin < end else slice(0, 0)
    # The stance frame runs from trail to lead: for a left lead foot that is from right to left.
    turned = np.array([-1.0 if stance.lead == LEFT else 1.0, 1.0])
    centre = series.centre_mm * turned
    at = centre[cut]
    at = at[np.isfinite(at).all(axis=1)]
    if len(at) < 2:
        return None
    places = {}
    for name in _EVENTS:
        near = min(int(np.searchsorted(series.t_s, events_s.get(name, math.inf))), series.t_s.size - 1)
        if name in events_s and np.isfinite(centre[near]).all():
            places[name] = (float(centre[near, 0]), float(centre[near, 1]))
    left, right = (corners * turned for corners in panel_corners(stance, layout))
    return CentrePath(title, at, places, (left, right), PANELS[stance.lead])


def panel_corners(stance: Stance, layout: Layout) -> tuple[Array, Array]:
    """Corners of the left and the right panel's active area in the stance frame, mm, shape (4, 2) each."""
    length, width = layout.length_mm, layout.width_mm
    corners = ((0.0, 0.0), (0.0, width), (length, width), (length, 0.0))
    left, right = (
        np.array([stance.to_stance(panel, u, v, layout) for u, v in corners]) for panel in range(len(PANELS))
    )
    return left, right


def write_paths(path: Path, swings: Sequence[CentrePath]) -> None:
    """Draws paths side by side, three in a row, on one scale, as PNG or SVG by the file's name.

    Raises
    ------
    GroundtoneError
        There is nothing to draw, another ending, or the picture cannot be written.
    """
    if path.suffix.lower() not in (".png", ".svg"):
        raise GroundtoneError(f"paths are drawn as .png or .svg, not as {path.suffix or 'a file without ending'}")
    if not swings:
        raise GroundtoneError("there is no swing to draw in this recording")
    rows = math.ceil(len(swings) / _IN_A_ROW)
    across = min(len(swings), _IN_A_ROW)
    with style.context(["default", {"font.family": "DejaVu Sans"}]):
        figure = Figure(figsize=(_SIZE_IN * across, _SIZE_IN * rows), dpi=_DPI, facecolor=PAPER, layout="constrained")
        FigureCanvasAgg(figure)
        for i, swing in enumerate(swings):
            _draw(figure.add_subplot(rows, across, i + 1), swing)
        with Telling(GroundtoneError, f"{path} cannot be written", "check the folder and the disk"):
            figure.savefig(path, format="svg" if path.suffix.lower() == ".svg" else "png")


def _draw(axes: Axes, swing: CentrePath) -> None:
    """The panels, the path, and a mark with a word at each event: no number lies beside the feet."""
    for corners in swing.feet_mm:
        axes.add_patch(Polygon(corners, closed=True, facecolor=CORRIDOR, edgecolor=EDGE, linewidth=0.8))
    axes.plot(swing.at_mm[:, 0], swing.at_mm[:, 1], color=INSIDE, linewidth=1.6)
    for name, (x, y) in swing.events.items():
        axes.plot([x], [y], marker="o", markersize=6, markerfacecolor=PAPER, markeredgecolor=INK)
        axes.annotate(_WORDS[name], (x, y), xytext=(5, 5), textcoords="offset points", fontsize=8, color=INK)
    axes.set_title(swing.title, fontsize=9, color=INK)
    axes.set_aspect("equal")
    axes.margins(0.08)
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_xlabel(
        "lead side ← trail side" if swing.lead == "left" else "trail side → lead side", fontsize=8, color=FAINT
    )
    axes.set_ylabel("heels → toes", fontsize=8, color=FAINT)
    for edge in axes.spines.values():
        edge.set_visible(False)
