"""Dead cells: filled from their neighbours within their panel, and found as holes in a print under load.

A dead cell takes the weighted mean of the cells beside it, along and across, each weighted by one over the square of
its distance: the nearest neighbour along the foot counts three times as much as the one across on the reference
pitches. Dead cells side by side are solved together, so that each is the mean of what lies around them (a discrete
harmonic interpolation; the mean-value property of Laplace's equation). What comes out is a guess that is as smooth as
it can be: the uncertainty budget widens for it.

A heap of pressure falls off like a bell: the logarithm of its load bends downward everywhere. So between two loaded
neighbours a living cell carries at least their geometric mean. At the rim of a print there is no second neighbour;
there the other foot tells, for a person wears two shoes of one pair: its print, mirrored and laid over this one, says
what the silent cell ought to read. A cell that reads nothing in any posture, though it must be under load, is dead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.guided.tare import Cell

Array = NDArray[np.float64]
PITCH_MM = (20.0, 35.0)
"""Row and column pitch of the reference build; only their ratio counts."""

# A dead cell's mean over a posture stays below this, N, or below this part of what its neighbours say; a living one at
# the rim of a print reads more.
SILENT_N, _SILENT_PART = 0.07, 0.005
# What a cell must carry at least, between two neighbours, for its silence to count, N.
SURE_N = 3.0
# Less may be the hollow of an arch, or the gap between two studs, on both feet alike: then the other foot has to read
# something there.
BETWEEN_N, _SOME_N = 1.1, 0.7
# What the other foot's print must say of a silent cell, N.
OTHER_N = 3.0
# How two feet of one person may lie differently in their panels: along, across (mm), and turned (degrees).
_ALONG_MM, _ACROSS_MM, _TURN_DEG = np.arange(-20.0, 21.0, 4.0), np.arange(-16.0, 17.0, 4.0), np.arange(-9.0, 10.0, 3.0)
# A cell lies beside a print that carries this much there, N; and less than this is as good as nothing.
_END_N, _LEAST_N = 1.0, 0.3
# What counts as loaded where two prints are compared, N.
_LOADED_N = 5.0


def between_n(force_n: Array, columns_per_panel: int) -> Array:
    """The least that each cell carries by its opposite neighbours, along and across its panel.

    Parameters
    ----------
    force_n : ndarray, shape (postures, rows, columns)
        N, none below zero.

    Returns
    -------
    ndarray, same shape
        N; 0 at the edges of a panel.
    """
    out = np.zeros_like(force_n)
    for panel in _panels(force_n.shape[2], columns_per_panel):
        force, here = force_n[:, :, panel], out[:, :, panel]
        here[:, 1:-1] = np.sqrt(force[:, :-2] * force[:, 2:])
        np.maximum(here[:, :, 1:-1], np.sqrt(force[:, :, :-2] * force[:, :, 2:]), out=here[:, :, 1:-1])
    return out


def other_foot_n(
    most_n: Array,
    columns_per_panel: int,
    doubtful: NDArray[np.bool_],
    *,
    pitch_mm: tuple[float, float] = PITCH_MM,
) -> Array:
    """What the other foot's print, mirrored and laid over this one, says of each cell.

    Parameters
    ----------
    most_n : ndarray, shape (rows, columns)
        Greatest load of each cell, N.
    doubtful : ndarray of bool, shape (rows, columns)
        Cells that count in no comparison.
    pitch_mm : tuple of float
        Along and across.

    Returns
    -------
    ndarray, shape (rows, columns)
        N.
    """
    from scipy.ndimage import map_coordinates  # the live path fills cells and needs no scipy

    half = columns_per_panel
    rows = len(most_n)
    at_row, at_column = np.indices((rows, half), dtype=np.float64)
    along = (at_row - (rows - 1) / 2) * pitch_mm[0]
    across = (at_column - (half - 1) / 2) * pitch_mm[1]
    logs = np.log(np.maximum(most_n, 0.0) + _LEAST_N)
    out = np.zeros_like(most_n)
    for own in (0, 1):
        here = slice(own * half, (own + 1) * half)
        there = slice((1 - own) * half, (2 - own) * half)
        mine, other = logs[:, here], np.ascontiguousarray(logs[:, there][:, ::-1])
        weight = np.where(doubtful[:, here], 0.0, np.exp(0.5 * np.maximum(mine, other)))
        best = np.inf
        for turn in np.radians(_TURN_DEG):
            u, v = along * np.cos(turn) - across * np.sin(turn), along * np.sin(turn) + across * np.cos(turn)
            for du in _ALONG_MM:
                for dv in _ACROSS_MM:
                    places = [(u + du) / pitch_mm[0] + (rows - 1) / 2, (v + dv) / pitch_mm[1] + (half - 1) / 2]
                    laid = map_coordinates(other, places, order=1, mode="nearest")
                    cost = float((weight * np.abs(laid - mine)).sum())
                    if cost < best:
                        best, out[:, here] = cost, np.exp(laid) - _LEAST_N
    return out


def unevenness(
    most_n: Array,
    columns_per_panel: int,
    gone: tuple[Cell, ...] = (),
    *,
    pitch_mm: tuple[float, float] = PITCH_MM,
) -> float:
    """How much the two feet's prints, one laid over the other, differ cell by cell.

    Parameters
    ----------
    most_n : ndarray, shape (rows, columns)
        Greatest load of each cell, N.
    gone : tuple of (row, column)
        Cells that do not count: dead or ill.
    pitch_mm : tuple of float
        Along and across.

    Returns
    -------
    float
        Nine tenths of the loaded cells differ by less than this, in ln of their load; NaN with fewer than ten cells.
    """
    skip = _marked(set(gone), most_n.shape)
    other = other_foot_n(most_n, columns_per_panel, skip | (most_n < SILENT_N), pitch_mm=pitch_mm)
    loaded = (np.minimum(most_n, other) > _LOADED_N) | ((most_n > 0.1 * _LOADED_N) & (other > 2 * _LOADED_N))
    loaded &= ~skip
    if loaded.sum() < 10:
        return float("nan")
    return float(np.percentile(np.abs(np.log(most_n[loaded] / other[loaded])), 90))


def _neighbours(most_n: Array, columns_per_panel: int) -> Array:
    """The most that any of the eight neighbours within the panel carries, N."""
    out = np.zeros_like(most_n)
    for panel in _panels(most_n.shape[1], columns_per_panel):
        around = np.lib.stride_tricks.sliding_window_view(np.pad(most_n[:, panel], 1), (3, 3))
        out[:, panel] = around.max((-2, -1))
    return out


def _marked(cells: set[Cell], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    out = np.zeros(shape, dtype=bool)
    for cell in cells:
        out[cell] = True
    return out


def _panels(columns: int, columns_per_panel: int) -> list[slice]:
    return [slice(first, first + columns_per_panel) for first in range(0, columns, columns_per_panel)]


def dead_cells(
    force_n: Array,
    columns_per_panel: int,
    known: tuple[Cell, ...] = (),
    *,
    pitch_mm: tuple[float, float] = PITCH_MM,
) -> tuple[Cell, ...]:
    """Cells that read nothing where their neighbours say they are loaded.

    Parameters
    ----------
    force_n : ndarray, shape (postures, rows, columns)
        Mean forces of postures, N.
    known : tuple of (row, column)
        Cells that are known to be dead; they are filled before the others are judged.
    pitch_mm : tuple of float
        Along and across.

    Returns
    -------
    tuple of (row, column)
        Without the known ones, in order.
    """
    _, rows, columns = force_n.shape
    read = np.maximum(np.nan_to_num(force_n), 0.0)
    found: set[Cell] = set(known)
    # A hole beside a hole shows once the first one has been filled.
    for _ in range(4):
        force = (
            np.maximum(filled(read, filling(sorted(found), rows, columns, pitch_mm=pitch_mm)), 0.0) if found else read
        )
        between = between_n(force, columns_per_panel).max(0)
        silent = read.max(0) < np.maximum(SILENT_N, _SILENT_PART * between)
        inside = silent & (between > SURE_N)
        # Two dead cells at the same place of both feet would vouch for each other: what is sure is filled first.
        if not (inside & ~_marked(found, inside.shape)).any():
            beside = silent & ((_neighbours(force.max(0), columns_per_panel) > _END_N) | (between > BETWEEN_N))
            other = other_foot_n(force.max(0), columns_per_panel, beside, pitch_mm=pitch_mm)
            inside |= beside & ((other > OTHER_N) | ((between > BETWEEN_N) & (other > _SOME_N)))
        holes = inside
        fresh = {(int(r), int(c)) for r, c in np.argwhere(holes)} - found
        if not fresh:
            break
        found |= fresh
    return tuple(sorted(found - set(known) - _rim(found - set(known), columns, columns_per_panel)))


def _rim(found: set[Cell], columns: int, columns_per_panel: int) -> set[Cell]:
    """Cells that follow one another at a panel's edge: a sole ends there, as good as never are all of them dead."""
    edges = {side for panel in _panels(columns, columns_per_panel) for side in (panel.start, panel.stop - 1)}
    runs = {cell for cell in found if cell[1] in edges and found & {(cell[0] - 1, cell[1]), (cell[0] + 1, cell[1])}}
    # Two may be one fault; three in a row are a sole's edge.
    return {
        (row, column) for row, column in runs
        if any({(row + step + n, column) for n in range(3)} <= runs for step in (-2, -1, 0))
    }  # fmt: skip


