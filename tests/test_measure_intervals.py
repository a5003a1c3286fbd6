"""Intervals and verdicts: against a general library, and by their coverage under the most eager stopping."""

import numpy as np
import pytest
from scipy import optimize, stats

from simulator.measure import intervals, limits


@pytest.mark.parametrize(("hits", "of"), [(0, 10), (3, 10), (10, 10), (81, 263), (15, 148), (1, 29)])
def test_fixed_intervals_are_those_of_a_general_library(hits, of):
    for ours, method in ((intervals.clopper_pearson, "exact"), (intervals.wilson, "wilson")):
        expected = stats.binomtest(hits, of).proportion_ci(0.95, method)
        assert ours(hits, of) == pytest.approx((expected.low, expected.high), abs=1e-9)


def test_wilson_gives_newcombes_published_example():
    # Newcombe 1998, Stat. Med. 17, 857-872, table I, method 3: 81 of 263 gives 0.2553..0.3662; from memory.
    assert intervals.wilson(81, 263) == pytest.approx((0.2553, 0.3662), abs=1e-4)


@pytest.mark.parametrize("truth", [0.02, 0.5, 0.89, 0.91])
def test_probability_sequence_covers_under_the_most_eager_stopping(truth):
    """Stop at the first moment the interval leaves the truth: 2000 repetitions, up to 400 trials each."""
    rng = np.random.default_rng(1)
    counts = np.cumsum(rng.random((2000, 400)) < truth, axis=1)
    low = np.zeros((401, 401))
    high = np.ones((401, 401))
    for n in [*range(1, 30), *range(30, 401, 7)]:
        for k in np.unique(counts[:, n - 1]):
            low[n, k], high[n, k] = intervals.probability_sequence(int(k), n)
    n = np.arange(1, 401)
    missed = ((low[n, counts] > truth) | (high[n, counts] < truth)).any(axis=1)
    assert missed.mean() <= 0.05


def test_probability_sequence_is_where_the_mixtures_wealth_is_twenty():
    # Robbins 1970: beta-binomial likelihood over the binomial at p, from a general library's distributions.
    low, high = intervals.probability_sequence(37, 50)
    for p in (low, high):
        assert stats.betabinom.pmf(37, 50, 0.5, 0.5) / stats.binom.pmf(37, 50, p) == pytest.approx(20, rel=1e-6)
    assert low < 37 / 50 < high


@pytest.mark.parametrize(("first", "second"), [(0.6, 0.6), (0.9, 0.75)])
def test_difference_sequence_covers_while_looking_often(first, second):
    rng, truth = np.random.default_rng(2), first - second
    missed = 0
    for _ in range(200):
        common = rng.random(300)  # one draw for both: common random numbers
        a, b = common < first, common < second
        flip = rng.random(300) < 0.2
        b = np.where(flip, rng.random(300) < second, b)
        for n in range(50, 301, 50):
            gains, losses = int((a & ~b)[:n].sum()), int((b & ~a)[:n].sum())
            low, high = intervals.difference_sequence(gains, losses, n)
            if not low <= truth <= high:
                missed += 1
                break
    assert missed <= 0.05 * 200


def test_difference_sequence_shrinks_with_common_numbers():
    wide = intervals.difference_sequence(300, 200, 1000)
    narrow = intervals.difference_sequence(110, 10, 1000)
    assert narrow[1] - narrow[0] < 0.6 * (wide[1] - wide[0])
    assert wide[0] < 0.1 < wide[1]
    assert intervals.difference_sequence(0, 0, 0) == (-1.0, 1.0)
    assert intervals.difference_sequence(1000, 0, 1000)[0] > 0.9


def test_verdicts():
    assert intervals.verdict(0.91, 0.95, at_least=0.9) == "holds"
    assert intervals.verdict(0.8, 0.89, at_least=0.9) == "does not hold"
    assert intervals.verdict(0.8, 0.95, at_least=0.9) == "undecided"
    assert intervals.verdict(0.0, 0.04, at_most=0.05) == "holds"
    assert intervals.verdict(0.06, 0.5, at_most=0.05) == "does not hold"
    with pytest.raises(ValueError, match="bound"):
        intervals.verdict(0.0, 1.0)


@pytest.mark.parametrize("distance", [-0.01, 0.01])
def test_wrong_verdicts_close_to_the_threshold_are_rare(distance):
    """Looking every 50 trials up to 4000, 400 claims each side, 0.01 from the bound."""
    rng = np.random.default_rng(3)
    truth = 0.9 + distance
    wrong = 0
    for _ in range(400):
        counts = np.cumsum(rng.random(4000) < truth)[49::50]
        for i, k in enumerate(counts):
            outcome = intervals.verdict(*intervals.probability_sequence(int(k), 50 * (i + 1)), at_least=0.9)
            if outcome != "undecided":
                wrong += (outcome == "holds") != (truth >= 0.9)
                break
    assert wrong <= 0.05 * 400


def test_median_sequence_holds_the_median():
    rng, missed = np.random.default_rng(4), 0
    for _ in range(200):
        low, high = intervals.median_sequence(rng.exponential(1, 120))
        missed += not low <= np.log(2) <= high
        assert high - low < 1.0
    assert missed <= 10


def test_mean_interval_is_students():
    values = np.array([5.1, 4.9, 5.6, 5.8, 5.0, 4.7])
    expected = stats.ttest_1samp(values, 0).confidence_interval(0.95)
    assert intervals.mean_interval(values) == pytest.approx((expected.low, expected.high), rel=1e-9)


def test_monotone_fit_is_that_of_a_general_library():
    rng = np.random.default_rng(5)
    of = rng.integers(5, 50, 30)
    hits = rng.binomial(of, np.linspace(0.1, 0.9, 30))
    expected = optimize.isotonic_regression(hits / of, weights=of).x
    assert limits.monotone(hits, of, rising=True) == pytest.approx(expected)
    assert limits.monotone(hits[::-1], of[::-1], rising=False) == pytest.approx(expected[::-1])


def test_limits_enclose_where_the_probability_passes_one_half():
    rng, depth = np.random.default_rng(6), np.linspace(100, 500, 17)
    missed = 0
    for _ in range(200):
        hits = rng.binomial(200, 1 / (1 + np.exp((depth - 310) / 40)))
        found = limits.reach(depth, hits, np.full(17, 200))
        missed += not found.low <= 310 <= found.high
        assert abs(found.value - 310) < 30
    assert missed <= 10
    none = limits.smallest_fish(depth, np.zeros(17, int), np.full(17, 200))
    assert np.isnan(none.value)
    assert none.high == np.inf
    width = limits.searched_width(np.arange(5.0), np.array([99, 98, 90, 3, 0]), np.full(5, 100))
    assert (width.low, width.high) == (4.0, 6.0)
