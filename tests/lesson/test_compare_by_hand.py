"""What a comparison makes of gaps that are given, and the pieces that chance is reckoned from: by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest

from groundtone.feel.in_blocks import Gap
from groundtone.lesson import chance, compare
from groundtone.lesson.lesson_measures import LessonMeasure
from groundtone.lesson.strike_counts import share_interval
from groundtone.review.strikes import Strike
from groundtone.review.swings import BlockRows, Lesson, SwingRow

SHARE = LessonMeasure("share_impact", "lead share at impact", "%", (0.65, 0.85), 0.03)


def gap(low, high, before=0.5):
    size = (low + high) / 2
    return Gap(size, low, high, 0.01, before, before + size, 20, 0.03, 0.2, 0.0)


@pytest.mark.parametrize(
    ("low", "high", "before", "verdict"),
    [
        (0.031, 0.10, 0.50, "better"), (-0.10, -0.031, 0.60, "worse"), (-0.10, -0.031, 0.97, "better"),
        (0.029, 0.10, 0.50, "cannot tell"), (-0.10, -0.029, 0.60, "cannot tell"),
        (-0.029, 0.029, 0.50, "no change that matters"), (-0.031, 0.029, 0.50, "cannot tell"),
        (-0.029, 0.031, 0.50, "cannot tell"), (0.04, 0.10, 0.70, "changed"), (0.04, 0.40, 0.60, "changed"),
        (math.nan, math.nan, 0.5, "too few swings to say"),
    ],
)  # fmt: skip
def test_a_claim_is_the_whole_interval_beyond_what_matters(low, high, before, verdict):
    """Three points matter; the band is 0.65 to 0.85. In two blocks alone a claim is that they differ."""
    told = gap(low, high, before)
    assert compare._verdict(SHARE, told, whole=True) == verdict
    claims = ("better", "worse", "changed")
    assert compare._verdict(SHARE, told, whole=False) == ("these two blocks differ" if verdict in claims else verdict)


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (0.101, 0.5, "better"), (-0.5, -0.101, "worse"), (0.099, 0.5, "cannot tell"), (-0.5, -0.099, "cannot tell"),
        (-0.099, 0.099, "no change that matters"), (-0.101, 0.099, "cannot tell"), (-0.099, 0.101, "cannot tell"),
        (math.nan, math.nan, "too few swings to say"),
    ],
)  # fmt: skip
def test_a_tenth_of_the_strikes_matters(low, high, verdict):
    told = chance.ShareGap((low + high) / 2, low, high)
    assert compare.share_verdict(told, whole=True) == verdict
    differs = "these two blocks differ"
    assert compare.share_verdict(told, whole=False) == (differs if verdict in ("better", "worse") else verdict)


def test_what_would_tell_is_reckoned_for_what_lies_beyond_the_step(monkeypatch):
    asked = []
    monkeypatch.setattr(
        compare, "blocks_to_tell", lambda _, wanted, each, looks: asked.append((wanted, each, looks)) or 7
    )
    for low, high, wanted in ((0.0, 0.10, 0.02), (-0.14, 0.0, 0.04), (0.0, 0.07, 0.015)):
        change = compare._change(SHARE, gap(low, high), 3, 8, whole=True)
        assert (change.verdict, change.need) == ("cannot tell", (7, 8))
        assert asked[-1] == (pytest.approx(wanted), 8, 3)
    assert compare._change(SHARE, gap(0.04, 0.1), 3, 8, whole=True).need == (0, 8)
    assert len(asked) == 3


def row(number, share=0.6, session="one", block="1", u=math.nan, t_s=math.nan):
    return SwingRow(number, {"share_impact": share}, {"share_impact": u}, t_s=t_s, run=(session, block, "", "", ""))


def test_swings_of_one_recording_stand_in_the_order_of_their_numbers():
    before, after = [row(1, 0.1), row(4, 0.4, block="3")], [row(2, 0.2, block="2"), row(7, 0.7, block="4")]
    swings = compare.swings_of(before, after, ["share_impact", "tempo"])
    assert swings.values[:, 0].tolist() == [0.1, 0.2, 0.4, 0.7]
    assert np.isnan(swings.values[:, 1]).all()
    assert np.array(swings.block).tolist() == [0, 1, 2, 3]
    assert np.array(swings.after).tolist() == [False, True, False, True]
    assert np.array(swings.at).tolist() == [1, 2, 4, 7]
    # One block, nobody said which swings are before: two.
    same = compare.swings_of([row(1), row(2)], [row(3), row(4)], ["tempo"])
    assert np.array(same.block).tolist() == [0, 0, 1, 1]
    assert compare.swings_of([], [], ["tempo"]).values.shape == (0, 1)


def test_another_recording_lies_far_off():
    swings = compare.swings_of([row(5), row(3)], [row(1, session="two"), row(2, session="two")], ["tempo"])
    assert np.array(swings.at).tolist() == [0, 1, 1002, 1003]
    # Numbers that stand twice say nothing of an order.
    twice = compare.swings_of([row(1, 0.3), row(1, 0.2)], [row(2, 0.1)], ["share_impact"])
    assert twice.values[:, 0].tolist() == [0.3, 0.2, 0.1]
    assert np.array(twice.at).tolist() == [0, 1, 2]


@pytest.mark.parametrize(("u", "scale"), [(0.014, 0.02), (0.016, 0.05)])
def test_what_more_swings_do_not_make_smaller(u, scale):
    """The least doubt of a recording in the part by which the sides differ in it; and the scale, guessed or not."""
    one = [row(1, 0.5, u=u), row(2, 0.5, u=u + 0.1), row(3, 0.5), row(4, 0.5)]
    two = [row(5, 0.7, u=u), row(1, 0.7, "two", u=2 * u), row(2, 0.7, "two"), row(3, 0.7, "two")]
    (told,) = compare._doubts((one, two), [SHARE])
    # Of the first recording 4 of 4 before and 1 of 4 after, of the second none and 3 of 4.
    assert told == pytest.approx(math.hypot(0.75 * u, 0.75 * 2 * u, scale * 0.2))
    (alike,) = compare._doubts((one, [row(5, 0.7), row(6, 0.7)]), [SHARE])
    assert alike == pytest.approx(scale * 0.2)
    assert compare._doubts(([], []), [SHARE]) == [0.0]


def test_a_guessed_mat_is_told_wherever_the_share_lies():
    """What a share's doubt says of the mat is said at even weight; on one foot it is a fraction of that."""
    mat_u = 0.018
    before, after = ([row(n, share, u=4 * mat_u * share * (1 - share)) for n in (1, 2)] for share in (0.8, 0.9))
    (told,) = compare._doubts((before, after), [SHARE])
    assert told == pytest.approx(math.hypot(0.0, 0.05 * 0.1), rel=1e-6)


