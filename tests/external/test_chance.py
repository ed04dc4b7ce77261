"""The lesson's statistics against scipy.stats and statsmodels, and published worked examples."""

import math

import numpy as np
import pytest
from scipy import signal, stats
from scipy.linalg import toeplitz
from statsmodels.regression.linear_model import GLS
from statsmodels.regression.mixed_linear_model import MixedLM
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint
from statsmodels.stats.weightstats import ttost_ind

from groundtone.feel import in_blocks
from groundtone.feel.in_blocks import GRID, Swings, between
from groundtone.lesson.chance import holm, linked, share_gap
from groundtone.lesson.strike_counts import share_interval, wilson

# Hours of sleep gained by two drugs: Student, Biometrika 6, 1908, as R's data set "sleep" has them.
FIRST = np.array([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0])
SECOND = np.array([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4])
# Calcium in turnip greens, per cent, four leaves with four determinations each: Snedecor and Cochran, Statistical
# Methods, the one-way table with random leaves (from memory; its sums agree with the table's).
LEAVES = np.array([3.28, 3.09, 3.03, 3.03, 3.52, 3.48, 3.38, 3.38, 2.88, 2.80, 2.81, 2.76, 3.34, 3.38, 3.23, 3.26])


def only(follows, offset=0.0, slope=0.0):
    """One strength for certain."""
    return np.where((np.array([follows, offset, slope]) == GRID).all(axis=1), 0.0, -np.inf)


def two_blocks(a, b):
    n = a.size + b.size
    after = np.arange(n) >= a.size
    return Swings(np.concatenate([a, b])[:, None], after.astype(int), after)


def in_turn(rng, blocks=6, each=8, columns=1):
    block = np.repeat(np.arange(blocks), each)
    return Swings(rng.standard_normal((block.size, columns)), block, block % 2 == 1)


def test_independent_swings_are_students_published_example():
    """t = -1.8608 of the two drugs (R, ?sleep: Welch's t is the same one for sides of one size)."""
    gap = between(two_blocks(SECOND, FIRST), prior=only(0.0), alpha=0.05)[0]
    judge = stats.ttest_ind(FIRST, SECOND)
    assert judge.statistic == pytest.approx(-1.8608, abs=5e-5)
    low, high = judge.confidence_interval(0.95)
    assert (gap.size, gap.p) == pytest.approx((-1.58, judge.pvalue))
    assert (gap.low, gap.high) == pytest.approx((low, high), abs=1e-5)


@pytest.mark.parametrize("limit", [0.5, 2.0, 3.5])
def test_no_change_that_matters_is_an_equivalence_test(limit):
    """Two one-sided tests (Schuirmann 1987); of the drugs with 0.5 h: t = -1.272 and -2.450 (Caldwell's vignette of
    TOSTER, from memory)."""
    gap = between(two_blocks(SECOND, FIRST), prior=only(0.0), alpha=0.05)[0]
    # An interval of 95 % is two tests of 2.5 % each.
    p, lower, upper = ttost_ind(FIRST, SECOND, -limit, limit)
    assert (p < 0.025) == (gap.low > -limit and gap.high < limit)
    u = (gap.high - gap.low) / 2 / stats.t.ppf(0.975, 18)
    assert ((gap.size + limit) / u, (gap.size - limit) / u) == pytest.approx((lower[0], upper[0]), abs=1e-4)
    if limit == 0.5:
        assert (lower[0], upper[0]) == pytest.approx((-1.272, -2.450), abs=5e-4)


