"""What a still body's total says of the calibration goes into every interval of the review."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from groundtone.record.reader import open_recording
from groundtone.review.measured import measure
from groundtone.review.session_review import review_measured
from groundtone.review.shoes import SoleForces
from groundtone.swing.doubts import Doubts


def test_by_hand():
    usual = Doubts(0.007, 0.005, 0.015, 0.007, 3.0)
    known = usual.with_left(0.02)
    assert known.share == pytest.approx(math.hypot(usual.share, 0.01))
    assert known.position == pytest.approx(math.hypot(usual.position, 0.005))
    assert known.force == pytest.approx(math.hypot(usual.force, 0.02))
    assert replace(usual.with_left(0.0)) == usual


def test_it_reaches_the_measures_of_a_swing():
    (path, *_) = sorted((Path(__file__).parents[1] / "data" / "v0.1" / "recordings").glob("*.mcap"))
    measured = measure(open_recording(path))
    measured = replace(measured, stated=None)
    plain, doubtful = (review_measured(replace(measured, left=left)) for left in (0.0, 0.05))
    assert plain.swings
    for before, after in zip(plain.swings, doubtful.swings, strict=True):
        one, other = before.measures["share_setup"], after.measures["share_setup"]
        assert other.value == one.value
        assert other.u == pytest.approx(math.hypot(one.u, 4 * one.value * (1 - one.value) * 0.025), rel=1e-3)


def test_nothing_is_left_where_nobody_stood():
    from groundtone.calibration.film import typical_film
    from groundtone.mat.layout import layout_of

    soles = SoleForces(layout_of("reference-16x4"), typical_film(16, 8))
    soles.end()
    assert soles.left == 0.0