@pytest.mark.parametrize(("pause_s", "said"), [(3599.0, False), (3601.0, True)])
def test_a_pause_of_more_than_an_hour_is_said(pause_s, said):
    rows = [row(1, t_s=10.0), row(2, t_s=20.0)], [row(3, t_s=20.0 + pause_s), row(4)]
    told = compare._proves(rows, whole=True)
    assert any("More than an hour" in text for text in told) == said
    assert len(told) == said
    assert len(compare._proves(rows, whole=False)) == said + 1
    assert compare._proves(([row(1, t_s=10.0)], []), whole=False) == ()


@pytest.mark.parametrize(("placed", "told"), [(9, "too few swings to say"), (10, "cannot tell")])
def test_ten_strikes_a_side_are_the_least(placed, told):
    from groundtone.lesson.strike_counts import StrikeCounts

    side = StrikeCounts(placed, 5, 0.5, (0.3, 0.7), {}, math.nan, None)
    assert compare._inside_verdict((side, side), (0.1, -0.2, 0.4), whole=True) == told
    other = StrikeCounts(20, 5, 0.25, (0.1, 0.4), {}, math.nan, None)
    assert compare._inside_verdict((other, side), (0.1, -0.2, 0.4), whole=True) == told


def test_what_else_differed_is_said():
    plain = BlockRows("a", (row(1),), lie="grass")
    told = compare._conditions(plain, BlockRows("b", (row(2),), lie="", cues=True))
    assert told == (
        "Different lies (grass before, not said after): what changed may come from that alone.",
        "Cues sounded only after: compare blocks in silence to see what stayed.",
    )
    assert compare._conditions(plain, plain) == ()
    mat = BlockRows("a", (row(1),), lie="mat")
    assert compare._conditions(mat, mat) == ("An artificial mat hides fat strikes.",)


@pytest.mark.parametrize(
    ("sizes", "pieces"),
    [
        ((11,), [11]),
        ((12,), [6, 6]),
        ((24,), [8, 8, 8]),
        ((13, 6), [7, 6, 6]),
        ((20, 20), [20, 20]),
        ((6, 6), [6, 6]),
        ((), []),
    ],
)
def test_long_runs_are_cut_until_there_are_three_hundred_shifts(sizes, pieces):
    """12 in two are 36 ways, 24 in three are 512; 20 and 20 are 400 as they are; no piece has fewer than six."""
    runs, at = [], 0
    for size in sizes:
        runs.append(list(range(at, at + size)))
        at += size
    cut = chance._pieces(runs)
    assert [len(piece) for piece in cut] == pieces
    assert [i for piece in cut for i in piece] == list(range(at))


def test_ranks_share_ties_and_lie_about_nought():
    ranks = chance._ranks(np.array([3.0, 1.0, 3.0, 2.0, 9.0]), [[1, 3], [0, 2]])
    # Run after run: 1, 2, 3, 3 of four, the last two tied.
    assert ranks.tolist() == [-0.375, -0.125, 0.25, 0.25]


def test_what_a_trend_leaves_is_nothing_of_a_straight_line():
    left = chance._without_trend(np.array([[1.0], [3.0], [5.0], [1.0], [0.0], [1.0]]), [[0, 1, 2], [3, 4, 5]])
    assert left[:, 0] == pytest.approx([0, 0, 0, 1 / 3, -2 / 3, 1 / 3], abs=1e-12)


