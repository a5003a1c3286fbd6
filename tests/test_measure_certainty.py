"""Shares over passes: Wilson's interval by its own equation, design effects (Kish 1965) worked out by hand."""

import numpy as np
import pytest
from pingwright.measure import certainty
from scipy import stats


@pytest.mark.parametrize(
    ("hits", "fish", "effect"),
    [
        # Share 3/4: squares 3 x 1/16 + 9/16 = 3/4; 4/3 x 3/4 / 16 over 3/16 / 4.
        ([1, 0, 1, 1], [1] * 4, 4 / 3),
        # Share 1/2: 4 passes off by 1.5; 4/3 x 9 / 144 over 1/4 / 12: the three fish of a pass are as one, and more.
        ([3, 0, 3, 0], [3] * 4, 4.0),
        # Passes more alike than chance makes them do not count for more than their fish.
        ([1, 1, 1, 1], [2] * 4, 1.0),
        # Passes of different size: share 3/4, both off by 3/4; 2 x 9/8 / 16 over 3/16 / 4.
        ([3, 0], [3, 1], 3.0),
        # One pass says nothing of how passes differ.
        ([1], [4], 1.0),
        # All or none: as if the fish of a pass behave as one.
        ([3, 5], [3, 5], 4.0),
        ([0, 0], [2, 4], 3.0),
    ],
)
def test_the_interval_is_wilsons_for_the_fish_over_the_design_effect(hits, fish, effect):
    """Wilson 1927: its ends p solve (share - p)^2 = z^2 p (1 - p) / n."""
    found = certainty.over(hits, fish)
    assert (found.hits, found.fish, found.passes) == (sum(hits), sum(fish), len(fish))
    assert found.value == pytest.approx(sum(hits) / sum(fish))
    assert found.design_effect == pytest.approx(effect)
    z, n = stats.norm.ppf(0.975), sum(fish) / effect
    for end in (found.low, found.high):
        assert (found.value - end) ** 2 == pytest.approx(z**2 * end * (1 - end) / n, rel=1e-5, abs=1e-12)
    assert found.low <= found.value <= found.high
    assert found.low < found.high


@pytest.mark.parametrize(("hits", "fish"), [(7, 20), (1, 9), (0, 12), (12, 12)])
def test_passes_of_one_fish_and_no_design_effect_have_a_general_librarys_interval(hits, fish):
    low, high = certainty._wilson(hits / fish, float(fish))
    expected = stats.binomtest(hits, fish).proportion_ci(0.95, "wilson")
    assert (low, high) == pytest.approx((expected.low, expected.high), abs=1e-7)
    # Rounding must not put the share itself outside.
    assert low <= hits / fish <= high


def test_passes_without_fish_do_not_count():
    assert certainty.over([3, 0, 0], [3, 0, 1]) == certainty.over([3, 0], [3, 1])
    assert certainty.over([3, 0, 0], [3, 0, 1]).passes == 2
    with pytest.raises(ValueError, match="no pass has a fish"):
        certainty.over([0], [0])
    with pytest.raises(ValueError, match="no pass has a fish"):
        certainty.over([], [])


def test_a_table_of_passes_is_counted_row_by_row():
    table = np.array([[True, True, True], [False, False, False], [True, True, True], [False, False, False]])
    assert certainty.of(table) == certainty.over([3, 0, 3, 0], [3, 3, 3, 3])
    assert certainty.of(table[:, 0]) == certainty.over([1, 0, 1, 0], [1, 1, 1, 1])


def test_some_fish_of_fresh_passes_can_be_asked_for():
    detected = np.array([[True, True, False], [True, False, False]])
    separated = np.array([[True, False, False], [False, False, False]])
    both = certainty.Repeated(detected, separated)
    assert len(both) == 2
    assert (both.detects().hits, both.separates().hits) == (3, 1)
    assert (both.detects().fish, both.separates().fish) == (6, 6)
    assert (both.detects([0]).value, both.separates([0]).value) == (1.0, 0.5)
    assert (both.detects(slice(1, 3)).hits, both.detects([2]).hits) == (1, 0)
