"""The evidence around a moment, by hand: pushes and shares drawn on its own grid."""

import math

import numpy as np
import pytest

from groundtone.swing.evidence import BEFORE_S, evidence_at, odds, reasons

T = np.arange(-BEFORE_S - 0.5, 2.0, 0.01)
AT = round((BEFORE_S + 0.5) * 100)
SHARE = ((-9, 0.53), (-1.0, 0.53), (-0.3, 0.25), (0.05, 0.80), (0.5, 0.90), (9, 0.90))
TOES = ((-9, 0.0), (0.0, 0.0), (0.4, 0.35), (9, 0.35))


def drawn(knots):
    return np.interp(T, *zip(*knots, strict=True))


def push(size, half_s):
    """A triangle of force about 0, so wide at its foot to either side."""
    return ((-9, 1.0), (-half_s, 1.0), (0.0, 1.0 + size), (half_s, 1.0), (9, 1.0))


def seen(force, share=SHARE, noise=0.0):
    rng = np.random.default_rng(3)
    return evidence_at(drawn(share), drawn(force) + rng.normal(0.0, noise, T.size), drawn(TOES), AT)


@pytest.mark.parametrize("half_s", [0.10, 0.20])
def test_a_push_is_half_as_wide_at_half_its_height_as_at_its_foot(half_s):
    values = seen(push(0.3, half_s)).values
    assert math.exp(values["width"]) == pytest.approx(half_s, abs=0.021)
    assert math.exp(values["width after"]) == pytest.approx(half_s / 2, abs=0.011)
    assert math.exp(values["push"]) == pytest.approx(0.3, abs=0.012)  # the slow curve takes the peak for a little noise
    assert values["excess"] == pytest.approx(0.3, abs=0.01)


def test_who_bends_for_a_ball_has_pushed_as_hard_and_has_not_swung():
    down = ((-9, 1.0), (-0.9, 1.0), (-0.5, 0.85), (0.0, 1.15), (0.4, 1.0), (9, 1.0))
    over_one_foot = ((-9, 0.5), (-0.9, 0.5), (0.2, 0.68), (9, 0.68))
    bent, swung = seen(down, over_one_foot), seen(push(0.3, 0.12))
    assert bent.push == pytest.approx(swung.push, abs=0.02)
    assert odds(bent) < 0 < odds(swung)


def test_noise_makes_no_push():
    quiet, noisy = (seen(((-9, 1.0), (9, 1.0)), noise=noise) for noise in (0.0, 0.01))
    assert noisy.push < 0.02
    assert math.isnan(quiet.values["width"])
    assert abs(odds(noisy) - odds(quiet)) < 3.0


def test_noise_hides_no_swing():
    assert odds(seen(push(0.3, 0.12))) > 0 < odds(seen(push(0.3, 0.12), noise=0.01))


def test_what_a_few_answers_say_together_is_told_as_one_more_reason():
    parts = reasons(seen(push(0.3, 0.12)))
    assert parts[-1][0] == "together"
    assert abs(parts[-1][1]) > 0.1


def test_what_is_not_known_of_the_feet_speaks_neither_way():
    evidence = evidence_at(drawn(SHARE), drawn(push(0.3, 0.1)), np.full(T.size, math.nan), AT)
    parts = dict(reasons(evidence))
    assert parts["trail toes"] == parts["toes late"] == 0.0
    assert odds(evidence) == pytest.approx(sum(parts.values()))


@pytest.mark.parametrize(
    ("share", "walks"),
    [
        (((-9, 0.5), (-0.8, 0.5), (-0.5, 0.0), (-0.2, 0.0), (0.2, 0.8), (0.6, 1.0), (0.9, 1.0), (1.2, 0.5)), True),
        (((-9, 0.5), (-0.8, 0.5), (-0.5, 0.0), (-0.2, 0.0), (0.2, 0.8), (0.6, 0.9), (9, 0.9)), False),
        (((-9, 0.5), (-0.8, 0.5), (-0.4, 0.2), (0.2, 0.8), (0.6, 1.0), (9, 1.0)), False),
    ],
)
def test_who_lifts_one_foot_and_then_the_other_walks(share, walks):
    assert seen(push(0.2, 0.1), share).walked == walks
