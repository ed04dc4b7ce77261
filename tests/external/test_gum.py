"""GUM example H.3 (JCGM 100:2008): the calibration of a thermometer, a straight line with uncertainty.

Data published; the results as the Guide states them, with the digits that it gives.
"""

import numpy as np
import pytest
from external.solver import descended, with_constant

T0 = 20.0
T = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
B = -np.array([0.171, 0.169, 0.166, 0.159, 0.164, 0.165, 0.156, 0.157, 0.159, 0.161, 0.160])


def straight():
    return with_constant((T - T0)[:, None], B)


def descending():
    return descended(lambda b: b[0] + b[1] * (T - T0), np.array([1.0, 1.0]), B)[0]


@pytest.mark.parametrize("found", [straight(), descending()], ids=["pooled", "descent"])
def test_example_h3(found):
    y1, y2 = found.value
    u1, u2 = found.u
    assert y1 == pytest.approx(-0.1712, abs=0.00005)
    assert u1 == pytest.approx(0.0029, abs=0.00005)
    assert y2 == pytest.approx(0.00218, abs=0.000005)
    assert u2 == pytest.approx(0.00067, abs=0.000005)
    assert found.covariance[0, 1] / (u1 * u2) == pytest.approx(-0.930, abs=0.0005)
    assert np.sqrt(found.square / found.freedom) == pytest.approx(0.0035, abs=0.00005)
    assert found.freedom == 9


def test_prediction_at_30_degrees():
    found, at = straight(), np.array([1.0, 10.0])
    assert at @ found.value == pytest.approx(-0.1494, abs=0.00005)
    assert np.sqrt(at @ found.covariance @ at) == pytest.approx(0.0041, abs=0.00005)


def test_known_uncertainties_stand_as_they_are():
    # A line through four values with known u = 0.2 at x = -1, -1, 1, 1: u / sqrt(4) of both, whatever their scatter.
    x, y = np.array([-1.0, -1.0, 1.0, 1.0]), np.array([1.0, 1.0, 3.0, 3.2])
    found = with_constant(x[:, None], y, np.full(4, 0.2))
    assert found.value == pytest.approx([2.05, 1.05])
    assert found.u == pytest.approx([0.1, 0.1])
    # And with one side known twice as well as the other: each side's mean has the u of its own two values.
    found = with_constant(x[:, None], y, np.array([0.1, 0.1, 0.2, 0.2]))
    assert found.value == pytest.approx([2.05, 1.05])
    assert found.u == pytest.approx(np.full(2, np.sqrt(0.1**2 / 2 + 0.2**2 / 2) / 2))
