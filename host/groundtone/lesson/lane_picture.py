"""The lane: one swing as a picture, time running upward, two ribbons that keep to their bands or leave them."""

import math
import textwrap
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from matplotlib import style
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.ticker import MaxNLocator

from groundtone.cue.rulefile import cue_names, ribbon_of
from groundtone.errors import GroundtoneError, Telling
from groundtone.review.lane import EVENT_WORDS, Cue, Lane, spread

# Ink on paper; blue and orange stay apart for every common kind of colour blindness, and each has a pattern as well.
_PAPER, _INK, _FAINT = "#FCFBF7", "#1B2433", "#5F6772"
_CORRIDOR, _EDGE = "#CFE0EE", "#4A7BA6"
_INSIDE, _OUTSIDE = "#1F4E79", "#C4500F"
_DPI = 100
_MARGIN_IN, _RIBBON_IN, _WORDS_IN, _TIME_IN = 0.80, 2.30, 2.00, 0.65
_HIGH_IN, _FOOT_IN = 9.0, 0.6  # one row of swings, and the explanation under the last row
_BOTTOM_IN, _LANE_IN, _TITLE_IN = 0.696, 6.96, 8.856  # within a row: the lane's foot, its height, the title's top
_IN_A_ROW = 3  # more would not fit a page or a screen
_SWING_IN = 2 * (_MARGIN_IN + _RIBBON_IN) + _WORDS_IN
_MIN_GAP = 0.042  # of the picture's height, between two words
_WRAP = 32  # letters in a line of a title


def draw_lanes(path: Path, swings: Sequence[Lane]) -> None:
    """Draw swings side by side, three in a row, on one scale of time.

    Parameters
    ----------
    path : Path
        The file to write: SVG where its name ends so, else PNG.
    swings : sequence of Lane
        One or more.

    Raises
    ------
    ValueError
        If there is no swing, a swing's arrays differ in length or hold fewer than two times, or a band or a cue
        has an unknown name.
    """
    if not swings:
        raise ValueError("There is no swing to draw.")
    for swing in swings:
        _check(swing)
    first = min(float(np.min(np.asarray(s.t_s))) for s in swings)
    last = max(float(np.max(np.asarray(s.t_s))) for s in swings)
    pad = 0.02 * (last - first)
    rows = math.ceil(len(swings) / _IN_A_ROW)
    across = min(len(swings), _IN_A_ROW)
    size = _SWING_IN * across + _TIME_IN, _HIGH_IN * rows + _FOOT_IN
    # A print, a report and a screen must look the same whatever the user's own plotting settings are.
    with style.context(["default", {"font.family": "DejaVu Sans", "hatch.linewidth": 1.6}]):
        figure = Figure(figsize=size, dpi=_DPI, facecolor=_PAPER)
        FigureCanvasAgg(figure)
        for i, swing in enumerate(swings):
            row, column = divmod(i, _IN_A_ROW)
            corner = _TIME_IN + column * _SWING_IN, _FOOT_IN + (rows - 1 - row) * _HIGH_IN
            _draw_swing(figure, swing, corner, (first - pad, last + pad), with_time=column == 0)
        _explain(figure, narrow=across == 1)
        figure.savefig(path, format="svg" if path.suffix.lower() == ".svg" else "png")


def write_lanes(path: Path, swings: Sequence[Lane]) -> None:
    """As `draw_lanes`, for a person who named the file.

    Raises
    ------
    GroundtoneError
        There is no swing to draw, another ending than .png or .svg, or the picture cannot be written.
    """
    if path.suffix.lower() not in (".png", ".svg"):
        raise GroundtoneError(f"lanes are drawn as .png or .svg, not as {path.suffix or 'a file without ending'}")
    if not swings:
        raise GroundtoneError("there is no swing to draw in this recording")
    with Telling(GroundtoneError, f"{path} cannot be written", "check the folder and the disk"):
        draw_lanes(path, swings)


def _check(swing: Lane) -> None:
    shapes = {np.shape(swing.t_s), np.shape(swing.share), np.shape(swing.overall)}
    if len(shapes) != 1 or len(np.shape(swing.t_s)) != 1 or np.size(swing.t_s) < 2:
        raise ValueError(f"Time and both ribbons need the same length, two or more; they have the shapes {shapes}.")
    if unknown := set(swing.limits) - {"share", "overall"}:
        raise ValueError(f"There are bands for share and overall, not for {', '.join(sorted(unknown))}.")
    if strange := {name for _, _, name in swing.cues} - set(cue_names()):
        raise ValueError(f"The cues are {', '.join(cue_names())}, not {', '.join(sorted(strange))}.")


