"""Gravity: the standard value of 1901, and WGS 84 normal gravity with height (NIMA TR8350.2; figures from memory)."""

import math

import pytest
import scipy.constants

from groundtone.errors import CalibrationError
from groundtone.gravity import STANDARD_GRAVITY, local_gravity


def test_the_value_of_1901():
    assert STANDARD_GRAVITY == 9.80665
    assert scipy.constants.g == STANDARD_GRAVITY
    assert local_gravity() == STANDARD_GRAVITY


def test_wgs_84_at_the_equator_and_the_poles():
    assert local_gravity(0.0) == pytest.approx(9.7803253359, abs=1e-12)
    assert local_gravity(90.0) == pytest.approx(9.8321849379, abs=2e-10)
    assert local_gravity(-90.0) == local_gravity(90.0)


def test_somigliana_in_its_other_form():
    """The same formula by the semi-axes: (a g_e cos² + b g_p sin²) / sqrt(a² cos² + b² sin²)."""
    a, b = 6378137.0, 6356752.3142
    for latitude in (10.0, 33.3, 45.0, 52.5, 78.0):
        c, s = math.cos(math.radians(latitude)) ** 2, math.sin(math.radians(latitude)) ** 2
        closed = (a * 9.7803253359 * c + b * 9.8321849379 * s) / math.sqrt(a * a * c + b * b * s)
        assert local_gravity(latitude) == pytest.approx(closed, abs=1e-9)


def test_the_mean_value_over_the_ellipsoid():
    # 9.7976432222 m/s² is the mean of normal gravity over the ellipsoid's surface (WGS 84, from memory).
    e2 = 0.00669437999014
    top = below = 0.0
    for i in range(4000):
        latitude = (i + 0.5) / 4000 * 90
        s = math.sin(math.radians(latitude))
        area = math.cos(math.radians(latitude)) / (1 - e2 * s * s) ** 2
        top += area * local_gravity(latitude)
        below += area
    assert top / below == pytest.approx(9.7976432222, abs=1e-7)


def test_free_air_above():
    # 0.3086 mGal a metre at 45°, the textbook's gradient.
    gradient = (local_gravity(45.0, 0.0) - local_gravity(45.0, 100.0)) / 100.0
    assert gradient == pytest.approx(3.086e-6, abs=0.002e-6)
    # Along the axis Newton's inverse square holds but for flattening: 1 km up costs twice 1/6378 in parts.
    assert local_gravity(0.0, 1000.0) / local_gravity(0.0) == pytest.approx(1 - 2 * 1000 / 6378137 * 1.0068, abs=1e-7)


@pytest.mark.parametrize(("latitude", "height"), [(91.0, 0.0), (math.nan, 0.0), (50.0, 7000.0), (50.0, math.nan)])
def test_no_such_place(latitude, height):
    with pytest.raises(CalibrationError, match="give"):
        local_gravity(latitude, height)
