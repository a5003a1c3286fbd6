"""Intervals and verdicts: against a general library, and by their coverage under the most eager stopping."""

import numpy as np
import pytest
from pingwright.measure import intervals, limits
from scipy import optimize, stats


@pytest.mark.parametrize(("hits", "of"), [(0, 10), (3, 10), (10, 10), (81, 263), (15, 148), (1, 29)])
def test_fixed_intervals_are_those_of_a_general_library(hits, of):
    expected = stats.binomtest(hits, of).proportion_ci(0.95, "exact")
    assert intervals.clopper_pearson(hits, of) == pytest.approx((expected.low, expected.high), abs=1e-9)


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


@pytest.mark.parametrize(("hits", "of", "confidence"), [(0, 30, 0.95), (30, 30, 0.95), (1, 7, 0.99), (6, 7, 0.8)])
def test_probability_sequence_at_the_ends_and_at_other_confidences(hits, of, confidence):
    """The same equation of Robbins; an end without a miss or a hit is the end of all probabilities."""
    low, high = intervals.probability_sequence(hits, of, confidence)
    for p, end in ((low, 0.0), (high, 1.0)):
        if p == end:
            assert hits == (0 if end == 0.0 else of)
        else:
            wealth = stats.betabinom.pmf(hits, of, 0.5, 0.5) / stats.binom.pmf(hits, of, p)
            assert wealth == pytest.approx(1 / (1 - confidence), rel=1e-6)
    assert intervals.probability_sequence(of - hits, of, confidence) == pytest.approx((1 - high, 1 - low), abs=1e-12)
    assert intervals.probability_sequence(0, 0, confidence) == (0.0, 1.0)


def wealth_of(difference, gains, losses, of):
    """Mean wealth of all bettors at one difference, trial by trial as the docstring tells it: score (s + 1) / 2."""
    mean = (difference + 1) / 2
    total = 0.0
    for share in np.geomspace(0.002, 0.98, 60):
        for stake in (share / mean, -share / (1 - mean)):
            total += (
                (1 + stake * (1 - mean)) ** gains
                * (1 - stake * mean) ** losses
                * (1 + stake * (0.5 - mean)) ** (of - gains - losses)
            )
    return total / 120


@pytest.mark.parametrize(("gains", "losses", "of"), [(7, 2, 12), (40, 10, 90), (0, 0, 25), (3, 30, 33), (9, 0, 9)])
def test_difference_sequence_ends_where_the_bettors_have_twenty(gains, losses, of):
    low, high = intervals.difference_sequence(gains, losses, of)
    assert -1.0 <= low < (gains - losses) / of <= high <= 1.0
    if low > -1.0:
        assert wealth_of(low, gains, losses, of) >= 20 > wealth_of(low + 0.00101, gains, losses, of)
    if high < 1.0:
        assert wealth_of(high, gains, losses, of) >= 20 > wealth_of(high - 0.00101, gains, losses, of)
    assert intervals.difference_sequence(losses, gains, of) == pytest.approx((-high, -low), abs=1e-9)
    wide = intervals.difference_sequence(gains, losses, of, 0.999)
    assert wide[0] <= low
    assert wide[1] >= high
    assert wide != (low, high)


def test_a_difference_beyond_the_grid_stands_at_its_end():
    """After a hundred thousand trials without exception even 0.9995 is left out."""
    assert intervals.difference_sequence(100_000, 0, 100_000) == (0.9995, 1.0)
    assert intervals.difference_sequence(0, 100_000, 100_000) == (-1.0, -0.9995)


@pytest.mark.parametrize("count", [3, 8, 20, 75])
def test_median_sequence_leaves_out_values_whose_share_is_surely_not_one_half(count):
    """By the definition, value after value, with the equation of Robbins from a general library."""
    values = np.random.default_rng(count).permutation(np.arange(count)) * 2.0

    def surely(k, side):
        """Whether k of count have a share surely below (-1) or above (1) one half."""
        if np.sign(k - count / 2) != side:
            return False
        return stats.betabinom.pmf(k, count, 0.5, 0.5) / stats.binom.pmf(k, count, 0.5) > 20

    few = [k for k in range(count + 1) if surely(k, -1)]
    many = [k for k in range(count + 1) if surely(k, 1)]
    low, high = intervals.median_sequence(values)
    # The k-th smallest value has k values at or below it.
    assert low == (2.0 * few[-1] if few else -np.inf)
    assert high == (2.0 * (many[0] - 1) if many else np.inf)
    assert np.isfinite(low) == (count > 3)


