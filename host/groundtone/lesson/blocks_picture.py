"""Two pictures of lessons in blocks: what a layout can prove, and a lesson's swings in their order with their drift."""

from __future__ import annotations

import io
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from groundtone.feel.block_plans import reach
from groundtone.feel.in_blocks import TURN_EACH
from groundtone.lesson.compare import swings_of
from groundtone.lesson.lesson_measures import SCALES, LessonMeasure
from groundtone.lesson.report.paper import CORRIDOR, FAINT, INK, INSIDE, LINE, PAPER
from groundtone.lesson.report.pictures import drawing, sheet
from groundtone.review.swings import BlockRows, balls

ONE_BLOCK = (8, 12, 20, 30)
"""Swings a side of lessons of one block each."""
IN_TURN = (3, 4, 5, 6, 8, 10)
"""Blocks of each kind of lessons in turn."""
_SIZE_MM, _DPI = (200.0, 105.0), 130
_ROW_MM, _FOOT_MM = 36.0, 9.0


def layouts() -> list[tuple[int, int, float]]:
    """Blocks a side, swings of a block, and the change that such a lesson tells in one case of two, of nine measures.

    Of a golfer of whom nothing is known beforehand, in their own scatter from swing to swing; half a scatter of it is
    the change that matters.
    """
    plans = [*((1, each) for each in ONE_BLOCK), *((blocks, TURN_EACH) for blocks in IN_TURN)]
    return [(blocks, each, reach(blocks, each) + 0.5) for blocks, each in plans]


def draw_layouts() -> bytes:
    """What a layout can prove, as PNG."""
    found = layouts()
    with drawing():
        figure = sheet(_SIZE_MM)
        figure.set_facecolor(PAPER)
        axes = figure.add_axes((0.10, 0.17, 0.86, 0.68))
        for one, marker, words in ((True, "s", "one block of each: says that two blocks differ"),
                                   (False, "o", f"blocks of {TURN_EACH} in turn: can say better")):  # fmt: skip
            here = [(blocks * each, tells) for blocks, each, tells in found if (blocks == 1) == one]
            axes.plot(
                [n for n, _ in here], [tells for _, tells in here], marker=marker, color=INK if one else INSIDE,
                linestyle=":" if one else "-", markersize=7, label=words, linewidth=1.4,
            )  # fmt: skip
        _plain(axes)
        axes.set_ylim(0, None)
        axes.set_xlabel("swings without the tone, and as many with it", fontsize=10, color=INK)
        axes.set_ylabel("change told in one case of two,\nin the golfer's scatter", fontsize=10, color=INK)
        axes.legend(frameon=False, fontsize=10, labelcolor=INK)
        figure.text(0.10, 0.91, "What a lesson can tell", fontsize=14, fontweight="bold", color=INK)
        return _png(figure)


def draw_blocks(before: BlockRows, after: BlockRows, looked: Sequence[LessonMeasure], words: tuple[str, str]) -> bytes:
    """A lesson's swings in their order, block by block, with each block's mean and the straight drift, as PNG.

    Parameters
    ----------
    looked : sequence of LessonMeasure
        A row each; those that no swing has are left out.
    words : (str, str)
        What the two sides are called.
    """
    swings = swings_of(balls(before.swings), balls(after.swings), [measure.name for measure in looked])
    shown = [at for at in range(len(looked)) if np.isfinite(swings.values[:, at]).any()]
    with drawing():
        tall = _FOOT_MM + _ROW_MM * max(1, len(shown))
        figure = sheet((200.0, tall))
        figure.set_facecolor(PAPER)
        for row, at in enumerate(shown):
            bottom = _FOOT_MM + _ROW_MM * (len(shown) - 1 - row) + 0.18 * _ROW_MM
            axes = figure.add_axes((0.09, bottom / tall, 0.88, 0.60 * _ROW_MM / tall))
            scale = SCALES.get(looked[at].unit, 1.0)
            _blocks(axes, swings.values[:, at] * scale, swings.block, swings.after)
            unit = f", {looked[at].unit}" if looked[at].unit else ""
            axes.set_title(f"{looked[at].words}{unit}", fontsize=9, fontweight="bold", color=INK, loc="left")
        foot = f"Open: {words[0]}. Filled: {words[1]}. Bars: each block's mean. Dashes: the drift."
        figure.text(0.09, 3.0 / tall, foot, fontsize=8.5, color=FAINT)
        return _png(figure)


def _blocks(axes: Axes, values: np.ndarray, block: np.ndarray, after: np.ndarray) -> None:
    at = np.arange(1, values.size + 1)
    known = np.isfinite(values)
    for side in (False, True):
        here = known & (after == side)
        axes.plot(at[here], values[here], "o", markersize=5, color=INSIDE, markerfacecolor=INSIDE if side else PAPER)
    left = values.copy()
    for each in np.unique(block):
        here = known & (block == each)
        if not here.any():
            continue
        axes.axvspan(at[block == each][0] - 0.5, at[block == each][-1] + 0.5, zorder=0,
                     color=CORRIDOR if after[block == each][0] else PAPER)  # fmt: skip
        axes.plot(at[block == each][[0, -1]], [values[here].mean()] * 2, color=INK, linewidth=2.2)
    for side in (False, True):
        if (here := known & (after == side)).any():
            left[after == side] -= values[here].mean() - values[known].mean()
    if known.sum() > 2:
        slope, level = np.polyfit(at[known], left[known], 1)
        axes.plot(at[[0, -1]], level + slope * at[[0, -1]], "--", color=INK, linewidth=1.1)
    _plain(axes)
    axes.set_xlim(0.5, values.size + 0.5)


def _plain(axes: Axes) -> None:
    axes.tick_params(labelsize=8.5, colors=INK, length=3)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(LINE)


def _png(figure: Figure) -> bytes:
    out = io.BytesIO()
    figure.savefig(out, format="png", dpi=_DPI, metadata={"Software": None})
    return out.getvalue()
