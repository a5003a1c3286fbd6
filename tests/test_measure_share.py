"""Trials without fish: they keep clear of every fish and structure; marks and shares of a handful of verdicts."""

import math

import measure_lab as lab
import numpy as np
import pytest
from pingwright.echograms.record import FishTruth, StructureTruth, Truth
from pingwright.measure import separated, share
from pingwright.measure.cells import grid
from scipy import stats

COUNT, STEP, DEPTH = 121, 0.5, 30.0
BOAT = np.arange(COUNT) * STEP


def element(heave=0.0, samples=4096, **about):
    """A silent recording of a run along x at y = 0, 0 to 60 m."""
    ranges = np.arange(samples) * 0.01
    return lab.element(lab.info(**about), np.zeros((COUNT, samples)), ranges, DEPTH, BOAT, heave=heave)


def fishes(x, depth, length=0.1, y=0.0):
    x, depth = np.atleast_1d(np.asarray(x, float)), np.atleast_1d(np.asarray(depth, float))
    count = len(x)
    flat = np.zeros(count)
    return FishTruth(
        np.arange(count), ("fish",) * count, x, flat + y, depth, flat + length, DEPTH - depth,
        np.full((1, count), -35.0), np.zeros((1, count), int), depth[None, :],
    )  # fmt: skip


def trials(found, fish, *structures):
    return share._empty_trials(found, Truth(fish, structures), grid(found))


def square(x0, x1, y0, y1):
    plan = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1], [x0, y0]], float)
    return StructureTruth("barge", "steel", plan, plan, plan)


def test_a_trial_stands_at_the_fishs_height_over_each_ping_away_from_it():
    """8 deg beam, 9 deg at its lowest: 1.5 widths are 13.5 deg, at 20 m 4.80 m to either side."""
    ping, place, within = trials(element(), fishes(30.0, 20.0))
    assert np.all(place == 20.0)
    assert np.all(within == pytest.approx(3 * 1500 / (2 * 80e3)))  # three cells; the fish itself is short
    away = np.abs(BOAT - 30.0)
    # Within the beam the slant range also has to be like the fish's: 2 x 3 cells + 6 cells = 0.1125 m.
    slant = np.array([math.hypot(20.0, d) for d in away])
    near = (slant - 20.0 < 12 * 1500 / (2 * 80e3)) & (away < 20.0 * math.tan(math.radians(13.5)))
    assert 5 < near.sum() < 20
    assert ping.tolist() == np.flatnonzero(~near).tolist()


def test_heave_and_the_face_under_water_shorten_the_way_to_that_height():
    """The face 2 m under water, lifted by 0.5 m: a fish 10 m up over 30 m is 18.5 m away."""
    _, place, _ = trials(element(heave=0.5, transducer_depth=2.0), fishes(30.0, 20.0))
    assert np.all(place == 18.5)
    # and that of a fish right below, at the moment of its ping, is 20 - 2 + 0.5 m: no trial there
    ping, _, _ = trials(element(heave=0.5, transducer_depth=2.0), fishes(30.0, 20.0))
    assert 60 not in ping


def test_a_fish_beside_the_beam_keeps_no_trial_away():
    """At 20 m depth 13.5 deg end at 4.80 m: a fish 4.7 m aside counts for trials at its range, one at 5 m not."""
    for aside, kept in ((4.7, False), (5.0, True)):
        slant = math.hypot(20.0, aside)
        both = fishes([1e3, 30.0], [slant, 20.0], y=np.array([0.0, aside]))
        ping, place, _ = trials(element(), both)
        assert (60 in ping[place == slant]) == kept


@pytest.mark.parametrize(
    "widest", ["beamwidth_along", "beamwidth_across", "beamwidth_along_low", "beamwidth_across_low"]
)
def test_the_widest_beam_width_decides(widest):
    """10 m aside at 20 m is 26.6 deg: within 1.5 x 18 deg, beyond 1.5 x 9 deg."""
    slant = math.hypot(20.0, 10.0)
    both = fishes([1e3, 30.0], [slant, 20.0], y=np.array([0.0, 10.0]))
    for width, kept in ((9.0, True), (18.0, False)):
        ping, place, _ = trials(element(**{widest: width}), both)
        assert (60 in ping[place == slant]) == kept


