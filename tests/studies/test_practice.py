"""The judge of the study of practice, against hand-made truths; and one session through all of it."""

import math
from dataclasses import replace

import numpy as np
import pytest

from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.cue.bands import Bands
from groundtone.cue.rulefile import default_rules
from groundtone.twin.swing_knots import SwingTimes
from groundtone.twin.taps import Tap
from groundtone.twin.truth import Truth
from studies import practice_sessions
from studies.practice import counted, figures_of
from studies.practice_sessions import Played, draw_session, play
from studies.practice_truth import DWELL_S, TOLERANCE, wanted

T = np.arange(0, 8, 0.0025)
SWING = SwingTimes("good", 2.0, 4.0, 4.65, 4.75, 5.0, 5.45, 7.0, True)


def truth(share=0.8, overall=0.5, lead=0.45, into=None):
    """A truth of one swing; each value a number or (times, values). `into`: the share until the takeaway."""
    columns = {}
    for name, value in (("share", share), ("overall", overall), ("lead", lead)):
        columns[name] = np.full(T.size, value) if np.isscalar(value) else np.interp(T, *value)
    setup = np.full(T.size, 0.52) if into is None else np.interp(T, *into)
    share_in_setup = np.where(T < 4.0, setup, columns["share"])
    nothing = np.full((T.size, 2), np.nan)
    heel_toe = np.stack([columns["lead"], np.full(T.size, 0.9)], axis=1)
    return Truth(
        T, nothing, share_in_setup, heel_toe, columns["overall"], nothing, nothing, nothing, (SWING,), 0.0, 8.0
    )


def judged(known):
    return {(want.cue, want.part): want for want in wanted(known, SWING, 0, 0.01)}


def test_the_judge_has_the_programs_limits():
    bands, book = Bands(), default_rules()
    from studies import practice_truth as judge

    assert (
        bands.toes_setup, bands.toes_before, bands.toes_after, bands.toes_lead, bands.trail
    ) == (judge.TOES_SETUP, judge.TOES, judge.TOES, judge.TOES_LEAD, judge.TRAIL)  # fmt: skip
    assert book.band("trail").once_over == judge.ONCE_OVER
    assert (
        bands.dwell_setup_s, bands.dwell_swing_s, bands.dwell_trail_s
    ) == (judge.DWELL_SETUP_S, judge.DWELL_S, judge.ARMED_S)  # fmt: skip
    assert {book.rule(name).tolerance for name in ("toes", "trail side")} == {TOLERANCE}


def test_inside_by_the_tolerance_nothing_may_sound():
    assert {want.must for want in judged(truth(share=0.62, overall=0.63, lead=0.66)).values()} == {False}


def test_between_nothing_is_judged():
    found = judged(truth(share=0.57, overall=0.68))
    assert found["toes", "swing"].must is None
    assert found["trail side", "swing"].must is None


def test_beyond_it_must_sound_from_the_crossing_and_the_dwell_on():
    found = judged(truth(share=0.5, lead=([4.7, 4.9, 5.4, 5.5], [0.45, 0.80, 0.80, 0.45])))
    toes = found["toes", "swing"]
    # 0.70 is passed on the way from 0.45 at 4.7 to 0.80 at 4.9 s.
    assert toes.must
    assert toes.onset_s == pytest.approx(4.7 + 0.2 * 0.25 / 0.35 + DWELL_S, abs=0.004)
    assert toes.late_s(toes.onset_s + 0.02) == pytest.approx(0.02)
    trail = found["trail side", "swing"]
    assert (trail.must, trail.onset_s) == (True, pytest.approx(4.65 + 0.36, abs=0.004))
    # Shorter than the dwell it need not be seen.
    short = judged(truth(lead=([4.8, 4.82, 4.84], [0.45, 0.80, 0.45])))
    assert short["toes", "swing"].must is None


def test_who_came_across_and_went_back_is_not_told_of_the_trail_side():
    # Turn at 4.65 s; armed at 5.01.
    went = ([4.65, 4.85, 5.0], [0.26, 0.64, 0.45])
    assert judged(truth(share=went))["trail side", "swing"].must is False
    nearly = ([4.65, 4.85, 5.0], [0.26, 0.55, 0.45])
    assert judged(truth(share=nearly))["trail side", "swing"].must
    between = ([4.65, 4.85, 5.0], [0.26, 0.60, 0.45])
    assert judged(truth(share=between))["trail side", "swing"].must is None


