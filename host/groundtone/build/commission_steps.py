"""The first steps of commissioning that read frames: the empty mat, the test resistor, cells pressed or walked over."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.build.asking import WEAK_READINGS, Ask, Gathered, gather
from groundtone.build.diagnosis import NOTHING_BELOW
from groundtone.build.eseries import in_words
from groundtone.build.evidence import ACTIVE, Evidence, Idle, Reading, Stroke, Touch, stroke_of
from groundtone.build.faults import PANELS, Namer
from groundtone.build.permutation import walked_order
from groundtone.build.soldered import TEST_OHM
from groundtone.mat.layout import Layout

IDLE_S = 3.0
# Hum of the mains, standard deviation in parts of the range: told from one step of 12 bits on; with more than twelve
# no program can take it out (groundtone/mat/conductance.py has the same limits).
TOLD_HUM, ROUGH_HUM = 2.5e-4, 3e-3
_HUMS = "The mains hum in the readings"
_AWAY = "keep the mat's lead and its computer away from mains cables and power supplies."
SETTLED_S = 0.3
# The least rise of a touch that is looked for, of the range: a 1 MΩ in the row still gives 0.001.
LEAST_WEAK = 0.0004
# What a touch reads where the pull-down is right, also with two columns joined or a wrong row: 0.30 to 0.48.
USUAL = (0.28, 0.6)


@dataclass
class Bench:
    """What the steps share: the mat's layout, what has been gathered, and figures to be told.

    Attributes
    ----------
    layout : Layout
        As it was built; its own orders count for nothing.
    figures : dict
        By step: numbers that a reader wants.
    causes : dict
        By step: what is wrong and what to do, where a step finds that by itself.
    pin_ma : float
        What a pin of the board bears.
    """

    layout: Layout
    evidence: Evidence = field(default_factory=Evidence)
    figures: dict[str, dict[str, Any]] = field(default_factory=dict)
    causes: dict[str, list[str]] = field(default_factory=dict)
    pin_ma: float = 12.0

    @property
    def namer(self) -> Namer:
        """Words for this mat."""
        return Namer(self.layout.columns_per_panel)

    def floating(self) -> NDArray[np.bool_]:
        """Columns that nothing pulls down, (C,): they say nothing about calm."""
        idle = self.evidence.idle
        if idle is None:
            return np.zeros(self.layout.columns, dtype=bool)
        out: NDArray[np.bool_] = idle.mean.sum(axis=0) > NOTHING_BELOW
        return out


Listener = Generator[Ask | None, Reading, None]
"""A step: yields what is to be asked, or nothing, and takes reading after reading."""


def idle_step(bench: Bench) -> Listener:
    """Look at the empty mat for three seconds."""
    reading = yield Ask("", "Step off and take everything off both panels: the empty mat is being looked at.")
    began_s = reading.t_s + SETTLED_S
    readings: list[Reading] = []
    while reading.t_s < began_s + IDLE_S:
        if reading.t_s >= began_s:
            readings.append(reading)
        reading = yield None
    common = common_of(readings)
    bench.evidence.idle = idle = idle_of(readings, common)
    hum = float(common.std())
    bench.causes["idle"] = [f"{_HUMS} so strongly that it cannot be taken out: {_AWAY}"] if hum > ROUGH_HUM else []
    bench.figures["idle"] = {
        "noise of a cell in the middle, steps of 12 bits": round(float(np.median(idle.spread)) * 4096, 2),
        "noise of the noisiest": round(float(idle.spread.max()) * 4096, 2),
        "highest resting reading, % of the range": round(100 * float(idle.mean.max()), 2),
    }
    if TOLD_HUM < hum <= ROUGH_HUM:
        bench.figures["idle"]["hum"] = f"{_HUMS} ({4096 * hum:.1f} counts) and are taken out: {_AWAY}"


def common_of(readings: Sequence[Reading]) -> NDArray[np.float64]:
    """What all cells of a frame have in common, less its mean over the frames, (n, R): of an empty mat that is hum.

    The middle reading of each row, and a straight line over the rows: hum turns by little while a scan lasts.
    """
    cells = np.array([r.cells for r in readings])
    of_row = np.median(cells - cells.mean(axis=0), axis=2)
    rows = np.arange(of_row.shape[1]) - (of_row.shape[1] - 1) / 2
    slope = of_row @ rows / max(float(rows @ rows), 1.0)
    out: NDArray[np.float64] = np.median(of_row, axis=1)[:, None] + slope[:, None] * rows
    return out


def idle_of(readings: Sequence[Reading], common: NDArray[np.float64] | float = 0.0) -> Idle:
    """Means and spreads of readings of an empty mat, less what is `common` to the cells of a frame."""
    cells = np.array([r.cells for r in readings])
    if isinstance(common, np.ndarray):
        cells = cells - common[:, :, None]
    references = {
        name: float(np.mean([r.references[name] for r in readings if name in r.references]))
        for name in ("zero", "supply", "tap high", "tap low")
    }
    return Idle(
        cells.mean(axis=0), cells.std(axis=0), references["zero"], references["supply"], references["tap high"],
        references["tap low"], sum(r.frame.flags & 1 for r in readings),
    )  # fmt: skip


def resistor_step(bench: Bench) -> Listener:
    """Touch every row's tail with the test resistor, the columns in turn; what answers oddly is tried elsewhere."""
    layout = bench.layout
    bench.evidence.touches.clear()
    good: list[tuple[int, int]] = []
    bad: list[tuple[int, int]] = []
    for row in range(layout.rows):
        column = row % layout.columns
        was_felt = yield from _touch(bench, row, column)
        (good if was_felt else bad).append((row, column))
    # A row or a column that did not answer as usual may be innocent: it is tried with one that did.
    for row, column in bad:
        if good and not any(r == row for r, _ in good):
            # Another panel's column says more: a row may be open on one only.
            half = layout.columns_per_panel
            partner = max((c for _, c in good), key=lambda c: (c // half != column // half) + (c != column))
            if (yield from _touch(bench, row, partner)):
                good.append((row, partner))
    for column in range(layout.columns):
        if good and not any(c == column for _, c in good) and (yield from _touch(bench, good[0][0], column)):
            good.append((good[0][0], column))
    bench.figures["resistor"] = {"touches as usual": len(good), "rows": layout.rows, "columns": layout.columns}


def _touch(bench: Bench, row: int, column: int) -> Generator[Ask | None, Reading, bool]:
    ask = Ask(
        f"touch {row} {column}",
        f"Hold the test resistor ({in_words(TEST_OHM)}) between the tails of row {row} and "
        f"{bench.namer.column(column)}, then let go.",
    )
    every = np.zeros(bench.layout.columns, dtype=bool)
    weak = (row, column, _weak_rise(bench, row, column))
    got = yield from gather(ask, every, patience_s=5.0, quiet_s=0.3, times=1, weak=weak)
    # A touch that was not felt says something too: the way through this row or this column is open.
    rise = np.zeros((bench.layout.rows, bench.layout.columns)) if got is None else _steady(got)
    touch = Touch(row, column, rise)
    bench.evidence.touches.append(touch)
    return USUAL[0] < float(rise.max()) < USUAL[1]


def _weak_rise(bench: Bench, row: int, column: int) -> float:
    """The rise that noise does not make in a mean of a few readings, of the ADC's range."""
    idle = bench.evidence.idle
    noise = float(idle.spread[row, column]) if idle is not None else ACTIVE
    return max(LEAST_WEAK, 6.0 * noise / float(np.sqrt(WEAK_READINGS)))


def _steady(got: Gathered) -> NDArray[np.float64]:
    """The rise while the contact was steady, (R, C): the median of the moments near the strongest."""
    most = got.rise.max(axis=0)
    row, column = np.unravel_index(int(np.argmax(most)), most.shape)
    if most[row, column] < 2 * ACTIVE:
        # Weak: single readings are mostly noise, and the contact lay just before it was noticed and after.
        weak: NDArray[np.float64] = np.mean(got.rise[-2 * WEAK_READINGS :], axis=0)
        return weak
    on = got.rise[:, row, column] > 0.7 * most[row, column]
    out: NDArray[np.float64] = np.median(got.rise[on], axis=0)
    return out


def press_step(bench: Bench) -> Listener:
    """Stroke every row of both panels, as asked."""
    layout = bench.layout
    bench.evidence.strokes.clear()
    missed = 0
    for panel in (0, 1):
        for row in range(layout.rows):
            ask = Ask(
                f"stroke {panel} {row}",
                f"{PANELS[panel].capitalize()} panel, row {row}: press its {layout.columns_per_panel} cells with a "
                "fingertip, one after the other, from left to right.",
            )
            got = yield from gather(ask, bench.floating())
            if got is None:
                missed += 1
            else:
                bench.evidence.strokes.append(stroke_of(panel, row, got.t_s, got.rise))
    asked = 2 * layout.rows
    if missed == asked:
        # A mat that felt nothing at all has a map too: everything is open.
        none, pair = np.zeros((layout.rows, layout.columns)), np.zeros((layout.columns, layout.columns))
        bench.evidence.strokes.append(Stroke(0, 0, none, none, none, pair, pair))
    bench.figures["press"] = {"strokes felt": asked - missed, "asked": asked}


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
    got : Gathered
        The whole walk; it begins at the heel end, left edge.
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
