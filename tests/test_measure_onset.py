"""Where a bottom echo begins when a weak onset lies ahead of its edge: drawn by hand, worked out beside it."""

from dataclasses import replace

import measure_lab as lab
import numpy as np
import pytest
from pingwright.measure import bottom, cells, leak, onset


def drawn(level, start=100.0, noise=20.0, **about):
    """A recording of levels [dB re 1 uPa]: (ping, sample); 1 cm cells of 2.5 samples; source level 120 dB."""
    made = lab.info(**({"bandwidth": 75e3, "noise": noise, "source": 120.0} | about))
    element = lab.element(made, 10 ** (np.asarray(level) / 20), start + 0.004 * np.arange(np.shape(level)[1]))
    return element.echo_level, cells.grid(element)


def with_onset(first, weak, samples=600, water=30.0):
    """One ping: water, an onset from a sample on, 20 samples of 100 dB from sample 300 on, water again."""
    level = np.full(samples, water)
    level[first:300] = weak
    level[300:320] = 100.0
    return level


@pytest.mark.parametrize(
    ("noise", "weak", "limit"),
    [
        (20.0, 82.0, 65.0),  # 35 dB under the bottom
        (64.0, 82.0, 74.0),  # 10 dB over the noise
        (88.0, 84.0, 85.0),  # never over the edge's own: 15 dB under the bottom, which the onset does not reach
        (-np.inf, 82.0, 65.0),  # a world without noise
    ],
)
def test_the_onset_begins_where_the_echo_rises_through_its_limit(noise, weak, limit):
    """Linear in decibels between 30 dB and the onset at sample 240, or, without one, between it and 100 dB at 300."""
    stored, grid = drawn(with_onset(240, weak)[None], noise=noise)
    at, low, high = (239, 30.0, weak) if weak > limit else (299, weak, 100.0)
    wanted = 100.0 + 0.004 * (at + (limit - low) / (high - low))
    assert bottom.find(stored, grid).pick[0] == pytest.approx(wanted, abs=1e-4)


@pytest.mark.parametrize(("first", "within"), [(200, False), (260, False), (264, True), (280, True)])
def test_an_onset_reaches_eight_hundredths_of_range_ahead_at_most(first, within):
    """The edge at 2.2 m: from 2.024 m on, sample 256 of a recording from 1 m on. Six samples of water end it.

    1 - cos 23 deg is 0.08: so far ahead lies the nearest point of a slope of 23 degrees.
    """
    level = with_onset(first, 82.0)
    stored, grid = drawn(level[None], start=1.0, blank_range=0.5)
    level_of, pick = np.array([100.0]), np.array([2.2])
    found = onset.begin(stored, grid, level_of, np.array([15.0]), pick)
    assert found[0] == pytest.approx(1.0 + 0.004 * first if within else 2.2, abs=0.004)


def test_an_onset_does_not_reach_into_the_blind_range():
    """Blind to 100.9 m, sample 225: of an onset that begins there no more is seen than water would show behind it."""
    level = with_onset(210, 82.0)
    for blank, edge in ((100.8, 210), (100.9, 300)):
        stored, grid = drawn(level[None], blank_range=blank)
        found = onset.begin(stored, grid, np.array([100.0]), np.array([15.0]), np.array([101.2]))
        assert found[0] == pytest.approx(100.0 + 0.004 * edge, abs=0.004)


def test_pings_of_one_block_have_each_their_own_onset_or_none():
    """Feet from 240 and 200 on, none, and two pings without a rise or a pick, which keep what they have."""
    level = np.stack(
        [
            with_onset(240, 82.0),
            with_onset(200, 75.0),
            with_onset(300, 30.0),
            with_onset(240, 82.0),
            with_onset(240, 82.0),
        ]
    )
    stored, grid = drawn(level)
    drop = np.array([15.0, 15.0, 15.0, np.nan, 15.0])
    pick = np.array([101.2, 101.2, 101.2, 101.2, np.nan])
    found = onset.begin(stored, grid, np.full(5, 100.0), drop, pick)
    assert found[:4] == pytest.approx([100.96, 100.8, 101.2, 101.2], abs=0.004)
    assert found[[2, 3]].tolist() == [101.2, 101.2]
    assert np.isnan(found[4])
    none = onset.begin(stored, grid, np.full(5, 100.0), np.full(5, np.nan), pick)
    assert none.tolist()[:4] == [101.2] * 4


