"""What the steps of commissioning gather about a mat, as arrays that can be stored and looked at again."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.wire.messages import Finding, Frame

FloatArray = NDArray[np.float64]

ACTIVE = 0.0025
"""Rise of a reading that counts as a press, of the ADC's range: ten steps of 12 bits, over fourteen times the noise."""


@dataclass(frozen=True)
class Reading:
    """One frame as fractions of the ADC's reference.

    Attributes
    ----------
    t_s : float
        Device time, s.
    cells : (R, C) array
        In the order of the board's lines.
    references : dict
        "zero" and "tap high" (even frames) or "supply" and "tap low" (odd ones).
    missed : int
        Scans lost before this one.
    """

    t_s: float
    cells: FloatArray
    references: dict[str, float]
    frame: Frame
    missed: int = 0


def reading_of(frame: Frame, t_s: float, rows: int, bits: int, missed: int = 0) -> Reading:
    """A frame as a reading."""
    full = float(1 << bits)
    names = ("zero", "tap high") if frame.seq % 2 == 0 else ("supply", "tap low")
    references = dict(zip(names, (frame.ref_a / full, frame.ref_b / full), strict=True))
    return Reading(t_s, frame.cells.reshape(rows, -1) / full, references, frame, missed)


@dataclass(frozen=True)
class Idle:
    """An empty mat: means and standard deviations, fractions of the ADC's reference.

    Attributes
    ----------
    mean, spread : (R, C) arrays
    strikes : int
        Strikes that were told though nobody hit anything.
    """

    mean: FloatArray
    spread: FloatArray
    zero: float
    supply: float
    tap_high: float
    tap_low: float
    strikes: int = 0


@dataclass(frozen=True)
class Touch:
    """The test resistor between the tails of a row and a column: which, and by how much every reading rose, (R, C)."""

    row: int
    column: int
    rise: FloatArray


@dataclass(frozen=True)
class Stroke:
    """A finger on the cells of one row of one panel, from left to right.

    Attributes
    ----------
    panel, row : int
        Where it was asked for.
    rise : (R, C) array
        Largest rise of each reading.
    onset_s : (R, C) array
        When each reading reached half its rise, s after the stroke began.
    again_s : (R, C) array
        When it rose a second time after it had fallen: two presses on what is one column. NaN where it did not.
    apart, together : (C, C) array
        Largest difference of two columns' readings in one row and moment, and the largest of their smaller reading.
    """

    panel: int
    row: int
    rise: FloatArray
    onset_s: FloatArray
    again_s: FloatArray
    apart: FloatArray
    together: FloatArray


@dataclass
class Evidence:
    """Everything gathered so far; None and empty where a step has not been done."""

    findings: tuple[Finding, ...] = ()
    idle: Idle | None = None
    touches: list[Touch] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)


def stroke_of(panel: int, row: int, t_s: FloatArray, rise: FloatArray) -> Stroke:
    """Make a stroke of its readings.

    Parameters
    ----------
    t_s : (n,) array
    rise : (n, R, C) array
        Rise over the empty mat.
    """
    peak = rise.max(axis=0)
    onset = t_s[np.argmax(rise >= 0.5 * peak, axis=0)] - t_s[0]
    again = _again(t_s, rise >= 0.2 * peak)
    columns = rise.shape[2]
    apart, together = np.zeros((columns, columns)), np.zeros((columns, columns))
    for a in range(columns):
        difference = np.abs(rise - rise[:, :, a : a + 1])
        apart[a] = difference.max(axis=(0, 1))
        together[a] = np.minimum(rise, rise[:, :, a : a + 1]).max(axis=(0, 1))
    return Stroke(panel, row, peak, onset, again, apart, together)


def _again(t_s: FloatArray, up: NDArray[np.bool_]) -> FloatArray:
    """When each reading rose for the second time, s after the first moment; NaN where it did not."""
    rises = (np.diff(up.astype(np.int8), axis=0, prepend=0) > 0).cumsum(axis=0)
    out: FloatArray = np.where((rises >= 2).any(axis=0), t_s[np.argmax(rises >= 2, axis=0)] - t_s[0], np.nan)
    return out


def to_json(evidence: Evidence) -> dict[str, Any]:
    """Evidence as what JSON can hold."""
    idle = evidence.idle
    return {
        "findings": [[f.code, f.a, f.b, f.value] for f in evidence.findings],
        "idle": None if idle is None else {name: _plain(value) for name, value in vars(idle).items()},
        "touches": [{name: _plain(value) for name, value in vars(touch).items()} for touch in evidence.touches],
        "strokes": [{name: _plain(value) for name, value in vars(stroke).items()} for stroke in evidence.strokes],
    }


def from_json(data: Mapping[str, Any]) -> Evidence:
    """Evidence from what `to_json` made; KeyError, TypeError or ValueError where it is something else."""
    idle = data["idle"]
    return Evidence(
        tuple(Finding(*map(int, numbers)) for numbers in data["findings"]),
        None if idle is None else Idle(**_arrays(idle)),
        [Touch(**_arrays(touch)) for touch in data["touches"]],
        [Stroke(**_arrays(stroke)) for stroke in data["strokes"]],
    )


def _plain(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return [_plain(part) for part in value] if value.ndim > 1 else [_plain(float(v)) for v in value]
    return (round(value, 5) if math.isfinite(value) else None) if isinstance(value, float) else value


def _arrays(fields: Mapping[str, Any]) -> dict[str, Any]:
    return {k: np.array(v, np.float64) if isinstance(v, Sequence) else v for k, v in fields.items()}
