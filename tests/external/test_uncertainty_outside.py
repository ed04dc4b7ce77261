"""The budget against JCGM 100:2008 for correlated inputs: its own worked examples, put to the product's formula.

Figures from memory of the guide: the ten resistors of 5.2.2 (an example whose inputs are fully correlated), and H.2,
voltage, current and phase measured together, of which impedance is a ratio as the lead share is one.
"""

from __future__ import annotations

import math
from dataclasses import fields

import numpy as np
import pytest

from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import Curves
from groundtone.calibration.uncertainty import Budget, Terms
from groundtone.mat.layout import layout_of

LAYOUT = layout_of("reference-16x4")
FILM = Film(Curves(np.full((16, 8), math.log(37.0)), 1.1, 0.0, -4.0, 2.0), highest_n=1e6)
QUIET = Terms(**dict.fromkeys((field.name for field in fields(Terms)), 0.0))


def of(cells: dict[tuple[int, int], float], covariance: np.ndarray):
    """The budget of forces on some cells, with their covariance as relative uncertainties."""
    force, whole = np.zeros((1, 16, 8)), np.zeros((128, 128))
    at = [row * 8 + column for row, column in cells]
    for (row, column), newtons in cells.items():
        force[0, row, column] = newtons
    whole[np.ix_(at, at)] = covariance
    return Budget(LAYOUT, FILM, whole, QUIET).of(force)


def test_ten_resistors_in_series_against_one_standard():
    """Ten of 1,000 ohm, each known by 0.1 ohm from the same standard: 10 kilo-ohm by 1 ohm, not by 0.32."""
    cells = {(row, 1): 1000.0 for row in range(10)}
    together, apart = (of(cells, 1e-8 * correlated) for correlated in (np.ones((10, 10)), np.eye(10)))
    assert together.force_n[0, 0] == pytest.approx(1.0)
    assert apart.force_n[0, 0] == pytest.approx(0.316, abs=0.001)


def test_impedance_of_correlated_voltage_and_current():
    """H.2: V 4.9990(32) V, I 19.6610(95) mA, r -0.36: |Z| = 254.260 ohm, u 0.236. A share's odds are such a ratio."""
    volts, milliamperes = 4.9990, 19.6610
    u = np.array([0.0032 / volts, 0.0095 / milliamperes])
    covariance = np.outer(u, u) * np.array([[1.0, -0.36], [-0.36, 1.0]])
    left, right = 1000 * volts, milliamperes  # any unit: only the ratio counts
    stated = of({(4, 1): left, (4, 5): right}, covariance)
    share = left / (left + right)
    impedance = left / right
    assert impedance == pytest.approx(254.260, abs=0.001)
    assert stated.share[0] / (share * (1 - share)) * impedance == pytest.approx(0.236, abs=0.001)
    without = of({(4, 1): left, (4, 5): right}, np.diag(np.diag(covariance)))
    assert without.share[0] / (share * (1 - share)) * impedance == pytest.approx(0.204, abs=0.001)
