"""Standing still against published formulas and `openbalance` (PyPI), an independent package for posturography."""

import math

import numpy as np
import openbalance
import pytest
from openbalance.processing import kinematics
from scipy.stats import chi2

from groundtone.pressure.ellipse import CHI2_95, ellipse, sway


def cloud(seed, count=4000):
    rng = np.random.default_rng(seed)
    turn = rng.uniform(0, math.pi)
    spread = np.array([rng.uniform(2, 8), rng.uniform(1, 2)])
    points = rng.standard_normal((count, 2)) * spread
    c, s = math.cos(turn), math.sin(turn)
    return points @ np.array([[c, s], [-s, c]]) + rng.uniform(-20, 20, 2), spread, turn


def test_chi_square_is_the_published_point():
    assert pytest.approx(5.991, abs=5e-4) == CHI2_95
    assert pytest.approx(chi2.ppf(0.95, 2), rel=1e-12) == CHI2_95


@pytest.mark.parametrize("seed", range(5))
def test_the_ellipse_holds_95_of_100_and_has_the_clouds_axes(seed):
    points, spread, turn = cloud(seed)
    found = ellipse(points)
    assert found.major_mm == pytest.approx(math.sqrt(5.991) * spread.max(), rel=0.05)
    assert found.minor_mm == pytest.approx(math.sqrt(5.991) * spread.min(), rel=0.05)
    assert math.sin(math.radians(found.angle_deg) - turn) == pytest.approx(0, abs=0.05)
    c, s = math.cos(math.radians(found.angle_deg)), math.sin(math.radians(found.angle_deg))
    off = (points - found.centre_mm) @ np.array([[c, -s], [s, c]])
    inside = (off[:, 0] / found.major_mm) ** 2 + (off[:, 1] / found.minor_mm) ** 2 <= 1
    assert inside.mean() == pytest.approx(0.95, abs=0.012)


def test_too_few_points_and_gaps():
    points, _, _ = cloud(1, 9)
    assert ellipse(points) is None
    assert sway(np.arange(9.0), points) is None
    holed = np.insert(cloud(1, 50)[0], [3, 20], np.nan, axis=0)
    assert ellipse(holed).area_mm2 == pytest.approx(ellipse(cloud(1, 50)[0]).area_mm2)


@pytest.mark.parametrize("seed", range(3))
def test_area_and_path_agree_with_openbalance(seed):
    points = np.cumsum(cloud(seed, 600)[0] * 0.1, axis=0)
    trial = openbalance.Trial(points, 100.0, ["x", "y"])
    trial.parameters |= {"COP_x": points[:, 0], "COP_y": points[:, 1]}
    kinematics.calculate_path_length(trial)
    kinematics.calculate_sway_areas(trial)
    moved = sway(np.arange(600) / 100.0, points)
    assert moved.path_mm == pytest.approx(trial.parameters["Path_Length"], rel=1e-9)
    assert moved.speed_mm_s == pytest.approx(moved.path_mm / 5.99)
    assert ellipse(points).area_mm2 == pytest.approx(trial.parameters["Area_Ellipse"], rel=1e-9)


def test_sway_about_a_circle_by_hand():
    """Prieto and others 1996: on a circle of 3 mm every distance is 3, each axis' rms 3/sqrt 2, the path its length."""
    turn = np.linspace(0, 2 * np.pi, 1001)[:-1]
    moved = sway(np.arange(1000) / 100.0, 3 * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    assert moved.distance_mm == pytest.approx(3)
    assert moved.rms_mm == pytest.approx(3)
    assert (moved.side_rms_mm, moved.fore_rms_mm) == (pytest.approx(3 / math.sqrt(2)), pytest.approx(3 / math.sqrt(2)))
    assert moved.path_mm == pytest.approx(2 * math.pi * 3 * 999 / 1000, rel=1e-4)
