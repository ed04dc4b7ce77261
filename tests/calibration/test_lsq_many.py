"""Many fits at once: each as by itself, certified sets among them, and problems that have no answer."""

from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import curve_fit

from groundtone.calibration.fitting.lsq_many import fit_many

NIST = Path(__file__).parents[1] / "external" / "nist"


def powers(x):
    """b0 · x^b1 for every problem, and its derivatives."""

    def model(value, which):
        g = x[which]
        made = value[:, :1] * g ** value[:, 1:]
        return made, np.stack([g ** value[:, 1:], made * np.log(g)], axis=1)

    return model


def test_a_certified_set_many_times():
    """DanWood of NIST StRD, y = b1 x^b2, from both certified starts and others, all in one call."""
    lines = (NIST / "DanWood.dat").read_text().splitlines()
    y, x = np.array([[float(v) for v in line.split()] for line in lines[60:66]]).T
    starts = np.array([[1.0, 5.0], [0.7, 4.0], [2.0, 2.0], [0.5, 3.0]])
    found = fit_many(powers(np.tile(x, (4, 1))), starts, np.tile(y, (4, 1)), np.ones((4, 6)))
    assert found.still.all()
    np.testing.assert_allclose(found.value, np.tile([0.76886226176, 3.8604055871], (4, 1)), rtol=1e-6)
    np.testing.assert_allclose(found.square, 4.3173084083e-03, rtol=1e-6)
    u = np.sqrt(np.diagonal(found.covariance, axis1=1, axis2=2) * found.square[:, None] / 4)
    np.testing.assert_allclose(u, np.tile([1.8281973860e-02, 5.1726610913e-02], (4, 1)), rtol=1e-4)


def test_each_is_as_by_itself():
    rng = np.random.default_rng(1)
    x = rng.uniform(0.5, 4, (40, 12))
    y = rng.uniform(5, 50, (40, 1)) * x ** rng.uniform(0.7, 1.4, (40, 1)) * np.exp(0.05 * rng.standard_normal((40, 12)))
    sigma = 0.05 * y
    found = fit_many(powers(x), np.tile([10.0, 1.0], (40, 1)), y, sigma**-2.0)
    for i in range(40):
        value, covariance = curve_fit(
            lambda g, a, b: a * g**b, x[i], y[i], p0=[10.0, 1.0], sigma=sigma[i], absolute_sigma=True
        )
        np.testing.assert_allclose(found.value[i], value, rtol=1e-5)
        np.testing.assert_allclose(found.covariance[i], covariance, rtol=1e-3)


def test_missing_data_have_no_weight():
    rng = np.random.default_rng(2)
    x = rng.uniform(0.5, 4, (3, 10))
    y = 20 * x**1.1 * np.exp(0.03 * rng.standard_normal((3, 10)))
    weight = np.ones((3, 10))
    weight[1, 6:] = 0.0
    y[1, 6:] = 1e6
    found = fit_many(powers(x), np.tile([10.0, 1.0], (3, 1)), y, weight)
    alone = fit_many(powers(x[1:2, :6]), np.array([[10.0, 1.0]]), y[1:2, :6], np.ones((1, 6)))
    np.testing.assert_allclose(found.value[1], alone.value[0], rtol=1e-6)


def test_a_problem_without_an_answer_does_not_spoil_the_others():
    x = np.array([[1.0, 2.0, 3.0], [2.0, 2.0, 2.0]])
    y = np.array([[5.0, 10.0, 15.0], [10.0, 10.0, 10.0]])
    found = fit_many(powers(x), np.tile([4.0, 0.8], (2, 1)), y, np.ones((2, 3)))
    assert found.value[0] == pytest.approx([5.0, 1.0], rel=1e-6)
    assert np.isfinite(found.covariance[0]).all()
    # All at the same place: factor and exponent cannot be told apart.
    assert np.isnan(found.covariance[1]).all()