def test_swings_that_follow_one_another_are_least_squares_with_that_covariance():
    rng = np.random.default_rng(1)
    swings = two_blocks(rng.uniform(size=9), rng.uniform(size=9))  # none so wild that it is drawn in
    gap = between(swings, prior=only(0.4), alpha=0.05)[0]
    # To begin a block takes as long as a swing.
    at = np.arange(18) + (np.arange(18) >= 9)
    order = 0.4 ** np.abs(at[:, None] - at[None, :])
    judge = GLS(swings.values[:, 0], np.stack([np.ones(18), swings.after], axis=1), sigma=order).fit()
    assert gap.size == pytest.approx(judge.params[1])
    assert (gap.low, gap.high) == pytest.approx(tuple(judge.conf_int()[1]), abs=1e-4)
    assert gap.p == pytest.approx(judge.pvalues[1])
    assert gap.follows == pytest.approx(0.4)


def test_a_first_order_chain_alone_is_scipys_toeplitz():
    swings = in_turn(np.random.default_rng(2), blocks=1, each=12)
    fits = in_blocks._fits(tuple(swings.block), (False,) * 12, tuple(range(12)))
    at = int(np.flatnonzero((GRID == [0.4, 0.0, 0.0]).all(axis=1))[0])
    assert np.linalg.inv(fits.whiten[at] @ toeplitz(0.4 ** np.arange(12)) @ fits.whiten[at].T) == pytest.approx(
        np.eye(12), abs=1e-9
    )


def test_offsets_of_blocks_are_a_mixed_model():
    """How likely each offset is goes as restricted likelihood does, and the gap is the mixed model's."""
    rng = np.random.default_rng(3)
    swings = in_turn(rng)
    swings = Swings(swings.values + 1.5 * rng.standard_normal(6)[swings.block][:, None], swings.block, swings.after)
    y, x = swings.values[:, 0], np.stack([np.ones(48), np.where(swings.after, 0.5, -0.5)], axis=1)
    fits = in_blocks._fits(tuple(swings.block), tuple(swings.after), tuple(range(48)))
    log, best, _ = in_blocks._weighed(fits, y, 0.0)
    model = MixedLM(y, x, swings.block)
    fitted = model.fit(reml=True)
    rows = [int(np.flatnonzero(([0.0, offset, 0.0] == GRID).all(axis=1))[0]) for offset in (0.2, 0.4, 0.7)]
    # Profiled over the spread, as MixedLM takes its parameters: a block's variance in the residual's.
    judge = [model.loglike(in_params(model, GRID[row, 1] ** 2), profile_fe=True) for row in rows]
    assert np.diff(log[rows]) == pytest.approx(np.diff(judge), abs=1e-6)
    assert best[rows[1], 1] == pytest.approx(fitted.fe_params[1], abs=1e-6)  # balanced: the same for every offset


def in_params(model, ratio):
    from statsmodels.regression.mixed_linear_model import MixedLMParams

    return MixedLMParams.from_components(fe_params=np.zeros(2), cov_re=np.array([[ratio]]))


def test_a_published_table_of_random_blocks_has_its_likeliest_offset(monkeypatch):
    """Between leaves 0.2961, within 0.0066: a leaf's variance is (0.2961 - 0.0066) / 4 = 0.0724, 11 times the other."""
    grid = np.array([(0.0, offset, 0.0) for offset in np.linspace(1, 6, 501)])
    for name, value in (("GRID", grid), ("_WHOLE", np.arange(len(grid)))):
        monkeypatch.setattr(in_blocks, name, value)
    in_blocks._fits.cache_clear()
    try:
        block = np.repeat(np.arange(4), 4)
        fits = in_blocks._fits(tuple(block), (False,) * 16, tuple(range(16)))
        log, _, variance = in_blocks._weighed(fits, LEAVES, 0.0)
    finally:
        in_blocks._fits.cache_clear()
    means = LEAVES.reshape(4, 4).mean(axis=1)
    assert 4 * means.var(ddof=1) == pytest.approx(0.2961, abs=5e-5)
    assert float(variance[log.argmax()]) == pytest.approx(0.0066, abs=5e-5)
    assert float(grid[log.argmax(), 1] ** 2 * variance[log.argmax()]) == pytest.approx(0.0724, abs=5e-4)


