"""Passes moved to places without fish: where they go, how many, and what keeps them away; by geometry."""

import math
from dataclasses import replace

import measure_lab as lab
import numpy as np
import pytest
from pingwright.echograms.record import SoftTruth, StructureTruth, Truth
from pingwright.measure import blank
from pingwright.measure.judgements import Trials
from test_measure_marks import BOAT, COUNT, DEPTH, fishes

NOBODY = Truth(fishes([], []))


def element(**about):
    """A run along x at y = 0, 0 to 60 m; of its levels nothing is asked here."""
    return lab.element(lab.info(**about), np.ones((COUNT, 1)), np.arange(4096) * 0.01, DEPTH, BOAT)


def trials(pings, distance=20.0, owner=0, within=0.03):
    pings = np.asarray(pings)
    full = np.zeros(len(pings))
    return Trials(np.full(len(pings), owner), pings, full + distance, full + within)


def passes(count, pings=(10, 11, 12)):
    """Passes of some fish, all in the same pings."""
    many = [trials(pings, owner=k) for k in range(count)]
    return blank.joined(many)


@pytest.mark.parametrize(
    ("place", "margin", "near"),
    [
        (1.4, 0.5, True), (1.6, 0.5, False), (4.6, 0.5, True), (4.4, 0.5, False),
        (0.7, 0.5, True), (0.4, 0.5, False), (9.4, 0.5, True), (9.6, 0.5, False),
        (3.0, 2.0, False), (3.0, 2.1, True), (5.0, 0.1, True),
    ],
)  # fmt: skip
def test_the_nearest_of_several_ranges_decides(place, margin, near):
    """Real things at 1, 5 and 9 m; one at just the margin is outside it."""
    found = blank._within(np.array([1.0, 5.0, 9.0]), np.array([place]), np.array([margin]))
    assert found.tolist() == [near]
    assert blank._within(np.zeros(0), np.array([place]), np.array([margin])).tolist() == [False]


def test_a_pass_moves_along_the_track_and_keeps_its_height_over_the_ground():
    """Pings 10 to 12 of 121: moved by -10 at least, by 108 at most; ground that falls by 2 cm a ping."""
    made = replace(element(), bottom_depth=DEPTH + 0.02 * np.arange(COUNT))
    one = trials([10, 11, 12])
    moved = blank._moved(made, one, 3, 5)
    assert [each.ping.tolist() for each in moved] == [[0, 1, 2], [59, 60, 61], [118, 119, 120]]
    assert [each.owner.tolist() for each in moved] == [[5] * 3, [6] * 3, [7] * 3]
    for each, shift in zip(moved, (-10, 49, 108), strict=True):
        assert each.range == pytest.approx(20.0 + 0.02 * shift)
        assert each.within.tolist() == [0.03] * 3
    assert len(blank._moved(made, one, 1000, 0)) == 119


@pytest.mark.parametrize(("fish", "each"), [(1, 119), (2, 99), (3, 65), (20, 10)])
def test_two_hundred_passes_are_shared_by_the_fish(fish, each):
    """200, 100, 66 and 10 even steps; of fine ones two round to the place of the fish itself, and are one."""
    found, lender = blank.blank_trials(element(), NOBODY, passes(fish))
    assert np.bincount(lender).tolist() == [each] * fish
    assert np.bincount(found.owner).tolist() == [3] * fish * each
    # Each pass is three pings in a row, in order.
    assert np.all(np.diff(found.ping.reshape(-1, 3), axis=1) == 1)


def test_of_many_fish_twenty_lend_their_passes_evenly():
    """45 fish: every 44/19th, rounded down."""
    _, lender = blank.blank_trials(element(), NOBODY, passes(45))
    assert np.unique(lender).tolist() == [math.floor(k * 44 / 19) for k in range(20)]


def test_fish_over_known_steep_ground_lend_none():
    made = element()
    _, lender = blank.blank_trials(made, NOBODY, passes(3), without=np.array([1]))
    assert np.unique(lender).tolist() == [0, 2]
    found, lender = blank.blank_trials(made, NOBODY, passes(2), without=np.array([0, 1]))
    assert (len(found), len(lender)) == (0, 0)
    found, lender = blank.blank_trials(made, NOBODY, passes(1).keep(np.zeros(0, dtype=int)))
    assert (len(found), len(lender)) == (0, 0)