def test_runs_are_shifted_in_circles_all_ways_or_some():
    few = chance._shifted(np.arange(5.0), [[0, 1], [2, 3, 4]], 1)
    assert few.shape == (5, 6)
    assert few[:, 0].tolist() == [0, 1, 2, 3, 4]
    assert few[:, 5].tolist() == [1, 0, 4, 2, 3]
    assert len({tuple(column) for column in few.T.tolist()}) == 6
    many = chance._shifted(np.arange(40.0), [list(range(10 * k, 10 * k + 10)) for k in range(4)], 1)
    assert many.shape == (40, 5000)
    assert many[:, 0].tolist() == list(range(40))
    assert (np.sort(many, axis=0) == np.arange(40.0)[:, None]).all()


def test_holm_by_hand():
    assert chance.holm([0.01, math.nan, 0.04, 0.03])[0] == pytest.approx(0.03)
    assert chance.holm([0.01, math.nan, 0.04, 0.03])[2:] == pytest.approx([0.06, 0.06])
    assert chance.holm([0.9, 0.8]) == [1.0, 1.0]


def test_of_an_empty_side_nothing_is_known():
    for before, after in (((0, 0), (3, 4)), ((3, 4), (0, 0))):
        assert math.isnan(chance.share_gap(before, after).size)


def test_a_golfers_habit_is_learnt_from_the_last_ten_other_lessons_of_eight_swings(monkeypatch):
    learnt = []
    monkeypatch.setattr(compare, "habit", lambda past, at: learnt.append((past, at)) or np.zeros(3))
    rows = ([row(1, session="now")], [row(2, session="now")])

    def lesson(k, swings, session):
        told = tuple(row(i, 0.01 * k, session) for i in range(swings))
        return Lesson(str(k), "2026-05-01", (BlockRows("b", told, session=session, number=1),))

    plain = [lesson(k, 8, f"s{k}") for k in range(12)]
    earlier = [*plain[:6], lesson(50, 7, "short"), lesson(60, 8, "now"), *plain[6:]]
    found = compare._learnt(earlier, rows, [SHARE, LessonMeasure("tempo", "tempo")])
    assert found.shape == (2, 3)
    assert [at for _, at in learnt] == [0, 1]
    assert [past.values[0, 0] for past in learnt[0][0]] == pytest.approx([0.01 * k for k in range(2, 12)])
    assert compare._learnt([], rows, [SHARE]) is compare.PRIOR
    assert compare._learnt([lesson(50, 7, "short")], rows, [SHARE]) is compare.PRIOR


@pytest.mark.parametrize(
    ("known", "placed", "spans", "looks"),
    [((4, 4), 0, 1, 1), ((4, 3), 0, 1, 1), ((3, 4), 0, 2, 2), ((4, 4), 10, 1, 2), ((4, 4), 9, 1, 1), ((3, 3), 10, 3, 3),
     ((4, 4), 10, 3, 6)],
)  # fmt: skip
def test_what_was_looked_at_is_paid_for(monkeypatch, known, placed, spans, looks):
    """Four values a side are a look, ten strikes a side another; each as often as comparisons stand side by side."""
    asked = []

    def given(swings, looks, **_):
        asked.append(looks)
        return [gap(-0.1, 0.1)] * swings.values.shape[1]

    monkeypatch.setattr(compare, "between", given)
    sides = [
        BlockRows("b", tuple(
            replace(row(100 * side + i, 0.6 if i < many else math.nan), strike=Strike(field=5 if i < placed else None))
            for i in range(12)
        ))
        for side, many in enumerate(known)
    ]  # fmt: skip
    compare.compare(*sides, [SHARE], spans=spans)
    assert asked == [looks]


@pytest.mark.parametrize(("blocks", "looks"), [(1, 1.0), (3, 1.0), (4, 2.0)])
def test_a_change_of_a_share_has_its_blocks_and_its_drift_in_it(blocks, looks):
    """0.20 of an offset a block, and a drift of 0.85 over the lesson of which blocks in turn leave 1 / (2 sqrt 2 n)."""
    unsure = math.hypot(0.20 / math.sqrt(blocks), 0.85 / (2 * math.sqrt(2) * blocks)) if blocks > 1 else 0.0
    z = {1.0: 1.959963985, 2.0: 2.241402728}[looks]
    (l1, u1), (l2, u2) = (share_interval(*side, z, follows=0.26, unsure=unsure) for side in ((3, 12), (9, 14)))
    gap = chance.share_gap((3, 12), (9, 14), looks, blocks=blocks, alpha=0.05)
    size = 9 / 14 - 3 / 12
    low, high = size - math.hypot(9 / 14 - l2, u1 - 0.25), size + math.hypot(u2 - 9 / 14, 0.25 - l1)
    assert (gap.size, gap.low, gap.high) == pytest.approx((size, low, high), abs=1e-8)
