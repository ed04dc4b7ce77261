"""Two sides in blocks: what lies between them, with the doubt that swings of a person deserve."""

import math

import numpy as np
import pytest

from groundtone.feel.in_blocks import GRID, PRIOR, Swings, between, habit, level


def hit(rng, blocks, each, follows=0.0, gap=0.0, slope=0.0, measures=1):
    """Swings of a stationary autoregression in blocks that go to and fro between the sides."""
    n = blocks * each
    values = rng.standard_normal((n, measures))
    for i in range(1, n):
        values[i] = follows * values[i - 1] + math.sqrt(1 - follows**2) * values[i]
    block = np.repeat(np.arange(blocks), each)
    after = block % 2 == 1
    along = slope * np.linspace(-0.5, 0.5, n)
    return Swings(values + gap * after[:, None] + along[:, None], block, after)


def test_the_gap_is_found_and_levels_differ_by_it():
    gap = between(hit(np.random.default_rng(1), 8, 10, gap=2.0))[0]
    assert gap.low < 2.0 < gap.high
    assert gap.low > 0
    assert gap.p < 0.05
    assert gap.after - gap.before == pytest.approx(gap.size)
    assert gap.n == 40


def test_p_is_below_one_in_twenty_just_where_the_interval_leaves_out_nought():
    rng = np.random.default_rng(2)
    gaps = [g for size in (0.4, 0.8, 1.2) for g in between(hit(rng, 6, 8, gap=size, measures=12), looks=10)]
    out = [g.low > 0 or g.high < 0 for g in gaps]
    assert any(out)
    assert not all(out)
    assert [g.p < 0.05 for g in gaps] == out


@pytest.mark.parametrize(("blocks", "each"), [(2, 12), (6, 8)])
@pytest.mark.parametrize("slope", [0.0, 1.0])
def test_swings_that_hang_together_claim_hardly_anything(blocks, each, slope):
    rng = np.random.default_rng(3)
    claims = 0
    for _ in range(30):
        gaps = between(hit(rng, blocks, each, follows=0.6, slope=slope, measures=9), looks=10)
        claims += any(g.low > 0 or g.high < 0 for g in gaps)
    assert claims <= 4  # 5 %, and two standard deviations of 30 lessons


def test_blocks_of_their_own_places_are_less_sure_where_they_took_turns_and_may_prove_more():
    """One block a side: do these two differ? In turn: would others of their kind too?"""
    rng = np.random.default_rng(4)
    swings = hit(rng, 8, 10, measures=20)
    moved = Swings(swings.values + rng.standard_normal((8, 20))[swings.block], swings.block, swings.after)
    two = hit(rng, 2, 40, measures=20)
    turns, same, one = (np.mean([g.high - g.low for g in between(s, alpha=0.05)]) for s in (moved, swings, two))
    assert turns > 1.5 * same
    assert one < 1.2 * same


def test_three_blocks_a_side_in_turn_say_more_than_two():
    swings = hit(np.random.default_rng(5), 6, 6)
    assert swings.in_turn
    assert swings.blocks == (3, 3)
    assert not hit(np.random.default_rng(5), 4, 6).in_turn
    after = swings.block >= 3
    assert not Swings(swings.values, swings.block, after).in_turn  # one side, then the other


def test_blocks_of_one_swing_and_empty_sides_say_nothing():
    rng = np.random.default_rng(6)
    assert math.isnan(between(hit(rng, 12, 1))[0].size)
    assert math.isnan(between(Swings(np.zeros((0, 1)), np.zeros(0, int), np.zeros(0, bool)))[0].size)


def test_all_alike_is_no_change_and_no_error():
    swings = hit(np.random.default_rng(7), 6, 8)
    gap = between(Swings(np.zeros((48, 1)), swings.block, swings.after), floors=[0.02])[0]
    assert gap.size == 0.0
    assert -0.02 < gap.low <= 0.0 <= gap.high < 0.02


def test_a_missing_value_leaves_the_others_where_they_were():
    swings = hit(np.random.default_rng(8), 6, 8, measures=2)
    holed = swings.values.copy()
    holed[3, 1] = math.nan
    one, two = between(swings), between(Swings(holed, swings.block, swings.after))
    assert (one[0].size, one[0].low, one[0].high) == pytest.approx((two[0].size, two[0].low, two[0].high), abs=0.05)
    assert one[1].size == pytest.approx(two[1].size, abs=0.2)
    assert one[1].size != two[1].size


def test_one_wild_swing_moves_little():
    swings = hit(np.random.default_rng(9), 6, 8)
    wild = swings.values.copy()
    wild[10] = 50.0
    before, after = between(swings)[0], between(Swings(wild, swings.block, swings.after))[0]
    assert abs(after.size - before.size) < 0.4


def test_a_doubt_that_swings_do_not_make_smaller_joins():
    swings = hit(np.random.default_rng(10), 8, 20)
    free, held = between(swings)[0], between(swings, doubts=[5.0])[0]
    assert held.high - held.low > 2 * 1.96 * 5.0
    assert free.high - free.low < 3


def test_earlier_lessons_tell_how_swings_hang_together():
    rng = np.random.default_rng(11)
    apart = habit([hit(rng, 2, 30, follows=0.0) for _ in range(6)])
    together = habit([hit(rng, 2, 30, follows=0.7) for _ in range(6)])

    def usual(prior):
        weight = np.exp(prior - prior.max())
        return weight @ GRID[:, 0] / weight.sum()

    assert usual(apart) < usual(PRIOR) < usual(together)
    swings = hit(rng, 2, 12)
    sure, unsure = (between(swings, prior=prior)[0] for prior in (apart, together))
    assert sure.high - sure.low < unsure.high - unsure.low
    assert habit([hit(rng, 2, 3)]) == pytest.approx(PRIOR - PRIOR.max())


def test_measures_of_one_golfer_lend_each_other_how_swings_hang_together():
    rng = np.random.default_rng(12)
    plain = hit(rng, 2, 15)
    widths = []
    for follows in (0.0, 0.8):
        others = hit(rng, 2, 15, follows=follows, measures=6)
        together = Swings(np.concatenate([plain.values, others.values], axis=1), plain.block, plain.after)
        gap = between(together, alpha=0.05)[0]
        widths.append(gap.high - gap.low)
    assert widths[0] < 0.85 * widths[1]


@pytest.mark.parametrize("value", [20.0, 0.5, -3.0])
def test_swings_that_are_all_alike_have_a_level_without_an_end_of_search(value):
    """A finish that is held for longer than is looked at is the same number in every swing."""
    (found,) = level(Swings(np.full((8, 1), value), np.repeat([0, 1], 4), np.repeat([False, True], 4)))
    assert found.n == 8
    assert (found.low, found.value, found.high) == pytest.approx((value,) * 3)


def test_only_swings_that_have_a_measure_make_its_blocks():
    values = np.full((24, 2), 0.5)
    values[8:, 1] = np.nan  # known in the first silent and the first cued block alone
    swings = Swings(values, np.repeat(np.arange(6), 4), np.repeat([False, True] * 3, 4))
    assert swings.in_turn
    assert swings.known(0).in_turn
    assert not swings.known(1).in_turn
    assert swings.known(1).blocks == (1, 1)