@pytest.mark.parametrize(("first", "second"), [(0.6, 0.6), (0.9, 0.75)])
def test_difference_sequence_covers_while_looking_often(first, second):
    rng, truth = np.random.default_rng(2), first - second
    missed = 0
    for _ in range(100):
        common = rng.random(300)  # one draw for both: common random numbers
        a, b = common < first, common < second
        flip = rng.random(300) < 0.2
        b = np.where(flip, rng.random(300) < second, b)
        for n in (50, 100, 200, 300):
            gains, losses = int((a & ~b)[:n].sum()), int((b & ~a)[:n].sum())
            low, high = intervals.difference_sequence(gains, losses, n)
            if not low <= truth <= high:
                missed += 1
                break
    assert missed <= 0.05 * 100


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
    assert intervals.verdict(0.0, 0.5, at_most=0.05) == "undecided"
    # An interval holds its ends.
    assert intervals.verdict(0.9, 0.95, at_least=0.9) == "holds"
    assert intervals.verdict(0.8, 0.9, at_least=0.9) == "undecided"
    assert intervals.verdict(0.0, 0.05, at_most=0.05) == "holds"
    assert intervals.verdict(0.05, 0.5, at_most=0.05) == "undecided"
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


def test_monotone_fit_is_that_of_a_general_library():
    rng = np.random.default_rng(5)
    of = rng.integers(5, 50, 30)
    hits = rng.binomial(of, np.linspace(0.1, 0.9, 30))
    expected = optimize.isotonic_regression(hits / of, weights=of).x
    assert limits.monotone(hits, of, rising=True) == pytest.approx(expected)
    assert limits.monotone(hits[::-1], of[::-1], rising=False) == pytest.approx(expected[::-1])


def test_points_without_a_trial_have_a_neighbours_probability():
    of = np.array([0, 10, 0, 10, 0])
    fit = limits.monotone(np.array([0, 2, 0, 8, 0]), of, rising=True)
    assert fit[[1, 3]].tolist() == [0.2, 0.8]
    assert fit[0] == 0.2
    assert fit[2] in (0.2, 0.8)
    assert fit[4] == 0.8
    assert limits.monotone(np.zeros(2, int), np.zeros(2, int), rising=True).tolist() == [0.0, 0.0]


def test_one_trial_a_point_is_enough_for_a_value():
    """Missed at 1, hit at 2: half of the way between; nothing is certain."""
    found = limits.passing(np.array([1.0, 2.0]), np.array([0, 1]), np.array([1, 1]), rising=True)
    assert (found.value, found.low, found.high) == (1.5, -np.inf, np.inf)


def test_limits_enclose_where_the_probability_passes_one_half():
    rng, depth = np.random.default_rng(6), np.linspace(100, 500, 17)
    missed = 0
    for _ in range(200):
        hits = rng.binomial(200, 1 / (1 + np.exp((depth - 310) / 40)))
        found = limits.passing(depth, hits, np.full(17, 200), rising=False)
        missed += not found.low <= 310 <= found.high
        assert abs(found.value - 310) < 30
    assert missed <= 10
    none = limits.passing(depth, np.zeros(17, int), np.full(17, 200), rising=True)
    assert np.isnan(none.value)
    assert none.high == np.inf
    width = limits.passing(np.arange(5.0), np.array([99, 98, 90, 3, 0]), np.full(5, 100), rising=False)
    assert (width.low, width.high) == (2.0, 3.0)


def test_a_limit_of_a_few_points_by_hand():
    """Value: linear between fitted points around one half; interval: the last and first point that are certain."""
    axis, of = np.array([1.0, 2.0, 4.0, 8.0]), np.array([100, 0, 100, 100])
    rising = limits.passing(axis, np.array([0, 0, 30, 100]), of, rising=True)
    assert rising.value == pytest.approx(4 + 4 * (0.5 - 0.3) / (1.0 - 0.3))
    assert (rising.low, rising.high) == (4.0, 8.0)
    falling = limits.passing(axis, np.array([100, 0, 70, 0]), of, rising=False)
    assert falling.value == pytest.approx(4 + 4 * (0.7 - 0.5) / 0.7)
    assert (falling.low, falling.high) == (4.0, 8.0)
    higher = limits.passing(axis, np.array([0, 0, 30, 100]), of, rising=True, level=0.1)
    assert higher.value == pytest.approx(1 + 3 * 0.1 / 0.3)
    assert (higher.low, higher.high) == (1.0, 4.0)


