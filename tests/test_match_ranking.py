import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pingwright.match import offsets, parts, ranking, reasons
from pingwright.match.hits import Hits, candidates, seen_by

EQUAL = dict.fromkeys(parts.NAMES, 1.0)


def made(
    separated=(0.9, 0.6, 0.3), detected=(0.95, 0.95, 0.9), runs=200, depths=3, seed=2, resolution=(0.013, 0.05, 0.1)
):
    """Trials of elements whose probabilities are known; the same draws for all, as in the simulation."""
    random = np.random.default_rng(seed)
    count = len(separated)
    draw = random.random((depths, 1, runs))
    clear = draw[None] < np.reshape(separated, (count, 1, 1, 1))
    seen = (draw[None] < np.reshape(detected, (count, 1, 1, 1))) | clear
    wide = random.random((depths, 40))[None] < np.linspace(0.1, 0.7, count)[:, None, None]
    return Hits(
        elements=tuple(f"e{i}" for i in range(count)), edges=np.linspace(40, 60, depths + 1), species=("fish",),
        share=np.array([1.0]), detected=seen.astype(float), separated=clear.astype(float),
        fish_depth=np.full((depths, 1, runs), 39.0), false_alarms=np.zeros(count), swath=wide.astype(float),
        width=np.full(depths, 0.9), smallest=np.tile(np.linspace(0.07, 0.3, count)[:, None], depths),
        reach=np.tile(np.linspace(1.2, 0.6, count)[:, None], depths), resolution=np.asarray(resolution),
    )  # fmt: skip


def test_parts_follow_the_contracts_formulas():
    assert parts.detail(0.10) == 0.0
    assert parts.detail(0.01) == pytest.approx(1.0)
    assert parts.detail(0.1 / np.sqrt(10)) == pytest.approx(0.5)
    assert parts.small_fish(0.5) == 0.0
    assert parts.small_fish(0.05) == pytest.approx(1.0)
    assert parts.small_fish(np.inf) == 0.0
    assert parts.small_fish(2.0) == 0.0


def test_parts_recover_known_probabilities():
    """Tolerances: four standard deviations of the runs."""
    hits = made(runs=2000)
    found = parts.of_candidate(hits, (0,), parts.alike(hits))
    assert found[0] == pytest.approx(0.9, abs=4 * np.sqrt(0.9 * 0.1 / 6000))
    assert found[1] == pytest.approx(0.95, abs=4 * np.sqrt(0.95 * 0.05 / 6000))
    assert found[2] == pytest.approx(0.9 * 0.1, abs=0.9 * 4 * np.sqrt(0.1 * 0.9 / 120))
    assert found[4] == pytest.approx(np.log10(0.5 / 0.07))
    assert found[5] == pytest.approx(1.2 / 1.5)


def test_none_seen_gives_nothing_and_a_swath_wider_than_the_depth_counts_as_one():
    hits = made()
    blind = replace(hits, swath=np.zeros_like(hits.swath), smallest=np.full((3, 3), np.inf), reach=np.zeros((3, 3)))
    seeing = replace(hits, swath=np.ones_like(hits.swath), width=np.full(3, 1.4), reach=np.full((3, 3), 2.0))
    assert list(parts.of_candidate(blind, (0,), parts.alike(hits))[[2, 4, 5]]) == [0, 0, 0]
    assert list(parts.of_candidate(seeing, (0,), parts.alike(hits))[[2, 5]]) == [1, 1]


