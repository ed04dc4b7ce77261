"""The curve from conductance to force: values by hand, and the properties it must have everywhere."""

import dataclasses
import math
import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundtone.calibration.force_curve import Curves, typical_curves
from groundtone.errors import CalibrationError

# One cell whose curve bends, calibrated from 10 µS to 400 µS: ln 30 N at 100 µS.
BENT = Curves(np.array([[math.log(30.0)]]), 1.2, 0.08, math.log(0.1), math.log(4.0))


def force(conductance_s, curves=BENT):
    """Forces of the one cell at many conductances."""
    return curves.force_n(np.asarray(conductance_s, float).reshape(-1, 1, 1)).ravel()


def test_values_by_hand():
    assert force([100e-6])[0] == pytest.approx(30.0, rel=1e-12)
    x = math.log(2.0)
    assert force([200e-6])[0] == pytest.approx(30.0 * 2**1.2 * math.exp(0.08 * x * x), rel=1e-12)
    # Above 400 µS straight in logarithms, with the slope that the curve has there.
    end = math.log(4.0)
    at_end = math.log(30) + 1.2 * end + 0.08 * end**2
    assert force([800e-6])[0] == pytest.approx(math.exp(at_end + (1.2 + 0.16 * end) * math.log(2)), rel=1e-12)
    # Below 10 µS likewise, down to 2 µS; below that straight through the origin.
    low = math.log(0.1)
    at_low = math.log(30) + 1.2 * low + 0.08 * low**2
    two = math.exp(at_low + (1.2 + 0.16 * low) * math.log(0.2))
    assert force([2e-6])[0] == pytest.approx(two, rel=1e-12)
    assert force([1e-6])[0] == pytest.approx(two / 2, rel=1e-12)
    assert force([0.0])[0] == 0.0


@pytest.mark.parametrize("bend", [-0.1, 0.0, 0.08])
def test_monotone_odd_and_without_a_jump(bend):
    curves = dataclasses.replace(BENT, bend=bend)
    # From 1 nS to 20 mS in steps of 0.1 %, through every joint.
    g = np.exp(np.arange(math.log(1e-9), math.log(20e-3), 0.001))
    up = force(g, curves)
    assert (np.diff(up) > 0).all()
    np.testing.assert_array_equal(force(-g, curves), -up)
    # No step of 0.1 % in conductance moves force by more than its steepest slope says.
    assert np.diff(np.log(up)).max() < 0.001 * (1.2 + 2 * 0.1 * math.log(10)) * 1.001


@pytest.mark.parametrize("joint", [2e-6, 10e-6, 400e-6])
def test_continuous_at_the_joints(joint):
    below, above = force([joint * (1 - 1e-9), joint * (1 + 1e-9)])
    assert above == pytest.approx(below, rel=1e-8)


def test_nan_stays_nan_in_its_cell_alone():
    curves = Curves(np.full((2, 3), math.log(30.0)), 1.1, 0.0, -3.0, 2.0)
    g = np.full((2, 3), 100e-6)
    g[1, 1] = np.nan
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        out = curves.force_n(g)
    assert np.isnan(out).tolist() == [[False] * 3, [False, True, False]]
    # A cell without a curve has no force either.
    level = curves.level.copy()
    level[0, 2] = np.nan
    assert np.isnan(dataclasses.replace(curves, level=level).force_n(g)).sum() == 2


def test_each_cell_has_its_own_level():
    curves = Curves(np.log([[10.0, 20.0], [30.0, 40.0]]), 1.1, 0.0, -3.0, 2.0)
    np.testing.assert_allclose(curves.force_n(np.full((5, 2, 2), 100e-6))[3], [[10, 20], [30, 40]], rtol=1e-12)


@given(st.floats(-0.05, 0.05))
def test_any_conductance_gives_a_finite_force_of_its_sign(g):
    out = force([g])[0]
    assert math.isfinite(out)
    assert out == 0 or math.copysign(1, out) == math.copysign(1, g)


FORMS = st.tuples(
    st.floats(0.3, 3.0), st.floats(-0.5, 0.5), st.floats(-4.0, 0.0), st.floats(0.1, 4.0),
    st.one_of(st.just(math.inf), st.floats(5e-5, 1.0)), st.floats(-5e-6, 5e-6),
)  # fmt: skip


@given(FORMS, st.floats(-0.05, 0.05), st.floats(1e-9, 0.02))
def test_every_curve_that_may_exist_rises_everywhere(form, g, step):
    exponent, bend, low, width, saturation, offset = form
    try:
        curves = Curves(np.array([[math.log(30.0)]]), exponent, bend, low, low + width, saturation, offset)
    except CalibrationError:
        assert min(exponent + 2 * bend * x for x in (low, low + width)) <= 0
        return
    below, above = force([g, g + step], curves)
    assert math.isfinite(below)
    assert math.isfinite(above) or above == math.inf
    # Steps that rounding swallows may leave it level.
    assert above > below or (step < 1e-7 and above >= below)
    assert force([offset], curves)[0] == 0.0


@given(FORMS, st.floats(3e-6, 0.02))
def test_the_slope_is_that_of_the_curve(form, g):
    exponent, bend, low, width, saturation, offset = form
    if min(exponent + 2 * bend * x for x in (low, low + width)) <= 0.05 or abs(g - offset) < 2.1e-6:
        return
    curves = Curves(np.array([[math.log(30.0)]]), exponent, bend, low, low + width, saturation, offset)
    part = (g - offset) / saturation
    x = curves.x_of(np.array([g]))[0]
    if any(abs(v) < 1e-3 for v in (part - 0.8, x - low, x - low - width)):
        return
    below, above = force([g * (1 - 1e-6), g * (1 + 1e-6)], curves)
    if not math.isfinite(above):
        return
    expected = (math.log(above) - math.log(below)) / (math.log1p(1e-6) - math.log1p(-1e-6))
    assert curves.slope(np.array([g]))[0] == pytest.approx(expected, rel=1e-4)


def test_a_curve_that_falls_is_refused():
    with pytest.raises(CalibrationError, match="do not belong together"):
        Curves(np.zeros((1, 1)), 1.0, -0.3, -1.0, 2.0)
    with pytest.raises(CalibrationError, match="do not belong together"):
        Curves(np.zeros((1, 1)), -1.0, 0.0, -1.0, 2.0)


def test_saturation_and_offset_by_hand():
    curves = Curves(np.array([[math.log(30.0)]]), 1.2, 0.0, -3.0, 3.0, 1e-3, 2e-6)
    # 202 µS are 200 above the offset; a fifth of the saturation: u = 200 / 0.8 = 250 µS.
    assert force([202e-6], curves)[0] == pytest.approx(30.0 * 2.5**1.2, rel=1e-12)
    # Four fifths of the saturation are the end of its formula, u = 4 mS; from there on u goes with the fifth power.
    assert force([802e-6], curves)[0] == pytest.approx(30.0 * 40**1.2, rel=1e-12)
    assert force([1002e-6], curves)[0] == pytest.approx(30.0 * (40 * 1.25**5) ** 1.2, rel=1e-12)


def test_noise_of_an_empty_cell_averages_out():
    noise = np.random.default_rng(1).normal(0, 0.5e-6, 20000)
    out = force(noise)
    assert abs(out.mean()) < 4 * out.std() / math.sqrt(out.size)


def test_the_typical_curve_by_hand():
    curves = typical_curves(16, 8)
    assert curves.level.shape == (16, 8)
    out = curves.force_n(np.full((16, 8), 200e-6))
    np.testing.assert_allclose(out, 37.0 * 2**1.1, rtol=1e-12)