def test_the_error_is_shared_by_the_points_of_the_axis():
    """Bonferroni: 8 of 8 stand 50 times the wealth over one half: enough for 1 in 20, not for 1 in 200."""
    for count in (1, 10):
        hits = of = np.full(count, 8)
        certain = intervals.probability_sequence(8, 8, 1 - 0.05 / count)[0] > 0.5
        assert certain == (count == 1)
        found = limits.passing(np.arange(count) + 1.0, hits, of, rising=False)
        assert (found.low == count) == certain


def test_limits_that_are_not_enclosed_are_open():
    axis, of = np.array([1.0, 2.0, 3.0]), np.full(3, 50)
    for hits, rising in (([50, 50, 50], False), ([0, 0, 0], True)):
        found = limits.passing(axis, np.array(hits), of, rising)
        assert np.isnan(found.value)
        assert (found.low, found.high) == (3.0, np.inf)
    for hits, rising in (([0, 0, 0], False), ([50, 50, 50], True)):
        found = limits.passing(axis, np.array(hits), of, rising)
        assert np.isnan(found.value)
        assert (found.low, found.high) == (-np.inf, 1.0)
    untried = limits.passing(axis, np.zeros(3, int), np.zeros(3, int), rising=True)
    assert np.isnan(untried.value)
    assert (untried.low, untried.high) == (-np.inf, np.inf)


def test_more_confidence_asks_for_more_hits():
    axis, many, few = np.array([1.0, 2.0, 3.0]), np.array([100, 50, 0]), np.full(3, 100)
    assert limits.passing(axis, many, few, rising=False).value == pytest.approx(2.0)
    # 68 of 100: wealth 60 against one half; 6 and 30,000 are asked.
    hits = np.array([68, 40, 0])
    narrow, wide = (limits.passing(axis, hits, few, rising=False, confidence=c) for c in (0.5, 0.9999))
    assert (narrow.low, wide.low) == (1.0, -np.inf)


def test_a_probability_of_exactly_the_level_counts_as_a_hit_of_half():
    """Half of a hundred at an end of the axis: past it or not, by the same rule for both ways along the axis."""
    axis, of = np.array([1.0, 3.0]), np.full(2, 100)
    for hits, rising, value in (([0, 50], True, 3.0), ([50, 0], False, 1.0), ([20, 50], True, 3.0)):
        assert limits.passing(axis, np.array(hits), of, rising).value == pytest.approx(value)
    for hits, rising in (([50, 100], True), ([100, 50], False)):
        assert np.isnan(limits.passing(axis, np.array(hits), of, rising).value)


@pytest.mark.parametrize("confidence", [0.5, 0.95, 0.999])
@pytest.mark.parametrize(("hits", "of"), [(0, 1), (1, 1), (1, 2), (7, 40)])
def test_fixed_intervals_at_other_confidences(hits, of, confidence):
    expected = stats.binomtest(hits, of).proportion_ci(confidence, "exact")
    assert intervals.clopper_pearson(hits, of, confidence) == pytest.approx((expected.low, expected.high), abs=1e-9)
    assert intervals.clopper_pearson(0, 0, confidence) == (0.0, 1.0)


def test_a_border_is_found_to_the_last_digits_and_from_the_outer_side():
    """The square root of 2: what holds below it holds inside 1 and not at 2; seen from above, the other way."""
    root = 2.0**0.5
    assert intervals._border(lambda x: x * x < 2.0, 1.0, 2.0) == pytest.approx(root, rel=1e-15)
    assert intervals._border(lambda x: x * x < 2.0, 1.0, 2.0) ** 2 >= 2.0
    assert intervals._border(lambda x: x * x > 2.0, 2.0, 1.0) == pytest.approx(root, rel=1e-15)
    assert intervals._border(lambda x: x * x > 2.0, 2.0, 1.0) ** 2 <= 2.0


@pytest.mark.parametrize(("gains", "losses", "of"), [(1, 0, 1), (3, 0, 30), (0, 2, 3), (0, 0, 4), (20, 0, 20)])
def test_a_difference_of_few_trials_by_its_definition(gains, losses, of):
    """Every difference of a grid of 0.0005, with the wealth of all bettors on it; the ends of the grid are open."""
    grid = np.arange(-1999, 2000) / 2000
    remaining = np.flatnonzero(wealth_of(grid, gains, losses, of) < 20)
    low = -1.0 if remaining[0] == 0 else grid[remaining[0] - 1]
    high = 1.0 if remaining[-1] == len(grid) - 1 else grid[remaining[-1] + 1]
    assert intervals.difference_sequence(gains, losses, of) == pytest.approx((low, high), abs=1e-9)
