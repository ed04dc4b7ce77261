"""From strokes to the map of the mat: which line answers where, which columns are one, which cells are dead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from groundtone.build.evidence import ACTIVE, FloatArray, Stroke
from groundtone.build.faults import Fault, Kind, Namer
from groundtone.build.permutation import Order, column_faults, filled, row_faults
from groundtone.build.soldered import groups_of

# Two columns whose readings never lie further apart than this, and both rise: the same copper.
SAME = 0.004
# A cell that answers with less than this part of its stroke's strongest does not answer (film spreads by a quarter).
FAINT = 0.005
# A column that floats swings nearly to the supply when one of its cells is pressed.
FLOATING_RISE = 0.3


@dataclass(frozen=True)
class PlaceMap:
    """What the strokes say.

    Attributes
    ----------
    left, right : tuple of int
        Row line of each place.
    columns : tuple of int
        Column line of each place, over both panels.
    faults : list of Fault
        Opens, joined columns, dead cells and orders.
    answer : (R, C) array
        Rise of each place's own cell; 0 where nothing answered.
    """

    left: Order
    right: Order
    columns: Order
    faults: list[Fault]
    answer: FloatArray


def joined_columns(strokes: Sequence[Stroke], usable: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Pairs of columns that are one electrically."""
    if not strokes:
        return []
    apart = np.max([s.apart for s in strokes], axis=0)
    together = np.max([s.together for s in strokes], axis=0)
    pairs = combinations(np.flatnonzero(usable).tolist(), 2)
    return [(a, b) for a, b in pairs if apart[a, b] < SAME and together[a, b] > 2 * ACTIVE]


def place_map(
    strokes: Sequence[Stroke], namer: Namer, usable: NDArray[np.bool_], floating: frozenset[int] = frozenset()
) -> PlaceMap:
    """Map the mat from a stroke over every row of both panels.

    Parameters
    ----------
    usable : (C,) array of bool
        Column lines whose readings mean something.
    floating : frozenset of int
        Column lines without a pull-down: they answer strongly, and go on answering.
    """
    rows, columns = strokes[0].rise.shape
    held = usable.copy()
    held[list(floating)] = False
    least = np.where(held, ACTIVE, FLOATING_RISE)
    half = columns // 2
    joined = joined_columns(strokes, usable)
    group = groups_of(joined, columns)
    rise = {(s.panel, s.row): np.where(usable, s.rise, 0.0) for s in strokes}
    row_of: list[list[int | None]] = [[None] * rows, [None] * rows]
    hits: dict[tuple[int, int], NDArray[np.bool_]] = {}
    for (panel, k), peak in rise.items():
        # A column that floats says which row only where nothing else does.
        sure = peak[:, held] if peak[:, held].max(initial=0.0) > ACTIVE else peak
        line = int(np.argmax(sure.sum(axis=1)))
        hit = peak[line] > np.maximum(least, np.where(held, FAINT * peak[line, held].max(initial=0.0), 0.0))
        if hit.any():
            row_of[panel][k], hits[panel, k] = line, hit
    found: list[tuple[int, ...] | None] = []
    for panel in (0, 1):
        found += _column_places(panel, strokes, row_of, hits, group, half)
    order = _resolved(found)
    missing_columns = [place for place, line in enumerate(order) if line is None]
    columns_order = filled(order, [])
    left, right = (
        filled(row_of[0], [row_of[1]]) if any(row_of[0]) else tuple(range(rows)),
        filled(row_of[1], [row_of[0]]) if any(row_of[1]) else tuple(range(rows)),
    )
    blind = {place for place, line in enumerate(columns_order) if not usable[line]}
    faults = [namer.plain(Kind.COLUMNS_JOINED, a, b) for a, b in _chains(joined)]
    faults += [namer.plain(Kind.COLUMN_OPEN, place) for place in missing_columns if place not in blind]
    faults += _open_rows(row_of, missing_columns, half, namer)
    answer = np.zeros((rows, columns))
    dead = []
    for panel, side in ((0, left), (1, right)):
        for k in range(rows):
            if row_of[panel][k] is None:
                continue
            for place in range(panel * half, (panel + 1) * half):
                if place in missing_columns or place in blind:
                    continue
                line = columns_order[place]
                answer[k, place] = rise[panel, k][side[k], line]
                if not hits[panel, k][line]:
                    dead.append((k, place))
    faults += [namer.plain(Kind.CELL_DEAD, k, place) for k, place in dead]
    faults += row_faults(left, right, namer)
    faults += column_faults(columns_order, namer)
    return PlaceMap(left, right, columns_order, faults, answer)


