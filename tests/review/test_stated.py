"""The mat's budget reaches each measure: frame by frame, stand by stand, and as its class where a profile has none."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from groundtone.calibration.film import Film, typical_film
from groundtone.calibration.force_curve import typical_curves
from groundtone.calibration.profile import Profile, profile_text
from groundtone.calibration.shoes.postures import Postures
from groundtone.calibration.shoes.shoe import LEAST_POSTURES, film_prior, shoe_from
from groundtone.calibration.uncertainty import budget_of
from groundtone.mat.layout import layout_of
from groundtone.record.reader import open_recording
from groundtone.review.measured import measure
from groundtone.review.session_review import review_measured
from groundtone.review.stated import NO_BUDGET, KeptFrames, budgeted, calibration_doubts
from groundtone.swing.doubts import Doubts, doubts_of, guessed_doubts

LAYOUT = layout_of("reference-16x4")
FILM = replace(typical_film(16, 8), level_u=np.full((16, 8), 0.03), highest_n=200.0)


def standing(share, toes=0.5, n=1, weight_n=700.0):
    out = np.zeros((n, 16, 8))
    out[:, 4, 1:3], out[:, 11, 1:3] = (weight_n * share * part / 2 for part in (1 - toes, toes))
    out[:, 4, 5:7], out[:, 11, 5:7] = (weight_n * (1 - share) * part / 2 for part in (1 - toes, toes))
    return out


def shoe():
    postures = np.concatenate([standing(s, t) for s in (0.2, 0.5, 0.8) for t in (0.1, 0.5, 0.9)])
    assert len(postures) >= LEAST_POSTURES
    count = np.full(len(postures), 20)
    known = Postures(postures, count, np.full(len(postures), 0.003), 0, int(count.sum()), 20.0)
    return shoe_from(film_prior(FILM), known, ((30.0, 290.0), (30.0, 290.0)), LAYOUT)


def kept(rate_hz=100.0, seconds=4.0):
    """Two stands with nobody for a second between them: half and half, then three quarters on the left foot."""
    t_s = np.arange(0.0, 2 * seconds + 1, 1 / rate_hz)
    force = np.concatenate([standing(0.5, n=int(seconds * rate_hz)), np.zeros((int(rate_hz), 16, 8)),
                            standing(0.75, n=int(seconds * rate_hz) + 1)])[: len(t_s)]  # fmt: skip
    frames = KeptFrames()
    for begin in range(0, len(t_s), 130):
        frames.take(t_s[begin : begin + 130], force[begin : begin + 130])
    return frames


def test_one_frame_in_fifty_milliseconds_is_kept_of_who_stands_there():
    seen = kept().stated(LAYOUT, FILM, [(0.0, None), (5.0, None)], 0)
    assert len(seen.t_s) == pytest.approx(160, abs=4)
    assert np.diff(seen.t_s).min() > 0.039
    assert not ((seen.t_s > 4.0) & (seen.t_s < 4.99)).any()


def test_a_frames_doubt_is_its_budgets_in_the_stand_it_lies_in():
    learnt = shoe()
    seen = kept().stated(LAYOUT, FILM, [(0.0, learnt), (5.0, None)], 0)
    first, second = np.array([2.0, 2.02]), np.array([7.0, 7.02])
    for t_s, budget, force in (
        (first, budget_of(LAYOUT, FILM, learnt), standing(0.5)),
        (second, budget_of(LAYOUT, FILM), standing(0.75)),
    ):
        share, along = seen.frames(t_s)
        stated = budget.of(force)
        assert share == pytest.approx(np.full(2, stated.share[0]), rel=1e-3)
        assert along[0] == pytest.approx(stated.along_mm[0], rel=1e-3)
    before, after = (budget_of(LAYOUT, FILM, known).of(standing(0.5)).share[0] for known in (None, learnt))
    assert after < 0.7 * before
    # Where nobody stood nothing is known, and the class's doubt is taken.
    share, _ = seen.frames(np.array([4.4, 4.5]))
    assert np.isnan(share).all()
    doubts = replace(doubts_of(FILM, LAYOUT), stated=seen)
    plain, _ = doubts.of_frames(np.array([4.4, 4.5]), np.array([0.5, 0.9]), (270.0, 270.0))
    assert plain == pytest.approx([doubts.share, 4 * 0.09 * doubts.share])


def test_feet_change_places_with_the_hand():
    left, right = (kept().stated(LAYOUT, FILM, [(0.0, None), (5.0, None)], lead) for lead in (0, 1))
    (_, one), (_, other) = (seen.frames(np.array([7.0])) for seen in (left, right))
    assert one[0].tolist() == other[0][::-1].tolist()
    change = left.change(5.5, 8.5)
    assert change[1:3] == right.change(5.5, 8.5)[1:3][::-1]
    assert math.isnan(left.change(4.4, 8.5)[0])


def test_it_reaches_every_swing_frame_by_frame():
    (path, *_) = sorted((Path(__file__).parents[1] / "data" / "v0.1" / "recordings").glob("*.mcap"))
    measured = measure(open_recording(path))
    assert measured.stated is not None
    whole = review_measured(measured)
    assert whole.swings
    for each in whole.swings:
        setup, impact = each.measures["share_setup"], each.measures["share_impact"]
        budget = measured.stated._budget(each.swing.takeaway.t_s)
        for measure_of, t_s in ((setup, each.swing.takeaway.t_s - 0.3), (impact, each.swing.impact.t_s)):
            at = int(np.argmin(np.abs(measured.stated.t_s - t_s)))
            by_hand = budget.of(measured.stated.force_n[at][None].astype(float)).share[0]
            assert measure_of.common == pytest.approx(by_hand, rel=0.25)
            assert measure_of.u >= measure_of.common > 0
    doubled = replace(measured.stated, budgets=tuple(replace(b, left=0.1) for b in measured.stated.budgets))
    doubtful = review_measured(replace(measured, stated=doubled))
    for one, other in zip(whole.swings, doubtful.swings, strict=True):
        assert other.measures["share_setup"].u > 2 * one.measures["share_setup"].u
        assert other.measures["share_setup"].value == one.measures["share_setup"].value


def profile(film, weights_n=(60.0,)):
    return Profile("e661", LAYOUT.id, LAYOUT.digest, "2026-01-01", weights_n, 0.01, film)


def test_a_profile_without_a_budget_gets_its_classs_and_says_so():
    bare = Film(typical_curves(16, 8), highest_n=200.0)
    (film, said), (_, stood) = budgeted(profile(bare), bare), budgeted(profile(bare, ()), bare)
    assert said == NO_BUDGET.format("with weights")
    assert "by standing" in stood
    assert film.level_u is not None
    assert budgeted(profile(FILM), FILM) == (FILM, "")
    assert budgeted(None, bare) == (bare, "")
    shares = [
        calibration_doubts(text, LAYOUT).share
        for text in (profile_text(profile(FILM)), profile_text(profile(bare)), profile_text(profile(bare, ())), None)
    ]
    assert shares == sorted(shares)
    assert shares[-1] == guessed_doubts().share
    assert shares[0] < shares[1] < shares[2] < shares[3]


def test_where_only_the_whole_is_known_it_goes_with_s_times_one_less_s_too():
    doubts = Doubts(0.01, 0.006, 0.02, 0.005, 4.0)
    assert [doubts.share_at(s) for s in (0.5, 0.8, 1.0)] == pytest.approx([0.01, 0.0064, 0.0])
    share, places = doubts.of_frames(np.arange(3.0), np.array([0.5, 0.8, math.nan]), (270.0, math.nan))
    assert share == pytest.approx([0.01, 0.0064, 0.01])
    assert (places == 0.006).all()
    assert doubts.shifted(0.0, 1.0) == pytest.approx(0.008)
    assert doubts.moved(0, 0.0, 1.0, 270.0) == 0.005
    assert doubts.pushed(0.0, 1.0) == 0.02