def _draw_swing(
    figure: Figure, swing: Lane, corner_in: tuple[float, float], span: tuple[float, float], with_time: bool
) -> None:
    """Draw the two ribbons with the events' words between them, right and up from a corner."""
    width, high, left = figure.get_figwidth(), figure.get_figheight(), corner_in[0] + _MARGIN_IN
    bottom, height = (corner_in[1] + _BOTTOM_IN) / high, _LANE_IN / high
    share = figure.add_axes((left / width, bottom, _RIBBON_IN / width, height))
    middle = figure.add_axes(((left + _RIBBON_IN) / width, bottom, _WORDS_IN / width, height))
    toes = figure.add_axes(((left + _RIBBON_IN + _WORDS_IN) / width, bottom, _RIBBON_IN / width, height))
    for axes in (share, middle, toes):
        axes.set_ylim(*span)
        axes.set_facecolor("none")
        axes.set_yticks([])
        for side in axes.spines.values():
            side.set_visible(False)
    _draw_ribbon(share, swing, "share", ("trail", "half", "lead"), "lead share")
    _draw_ribbon(toes, swing, "overall", ("heel", "middle", "toe"), "heel to toe")
    _draw_cues(share, swing.cues, "share", -0.12)
    _draw_cues(toes, swing.cues, "overall", 1.03)
    _draw_events(middle, (share, toes), swing.events, span)
    if with_time:
        share.set_yticks([t for t in MaxNLocator(8).tick_values(*span) if span[0] <= t <= span[1]])
        share.tick_params(axis="y", labelsize=15, labelcolor=_INK, length=0, pad=58)
        share.text(
            -0.58, 1.012, "time, s ↑", transform=share.transAxes, fontsize=15, color=_INK, ha="left", va="bottom"
        )
    lines = "\n".join(textwrap.wrap(swing.title, _WRAP, max_lines=2, placeholder=" …"))
    centre, top = corner_in[0] + _SWING_IN / 2, corner_in[1] + _TITLE_IN
    figure.text(centre / width, top / high, lines, fontsize=21, fontweight="bold", color=_INK, ha="center", va="top")


def _draw_ribbon(axes: Axes, swing: Lane, key: str, marks: tuple[str, str, str], name: str) -> None:
    t, x = swing.t_s, np.asarray(getattr(swing, key), dtype=np.float64)
    axes.set_xlim(0.0, 1.0)
    axes.set_xticks([])
    axes.axvspan(0.0, 1.0, color="#F1EFE8", zorder=0)
    axes.axvline(0.5, color=_FAINT, linewidth=1.1, linestyle=(0, (2, 4)), zorder=1)
    for start, end, low, high in swing.limits.get(key, ()):
        a, b = max(low, 0.0), min(high, 1.0)
        axes.add_patch(Rectangle((a, start), b - a, end - start, facecolor=_CORRIDOR, edgecolor="none", zorder=2))
        for edge in (low, high):
            if 0.0 < edge < 1.0:
                axes.plot([edge, edge], [start, end], color=_EDGE, linewidth=2.2, solid_capstyle="butt", zorder=3)
    left_band = swing.out(key)
    axes.plot(x, t, color=_PAPER, linewidth=10, solid_capstyle="round", solid_joinstyle="round", zorder=4)
    # Both neighbours of a crossing must belong to the piece, or the ribbon would have holes.
    whole = left_band.copy()
    whole[:-1] |= left_band[1:]
    whole[1:] |= left_band[:-1]
    axes.plot(x, t, color=_INSIDE, linewidth=7, solid_capstyle="round", solid_joinstyle="round", zorder=5)
    off = np.where(whole, x, np.nan)
    axes.plot(off, t, color=_OUTSIDE, linewidth=12, solid_capstyle="butt", solid_joinstyle="round", zorder=6)
    axes.plot(off, t, color="white", linewidth=5, linestyle=(0, (0.5, 0.7)), dash_capstyle="butt", zorder=7)
    for at, word, align in zip((0.0, 0.5, 1.0), marks, ("left", "center", "right"), strict=True):
        grey = _FAINT if at == 0.5 else _INK
        axes.text(at, -0.012, word, ha=align, va="top", fontsize=16, color=grey, transform=axes.transAxes)
    axes.text(0.5, 1.012, name, ha="center", va="bottom", fontsize=17, color=_INK, transform=axes.transAxes)


def _draw_cues(axes: Axes, cues: Sequence[Cue], which: str, at: float) -> None:
    for start, end, name in cues:
        if ribbon_of(name) != which:
            continue
        strip = Rectangle(
            (at, start),
            0.09,
            end - start,
            facecolor="white",
            edgecolor=_OUTSIDE,
            linewidth=2.0,
            hatch="////" if which == "share" else "xxx",
            clip_on=False,
            zorder=8,
        )
        axes.add_patch(strip)
        axes.text(
            at + (-0.03 if which == "share" else 0.12),
            (start + end) / 2,
            name.upper(),
            rotation=90,
            ha="right" if which == "share" else "left",
            va="center",
            fontsize=14,
            fontweight="bold",
            color=_OUTSIDE,
        )


def _draw_events(
    middle: Axes, ribbons: tuple[Axes, Axes], events: Sequence[tuple[float, str]], span: tuple[float, float]
) -> None:
    middle.set_xlim(0.0, 1.0)
    middle.set_xticks([])
    ordered = sorted((t, EVENT_WORDS.get(name, name)) for t, name in events)
    gap = _MIN_GAP * (span[1] - span[0])
    heights = spread([t for t, _ in ordered], gap, span[0] + gap / 2, span[1] - gap / 2)
    for (t, word), height in zip(ordered, heights, strict=True):
        for axes in ribbons:
            axes.axhline(t, color=_INK, linewidth=1.6, zorder=3.5)
        middle.plot([0.0, 0.10], [t, height], color=_INK, linewidth=1.6, solid_capstyle="round")
        middle.plot([0.90, 1.0], [height, t], color=_INK, linewidth=1.6, solid_capstyle="round")
        middle.text(
            0.5, height, word, ha="center", va="center", fontsize=min(15.0, 195.0 / max(len(word), 1)), color=_INK
        )


def _explain(figure: Figure, narrow: bool) -> None:
    """Say in words what the patterns mean."""
    words = (
        "pale corridor: the band   ·   plain ribbon: inside it, or no band set",
        "striped ribbon: outside it   ·   hatched strip: a tone sounded",
    )
    text = "\n".join(words) if narrow else "   ·   ".join(words)
    height = 0.21 / figure.get_figheight()
    figure.text(0.5, height, text, ha="center", va="bottom", fontsize=14, color=_INK, linespacing=1.5)