def test_in_the_setup_a_slow_drift_has_its_time():
    setup = judged(truth(overall=([2.6, 3.6], [0.65, 0.80])))["toes", "setup"]
    assert setup.must
    assert setup.onset_s == pytest.approx(2.6 + 0.07 / 0.15 + 0.25, abs=0.01)
    assert setup.latest_s == pytest.approx(2.6 + 0.10 / 0.15 + 0.25, abs=0.01)
    assert setup.late_s(0.5 * (setup.onset_s + setup.latest_s)) == 0.0
    assert setup.late_s(setup.latest_s + 0.05) == pytest.approx(0.05)


def test_who_stands_on_the_toes_already_is_told_when_the_setup_is_seen_for_certain():
    # The share comes from 0.42 to 0.52 in a second: within 0.05 of its end from 2.0 s on, for 0.6 s at 2.6 s.
    setup = judged(truth(overall=0.80, into=([1.5, 2.5], [0.42, 0.52])))["toes", "setup"]
    assert setup.must
    assert setup.onset_s == pytest.approx(0.25)
    assert setup.latest_s == pytest.approx(2.6, abs=0.02)
    assert setup.late_s(2.65) == pytest.approx(0.05, abs=0.02)
    # Who comes onto them later has the dwell from then on.
    later = judged(truth(overall=([2.49, 2.5], [0.5, 0.80]), into=([1.5, 2.5], [0.42, 0.52])))["toes", "setup"]
    assert later.latest_s == pytest.approx(2.5 + 0.25, abs=0.02)


def test_a_setup_on_the_toes_that_is_over_before_it_is_seen_is_not_judged_and_one_inside_is_from_its_begin():
    early = judged(truth(overall=([2.2, 2.3], [0.80, 0.5]), into=([1.5, 2.5], [0.42, 0.52])))["toes", "setup"]
    assert early.must is None
    inside = judged(truth(overall=0.5, into=([1.5, 2.5], [0.42, 0.52])))["toes", "setup"]
    assert (inside.must, inside.span_s) == (False, (2.0, 4.65))


def test_what_was_heard_and_read_is_counted():
    known = truth(share=0.5)
    taps = (Tap(6.0, 6.2, "lead toe", 0.1, 0.0), Tap(7.0, 7.2, "trail foot", 0.1, 0.0))
    played = Played(
        known, 0, 0.01, taps, {"trail side": [(5.03, 5.9)]}, [(6.35, "toe"), (7.3, "thin"), (7.9, "heel")], 1
    )
    counts = counted(played)
    assert (counts.must["trail side, swing"], counts.heard["trail side, swing"]) == (1, 1)
    assert counts.onsets_s["trail side, swing"] == [pytest.approx(0.02, abs=0.004)]
    assert (counts.taps, counts.right, counts.invented) == (2, 1, 1)
    assert counts.wrong == ["trail foot with 10 % of the weight at 7.0 s read as thin"]
    deaf = counted(replace(played, sounds={}))
    assert (deaf.must["trail side, swing"], deaf.heard["trail side, swing"]) == (1, 0)
    loud = counted(replace(played, known=truth(), sounds={"toes": [(4.9, 5.0), (1.0, 1.2)]}))
    assert (loud.false["toes, swing"], loud.between) == (1, 1)
    figures = figures_of(counts, counts, counts)
    assert figures["answers with the foot read rightly (0.98 asked)"] == "0.500 (1 of 2)"
    assert not figures["ok"]


def test_one_session_with_answers(monkeypatch):
    """On a guessed film, which costs no calibration: places are less exact, and taps are told apart all the same."""
    monkeypatch.setattr(practice_sessions, "film_of", lambda seed: Film(typical_curves(16, 8)))
    session = draw_session(6, taps=True)
    session = replace(session, swings=session.swings[:2], doings=session.doings[:2], rock_s=4.0)
    counts = counted(play(6, session))
    assert (counts.swings, counts.ticks, counts.taps, counts.right, counts.invented) == (2, 2, 2, 2, 0)
    assert math.isfinite(counts.seconds)
