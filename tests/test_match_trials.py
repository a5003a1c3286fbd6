"""Trials with the engine, small: the same again for any threads, and what must come out does."""

from pathlib import Path

import numpy as np
import pytest
from pingwright.inputs import trip as inputs
from pingwright.match import pipeline, plan, trials
from scipy import stats

SCENARIOS = Path(__file__).resolve().parents[1] / "scenarios"
TRIPS = sorted(SCENARIOS.glob("trip-*.toml"))

SMALL = """
title = "Small"
seed = 3
[day]
depth = ["20 m", "24 m"]
sediment = "mud"
temperature = 12
salinity = 35
[[species]]
name = "fish in mid-water"
swimbladder = "closed"
length = "40 cm"
where = { depth = ["8 m", "12 m"] }
share = 2
[[species]]
name = "fish on the mud"
swimbladder = "open"
length = "30 cm"
where = { above_bottom = ["1 m", "2 m"] }
[candidates]
elements = ["high-pencil", "medium-pencil"]
"""


@pytest.fixture(scope="module")
def trip():
    return inputs.parse(SMALL)


@pytest.fixture(scope="module")
def hits(trip):
    return trials.run(trip, runs=4, threads=2)


def test_there_are_four_trips():
    assert len(TRIPS) == 4


@pytest.mark.parametrize("path", TRIPS, ids=lambda p: p.stem)
def test_every_trip_loads_and_has_places_to_try(path):
    trip = inputs.load(path)
    assert len(trip.element) >= 5
    assert plan.slices(trip.day.depth, 0.6)[0].low == min(trip.day.depth)


def test_the_same_hits_for_any_number_of_threads(trip, hits):
    again = trials.run(trip, runs=4, threads=1)
    for name in ("detected", "separated", "fish_depth", "resolution", "false_alarms"):
        assert np.array_equal(getattr(hits, name), getattr(again, name)), name
    for name in ("width", "small", "reach"):
        assert np.array_equal(getattr(hits, name).hits, getattr(again, name).hits), name


def test_shapes_are_those_of_the_plan(hits):
    assert hits.detected.shape == (2, plan.SLICES, 2, 4)
    assert hits.width.hits.shape == (2, plan.SLICES, len(plan.OFFSETS), plan.AXIS_RUNS)
    assert hits.reach.hits.shape == (2, plan.SLICES, len(plan.DEPTHS), plan.AXIS_RUNS)
    assert hits.share == pytest.approx([2 / 3, 1 / 3])


def test_large_fish_in_mid_water_are_seen_and_separated_by_all(hits):
    """40 cm at 10 m over 20 m, in the middle of the beams: echo strength some 25 dB over the picture's floor."""
    # Expected at least 0.95; two standard errors of that many trials are chance.
    least = 0.95 - 2 * np.sqrt(0.95 * 0.05 / hits.detected[:, :, 0].size)
    assert hits.detected[:, :, 0].mean() > least
    assert hits.separated[:, :, 0].mean() > least


def test_what_is_separated_is_detected(hits):
    assert not (hits.separated & ~hits.detected).any()


def test_fish_far_to_the_side_are_seen_less(hits):
    rate = hits.width.hits.mean(axis=(1, 3))
    assert (rate[:, 0] > 0.9).all()
    assert (rate[:, -1] < rate[:, 0]).all()


def test_resolution_is_that_of_a_weighted_chirp(hits):
    """Hann: 1.44 c/2B at -3 dB (Harris 1978, Proc. IEEE 66, table 1: 1.44 bins), the taper widens it by per cents."""
    for element, found in zip(("high-pencil", "medium-pencil"), hits.resolution, strict=True):
        spec = next(e for e in inputs.parse(SMALL).element if e.name == element)
        cell = 1500 / 2 / (spec.band[1] - spec.band[0])
        assert found == pytest.approx(1.44 * cell, rel=0.06)


WRECK = """
title = "Wreck"
seed = 3
[day]
depth = ["45 m", "45 m"]
sediment = "gravel"
temperature = 11
salinity = 34.5
wreck = { length = "30 m", width = "8 m", height = "4 m", beside = ["1 m", "5 m"] }
[[species]]
name = "fish beside the wreck"
swimbladder = "closed"
length = "45 cm"
where = { above_bottom = ["0.3 m", "1.5 m"] }
[candidates]
elements = ["high-pencil", "high-cone"]
"""


@pytest.fixture(scope="module")
def beside():
    return trials.run(inputs.parse(WRECK), runs=48, axis_runs=1)


def test_beside_a_wreck_the_pencil_parts_fish_that_the_cone_hides_in_its_echo(beside):
    """Common practice, no source. Geometry: seen from anywhere within 18 m, the wreck's top is nearer than the fish."""
    pencil, cone = beside.separated.reshape(2, -1)
    gains, losses = int((pencil & ~cone).sum()), int((cone & ~pencil).sum())
    assert stats.binomtest(gains, gains + losses, alternative="greater").pvalue < 1e-2
    assert beside.detected.shape == (2, 1, 1, 48)
    assert beside.width.hits.shape == (2, 1, len(plan.OFFSETS), 1)


def test_without_the_wreck_the_cone_parts_the_same_fish(beside):
    bare = "\n".join(line for line in WRECK.splitlines() if not line.startswith("wreck"))
    alone = trials.run(inputs.parse(bare), runs=48, axis_runs=1)
    assert alone.separated[1].mean() > beside.separated[1].mean() + 0.5


def test_a_ranking_comes_out_of_it(trip, hits):
    match = pipeline.ranked(trip, hits)
    data = pipeline.as_data(match)
    assert [len(r["elements"]) for r in data["ranking"]].count(1) == 2
    assert len(data["ranking"]) == 3
