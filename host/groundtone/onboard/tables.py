"""A table from conductance to force for each cell, in whole numbers, as firmware/mat/alone/forces.py reads it.

Nodes stand at 4, 5, 6 and 7 times each power of two of the conductance's unit (the nominal pull-down's conductance over
2^14), straight lines between: the board finds its node by shifting, without a logarithm. A straight line lies above a
curve that bends upwards, so each node is set lower by half of what the lines beside it are too high by: what is left
then is as much too high as too low.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.force_curve import Curves

PLACES = 14
OCTAVES = 15
NODES = 4 * OCTAVES + 1
FORCE_STEP_N = 1 / 32
"""Unit of a table's forces, N."""
# Forces between these are what the stated bound holds for, N: less is noise, more no cell carries.
BOUND_FROM_N, BOUND_TO_N = 5.0, 700.0
_MOST = 65535

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Tables:
    """Tables of all cells.

    Attributes
    ----------
    force : ndarray of uint16, shape (rows, columns, NODES)
        In steps of `FORCE_STEP_N`, rising; 0 throughout for a cell without a curve.
    worst : float
        Largest relative error against the curves between 5 and 700 N.
    """

    force: NDArray[np.uint16]
    worst: float


def node_conductances(pulldown_ohm: float) -> Array:
    """Conductances of the nodes, S, shape (NODES,)."""
    counts = [(4 + part) * 2.0**octave for octave in range(OCTAVES) for part in range(4)]
    out: Array = np.array([*counts, 4 * 2.0**OCTAVES]) / 2**PLACES / pulldown_ohm
    return out


def tables_of(curves: Curves, pulldown_ohm: float) -> Tables:
    """The tables of a film's curves.

    Parameters
    ----------
    curves : Curves
    pulldown_ohm : float
        Nominal resistance of a column's pull-down.
    """
    nodes = node_conductances(pulldown_ohm)
    at = _forces(curves, nodes)
    middle = 0.5 * (nodes[:-1] + nodes[1:])
    between = _forces(curves, middle)
    with np.errstate(divide="ignore", invalid="ignore"):
        high = np.nan_to_num(0.5 * (at[..., :-1] + at[..., 1:]) / between - 1.0, posinf=0.0, neginf=0.0)
    # Beside the ends there is one line only.
    beside = 0.5 * (np.concatenate([high[..., :1], high], -1) + np.concatenate([high, high[..., -1:]], -1))
    steps = np.round(at * (1.0 - 0.5 * beside) / FORCE_STEP_N)
    force = np.maximum.accumulate(np.clip(np.nan_to_num(steps), 0, _MOST), axis=-1).astype(np.uint16)
    return Tables(force, _worst(curves, force, nodes))


def looked_up(force: NDArray[np.uint16], nodes: Array, conductance_s: Array) -> Array:
    """What the tables make of conductances, N, shape (rows, columns, n): the board's arithmetic without its rounding.

    Parameters
    ----------
    conductance_s : ndarray, shape (n,)
    """
    flat = force.reshape(-1, force.shape[-1]).astype(float)
    out = np.stack([np.interp(conductance_s, nodes, row, left=0.0) for row in flat]) * FORCE_STEP_N
    return out.reshape(*force.shape[:-1], conductance_s.size)


def _forces(curves: Curves, conductance_s: Array) -> Array:
    """Shape (rows, columns, n)."""
    grids = np.broadcast_to(conductance_s[:, None, None], (conductance_s.size, *curves.level.shape))
    return np.moveaxis(curves.force_n(grids), 0, -1)


def _worst(curves: Curves, force: NDArray[np.uint16], nodes: Array) -> float:
    fine = np.geomspace(nodes[0], nodes[-1], 2000)
    truth = _forces(curves, fine)
    with np.errstate(invalid="ignore"):
        inside = (truth >= BOUND_FROM_N) & (truth <= BOUND_TO_N)
        off = np.abs(looked_up(force, nodes, fine) / truth - 1.0)[inside]
    return float(off.max(initial=0.0))
