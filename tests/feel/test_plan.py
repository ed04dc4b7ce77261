"""The plan: order, tone, asked balls, tests, dates, and a clock that was set back."""

from collections import Counter
from dataclasses import replace

import pytest

from groundtone.errors import GroundtoneError
from groundtone.feel.plan import (
    Ball,
    Plan,
    forget_plan,
    hand_on_plan,
    in_turn,
    next_of,
    path_of,
    read_plan,
    steps,
    write_plan,
)

CLUBS = ("driver", "7 iron", "wedge")


def plan(**more):
    return Plan(**{"golfer": "P7", "clubs": CLUBS, "drill": "heels-down", "balls": 40, "seed": 3, "made": "2026-03-14",
                   **more})  # fmt: skip


def changes(balls):
    return sum(a.club != b.club for a, b in zip(balls, balls[1:], strict=False))


def test_from_blocked_to_random_with_a_tone_that_fades_and_a_silent_test():
    balls = plan().all_balls()
    assert len(balls) == 40
    first, second, third, test = balls[:10], balls[10:20], balls[20:30], balls[30:]
    assert changes(first) == 2
    assert changes(second) == 9
    assert changes(third) > 3
    assert [sum(ball.tone for ball in part) for part in (first, second, third, test)] == [
        10,
        4,
        2,
        0,
    ]  # an asked ball has none
    assert {ball.kind for ball in first} == {"drill"}
    assert [ball.asked for ball in balls if ball.kind == "purpose"] == ["heels", "toes"] * 2
    assert {ball.kind for ball in test} == {"test"}
    assert all(2 <= n <= 4 for n in Counter(ball.club for ball in test).values())


@pytest.mark.parametrize("balls", [16, 23, 77, 200])
@pytest.mark.parametrize("clubs", [CLUBS[:1], CLUBS, ("a", "b", "c", "d", "e")])
def test_any_size_has_all_its_balls_and_every_club(balls, clubs):
    made = plan(balls=balls, clubs=clubs)
    assert len(made.all_balls()) == balls
    assert {ball.club for ball in made.all_balls()} == set(clubs)
    assert len(made.retention()) == 10
    assert all(ball == Ball("retention", ball.club) for ball in made.retention())


def test_the_same_seed_is_the_same_plan():
    assert plan().all_balls() == plan().all_balls() != plan(seed=4).all_balls()


def test_days():
    made = plan()
    assert len(next_of(made, "2026-03-14").balls) == 40
    assert len(next_of(replace(made, done=13), "2026-03-15").balls) == 27
    hit = replace(made, done=40, practised="2026-03-15", seen="2026-03-15")
    assert hit.due == "2026-03-22"
    waits = next_of(hit, "2026-03-21")
    assert (waits.balls, waits.sentence) == (
        (), "All balls of the plan are hit; the retention test is on 2026-03-22."
    )  # fmt: skip
    assert next_of(hit, "2026-03-22").balls == hit.retention()
    assert next_of(hit, "2026-05-01").balls == hit.retention()
    done = next_of(replace(hit, kept="2026-03-22"), "2026-03-23")
    assert (done.balls, done.sentence) == ((), "This plan is done and what stayed is known: make a new one.")


def test_a_clock_set_back_over_the_date_takes_nothing_away():
    hit = plan(done=40, practised="2026-03-15", seen="2026-03-23")
    back = next_of(hit, "2026-03-01")
    assert back.balls == hit.retention()
    assert back.sentence.endswith("The computer's clock says 2026-03-01, and 2026-03-23 has been: set it.")


def test_what_cannot_be_is_refused():
    for wrong, said in (
        ({"balls": 15}, "16 to 200 balls, not 15"), ({"clubs": ()}, "1 to 5 clubs"),
        ({"clubs": ("a", "a")}, "each once"),
        ({"days": 0}, "1 to 60 days"), ({"made": "soon"}, "'soon' is no day"),
    ):  # fmt: skip
        with pytest.raises(GroundtoneError, match=said):
            plan(**wrong)


def test_steps_put_like_balls_together():
    a, b, asked = Ball("drill", "x", tone=True), Ball("drill", "y"), Ball("purpose", "x", "toes")
    assert steps([a, a, b, asked, asked, a]) == [(a, 2), (b, 1), (asked, 1), (asked, 1), (a, 1)]


def test_it_lies_in_a_file_of_the_golfers_own(tmp_path):
    made = plan(done=3, practised="2026-03-15")
    assert read_plan("P7", tmp_path) is None
    write_plan(made, tmp_path)
    assert read_plan("P7", tmp_path) == made
    assert "P7" not in path_of("P7", tmp_path).name
    hand_on_plan("P7", "P8", tmp_path)
    assert read_plan("P7", tmp_path) is None
    assert read_plan("P8", tmp_path) == replace(made, golfer="P8")
    write_plan(made, tmp_path)
    hand_on_plan("P7", "P8", tmp_path)  # who is there already keeps theirs
    assert read_plan("P8", tmp_path).golfer == "P8"
    forget_plan("P8", tmp_path)
    forget_plan("P8", tmp_path)
    assert read_plan("P8", tmp_path) is None


@pytest.mark.parametrize("text", ["clubs = 3", "no toml at all =", "balls = 40", 'clubs = ["a"]\nballs = "many"'])
def test_a_damaged_file_is_said(tmp_path, text):
    path = path_of("P7", tmp_path)
    path.parent.mkdir()
    path.write_text(text)
    with pytest.raises(GroundtoneError, match=r"cannot be used .*groundtone plan --new' makes another"):
        read_plan("P7", tmp_path)


def test_blocks_in_turn_go_to_and_fro_and_are_neither_too_few_nor_too_many():
    balls = in_turn(3, "7 iron", each=4)
    assert [(ball.kind, ball.tone, n) for ball, n in steps(balls)] == [("baseline", False, 4), ("drill", True, 4)] * 3
    for blocks in (2, 13):
        with pytest.raises(GroundtoneError, match=f"3 to 12 of each kind, not {blocks}"):
            in_turn(blocks)
