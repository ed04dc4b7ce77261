"""What a check is judged by, what comes of it, and the record that is kept."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film
from groundtone.calibration.guided.tare import Cell, Ill
from groundtone.calibration.shoes.body_weight import Gains, Sole
from groundtone.calibration.shoes.postures import Postures

Array = NDArray[np.float64]


class Verdict(Enum):
    """Whether to trust the mat today; the value is the program's exit code."""

    READY = 0
    CORRECTED = 1
    NOT_FIT = 2

    @property
    def words(self) -> str:
        """As it is said."""
        return ("ready", "ready with correction", "not fit")[self.value]


class Kind(Enum):
    """What a finding is about."""

    DEAD = "dead"
    ILL = "ill"
    COMMON = "common change"
    DRIFTED = "drifted"
    UNSEEN = "not seen"
    SKIPPED = "step left out"
    UNSURE = "unsure"
    DISAGREES = "totals disagree"
    UNEVEN = "prints differ"
    MASS = "mass"


@dataclass(frozen=True)
class Finding:
    """One line of a check.

    Attributes
    ----------
    text : str
        What is so and what to do, in one sentence.
    cells : tuple of (row, column)
    amount : float
        The number it is about; NaN where there is none.
    bad : bool
        It alone makes the mat not fit.
    """

    kind: Kind
    text: str
    cells: tuple[Cell, ...] = ()
    amount: float = math.nan
    bad: bool = False


@dataclass(frozen=True)
class Shown:
    """What a check has shown.

    Attributes
    ----------
    rest_n : ndarray, shape (rows, columns)
        What the empty mat read, N.
    ill : dict of (row, column) to Ill
        Cells that were ill on the empty mat.
    marks_n : two of ndarray, shape (rows, columns), or None
        Forces while the known weight lay on the left and on the right mark.
    mark_n : float or None
        That weight.
    weight_n : float or None
        The person's, where the mass is known.
    passed_over : tuple of str
        Steps that were not done.
    """

    postures: Postures
    rest_n: Array
    ill: dict[Cell, Ill]
    marks_n: tuple[Array | None, Array | None]
    mark_n: float | None
    weight_n: float | None
    passed_over: tuple[str, ...]
    gravity: float


@dataclass(frozen=True)
class CheckResult:
    """A check's outcome.

    Attributes
    ----------
    film : Film
        The profile's with this check's correction and dead cells: what to use today.
    gains : Gains
        For this person's shoes on `film`: what is believed after the check (the film's own part is in `film`).
    soles : two of (heel edge, toe edge), or None
        mm along the panels.
    mass_kg, mass_u : float
        The person's, and its relative standard uncertainty.
    common : float
        Common change of the film's readings that is corrected: 0.15 means it reads 15 % less than it should.
    unseen : tuple of (row, column)
    share_u, foot_u, along_u_mm : float
        Standard uncertainties of lead share, of a foot's force (relative) and of its centre along the foot, standing.
    """

    verdict: Verdict
    findings: tuple[Finding, ...]
    film: Film
    gains: Gains
    soles: tuple[Sole, Sole] | None
    mass_kg: float
    mass_u: float
    common: float
    unseen: tuple[Cell, ...]
    share_u: float
    foot_u: float
    along_u_mm: float
