"""Standing still against published formulas and `openbalance` (PyPI), an independent package for posturography."""

import math

import numpy as np
import openbalance
import pytest
from openbalance.processing import kinematics
from scipy.stats import chi2, f

from groundtone.pressure.ellipse import ellipse, reach_95, sway


def cloud(seed, count=4000):
    rng = np.random.default_rng(seed)
    turn = rng.uniform(0, math.pi)
    spread = np.array([rng.uniform(2, 8), rng.uniform(1, 2)])
    points = rng.standard_normal((count, 2)) * spread
    c, s = math.cos(turn), math.sin(turn)
    return points @ np.array([[c, s], [-s, c]]) + rng.uniform(-20, 20, 2), spread, turn


@pytest.mark.parametrize("n", [3, 5, 12, 40])
def test_the_reach_is_f_and_of_many_points_the_published_chi_square(n):
    """Chew's prediction region (Journal of the American Statistical Association 61, 1966) of two dimensions."""
    assert reach_95(n) == pytest.approx(2 * (n - 1) * (n + 1) / (n * (n - 2)) * f.ppf(0.95, 2, n - 2), rel=1e-9)
    assert reach_95(1_000_000) == pytest.approx(chi2.ppf(0.95, 2), rel=1e-5)
    assert reach_95(1_000_000) == pytest.approx(5.991, abs=5e-4)


@pytest.mark.parametrize("n", [5, 8])
def test_the_ellipse_of_few_holds_the_next_one_in_95_of_100(n):
    """By chi square it held 71 of 100 at five."""
    rng = np.random.default_rng(n)
    held = 0
    for _ in range(1000):
        points = rng.standard_normal((n + 1, 2)) @ np.array([[3.0, 1.0], [0.0, 0.5]])
        found = ellipse(points[:n], 5)
        x, y = points[n] - found.centre_mm
        c, s = math.cos(math.radians(found.angle_deg)), math.sin(math.radians(found.angle_deg))
        held += ((x * c + y * s) / found.major_mm) ** 2 + ((y * c - x * s) / found.minor_mm) ** 2 <= 1
    assert held / 1000 == pytest.approx(0.95, abs=0.02)


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
    # That one goes by chi square, which is what F comes to.
    by_chi_square = trial.parameters["Area_Ellipse"] * reach_95(600) / chi2.ppf(0.95, 2)
    assert ellipse(points).area_mm2 == pytest.approx(by_chi_square, rel=1e-9)


def test_sway_about_a_circle_by_hand():
    """Prieto and others 1996: on a circle of 3 mm every distance is 3, each axis' rms 3/sqrt 2, the path its length."""
    turn = np.linspace(0, 2 * np.pi, 1001)[:-1]
    moved = sway(np.arange(1000) / 100.0, 3 * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    assert moved.distance_mm == pytest.approx(3)
    assert moved.rms_mm == pytest.approx(3)
    assert (moved.side_rms_mm, moved.fore_rms_mm) == (pytest.approx(3 / math.sqrt(2)), pytest.approx(3 / math.sqrt(2)))
    assert moved.path_mm == pytest.approx(2 * math.pi * 3 * 999 / 1000, rel=1e-4)
