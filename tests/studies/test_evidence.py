"""The invented golfers are what they are said to be, and the judge counts what was said against what is true."""

import ast
from pathlib import Path

import numpy as np
import pytest

from studies import evidence, evidence_designs, evidence_golfers
from studies.evidence_asked import Told
from studies.evidence_golfers import CHANGED, NAMES, PLAIN, SCATTER, USUAL, Habits, Plan, lessons

TWO = Plan(((0, 12), (-1, 6), (1, 12)))


def z_of(habits, plan=TWO, many=400, **more):
    drawn = lessons(np.random.default_rng(5), many, plan, habits, **more)
    return drawn, ((drawn.values - USUAL) / SCATTER)[..., PLAIN]


@pytest.mark.parametrize("rho", [0.0, 0.3, 0.6])
def test_swings_hang_together_as_told_and_scatter_alike(rho):
    _, z = z_of(Habits((rho, rho)))
    assert z.std() == pytest.approx(1.0, abs=0.02)
    assert (z[:, 0, 1:] * z[:, 0, :-1]).mean() == pytest.approx(rho, abs=0.02)


def test_drift_goes_one_scatter_from_the_first_swing_to_the_last_and_is_told_as_a_difference_of_the_sides():
    drawn, z = z_of(Habits(drift=(1.0, 1.0)), many=4000)
    sides = [z[:, 0, TWO.side == side].mean(1) for side in (0, 1)]
    true = drawn.differ[:, PLAIN] / SCATTER[PLAIN]
    slope = float(((sides[1] - sides[0]) * true).sum() / (true * true).sum())
    assert slope == pytest.approx(1.0, abs=0.02)
    ends = np.abs(true).max()
    assert 0.5 < ends < 1.0
    assert np.allclose(drawn.change, 0)


def test_what_a_lesson_changes_is_changed_in_one_measure_alone():
    drawn, z = z_of(Habits(), many=4000, gain=1.0)
    moved = (z[:, 0, TWO.side == 1].mean((0, 1)) - z[:, 0, TWO.side == 0].mean((0, 1))).tolist()
    names = [name for name, plain in zip(NAMES, PLAIN, strict=True) if plain]
    for name, by in zip(names, moved, strict=True):
        assert by == pytest.approx(-1.0 if name == NAMES[CHANGED] else 0.0, abs=0.03)
    assert np.allclose(drawn.differ, drawn.change)


def test_days_and_blocks_have_places_of_their_own():
    days, z = z_of(Habits(day=(0.5, 0.5)), Plan(((0, 8),), days=4))
    assert z.mean(2).std() == pytest.approx(np.hypot(0.5, 8**-0.5), abs=0.02)
    assert days.values.shape == (400, 4, 8, len(NAMES))
    _, z = z_of(Habits(block=(0.5, 0.5)), Plan(((0, 8), (1, 8))))
    assert (z[:, 0, :8].mean(1) - z[:, 0, 8:].mean(1)).std() == pytest.approx(2**0.5 * np.hypot(0.5, 8**-0.5), abs=0.03)


def test_floors_hold_and_steps_are_tied():
    drawn, _ = z_of(Habits())
    held = drawn.values[..., NAMES.index("held_s")]
    assert held.min() == 0.0
    assert held.max() <= 3.0
    assert len(np.unique(held)) <= 7


def test_strikes_go_with_pressure_only_where_they_are_linked():
    for link in (0.0, 0.7):
        drawn, _ = z_of(Habits((0.3, 0.3)), link=link)
        down = drawn.values[..., NAMES.index("overall_down")]
        assert np.corrcoef(down.ravel(), drawn.along_mm.ravel())[0, 1] == pytest.approx(link, abs=0.03)
        impact = drawn.values[..., NAMES.index("share_impact")]
        assert np.corrcoef(impact.ravel(), drawn.height.ravel())[0, 1] == pytest.approx(link, abs=0.03)


def test_the_golfers_know_nothing_of_the_program():
    tree = ast.parse(Path(evidence_golfers.__file__).read_text("utf-8"))
    named = [node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    named += [name.name for node in ast.walk(tree) if isinstance(node, ast.Import) for name in node.names]
    assert sorted(named) == ["__future__", "dataclasses", "numpy", "numpy.typing"]


def test_textbooks_keep_their_promise_where_swings_are_independent_and_break_it_where_they_are_not():
    plan = evidence.PLANS["5 x 4 a side"]
    for rho, low, high in ((0.0, 0.0, 0.09), (0.6, 0.2, 0.8)):
        claimed = evidence_designs.claims(lessons(np.random.default_rng(3), 400, plan, Habits((rho, rho))))
        assert low <= claimed["swings as if independent (Welch)"].any(1).mean() <= high
        assert claimed["pairs of blocks"].any(1).mean() <= 0.09


def answers(verdict, low=-0.1, high=0.1, size=0.0):
    told = dict.fromkeys((*NAMES[:9], "inside"), Told("no clear change", 0.0, low, high))
    return {**told, NAMES[CHANGED]: Told(verdict, size, low, high)}


@pytest.mark.parametrize(
    ("verdict", "drift", "false"), [("better", 0.0, 6), ("these two blocks differ", 0.0, 6), ("cannot tell", 0.0, 0),
                                    ("better", 1.0, 6), ("these two blocks differ", 1.0, 0)]
)  # fmt: skip
def test_a_claim_is_false_where_nothing_was_changed(verdict, drift, false, monkeypatch):
    monkeypatch.setattr(evidence.asked, "compared", lambda day: answers(verdict))
    monkeypatch.setattr(evidence.asked, "counted", lambda days: (0, 0))
    drawn = lessons(np.random.default_rng(1), 6, TWO, evidence.habits_of(0.0, drift))
    out = evidence.Counter()
    evidence._lessons(out, "x", drawn, 0.0)
    assert out["x|false"] == false
    assert out["x|lessons"] == 6


def test_an_interval_holds_where_the_truth_is_in_it_and_power_wants_the_right_way(monkeypatch):
    monkeypatch.setattr(evidence.asked, "counted", lambda days: (0, 0))
    for told, all_hold in ((answers("", -0.1, 0.1), 6), (answers("", 0.1, 0.2), 0)):
        monkeypatch.setattr(evidence.asked, "compared", lambda day, told=told: told)
        out = evidence.Counter()
        evidence._lessons(out, "x", lessons(np.random.default_rng(1), 6, TWO, Habits()), 0.0)
        assert out["x|lessons whose intervals all hold"] == all_hold
    for size, right, wrong in ((-0.05, 6, 0), (0.05, 0, 6)):
        monkeypatch.setattr(evidence.asked, "compared", lambda day, size=size: answers("better", size=size))
        out = evidence.Counter()
        evidence._lessons(out, "x", lessons(np.random.default_rng(1), 6, TWO, Habits(), gain=1.0), 1.0)
        assert (out["x|power"], out["x|wrong way"]) == (right, wrong)


def test_few_is_five_in_a_hundred_and_for_fewer_lessons_what_they_can_tell():
    assert evidence._few(100, 2000)
    assert not evidence._few(101, 2000)
    assert evidence._few(8, 100)
    assert not evidence._few(10, 100)