def test_places_before_the_blank_range_or_past_the_last_sample_are_no_trials():
    for depth, kept in ((1.6, False), (1.8, True)):
        assert (len(trials(element(), fishes(1e3, depth))[0]) > 0) == kept
    for depth, kept in ((20.4, True), (20.5, False)):
        found = element(samples=2048)
        assert (len(trials(found, fishes(1e3, depth))[0]) > 0) == kept


def test_long_fish_keep_trials_away_further():
    """A fish of 1 m is looked for within 0.25 m (extent of a tilted fish): twice that and 6 cells are 0.556 m."""
    _, _, within = trials(element(), fishes(1e3, 20.0, length=1.0))
    assert np.all(within == 0.25)
    for apart, kept in ((0.55, False), (0.56, True)):
        ping, place, _ = trials(element(), fishes([1e3, 30.0], [20.0, 20.0 + apart], length=1.0))
        assert (60 in ping[place == 20.0]) == kept
        ping, place, _ = trials(element(), fishes([1e3, 30.0], [20.0, 20.0 - apart], length=1.0))
        assert (60 in ping[place == 20.0]) == kept


def test_no_trial_over_a_structure():
    """Beam 8 deg over 30 m: 30 tan(8 deg) = 4.216 m before and behind the barge, and to either side."""
    margin = DEPTH * math.tan(math.radians(8.0))
    ping, _, _ = trials(element(), fishes(1e3, 20.0), square(20.0, 25.0, -3.0, 3.0))
    assert ping.tolist() == [k for k in range(COUNT) if not 20 - margin < BOAT[k] < 25 + margin]
    for y, free in ((4.2, False), (4.3, True)):
        for aside in (square(20.0, 25.0, y, y + 6.0), square(20.0, 25.0, -y - 6.0, -y)):
            assert (len(trials(element(), fishes(1e3, 20.0), aside)[0]) == COUNT) == free


def test_the_wider_side_of_the_beam_and_at_most_80_degrees_decide_how_far_a_structure_reaches():
    """tan(20 deg) x 30 m = 10.92 m; a fan of 150 deg is taken for one of 80: 170.1 m."""
    for widths in ({"beamwidth_along": 20.0}, {"beamwidth_across": 20.0}):
        for y, free in ((10.9, False), (11.0, True)):
            ping, _, _ = trials(element(**widths), fishes(1e3, 20.0), square(0.0, 60.0, y, y + 1.0))
            assert (len(ping) == COUNT) == free
    for y, free in ((170.0, False), (170.2, True)):
        ping, _, _ = trials(element(beamwidth_across=150.0), fishes(1e4, 20.0), square(0.0, 60.0, y, y + 1.0))
        assert (len(ping) == COUNT) == free


def test_without_fish_there_is_no_trial():
    assert [len(each) for each in trials(element(), fishes([], []))] == [0, 0, 0]


def test_fish_at_the_seams_of_the_blocks_are_judged_too():
    """121 pings are read in blocks of 64: a fish of -30 dB in the first, the 64th, the 65th and the last."""
    about = lab.info(noise=20.0)
    level = np.full((COUNT, 2048), 0.0)
    at = np.array([0, 63, 64, 120])
    level[at, 1000] = 215.0 - 40 * math.log10(10.0) - 30.0
    made = lab.element(about, 10 ** (level / 20), np.arange(2048) * 0.01, DEPTH, BOAT)
    fish = fishes(at * STEP, np.full(4, 10.0))
    fish = type(fish)(**(vars(fish) | {"nearest_ping": at[None, :]}))
    scored = share.score_element(made, Truth(fish))
    assert share.marks(scored.fish) == ("separated",) * 4
    assert scored.fish.strength == pytest.approx(-30.0, abs=0.05)
    assert scored.fish.peak == pytest.approx(10.0, abs=0.01)
    assert len(scored.bottom.pick) == COUNT