def _column_places(
    panel: int,
    strokes: Sequence[Stroke],
    row_of: list[list[int | None]],
    hits: dict[tuple[int, int], NDArray[np.bool_]],
    group: list[tuple[int, ...]],
    half: int,
) -> list[tuple[int, ...] | None]:
    """Column lines (several where they are one) at each place of a panel, from the order in which they answered."""
    mine = [s for s in strokes if s.panel == panel and row_of[panel][s.row] is not None]
    if not mine:
        return [None] * half
    share = np.mean([hits[panel, s.row] for s in mine], axis=0)
    when: dict[tuple[tuple[int, ...], int], list[float]] = {}
    for members in sorted({group[c] for c in np.flatnonzero(share >= 0.25)}):
        times = [_times(s, row_of[panel][s.row], members, hits[panel, s.row]) for s in mine]
        felt = [t for t in times if t]
        # Columns that are one answer as often in a stroke as there are of them on this panel.
        often = 2 if len(members) > 1 and np.mean([len(t) > 1 for t in felt]) >= 0.5 else 1
        for i in range(often):
            when[members, i] = [t[i] if len(t) > i else np.nan for t in times]
    whole = np.array(list(when.values()))
    complete = np.isfinite(whole).all(axis=0)
    if complete.any():
        whole = whole[:, complete]
        first, length = whole.min(axis=0), np.ptp(whole, axis=0)
        middle = np.median((whole - first) / np.where(length > 0, length, 1.0), axis=1)
    else:
        middle = np.nan_to_num(np.nanmedian(whole, axis=1))
    in_time = [list(when)[i][0] for i in np.argsort(middle, kind="stable")]
    if len(in_time) >= half:
        return [*in_time[:half]]
    return _best_places(in_time, np.sort(middle).tolist(), [*range(panel * half, (panel + 1) * half)], half)


def _times(stroke: Stroke, line: int | None, members: tuple[int, ...], hit: NDArray[np.bool_]) -> list[float]:
    """When columns that are one answered in a stroke, s."""
    if line is None or not hit[members[0]]:
        return []
    again = float(stroke.again_s[line, members[0]])
    return [float(stroke.onset_s[line, members[0]])] + ([again] if np.isfinite(again) else [])


def _resolved(found: Sequence[tuple[int, ...] | None]) -> list[int | None]:
    """One line for each place; of columns that are one, each keeps its own place if it can."""
    out: list[int | None] = [None if g is None else g[0] if len(g) == 1 else -1 for g in found]
    used = {line for line in out if line is not None and line >= 0}
    for place, members in enumerate(found):
        if out[place] == -1 and members is not None and place in members and place not in used:
            out[place] = place
            used.add(place)
    for place, members in enumerate(found):
        if out[place] == -1 and members is not None:
            out[place] = next((line for line in members if line not in used), None)
            used.add(-1 if out[place] is None else int(out[place] or 0))
    return out


def _best_places(
    in_time: list[tuple[int, ...]], when: list[float], nominal: list[int], half: int
) -> list[tuple[int, ...] | None]:
    """Places for fewer columns than the panel has: with the fewest mistakes, then by the gaps in time."""
    best: tuple[float, list[tuple[int, ...] | None]] | None = None
    for places in combinations(range(half), len(in_time)):
        at: list[tuple[int, ...] | None] = [None] * half
        for p, members in zip(places, in_time, strict=True):
            at[p] = members
        # Of columns that are one, the one whose place it is stands for them.
        order = [None if g is None else nominal[p] if nominal[p] in g else g[0] for p, g in enumerate(at)]
        left_over = [c for c in nominal if c not in order]
        whole = [c if c is not None else (left_over.pop(0) if left_over else None) for c in order]
        wrong = sum(c != n for c, n in zip(whole, nominal, strict=True))
        mistakes = 0 if wrong == 0 else 1 if wrong == 2 or whole == nominal[::-1] else 2
        expected = np.array(places, dtype=np.float64) - places[0]
        expected /= expected[-1] if expected[-1] > 0 else 1.0
        misfit = float(np.abs(expected - np.array(when)).sum())
        score = mistakes + 3.0 * misfit
        if best is None or score < best[0]:
            best = (score, at)
    assert best is not None
    return best[1]


def _chains(joined: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Of three columns that are one, two pairs are enough."""
    out: list[tuple[int, int]] = []
    reached: dict[int, int] = {}
    for a, b in joined:
        if reached.setdefault(a, a) != reached.setdefault(b, b):
            old = reached[b]
            for c in reached:
                if reached[c] == old:
                    reached[c] = reached[a]
            out.append((a, b))
    return out


def _open_rows(row_of: list[list[int | None]], missing_columns: list[int], half: int, namer: Namer) -> list[Fault]:
    """Rows that did not answer; on a panel where no column answers, rows say nothing."""
    silent = [all(p in missing_columns for p in range(panel * half, (panel + 1) * half)) for panel in (0, 1)]
    out = []
    for k in range(len(row_of[0])):
        gone = [panel for panel in (0, 1) if row_of[panel][k] is None and not silent[panel]]
        if len(gone) == 2 or (gone and any(silent)):
            out.append(namer.row_open(k, None))
        elif gone:
            out.append(namer.row_open(k, gone[0]))
    return out
