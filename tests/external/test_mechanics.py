"""Plate, bevel and hearing against the outside: handbooks' formulas, a plate solved anew, numbers of standards."""

import re
from pathlib import Path

import numpy as np
import pytest

from groundtone.build.dangers import bevel_for
from groundtone.build.mat_file import read_mat
from groundtone.build.mechanics import beam_mpa, hollow_mpa

ROOT = Path(__file__).parents[2]
NU = 0.3


def test_the_worked_example_of_a_plate_on_feet():
    """M = F L / 4 for a force in the middle, F L / 8 spread evenly; W = b t^2 / 6. 340 mm, 183 x 6 mm, 1,834 N."""
    modulus = 183 * 6**2 / 6
    assert modulus == 1098
    assert beam_mpa(340, 183, 6, 1834, 0) == pytest.approx(1834 * 340 / 4 / modulus)  # 142 MPa
    assert beam_mpa(340, 183, 6, 1834, 340) == pytest.approx(1834 * 340 / 8 / modulus)  # 71 MPa
    assert beam_mpa(340, 183, 6, 80 * 9.80665, 0) == pytest.approx(60.7, abs=0.1)  # somebody of 80 kg just stands there
    mat = read_mat("starter")
    assert 71 < beam_mpa(340, mat.base_width_mm, 6, 1834) < 142


def test_a_beam_by_adding_up_its_load():
    """The moment in the middle from the load itself, slice by slice: any patch, shorter and longer than the span."""
    for span, patch in ((340.0, 80.0), (100.0, 80.0), (60.0, 80.0)):
        x = (np.arange(20_000) + 0.5) / 20_000 * span
        load = np.where(np.abs(x - span / 2) < patch / 2, 1000.0 / patch, 0.0) * span / 20_000
        reaction = load.sum() / 2
        left = x < span / 2
        moment = reaction * span / 2 - (load[left] * (span / 2 - x[left])).sum()
        assert beam_mpa(span, 100.0, 6.0, 1000.0, patch) == pytest.approx(moment * 6 / (100 * 36), rel=1e-3)


def round_plate_moment(radius, patch_radius, load, nodes=4000):
    """Radial moment in the middle of a round plate with a simple support, the plate's equation solved on a grid.

    Slope phi of the deflection: phi'' + phi'/r - phi/r^2 = -Q/D, Q the shear that the load inside r makes; at the rim
    phi' + nu phi/r = 0; in the middle M = D (1 + nu) phi'.
    """
    r = np.linspace(0, radius, nodes + 1)
    h = r[1]
    shear = load * np.minimum(r[1:] / patch_radius, 1.0) ** 2 / (2 * np.pi * r[1:])
    main, low, high = np.zeros(nodes), np.zeros(nodes), np.zeros(nodes)
    rhs = -shear.copy()
    inner = slice(0, nodes - 1)
    ri = r[1:-1]
    main[inner] = -2 / h**2 - 1 / ri**2
    low[inner], high[inner] = 1 / h**2 - 1 / (2 * h * ri), 1 / h**2 + 1 / (2 * h * ri)
    main[-1], low[-1], rhs[-1] = 1 / h + NU / radius, -1 / h, 0.0
    matrix = np.diag(main) + np.diag(low[1:], -1) + np.diag(high[:-1], 1)
    phi = np.linalg.solve(matrix, rhs)
    return -(1 + NU) * phi[0] / h


@pytest.mark.parametrize(("span", "patch"), [(60.0, 80.0), (160.0, 80.0), (340.0, 80.0)])
def test_a_hollow_against_the_plates_equation(span, patch):
    moment = round_plate_moment(span / 2, patch / 2, 1834.0, nodes=1200)
    assert hollow_mpa(span, 6.0, 1834.0, patch) == pytest.approx(6 * abs(moment) / 36, rel=0.01)


def test_a_hollow_against_the_handbooks_numbers():
    """Load q on all of a round plate: M = 0.20625 q a^2 for nu 0.3 (Timoshenko)."""
    load = 0.5 * np.pi * 50**2
    assert hollow_mpa(100, 6, load, 100) == pytest.approx(6 * 0.20625 * 0.5 * 50**2 / 36)


def test_bevels_against_ada_303():
    """303.2 up to 6.4 mm upright; 303.3 up to 12.7 mm not steeper than 1:2; 303.4 and 405.2 above it 1:12."""
    for name in ("starter", "reference"):
        mat = read_mat(name)
        assert 6.4 < mat.height_mm <= 12.7
        assert mat.bevel_mm / mat.height_mm >= 2.0
        assert mat.bevel_mm >= bevel_for(mat.height_mm)
    assert bevel_for(12.0) == 24.0
    assert bevel_for(20.0) == 240.0


def test_hearing_stands_as_the_recommendation_has_it():
    """NIOSH: 85 dB(A) for 8 hours, half the time for every 3 dB more: T = 8 h / 2^((L - 85) / 3)."""
    text = " ".join((ROOT / "SAFETY.md").read_text("utf-8").split())
    assert "at most 85 dB(A) over 8 hours, and **half the time for every 3 dB more**" in text
    level, hours = map(int, re.search(r"more\*\*: (\d+) dB\(A\) (\d+) hours", text).groups())
    assert hours == 8 / 2 ** ((level - 85) / 3)
    assert "100 dB(A) a quarter of an hour" in text
    assert 8 / 2 ** ((100 - 85) / 3) == 0.25