@pytest.mark.parametrize(("gap", "joined"), [(5, True), (6, False)])
@pytest.mark.parametrize(("short", "onset_found"), [(6, False), (7, True)])
def test_two_cells_of_water_end_an_onset_which_is_longer_than_that_itself(gap, joined, short, onset_found):
    """Two cells are 6 samples: so much water ends the onset; so few samples of onset do not count."""
    level = with_onset(300, 82.0)
    level[300 - short : 300] = 82.0
    level[300 - short - gap - 40 : 300 - short - gap] = 82.0
    stored, grid = drawn(level[None])
    found = onset.begin(stored, grid, np.array([100.0]), np.array([15.0]), np.array([101.1999]))
    edge = 300 - short - gap - 40 if joined else 300 - short if onset_found else 300
    assert found[0] == pytest.approx(100.0 + 0.004 * edge, abs=0.004)


@pytest.mark.parametrize(("over", "is_onset"), [(-0.2, False), (0.2, True)])
def test_what_the_filter_leaks_is_no_onset(over, is_onset):
    """A pulse of 30 cells: noise and leak and 10 dB, within 15 to 35 dB under the bottom, and so far [dB] over that."""
    level = with_onset(300, 30.0)
    stored, grid = drawn(level[None], noise=50.0, pulse_length=400e-6, weighting="none")
    leaks = leak.leak_ahead(stored, grid, np.array([299]))[0]
    known = 10 * np.log10(1e5 + leaks[299 - np.arange(240, 299)])
    assert known.max() - known.min() > 6.0  # the leak is what decides
    level[240:299] = np.clip(known + 10.0, 65.0, 85.0) + over
    stored, grid = drawn(level[None], noise=50.0, pulse_length=400e-6, weighting="none")
    found = onset.begin(stored, grid, np.array([100.0]), np.array([15.0]), np.array([101.1999]))
    assert (found[0] < 101.19) == is_onset
    if is_onset:
        assert found[0] == pytest.approx(100.96, abs=0.004)


def test_where_two_cells_do_not_fit_there_is_no_onset():
    """The pick 4 samples behind the blind range, and at its end."""
    stored, grid = drawn(with_onset(240, 82.0)[None], blank_range=101.186)
    assert grid.blank == 297
    for pick in (101.2, 101.19):
        found = onset.begin(stored, grid, np.array([100.0]), np.array([15.0]), np.array([pick]))
        assert found.tolist() == [pick]


@pytest.mark.parametrize(("over", "surface"), [(-22, -28), (-31, -28), (-40, -45), (-31, -45)])
def test_scattering_layer_through_the_water_is_no_onset(over, surface):
    # Rayleigh power of one mean level from the record's first metre to the bottom.
    about, rng, depth = lab.info(noise=5.0, blank_range=1.0), np.random.default_rng(3), 20.0
    level = about.source_level - 20 * np.log10(depth) + surface
    points = lab.rough_bottom(about, rng, 80, depth, level, length=1.0, fall=0.3)
    points += lab.rough_bottom(about, rng, 80, 16.2, level + over, length=3.8, fall=1e6)
    element = lab.element(about, *lab.pings(about, rng, 80, 2048, points, start=16.0))
    grid = cells.grid(element)
    early = depth - bottom.find(element.echo_level, grid).pick
    assert np.mean(early > 5 * grid.cell) <= 0.03