@pytest.mark.parametrize(
    ("distance", "stays"), [(1.69, False), (1.7, False), (1.71, True), (40.94, True), (40.95, False), (40.96, False)]
)
def test_ranges_that_are_not_recorded_are_left_out(distance, stays):
    """Blind to 1.7 m; the last sample of 4096 at 40.95 m."""
    one = replace(passes(1), range=np.full(3, distance))
    found, lender = blank.blank_trials(element(), NOBODY, one)
    assert (len(found) > 0) == (len(lender) > 0) == stays


@pytest.mark.parametrize("length", [1, 4, 5])
def test_a_pass_counts_if_half_of_its_pings_are_left(length):
    """A barge under pings of x from 25.78 to 34.22 m: 30 tan 8 deg before and behind its own 30 m."""
    plan = np.array([[30.0, -3.0], [30.0, 3.0]])
    truth = Truth(fishes([], []), (StructureTruth("barge", "steel", plan, plan, plan),))
    free = np.abs(BOAT - 30.0) >= 30.0 * math.tan(math.radians(8.0))
    found, lender = blank.blank_trials(element(), truth, passes(1, range(length)))
    rows = [np.arange(length) + shift for shift in range(COUNT - length + 1)]
    kept = [row[free[row]].tolist() for row in rows if free[row].any() and 2 * free[row].sum() >= length]
    assert len(lender) == len(kept)
    assert found.ping.tolist() == sum(kept, [])
    assert found.owner.tolist() == sum(([k] * len(row) for k, row in enumerate(kept)), [])


#: Twice the tolerance and 6 cells of 1500 / (2 x 80 kHz).
MARGIN = 2 * 0.03 + 6 * 1500 / 160e3


@pytest.mark.parametrize("side", [-1, 1])
@pytest.mark.parametrize(("share", "near"), [(0.98, True), (1.02, False)])
def test_a_fish_is_near_within_twice_the_tolerance_and_six_cells(side, share, near):
    one = trials([60], 20.0 + side * share * MARGIN)
    assert blank.near_real(element(), Truth(fishes(30.0, 20.0)), one).tolist() == [near]
    target = SoftTruth("target", "t", (30.0, 30.0, 0.0, 0.0, 20.0, 20.0))
    assert blank.near_real(element(), Truth(fishes([], []), (), (target,)), one).tolist() == [near]
    layer = replace(target, kind="scattering_layer")
    assert blank.near_real(element(), Truth(fishes([], []), (), (layer,)), one).tolist() == [False]


@pytest.mark.parametrize(
    "widest", ["beamwidth_along", "beamwidth_across", "beamwidth_along_low", "beamwidth_across_low"]
)
@pytest.mark.parametrize(("degrees", "near"), [(17.9, True), (18.1, False)])
def test_a_fish_counts_within_one_and_a_half_of_the_widest_beam(widest, degrees, near):
    """12 deg is the widest of the four widths: 18 deg off the axis."""
    made, angle = element(**{widest: 12.0}), math.radians(degrees)
    fish = fishes(30.0 + 20.0 * math.tan(angle), 20.0)
    assert blank.near_real(made, Truth(fish), trials([60], 20.0 / math.cos(angle))).tolist() == [near]


def test_each_trial_is_judged_by_the_fish_of_its_own_ping():
    """Trials out of the order of pings, more pings than one block of 64: near where the fish is below the boat."""
    pings = np.array([120, 60, 0, 61, 119, 60, 30, 59])
    near = blank.near_real(element(), Truth(fishes([30.0, 60.0], [20.0, 20.0])), trials(pings))
    assert near.tolist() == [True, True, False, True, True, True, False, True]


@pytest.mark.parametrize(
    ("about", "low", "high", "over"),
    [
        ({}, 4.2, 6.0, True), ({}, 4.23, 6.0, False), ({}, -6.0, -4.2, True), ({}, -6.0, -4.23, False),
        ({"beamwidth_across": 20.0}, 10.9, 12.0, True), ({"beamwidth_across": 20.0}, 10.94, 12.0, False),
        ({"beamwidth_along": 20.0}, 10.9, 12.0, True),
        # At most 80 degrees.
        ({"beamwidth_along": 120.0}, 170.0, 175.0, True), ({"beamwidth_along": 120.0}, 170.2, 175.0, False),
    ],
)  # fmt: skip
def test_a_structure_beside_the_boat_counts_within_twice_the_beam(about, low, high, over):
    """30 m down: 30 tan 8 deg = 4.216 m, 30 tan 20 deg = 10.919 m, 30 tan 80 deg = 170.14 m."""
    plan = np.array([[30.0, low], [31.0, high]])
    truth = Truth(fishes([], []), (StructureTruth("barge", "steel", plan, plan, plan),))
    assert blank.over_structure(element(**about), truth)[60] == over