@pytest.mark.parametrize("count", [12, 24])
def test_a_narrow_swath_among_wide_ones_is_measured_too(count):
    """A swath of 4 % of the whole width, as of a pencil beside a fan: 12 even offsets gave it 0 or 8 %.

    Exact: what lies within the half width counts. A cell is counted whole or not at all, so half of the widest cell on
    each side is the most that a swath may be wrong by.
    """
    middle, share = offsets.cells(count)
    assert share.sum() == pytest.approx(1.0)
    assert np.all(np.diff(middle) > 0)
    assert middle == pytest.approx(-middle[::-1])
    for exact in (0.04, 0.1, 0.3, 0.7, 1.0):
        seen = np.abs(middle) <= exact / 2
        hits = replace(made(), swath=np.tile(seen.astype(float), (3, 3, 1)), width=np.ones(3))
        got = float(parts.swath(hits, (0,), parts.alike(hits)))
        assert got == pytest.approx(exact, abs=share[np.abs(middle) <= exact / 2 + share].max() + 1e-9)
        assert got > 0


def test_probabilities_of_a_pair_are_those_of_two_that_fade_independently():
    assert seen_by(np.array([[0.5, 0.0], [0.2, 0.3]]), (0, 1)) == pytest.approx([0.6, 0.3])


@given(st.integers(0, 2**31))
def test_a_pair_sees_what_either_sees_run_by_run(seed):
    random = np.random.default_rng(seed)
    hits = (random.random((3, 2, 2, 7)) < 0.4).astype(float)
    both = seen_by(hits, (0, 2))
    for index in np.ndindex(both.shape):
        assert both[index] == (hits[(0, *index)] or hits[(2, *index)])


@given(st.integers(0, 2**31))
def test_a_pair_is_never_worse_than_its_members(seed):
    hits = made(seed=seed, runs=15)
    whole = parts.alike(hits)
    for members in candidates(3, pairs=True)[3:]:
        pair = parts.of_candidate(hits, members, whole)
        for single in members:
            assert (pair >= parts.of_candidate(hits, (single,), whole) - 1e-12).all()


def test_ranking_is_best_first_and_the_same_again():
    hits = made()
    first = ranking.rank(hits, candidates(3, pairs=True), EQUAL, seed=5)
    again = ranking.rank(hits, candidates(3, pairs=True), EQUAL, seed=5)
    scores = [r.score for r in first]
    assert scores == sorted(scores, reverse=True)
    assert [(r.members, r.score, r.low, r.high, r.ties_with) for r in first] == [
        (r.members, r.score, r.low, r.high, r.ties_with) for r in again
    ]
    for r in first:
        assert 0 <= r.low <= r.score <= r.high <= 1


def test_the_score_is_the_weighted_mean():
    hits = made()
    weights = {"separated": 3, "detected": 1, "swath": 1, "detail": 1, "small_fish": 0, "reach": 0}
    for r in ranking.rank(hits, candidates(3, pairs=False), weights, seed=1):
        assert r.score == pytest.approx(sum(weights[n] * r.parts[n] for n in parts.NAMES) / 6)


def test_weights_left_out_count_one_and_none_at_all_is_refused():
    assert ranking.weight_vector({"separated": 5.0}) == pytest.approx([0.5, 0.1, 0.1, 0.1, 0.1, 0.1])
    with pytest.raises(ValueError, match="above 0"):
        ranking.weight_vector(dict.fromkeys(parts.NAMES, 0.0))


def test_twins_are_a_tie_and_strangers_are_not():
    hits = made(separated=(0.8, 0.8, 0.2), detected=(0.9, 0.9, 0.9))
    same = {**dict.fromkeys(parts.NAMES, 0.0), "separated": 1.0}
    found = ranking.rank(hits, candidates(3, pairs=False), same, seed=3)
    assert [r.members for r in found] == [(0,), (1,), (2,)]
    assert found[0].ties_with == (1,)
    assert found[1].ties_with == (0,)
    assert found[2].ties_with == ()


def test_one_discordant_run_separates_nobody():
    hits = made(separated=(1.0, 1.0), detected=(1.0, 1.0), resolution=(0.02, 0.02))
    clear = hits.separated.copy()
    clear[1, 0, 0, 0] = False
    only = {**dict.fromkeys(parts.NAMES, 0.0), "separated": 1.0}
    found = ranking.rank(replace(hits, separated=clear), candidates(2, pairs=False), only, seed=3)
    assert found[0].ties_with == (1,)