def test_marks_and_their_share():
    yes, none = np.array([True, True, False]), np.full(3, np.nan)
    verdicts = separated.Verdicts(yes, np.array([True, False, False]), none, none)
    assert share.marks(verdicts) == ("separated", "merged", "not_shown")
    got = share.share(yes)
    exact = stats.binomtest(2, 3).proportion_ci(0.95, method="exact")
    assert (got.hits, got.of) == (2, 3)
    assert got.value == pytest.approx(2 / 3)
    assert (got.low, got.high) == pytest.approx((exact.low, exact.high))
    assert math.isnan(share.share([]).value)


def test_at_most_two_hundred_pings_and_twenty_heights_are_lent():
    """Of 500 pings and 50 fish far away, spread evenly from the first to the last."""
    ranges, zero = np.arange(4096) * 0.01, np.zeros((500, 4096), np.int8)
    found = lab.element(lab.info(), zero, ranges, DEPTH, np.arange(500) * STEP)
    fish = fishes(np.full(50, 1e4), 10.0 + 0.1 * np.arange(50))
    ping, place, _ = trials(found, fish)
    used, heights = np.unique(ping), np.unique(place)
    assert (len(used), len(heights)) == (200, 20)
    assert (used[0], used[-1]) == (0, 499)
    assert set(np.diff(used).tolist()) == {2, 3}
    assert heights[[0, -1]] == pytest.approx([10.0, 14.9])
    assert np.diff(heights) == pytest.approx(0.25, abs=0.051)


def test_a_fish_above_the_face_keeps_no_trial_away():
    """2 m under water, a fish at 1.5 m is outside every beam that looks down; one at 2.5 m is half a metre below it."""
    for depth, kept in ((1.5, True), (2.5, False)):
        both = fishes([1e3, 30.0], [2.5, depth])
        ping, _, _ = trials(element(transducer_depth=2.0, blank_range=0.1), both)
        assert (60 in ping) == kept


def test_trials_without_fish_at_the_seams_of_the_blocks_are_judged_too():
    """An echo of -30 dB at 10 m in pings 0, 63, 64 and 120 alone: the trials there are the ones that score."""
    about = lab.info(noise=20.0)
    level = np.full((COUNT, 2048), 0.0)
    at = np.array([0, 63, 64, 120])
    level[at, 1000] = 215.0 - 40 * math.log10(10.0) - 30.0
    made = lab.element(about, 10 ** (level / 20), np.arange(2048) * 0.01, DEPTH, BOAT)
    far = fishes(1e3, 10.0)
    far = type(far)(**(vars(far) | {"nearest_ping": np.array([[1]])}))
    scored = share.score_element(made, Truth(far))
    assert np.flatnonzero(scored.empty.detected).tolist() == at.tolist()
    assert np.flatnonzero(scored.empty.separated).tolist() == at.tolist()
    assert len(scored.empty.detected) == COUNT
    assert scored.empty.strength[at] == pytest.approx(-30.0, abs=0.05)
    assert share.marks(scored.fish) == ("not_shown",)
    assert (scored.ping.tolist(), scored.true_range.tolist()) == ([1], [10.0])
    # A floor above that, or a false alarm so rare that it asks for 70 dB over the noise: nothing scores.
    assert not share.score_element(made, Truth(far), floor=-29.0).empty.detected.any()


def test_the_second_element_has_its_own_pings_and_places():
    """A fish at ping 7 and 10 m for the first element, at ping 90 and 12 m for the second."""
    about = lab.info(noise=20.0, position=1)
    level = np.full((COUNT, 2048), 0.0)
    level[90, 1200] = 215.0 - 40 * math.log10(12.0) - 33.0
    made = lab.element(about, 10 ** (level / 20), np.arange(2048) * 0.01, DEPTH, BOAT)
    fish = fishes(45.0, 12.0)
    two = {"nearest_ping": np.array([[7], [90]]), "apparent_depth": np.array([[10.0], [12.0]])}
    fish = type(fish)(**(vars(fish) | two | {"strength": np.full((2, 1), -33.0)}))
    scored = share.score_element(made, Truth(fish))
    assert (scored.ping.tolist(), scored.true_range.tolist()) == ([90], [12.0])
    assert share.marks(scored.fish) == ("separated",)
    assert scored.fish.strength == pytest.approx(-33.0, abs=0.05)
