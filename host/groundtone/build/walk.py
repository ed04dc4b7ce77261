"""A finger that slides over a whole panel in any way: from what answered when, the same evidence as strokes give."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from groundtone.build.asking import Ask, Gathered, gather
from groundtone.build.commission_steps import Bench, Listener
from groundtone.build.evidence import ACTIVE, Stroke, stroke_of
from groundtone.build.faults import PANELS
from groundtone.build.permutation import walked_order

# With more silent lines than this their places are guessed in order.
MOST_SILENT = 2


def walk_step(bench: Bench) -> Listener:
    """A fingertip over every cell of each panel, in any order, from one known corner."""
    bench.evidence.strokes.clear()
    felt = 0
    for panel in (0, 1):
        ask = Ask(
            f"walk {panel}",
            f"{PANELS[panel].capitalize()} panel: put a fingertip on the cell at the heel end, left edge, and slide it "
            "over every cell of the panel in any way you like, without lifting it.",
        )
        got = yield from gather(ask, bench.floating(), patience_s=15.0, quiet_s=2.0, most_s=300.0)
        if got is not None:
            felt += 1
            bench.evidence.strokes += strokes_from_walk(panel, got, bench.layout.columns_per_panel, bench.floating())
    bench.figures["press"] = {"panels felt": felt, "asked": 2}
    if felt < 2:
        bench.causes["press"] = ["A panel was not felt at all: look at its plug, then walk it again."]


def strokes_from_walk(panel: int, got: Gathered, columns_per_panel: int, floating: np.ndarray) -> list[Stroke]:
    """One stroke for each row of the panel, as if every row had been stroked from left to right.

    Parameters
    ----------
    panel : int
    got : Gathered
        The whole walk; it begins at the heel end, left edge.
    columns_per_panel : int
    floating : (C,) array of bool
        Columns that do not tell where the finger is.
    """
    rise = got.rise
    rows, columns = rise.shape[1:]
    sure = np.where(floating, 0.0, rise)
    strongest = sure.reshape(len(rise), -1)
    moments = np.flatnonzero(strongest.max(axis=1) > ACTIVE)
    line, column = np.divmod(np.argmax(strongest[moments], axis=1), columns)
    first = slice(0, max(3, len(moments) // (4 * rows * columns_per_panel)))
    row_order = placed(walked_order(line, rows, _usual(line[first])), rows, range(rows))
    mine = range(panel * columns_per_panel, (panel + 1) * columns_per_panel)
    column_order = walked_order(column, columns, _usual(column[first]))
    whole = stroke_of(panel, 0, got.t_s, rise)
    out = []
    for place, of_row in enumerate(row_order):
        if of_row is None:
            continue
        onset = np.zeros((rows, columns))
        for j, of_column in enumerate(placed(column_order, columns_per_panel, mine)):
            if of_column is not None:
                onset[:, of_column] = float(j)
        peak = np.zeros((rows, columns))
        peak[of_row] = whole.rise[of_row]
        none = np.full((rows, columns), np.nan)
        out.append(Stroke(panel, place, peak, onset, none, whole.apart, whole.together))
    return out


def placed(order: Sequence[int], count: int, nominal: Sequence[int]) -> list[int | None]:
    """Places for lines whose order is known, where some line was silent: with the fewest lines out of place."""
    silent = count - len(order)
    if silent <= 0:
        return [*order[:count]]
    best: tuple[int, list[int | None]] | None = None
    choices = combinations(range(count), len(order)) if silent <= MOST_SILENT else [tuple(range(len(order)))]
    for places in choices:
        out: list[int | None] = [None] * count
        for place, line in zip(places, order, strict=True):
            out[place] = line
        straight = sum(line is not None and line != nominal[p] for p, line in enumerate(out))
        turned = sum(line is not None and line != nominal[count - 1 - p] for p, line in enumerate(out))
        wrong = min(straight, turned + 1)
        if best is None or wrong < best[0]:
            best = (wrong, out)
    assert best is not None
    return best[1]


def _usual(lines: np.ndarray) -> int:
    values, counts = np.unique(lines, return_counts=True)
    return int(values[np.argmax(counts)])
