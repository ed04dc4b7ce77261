"""Putts: told where a putter is in hand and a ball is heard, live and in review; sway and drift by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest

from groundtone.swing.doubts import Doubts
from groundtone.swing.events import Kind, Moment, Swing
from groundtone.swing.putting import putt_measures
from groundtone.swing.tracker import SwingTracker
from groundtone.swing.window import Window

RATE_HZ = 100
PUTT_S, SWING_S = 8.0, 18.0


def heard(*, putting):
    """A quiet stroke and a full swing, both struck; what is told."""
    tracker = SwingTracker()
    tracker.putting = putting
    knots = ((0, 0.53), (16.5, 0.53), (17.6, 0.25), (18.0, 0.78), (18.4, 0.9), (19.5, 0.9), (20.5, 0.5), (24, 0.5))
    push = ((0, 1.0), (17.6, 0.9), (17.96, 1.5), (18.1, 0.9), (18.5, 1.0), (24, 1.0))
    toes = ((0, 0.0), (18.0, 0.1), (18.4, 0.35), (19.5, 0.35), (20.5, 0.0), (24, 0.0))
    told, unseen = [], []
    rng = np.random.default_rng(4)
    for t in np.arange(0.0, 24.0, 1 / RATE_HZ).tolist():
        share, weights, at = (float(np.interp(t, *zip(*each, strict=True))) for each in (knots, push, toes))
        strike = next((s for s in (PUTT_S, SWING_S) if t - 1 / RATE_HZ < s <= t), None)
        step = tracker.step(
            t, share + rng.normal(0, 0.003), strike_s=strike, strike_peak=0.13 if strike == PUTT_S else 0.8,
            weights=weights + rng.normal(0, 0.003), toes=at,
        )  # fmt: skip
        told += [step.ended] if step.ended is not None else []
        unseen += [step.unseen_s] if step.unseen_s is not None else []
    return told, unseen


def test_a_quiet_strike_is_a_putt_where_a_putter_is_in_hand():
    putt, swing = heard(putting=True)[0]
    assert (putt.kind, swing.kind) == (Kind.PUTT, Kind.SWING)
    assert putt.impact == Moment(PUTT_S, "strike sensor", 0.002)
    assert putt.turn is None
    assert putt.setup_share == pytest.approx(0.53, abs=0.01)
    assert [each.impact.t_s for each in heard(putting=False)[0]] == [SWING_S]


DOUBTS = Doubts(0.007, 0.005, 0.02, 0.006, 3.0)
T = np.arange(0.0, 6.0, 0.01)


def putt(**curves):
    swing = Swing(1, 0.5, Moment(3.0, "estimate", 0.25), None, None, Moment(4.0, "strike sensor", 0.002))
    swing.kind = Kind.PUTT
    flat = np.full(T.size, 0.5)
    window = Window(
        T, curves.get("share", flat), *(flat,) * 8, np.stack([curves.get("across", 0 * T), 0 * T], 1), 280.0, 280.0,
        400.0, math.nan,
    )  # fmt: skip
    return swing, window


def test_sway_is_from_end_to_end_and_drift_from_takeaway_to_impact():
    triangle = np.interp(T, (0, 3.0, 3.5, 4.0, 6), (0, 0, 10.0, 0, 0))
    drifts = np.interp(T, (0, 3.0, 4.0, 6), (0.5, 0.5, 0.54, 0.54))
    got = putt_measures(*putt(across=triangle, share=drifts), DOUBTS)
    assert got["putt_sway_mm"].value == pytest.approx(10.0, abs=0.5)
    # The medians of the first and last tenth lie a twentieth inside.
    assert got["putt_drift"].value == pytest.approx(0.036, abs=0.001)
    still = putt_measures(*putt(), DOUBTS)
    assert (still["putt_sway_mm"].value, still["putt_drift"].value) == (0.0, 0.0)


def test_a_swing_has_neither():
    swing, window = putt()
    got = putt_measures(replace(swing, kind=Kind.SWING), window, DOUBTS)
    assert all(math.isnan(each.value) and each.reason for each in got.values())
