"""What was found in a recording, as the library keeps it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from groundtone.record.reader import Recording


@dataclass(frozen=True)
class FindingRow:
    """One finding of a swing: `detail` is all that it says, as a table."""

    name: str
    probability: float
    size: float
    detail: dict[str, Any]


@dataclass(frozen=True)
class SwingRow:
    """One swing as the library keeps it.

    Attributes
    ----------
    number : int
        In the recording, from 1.
    impact_s : float
        Device time, s; NaN where it is not known.
    events : dict
        Name to (time s, source, doubt s).
    measures : dict
        Name to (value, uncertainty, reason); a value of NaN has a reason.
    """

    number: int
    kind: str
    impact_s: float
    events: dict[str, tuple[float, str, float]]
    measures: dict[str, tuple[float, float, str]] = field(default_factory=dict)
    findings: list[FindingRow] = field(default_factory=list)


Analyse = Callable[[Recording], tuple[list[SwingRow], list[str]]]
"""Swings of a recording, and sentences that a reader of the figures must know."""
