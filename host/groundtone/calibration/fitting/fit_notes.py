"""What a profile keeps of the fit behind it: covariances, residuals, scores, and what was said of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.fit import Fit, Kept


@dataclass(frozen=True)
class Made:
    """A placement as the profile remembers it.

    Attributes
    ----------
    residual : float
        ln of measured over fitted force.
    trust : float
        Weight that the robust fit left to it, 0 to 1.
    """

    row: int
    column: int
    force_n: float
    falling: bool
    residual: float
    trust: float


@dataclass(frozen=True)
class FitNotes(Kept):
    """What is kept, and each placement that was fitted."""

    made: tuple[Made, ...]


def notes_of(fit: Fit, placements: Sequence[Placement]) -> FitNotes:
    """The notes of a fit.

    Parameters
    ----------
    placements : sequence of Placement
        Those that were fitted, in the same order.
    """
    made = tuple(
        Made(p.row, p.column, p.force_n, p.falling, float(residual), float(trust))
        for p, residual, trust in zip(placements, fit.residual, fit.trust, strict=True)
    )
    return FitNotes(**{field.name: getattr(fit, field.name) for field in fields(Kept)}, made=made)


_UPPER = np.triu_indices(3)


def notes_table(notes: FitNotes) -> dict[str, Any]:
    """Notes as plain data for a file, rounded to what matters."""
    return {
        "model": notes.model,
        "scores, relative error of placements left out": {k: round(v, 6) for k, v in notes.scores.items()},
        "gain spread": round(notes.gain_spread, 6),
        "hysteresis of panels, excess at half the peak": _plain(notes.hysteresis_panel),
        "repeatability of panels": _plain(notes.repeatability_panel),
        "hysteresis of cells": _plain(notes.hysteresis_cell),
        "repeatability of cells": _plain(notes.repeatability_cell),
        "covariance of cells: level, level exponent, level bend, exponent, exponent bend, bend": [
            [[float(f"{v:.5g}") for v in cell[_UPPER]] for cell in row] for row in notes.cell_cov
        ],
        "placements: row, column, N, falling, ln residual, trust": [
            [m.row, m.column, round(m.force_n, 4), int(m.falling), round(m.residual, 5), round(m.trust, 3)]
            for m in notes.made
        ],
        "said": list(notes.said),
    }


def notes_from(table: dict[str, Any]) -> FitNotes:
    """Notes from a file's data; KeyError, TypeError, ValueError or IndexError where they are not whole."""
    names = list(notes_table(_NONE))
    model, scores, spread, loop, repeat, loops, repeats, cov, made, said = (table[name] for name in names)
    upper = np.array(cov, np.float64)
    full = np.zeros((*upper.shape[:2], 3, 3))
    full[..., _UPPER[0], _UPPER[1]] = upper
    full[..., _UPPER[1], _UPPER[0]] = upper
    return FitNotes(
        str(model),
        {str(k): float(v) for k, v in scores.items()},
        full,
        float(spread),
        _array(loop, 1),
        _array(loops, 2),
        _array(repeat, 1),
        _array(repeats, 2),
        tuple(str(each) for each in said),
        tuple(Made(int(r), int(c), float(f), bool(down), float(e), float(t)) for r, c, f, down, e, t in made),
    )


_NONE = FitNotes(
    "", {}, np.zeros((0, 0, 3, 3)), 0.0, np.zeros(0), np.zeros((0, 0)), np.zeros(0), np.zeros((0, 0)), (), ()
)  # fmt: skip


def _plain(values: NDArray[np.float64]) -> Any:
    """Nested lists; NaN as null, for JSON has no NaN."""
    if values.ndim > 1:
        return [_plain(row) for row in values]
    return [None if np.isnan(v) else round(float(v), 5) for v in values]


def _array(values: Any, ndim: int) -> NDArray[np.float64]:
    out = np.array(values, np.float64)
    if out.ndim != ndim:
        raise ValueError("notes")
    return out