def test_intervals_cover_the_truth():
    """A score of one probability alone: 0.6. 200 trips of 60 runs; a 95 % interval misses 10 of 200, 21 is 4 sigma."""
    only = {**dict.fromkeys(parts.NAMES, 0.0), "separated": 1.0}
    missed = 0
    for seed in range(200):
        hits = made(separated=(0.6,), detected=(0.6,), runs=20, seed=seed, resolution=(0.02,))
        found = ranking.rank(hits, ((0,),), only, seed=seed)[0]
        missed += not found.low <= 0.6 <= found.high
    assert missed <= 21


def test_doubling_the_runs_changes_no_rank_that_was_not_a_tie():
    for seed in range(25):
        separated = np.random.default_rng(seed).uniform(0.3, 0.95, 4)
        few, many = (made(tuple(separated), tuple(separated), n, seed=seed, resolution=(0.02,) * 4) for n in (60, 120))
        ranks = [ranking.rank(h, candidates(4, pairs=False), EQUAL, seed=1) for h in (few, many)]
        place = {r.members: i for i, r in enumerate(ranks[1])}
        for a, first in enumerate(ranks[0]):
            for b in range(a + 1, 4):
                if b not in first.ties_with:
                    assert place[first.members] < place[ranks[0][b].members]


def test_a_choice_worse_in_every_part_is_dominated_and_a_single_never_by_a_pair():
    hits = made()
    weights = {**EQUAL, "swath": 0.0}
    found = ranking.rank(hits, candidates(3, pairs=True), weights, seed=2)
    at = {r.members: r for r in found}
    assert (0,) in [found[p].members for p in at[(2,)].dominated_by]
    for r in found:
        assert all(len(found[p].members) <= len(r.members) for p in r.dominated_by)
    assert at[(0,)].dominated_by == ()


def test_the_answer_changes_where_the_probabilities_cross():
    hits = made(separated=(0.5, 0.5), detected=(1.0, 1.0), depths=4, runs=200, resolution=(0.02, 0.02))
    random = np.random.default_rng(1).random((4, 1, 200))
    chance = np.array([[0.95, 0.9, 0.3, 0.1], [0.4, 0.5, 0.8, 0.9]])
    crossing = replace(hits, separated=(random[None] < chance[:, :, None, None]).astype(float))
    only = {**dict.fromkeys(parts.NAMES, 0.0), "separated": 1.0}
    found = ranking.rank(crossing, candidates(2, pairs=False), only, seed=1)
    turns = ranking.changes(ranking.leaders(found, (0, 1)), crossing.edges)
    assert [turn.depth for turn in turns] == [50.0]
    assert reasons.turning(found, crossing) == "From 40 m to 60 m, e0 is best at first; beyond 50 m e1 is better."


def test_without_a_change_it_says_so():
    hits = made()
    found = ranking.rank(hits, candidates(3, pairs=False), EQUAL, seed=1)
    assert reasons.turning(found, hits) == "From 40 m to 60 m, no other is certainly better than e0."


def test_reasons_are_sentences_in_the_customers_units_without_scores():
    hits = made()
    found = ranking.rank(hits, candidates(3, pairs=True), EQUAL, seed=1)
    for place in reasons.notable(found):
        text = reasons.why(place, found, hits, EQUAL, "ft")
        assert len(re.findall(r"\.(?: |$)", text)) == 2
        assert " ft at a depth of 130 ft." in text
        assert "%" not in text
        assert "score" not in text
        assert ("second beam" in text) == (len(found[place].members) == 2)
        assert text.startswith("It shows ")


def test_shares_in_words():
    assert [reasons.often(v) for v in (0.0, 0.05, 0.31, 0.94, 0.99)] == [
        "hardly any", "1 in 20", "3 in 10", "9 in 10", "nearly all",
    ]  # fmt: skip