@dataclass(frozen=True)
class Filling:
    """How dead cells follow from the others.

    Attributes
    ----------
    dead : ndarray of int, shape (dead cells,)
        Flat index, row · columns + column.
    matrix : ndarray, shape (dead cells, cells)
        Each row adds up to 1 and is 0 on dead cells; NaN all along where a whole panel is dead.
    """

    dead: NDArray[np.intp]
    matrix: NDArray[np.float64]


def filling(
    dead: Sequence[tuple[int, int]],
    rows: int,
    columns: int,
    *,
    panels: int = 2,
    pitch_mm: tuple[float, float] = PITCH_MM,
) -> Filling:
    """The filling for given dead cells.

    Parameters
    ----------
    dead : sequence of (row, column)
    rows, columns : int
        Of the whole mat.
    panels : int
        Equal parts of the columns; nothing is carried over from one to the next.
    pitch_mm : tuple of float
        Along and across.
    """
    places = sorted({(int(row), int(column)) for row, column in dead})
    index = np.array([row * columns + column for row, column in places], np.intp)
    number = {place: i for i, place in enumerate(places)}
    across = columns // panels if panels > 0 and columns % panels == 0 else columns
    among, from_alive = np.eye(len(places)), np.zeros((len(places), rows * columns))
    for i, (row, column) in enumerate(places):
        beside = [
            (r, c, 1 / pitch**2)
            for r, c, pitch in (
                (row - 1, column, pitch_mm[0]),
                (row + 1, column, pitch_mm[0]),
                (row, column - 1, pitch_mm[1]),
                (row, column + 1, pitch_mm[1]),
            )
            if 0 <= r < rows and 0 <= c < columns and c // across == column // across
        ]
        total = sum(weight for *_, weight in beside)
        for r, c, weight in beside:
            if (r, c) in number:
                among[i, number[r, c]] -= weight / total
            else:
                from_alive[i, r * columns + c] += weight / total
    try:
        matrix = np.asarray(np.linalg.solve(among, from_alive), np.float64)
    except np.linalg.LinAlgError:
        # Only a panel without a single living cell has no answer; the other panel keeps its own.
        matrix = np.asarray(np.linalg.pinv(among) @ from_alive, np.float64)
    matrix[np.abs(matrix.sum(1) - 1) > 1e-6] = np.nan
    return Filling(index, matrix)


def filled(force_n: NDArray[np.float64], how: Filling) -> NDArray[np.float64]:
    """Forces with the dead cells filled.

    Parameters
    ----------
    force_n : ndarray, shape (..., rows, columns)
        N; what stands on dead cells does not matter.

    Returns
    -------
    ndarray, same shape
        A copy. A dead cell is NaN where a neighbour that it needs is NaN.
    """
    out = force_n.copy()
    if not how.dead.size:
        return out
    flat = out.reshape(*out.shape[:-2], -1)
    needed = np.flatnonzero(np.isnan(how.matrix).any(0) | (how.matrix != 0).any(0))
    flat[..., how.dead] = flat[..., needed] @ how.matrix[:, needed].T
    return out
