"""The rules of a pass against brute force over all outcomes and the exact binomial; what every rule must keep to."""

import itertools

import numpy as np
import pytest
from pingwright.measure import rules
from pingwright.measure.rules import SEEN, Row, Window

RULES = (SEEN, Row(2, 0), Window(1, 2), Window(3, 8), Window(2, 12), Window(4, 4))


def test_every_kind_of_rule_is_tried_here():
    kinds = {kind for kind in vars(rules).values() if isinstance(kind, type) and kind.__module__ == rules.__name__}
    assert {kind for kind in kinds if hasattr(kind, "met")} - {rules.Rule} == {type(rule) for rule in RULES}


@pytest.mark.parametrize(
    ("rule", "hits", "met"),
    [
        (SEEN, [1, 1, 1], True), (SEEN, [1, 0, 1, 0, 1], True), (SEEN, [0, 1, 1, 0, 0, 1], False),
        (SEEN, [1, 1, 0, 0, 1, 1], False), (SEEN, [1, 0, 0, 1, 1, 0, 1], True), (SEEN, [1, 1], False),
        (SEEN, [], False), (Window(3, 5), [1, 0, 0, 1, 1], True), (Window(3, 5), [1, 0, 0, 1, 0, 1, 0], False),
        (Window(2, 12), [1, *[0] * 10, 1], True), (Window(2, 12), [1, *[0] * 11, 1], False),
        (Window(2, 12), [1, 1], True), (Window(3, 3), [], False),
    ],
)  # fmt: skip
def test_a_rule_is_met_as_it_says(rule, hits, met):
    assert bool(rule.met(np.array(hits, dtype=bool))) is met


def test_separated_needs_three_pings_of_one_row_of_detections():
    shown = np.array([1, 1, 1, 1, 1, 0, 0, 1, 1, 1], dtype=bool)
    assert SEEN.met(shown, np.array([1, 0, 0, 1, 1, 0, 0, 0, 0, 0], dtype=bool))
    assert not SEEN.met(shown, np.array([1, 0, 0, 1, 0, 0, 0, 1, 1, 0], dtype=bool))


@pytest.mark.parametrize("rule", RULES, ids=str)
def test_the_chance_is_that_of_all_outcomes_added_up(rule):
    rng = np.random.default_rng(1)
    outcomes = np.array(list(itertools.product((0, 1, 2), repeat=7)))  # missed, shown, shown and counting
    detected = rng.random((2, 7))
    counted = detected * rng.random((2, 7))
    for d, c in zip(detected, counted, strict=True):
        p = np.choose(outcomes, [1 - d, d - c, c]).prod(axis=1)
        exact = p[rule.met(outcomes > 0, outcomes == 2)].sum()
        assert rule.chance(d, c) == pytest.approx(exact, abs=1e-12)
    assert rule.chance(detected)[0] == pytest.approx(rule.chance(detected[0], detected[0]), abs=1e-12)


@pytest.mark.parametrize("rule", RULES, ids=str)
def test_more_hits_never_undo_a_rule(rule):
    rng = np.random.default_rng(2)
    shown = rng.random((400, 15)) < 0.3
    more = shown | (rng.random(shown.shape) < 0.2)
    assert (rule.met(more) | ~rule.met(shown)).all()
    assert rule.met(more).sum() > rule.met(shown).sum() > 0


def test_the_chance_of_one_window_is_the_binomial_tail_and_of_a_row_of_three_the_cube():
    from scipy.stats import binom

    assert SEEN.chance(np.full(3, 0.3)) == pytest.approx(0.027, abs=1e-12)
    for least, of in ((3, 8), (2, 12), (4, 4)):
        assert Window(least, of).chance(np.full(of, 0.3)) == pytest.approx(binom.sf(least - 1, of, 0.3), abs=1e-12)


def test_without_pings_no_rule_is_met():
    assert SEEN.chance(np.zeros((2, 3, 0))).tolist() == [[0.0] * 3] * 2


@pytest.mark.parametrize(
    ("rule", "first"),
    [(SEEN, "..xx..xx..xx"), (Row(2, 0), ".x.x.x.x.x.x"), (Row(1, 0), "xxxxxxxxxxxx"), (Window(1, 2), "xxxxxxxxxxxx"),
     (Window(3, 8), "..xxxxxx..xx"), (Window(4, 4), "...x...x...x")],
)  # fmt: skip
def test_what_a_search_looks_at_first(rule, first):
    assert rule.sparse(np.arange(12)).tolist() == [letter == "x" for letter in first]


@pytest.mark.parametrize("rule", RULES, ids=str)
def test_where_a_rule_is_met_one_of_the_pings_looked_at_first_shows_the_fish(rule):
    """And all that decides it lies near that one: over every outcome of ten pings, wherever a search begins."""
    outcomes = np.array(list(itertools.product((False, True), repeat=10)))
    met = rule.met(outcomes)
    for start in range(12):
        first = rule.sparse(np.arange(10) + start)
        assert (outcomes[:, first].any(axis=1) | ~met).all()
    near = rule.near(outcomes)
    assert (near | ~outcomes).all()
    for k in range(10):
        only = outcomes & rule.near(np.arange(10) == k)
        # Taken ping by ping: the rule is met if it is met by pings near some that show the fish, step by step.
        assert (met | ~rule.met(only)).all()


@pytest.mark.parametrize(
    ("rule", "near"),
    [(SEEN, "..xxxxx...."), (Row(2, 0), "...xxx....."), (Window(1, 2), "...xxx....."), (Window(2, 4), ".xxxxxxx..."),
     (Window(1, 1), "....x......")],
)  # fmt: skip
def test_what_may_decide_together_with_one_ping(rule, near):
    shown = np.zeros((2, 11), dtype=bool)
    shown[0, 4] = True
    assert rule.near(shown).tolist() == [[letter == "x" for letter in near], [False] * 11]


def test_the_usual_rule_is_three_pings_with_one_missed():
    assert (SEEN.hits, SEEN.missed) == (rules.HITS, rules.MISSED) == (3, 1)
    assert rules.Row(4).missed == 1
