"""GUM example H.3 (JCGM 100:2008): the calibration of a thermometer, a straight line with uncertainty.

Data published; the results as the Guide states them, with the digits that it gives.
"""

import numpy as np
import pytest

from groundtone.calibration.fitting.lsq import FitError, fit, linear

T0 = 20.0
T = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
B = -np.array([0.171, 0.169, 0.166, 0.159, 0.164, 0.165, 0.156, 0.157, 0.159, 0.161, 0.160])


def columns(t):
    return np.stack([np.ones_like(t), t - T0], axis=1)


def nonlinear():
    return fit(lambda b: b[0] + b[1] * (T - T0), np.array([0.0, 0.0]), B)


@pytest.mark.parametrize("found", [linear(columns(T), B), nonlinear()], ids=["linear", "nonlinear"])
def test_example_h3(found):
    y1, y2 = found.value
    u1, u2 = found.u
    assert y1 == pytest.approx(-0.1712, abs=0.00005)
    assert u1 == pytest.approx(0.0029, abs=0.00005)
    assert y2 == pytest.approx(0.00218, abs=0.000005)
    assert u2 == pytest.approx(0.00067, abs=0.000005)
    assert found.correlation[0, 1] == pytest.approx(-0.930, abs=0.0005)
    assert found.scatter == pytest.approx(0.0035, abs=0.00005)
    assert found.freedom == 9


def test_prediction_at_30_degrees():
    found = linear(columns(T), B)
    at = columns(np.array([30.0]))[0]
    assert at @ found.value == pytest.approx(-0.1494, abs=0.00005)
    assert np.sqrt(at @ found.covariance @ at) == pytest.approx(0.0041, abs=0.00005)


def test_known_uncertainties_stand_as_they_are():
    # The mean of four values with known u = 0.2: u / sqrt(4), whatever their scatter.
    found = linear(np.ones((4, 1)), np.array([1.0, 1.0, 1.0, 1.2]), np.full(4, 0.2), scaled=False)
    assert found.value[0] == pytest.approx(1.05)
    assert found.u[0] == pytest.approx(0.1)
    # And with one of them known twice as well as the other: weights 4 and 1.
    found = linear(np.ones((2, 1)), np.array([1.0, 2.0]), np.array([0.1, 0.2]), scaled=False)
    assert found.value[0] == pytest.approx(1.2)


def test_columns_that_say_the_same_are_refused():
    with pytest.raises(FitError, match="tell the parameters apart"):
        linear(np.stack([T, 2 * T], axis=1), B)