@pytest.mark.parametrize("sizes", [(9,), (6, 7), (8, 8, 7)])
def test_links_are_every_shift_of_scipys_detrended_correlation(sizes):
    rng = np.random.default_rng(4)
    run = np.repeat(np.arange(len(sizes)), sizes)
    n = sum(sizes)
    x, y = rng.permutation(n) * 1.0, rng.permutation(n) * 1.0
    found = linked(x[:, None], y, run.tolist())

    def apart(values):
        return np.concatenate([signal.detrend(values[run == k]) for k in range(len(sizes))])

    def turned(shift):
        return np.concatenate([np.roll(y[run == k], -shift[k]) for k in range(len(sizes))])

    judged = np.array([stats.pearsonr(apart(x), apart(turned(s))).statistic for s in np.ndindex(*sizes)])
    assert found.size[0] == pytest.approx(judged[0])
    assert found.p[0] == pytest.approx(np.mean(np.abs(judged) >= abs(judged[0]) - 1e-12))
    assert found.most == pytest.approx(np.sort(np.abs(judged)))


def test_of_independent_swings_shifts_say_what_a_permutation_test_says():
    rng = np.random.default_rng(5)
    run = np.repeat(np.arange(6), 8)
    x = rng.standard_normal(48)
    y = 0.25 * x + rng.standard_normal(48)
    left = [np.concatenate([signal.detrend(stats.rankdata(v)[run == k]) for k in range(6)]) for v in (x, y)]
    judge = stats.permutation_test(
        (left[1],), lambda v: stats.pearsonr(left[0], v).statistic, permutation_type="pairings", n_resamples=2000,
        rng=np.random.default_rng(1),
    )  # fmt: skip
    assert linked(x[:, None], y, run.tolist()).p[0] == pytest.approx(judge.pvalue, abs=0.03)


def test_the_interval_of_a_link_leaves_out_nought_just_where_it_is_claimed():
    rng = np.random.default_rng(6)
    run = np.repeat(np.arange(4), 8)
    for link in (0.0, 0.5, 1.0, 2.0):
        x = rng.standard_normal(32)
        found = linked(x[:, None], link * x + rng.standard_normal(32), run.tolist())
        for alpha in (0.3, 0.05, 0.01):
            low, high = found.interval(0, alpha)
            assert (found.p[0] <= alpha) == (low > 0 or high < 0)


def test_holm_is_statsmodels():
    p = [0.01, 0.2, 0.03, 0.011, 0.5]
    assert holm(p) == pytest.approx(multipletests(p, method="holm")[1])
    assert holm([0.01, math.nan, 0.03])[::2] == pytest.approx(multipletests([0.01, 0.03], method="holm")[1])


@pytest.mark.parametrize(("good", "total"), [(0, 8), (3, 12), (12, 12)])
def test_wilson_is_statsmodels_and_swings_that_hang_together_count_for_fewer(good, total):
    alone = proportion_confint(good, total, method="wilson")
    assert wilson(good, total) == pytest.approx(alone, abs=1e-12)
    assert share_interval(good, total, follows=0.0, unsure=0.0) == pytest.approx(alone, abs=1e-12)
    low, high = share_interval(good, total)
    assert low <= alone[0] + 1e-12
    assert high >= alone[1] - 1e-12
    assert high - low > alone[1] - alone[0]


def test_change_of_a_share_is_newcombes_where_swings_have_nothing_to_do_with_each_other():
    low, high = confint_proportions_2indep(9, 14, 3, 12, method="newcomb")
    gap = share_gap((3, 12), (9, 14), alpha=0.05, alone=True)
    assert (gap.size, gap.low, gap.high) == pytest.approx((9 / 14 - 3 / 12, low, high))
    wide = [share_gap((3, 12), (9, 14), alpha=0.05, blocks=blocks) for blocks in (1, 3)]
    assert wide[1].high - wide[1].low > wide[0].high - wide[0].low > high - low
