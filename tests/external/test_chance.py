"""The lesson's statistics against scipy.stats and statsmodels, and the methods' published definitions."""

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from groundtone.lesson.chance import difference, holm, rank_correlation
from groundtone.lesson.compare import share_change
from groundtone.lesson.strike_counts import count, median_interval, wilson
from groundtone.review.strikes import Strike

RNG = np.random.default_rng(20)
X = RNG.standard_normal(25)
Y = 0.5 * X + RNG.standard_normal(25)


def test_rank_correlation_is_spearmans():
    assert rank_correlation(X, Y).size == pytest.approx(stats.spearmanr(X, Y).statistic)


def test_rank_correlation_with_ties_is_spearmans():
    coarse = np.round(Y)
    assert rank_correlation(X, coarse).size == pytest.approx(stats.spearmanr(X, coarse).statistic)


def test_its_chance_is_that_of_a_permutation_test():
    judge = stats.permutation_test(
        (Y,), lambda y: stats.spearmanr(X, y).statistic, permutation_type="pairings", n_resamples=2000,
        rng=np.random.default_rng(1),
    )  # fmt: skip
    assert rank_correlation(X, Y).p == pytest.approx(judge.pvalue, abs=0.02)


def test_its_interval_is_near_a_bias_corrected_bootstrap():
    judge = stats.bootstrap(
        (X, Y), lambda a, b: stats.spearmanr(a, b).statistic, paired=True, vectorized=False, n_resamples=999,
        rng=np.random.default_rng(2),
    ).confidence_interval  # fmt: skip
    mine = rank_correlation(X, Y)
    assert (mine.low, mine.high) == pytest.approx((judge.low, judge.high), abs=0.12)


def test_the_chance_is_never_nought():
    """Of 4,999 shuffles none does as well; the order that was seen is one more of them (Phipson and Smyth 2010)."""
    assert rank_correlation(X, X).p == pytest.approx(1 / 5000, rel=1e-9)


def test_intervals_of_few_hold_the_truth_as_often_as_they_say():
    """A bootstrap of few is too narrow: without its widening these hold in 88 of a hundred."""
    rng = np.random.default_rng(6)
    pairs = [rank_correlation(*rng.standard_normal((2, 6))) for _ in range(200)]
    assert 0.94 <= np.mean([e.low <= 0.0 <= e.high for e in pairs]) < 1.0


@pytest.mark.parametrize("n", [5, 9])
def test_the_interval_of_a_shift_is_a_bootstraps_widened_as_said(n):
    a, b = X[:n], Y[-n:]
    judge = stats.bootstrap(
        (a, b), lambda u, v: np.median(np.subtract.outer(v, u)), vectorized=False, method="percentile",
        n_resamples=3000, rng=np.random.default_rng(3),
    ).confidence_interval  # fmt: skip
    # Student's t for the normal, and a bootstrap's variance of n values that is too small by (n - 1) / n.
    widen = stats.t.ppf(0.975, 2 * n - 2) / 1.959964 * math.sqrt(n / (n - 1))
    mine = difference(a, b)
    assert mine.size - mine.low == pytest.approx(widen * (mine.size - judge.low), rel=0.05)
    assert mine.high - mine.size == pytest.approx(widen * (judge.high - mine.size), rel=0.05)
    sure = difference(a, b, doubt=0.4)
    assert sure.high - sure.size == pytest.approx(math.hypot(mine.high - mine.size, 1.959964 * 0.4))
    assert sure.size - sure.low == pytest.approx(math.hypot(mine.size - mine.low, 1.959964 * 0.4))
    spread = max(sure.high - sure.size, sure.size - sure.low) / 1.959964
    assert sure.p == pytest.approx(max(mine.p, 2 * stats.norm.sf(abs(mine.size) / spread)))


def test_missing_values_are_left_out_in_pairs():
    x, y = np.append(X, np.nan), np.append(Y, 3.0)
    assert rank_correlation(x, y) == rank_correlation(X, Y)


def test_shift_is_hodges_and_lehmanns_and_its_chance_mann_whitneys():
    a, b = X[:11], Y[11:] + 1.0
    effect = difference(a, b)
    assert effect.size == pytest.approx(np.median([v - u for u in a for v in b]))
    assert effect.p == pytest.approx(stats.mannwhitneyu(a, b).pvalue)
    assert effect.n == 11


def test_the_chance_of_a_shift_of_few_is_welchs():
    a, b = X[:5], Y[5:11] + 1.0
    assert difference(a, b).p == pytest.approx(stats.ttest_ind(a, b, equal_var=False).pvalue)


def test_a_shift_of_two_is_not_a_number():
    assert math.isnan(difference(X[:2], Y).size)


def test_holm_is_statsmodels():
    p = [0.01, 0.2, 0.03, 0.011, 0.5]
    assert holm(p) == pytest.approx(multipletests(p, method="holm")[1])
    assert holm([0.01, math.nan, 0.03])[::2] == pytest.approx(multipletests([0.01, 0.03], method="holm")[1])


@pytest.mark.parametrize(("good", "total"), [(0, 8), (3, 12), (12, 12)])
def test_wilson_is_statsmodels(good, total):
    assert wilson(good, total) == pytest.approx(proportion_confint(good, total, method="wilson"), abs=1e-12)


def test_change_of_a_share_is_newcombes():
    before = count([Strike(field=5)] * 3 + [Strike(field=6)] * 9)
    after = count([Strike(field=5)] * 9 + [Strike(field=4)] * 5)
    low, high = confint_proportions_2indep(9, 14, 3, 12, method="newcomb")
    assert share_change(before, after) == pytest.approx((9 / 14 - 3 / 12, low, high))


def test_interval_of_a_median_by_order_statistics():
    # Tables of the sign test: n = 10 gives the 2nd and the 9th value (97.9 %).
    assert median_interval(np.arange(10.0)) == (1.0, 8.0)
    assert stats.binom.cdf(1, 10, 0.5) <= 0.025 < stats.binom.cdf(2, 10, 0.5)
    assert math.isnan(median_interval(np.arange(5.0))[0])


def test_ranks_are_gone_by_from_eight_a_side():
    a, b = X[:8], Y[8:16] + 1.0
    assert difference(a, b).p == pytest.approx(stats.mannwhitneyu(a, b).pvalue)
    assert difference(a[:7], b).p == pytest.approx(stats.ttest_ind(a[:7], b, equal_var=False).pvalue)