@pytest.mark.parametrize(
    ("over", "last", "earliest", "end"),
    [
        # x over its limit, . under it: the last sample of the last run of three.
        ("x...xx...x", 9, 0, 8), ("x...xx...x", 8, 0, 8), ("x...xx...x", 7, 0, 3), ("x...xx...x", 2, 0, -1),
        ("x...xx...x", 9, 1, 8), ("x...xx...x", 7, 1, 3), ("x...xx...x", 7, 2, -1), ("x...xx...x", 9, 6, 8),
        ("x...xx...x", 9, 7, -1), ("x...xx...x", 9, 0.5, 8), ("xx..x..x.x", 9, 0, -1), ("..........", 9, 0, 9),
        ("..........", 5, 0, 5), ("...xxxxxxx", 9, 0, 2), ("x...xx...x", 9, np.nan, -1),
    ],
)  # fmt: skip
def test_the_end_of_the_last_quiet_run(over, last, earliest, end):
    row = np.array([[1 if letter == "x" else 0 for letter in over], [1] * 10], dtype=np.int16)
    found = onset._last_quiet(row, 3, np.array([last, 9]), np.array([earliest, 0.0]))
    assert found.tolist() == [end, -1]
    assert onset._last_quiet(row[:, :2], 3, np.array([1, 1]), np.zeros(2)).tolist() == [-1, -1]


def test_what_lies_over_a_limit_in_hundredths_of_a_decibel():
    """At its limit it is not over it, and the limit itself is rounded down; however far off, the number is small."""
    stored = cells.to_stored(np.array([[40.01, 40.0, 39.99, -200.0, 400.0]]))
    assert onset._over(stored, np.full((1, 5), 40.0)).tolist() == [[1, 0, -1, -1, 1]]


def test_the_water_further_ahead_is_the_mean_of_decibels_over_two_hundredths_of_range():
    """An onset may begin at sample 200, at 100.8 m: 2 % of that are 2.016 m, so from sample 0; or blind to 80."""
    level = np.full((3, 400), 50.0)
    level[:, 100:200] = 30.0
    level[:, 200:] = 120.0
    for blank, mean in ((None, 40.0), (100.3202, 30.0 + 20.0 * 19 / 119), (100.7961, 0.0)):
        stored, grid = drawn(level, **({"blank_range": blank} if blank else {}))
        if blank == 100.3202:
            assert grid.blank == 81
        found = onset._further(stored, grid, np.array([200.0, 100.0, np.nan]))
        wanted = 10 ** (0.1 * (mean + 2.507)) if mean else 0.0
        assert found[0] == pytest.approx(wanted, rel=3e-3)
        assert found[2] == 0.0
    stored, grid = drawn(level, start=5.0)
    # At 5.8 m 2 % are 0.116 m, 29 samples, all of 30 dB; at 5.4 m, sample 100, 27 of 50 dB.
    assert 10 * np.log10(onset._further(stored, grid, np.array([200.0, 100.0, 500.0]))[:2]) == pytest.approx(
        [32.507, 52.507], abs=0.01
    )


def test_the_mean_of_decibels_of_a_stretch():
    stored, _ = drawn(np.array([[10.0, 20.0, 60.0, 30.0], [40.0, 50.0, 60.0, 70.0]]))
    assert onset._mean_level(stored, np.array([0, 1]), np.array([2, 4])) == pytest.approx([15.0, 60.0], abs=0.01)
    assert onset._mean_level(stored, np.array([2, 3]), np.array([3, 4])) == pytest.approx([60.0, 70.0], abs=0.01)


def test_the_limit_under_which_there_is_water():
    """Water and 10 dB, or 35 dB under the bottom level if that is more; never over the edge's own drop."""
    water = np.array([[30.0, 60.0, 90.0], [30.0, 60.0, 90.0]])
    found = onset._limit(water, np.array([100.0, 110.0]), np.array([15.0, np.nan]), 35.0)
    assert found.tolist() == [[65.0, 70.0, 85.0], [0.0, 0.0, 0.0]]


def test_the_water_is_noise_or_what_is_there_and_what_leaks():
    _, grid = drawn(np.full((1, 10), 30.0), noise=20.0)
    away = np.array([[0, 1, 2], [2, 1, 0]])
    whole, quiet = onset._water(grid, away, np.array([0.0, 1e3]), np.array([[9e2, 1e2, 0.0], [1e4, 0.0, 0.0]]))
    assert quiet == pytest.approx([20.0, 30.0])
    assert whole == pytest.approx(10 * np.log10([[1e3, 2e2, 1e2], [1e3, 1e3, 1.1e4]]))
    silent = replace(grid, noise=-np.inf)
    assert onset._water(silent, away[:1], np.zeros(1), np.zeros((1, 3)))[1][0] == pytest.approx(-300.0)
