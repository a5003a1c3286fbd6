"""Passes over several species on one ground: parts join to the whole, a ping is made once, intervals count grounds."""

from dataclasses import replace

import numpy as np
import pytest
from pingwright.inputs import trip as inputs
from pingwright.match import depends, parts, ranking, simulated, trials
from pingwright.measure.intervals import clopper_pearson
from pingwright.trials import day
from pingwright.trials.assumptions import Turned
from pingwright.trials.ground import Ground

TRIP = """
title = "two kinds of fish"
seed = 5
[day]
depth = 15
sediment = "gravel"
wind = "8 kn"
speed = "20 kn"
temperature = "11 degC"
salinity = 34.5
{standing}
[[species]]
name = "perch"
swimbladder = "closed"
length = "45 cm"
where = {{ above_bottom = ["0.3 m", "1.5 m"] }}
[[species]]
name = "cod"
swimbladder = "closed"
length = "30 cm"
where = {{ {where} }}
[candidates]
elements = ["high-pencil"]
"""
NEAR = 'above_bottom = ["0.05 m", "0.3 m"]'
WRECK = 'ground = "wreck"'


def trip(where=NEAR, standing=""):
    return inputs.parse(TRIP.format(where=where, standing=standing))


def shown(one, *, ways=None, part=(0, 6, 6)):
    depth = trials._depths(one)[0]
    at = trials._scene_of(one, depth)
    kinds = trials._kinds(one, depth)
    return simulated.results(ways or [simulated.Way(at)], one, 0, kinds, 1, part)


@pytest.fixture
def made(monkeypatch):
    """The pings that grounds make, each as often as it is made."""
    pings, make = [], Ground._make

    def counted(self, span):
        pings.extend(span)
        make(self, span)

    monkeypatch.setattr(Ground, "_make", counted)
    return pings


def test_parts_of_the_runs_join_to_the_whole():
    whole, *halves = (shown(trip(), part=part)[0] for part in ((0, 6, 6), (0, 3, 6), (3, 6, 6)))
    assert list(whole) == ["0", "1", "0 swath"]
    for name, seen in whole.items():
        joined = simulated.joined([half[name] for half in halves])
        for key in ("detected", "separated", "false"):
            assert np.array_equal(getattr(joined, key), getattr(seen, key)), (name, key)


def test_a_ping_is_made_once_for_all_species_and_for_what_leaves_the_ground_alone(made):
    shown(trip())
    together = len(made)
    assert together == len(set(made))
    made.clear()
    alone = trip().model_copy(update={"species": trip().species[:1]})
    shown(alone)
    assert together < 1.7 * len(made)
    made.clear()
    at = trials._scene_of(trip(), 15.0)
    shown(trip(), ways=[simulated.Way(at), simulated.Way(at, gain=3.0), simulated.Way(at, gain=-3.0)])
    assert len(made) == len(set(made))
    assert len(made) < 1.7 * together


def test_species_at_other_depths_share_the_route_and_those_beside_a_structure_do_not(made):
    """A fish beside a structure decides where the boat goes, so that every species has a ground of its own there."""
    shown(trip(where='depth = ["2 m", "6 m"]'))
    assert len(made) == len(set(made))
    made.clear()
    shown(trip(standing=WRECK), part=(0, 2, 2))
    assert len(made) > len(set(made))


def test_a_species_shows_as_often_beside_others_as_by_itself():
    """Shares of the same kind of fish on shared grounds and on grounds of its own: 64 passes each, intervals of 99 %
    that overlap (Clopper & Pearson 1934).
    """
    both, count = trip(), 64
    second = both.model_copy(update={"species": both.species[1:]})
    shared, own = (shown(one, part=(0, count, count))[0][name] for one, name in ((both, "1"), (second, "0")))
    for key in ("detected", "separated"):
        spans = [clopper_pearson(int(getattr(one, key).sum()), count, 0.99) for one in (shared, own)]
        assert max(low for low, _ in spans) <= min(high for _, high in spans), key
    assert 0.1 < shared.separated.mean() < 0.95, "neither rare nor certain, or the test says nothing"


def test_assumptions_that_change_the_ground_are_asked_for_alone():
    one = trip()
    turns = [None, *depends.assumptions.turned(day.scenario(one, 15.0))]
    groups = depends._groups(turns)
    assert sorted(i for group in groups for i in group) == list(range(len(turns)))
    assert {turns[i].name for i in groups[0] if turns[i]} == {"own noise", "fish strength"}
    assert [turns[i].name for (i,) in groups[1:]] == ["pulse", "roughness", "bottom law"]


def test_nothing_turned_is_the_trip_itself_and_fainter_fish_show_less():
    one = trip()
    usual, fainter = trials.turned(one, [None, Turned("fish strength", day.scenario(one, 15.0), -40.0)], runs=6)
    by_itself = trials.turned(one, [None], runs=6)[0]
    again = trials.run(one, threads=1, runs=6)
    for name in ("detected", "separated", "swath", "fish_depth"):
        assert np.array_equal(getattr(by_itself, name), getattr(again, name)), name
    assert usual.detected.mean() > fainter.detected.mean()


def test_runs_of_one_number_stand_on_one_ground_and_count_as_one_in_intervals():
    """Two species that hit on the same grounds know no more than one.

    Outside: of n runs with share p the Bayesian bootstrap has the standard deviation sqrt(p (1 - p) / (n + 1)) (Rubin
    1981, Ann. Stat. 9, 130-134); were the runs of the two species independent, it would be smaller by sqrt(2). The
    standard deviation of 400 resamplings is known to 1 / sqrt(800): four of these are allowed.
    """
    n = 40
    hit = np.zeros((1, 1, 2, n))
    hit[..., :10] = 1.0
    usual = trials.turned(trip(), [None], quick=True)[0]
    hits = replace(usual, detected=hit, separated=hit, swath=np.zeros((1, 1, n)), quick=False)
    draws = ranking.resamplings(hits, seed=3)
    vector = np.array([1.0, 0, 0, 0, 0, 0])
    spread = parts.score(hits, (0,), draws, vector).std(ddof=1)
    rubin = np.sqrt(0.25 * 0.75 / (n + 1))
    assert spread == pytest.approx(rubin, rel=4 / np.sqrt(800))
    formulas = parts.score(hits, (0,), ranking.resamplings(replace(hits, quick=True), seed=3), vector).std(ddof=1)
    assert formulas == pytest.approx(rubin / np.sqrt(2), rel=4 / np.sqrt(800))
    assert draws.swath.shape == (ranking.RESAMPLINGS, 1, n)
    assert draws.spot.mean() == pytest.approx(1.0, abs=4 / np.sqrt(400 * n))
