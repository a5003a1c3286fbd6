"""Separated: two points, a point over a mirror, and a point over a rough bottom, against their closed form."""

import measure_lab as lab
import numpy as np
import pytest
from pingwright.measure import bottom, cells, detect, separated


def hann(x):
    """Amplitude of the Hann response at x cells from the peak: sinc(x) / (1 - x^2), exact."""
    x = np.where(np.abs(np.abs(x) - 1) < 1e-9, np.abs(x) + 1e-9, x)
    return np.sinc(x) / (1 - x**2)


def longest_gap(x, level, limit):
    """Return the longest run [cells] of a finely sampled level below a limit."""
    low = np.concatenate([[False], level < limit, [False]])
    turns = np.flatnonzero(np.diff(low.astype(int)))
    return max((x[min(b, len(x) - 1)] - x[a] for a, b in zip(turns[::2], turns[1::2], strict=True)), default=0.0)


@pytest.mark.parametrize("phase", [0.0, 0.25, 0.5])
@pytest.mark.parametrize("spacing", [2.5, 3.0, 3.3, 3.9, 4.3, 5.0])
def test_two_points_are_separated_when_the_closed_form_says_so(phase, spacing):
    about = lab.info(noise=-40.0)
    cell, count = about.range_resolution, 40
    near = 4 + np.linspace(0, 1, count) * cell
    tone = np.exp(2j * np.pi * phase)
    points = [(near, 1e6), (near + spacing * cell, 1e6 * tone)]
    # The carrier's phase is part of the amplitude here: delays turn the envelope only.
    pressure, ranges = lab.pings(
        about,
        np.random.default_rng(1),
        count,
        1600,
        points,
        noise=False,
        oversampling=4.0,
        start=3.0,
        random_phase=False,
    )
    x = np.linspace(0, spacing, 4001)
    centre = np.exp(2j * np.pi * 0)
    curve = 20 * np.log10(np.abs(hann(x) * centre + tone * _turn(about, spacing) * hann(x - spacing)) + 1e-9)
    gap = longest_gap(x, curve, min(curve[:300].max(), curve[-300:].max()) - 3)
    element = lab.element(about, pressure, ranges)
    grid = cells.grid(element)
    nothing = bottom.Bottom(np.full(count, np.nan), np.full(count, -1), np.full(count, np.nan))
    true = np.stack([near, near + spacing * cell], axis=1)
    result = separated.score_pair(
        element.echo_level, grid, nothing, np.arange(count), true, np.full((count, 2), 3 * cell), -90.0
    )
    # A run on the grid is up to two samples (half a cell at 4 B) shorter than the true one.
    if gap > 2 + 2 / grid.per_cell:
        assert result.all()
    if gap < 2:
        assert not result.any()


def _turn(about, spacing):
    # pings() counts frequency from the band's lower edge, so a response carries a phase of half the band.
    bins = round(1600 / 4.0)
    return np.exp(-1j * np.pi * spacing * (bins - 1) / bins)


def strongest_average(height, relative, about):
    """Maximum of the closed form's power averaged over 8 cells [dB re the mirror's peak]."""
    x = np.linspace(-height - 12, 12, 24001)
    point = 1j * _turn(about, -height) * 10 ** (relative / 20) * hann(x + height)
    m = round(8 / (x[1] - x[0]))
    power = np.cumsum(np.abs(hann(x) + point) ** 2)
    return 10 * np.log10((power[m:] - power[:-m]).max() / m)


@pytest.mark.parametrize("relative", [-12.0, -20.0, -40.0])
def test_a_point_over_a_mirror_is_separated_from_where_the_gap_allows(relative):
    """A single strong echo as bottom: two cells must stay 3 dB below the point and 15 dB below the bottom."""
    about, count = lab.info(noise=-40.0), 60
    cell = about.range_resolution
    mirror = about.source_level - 28.0 - 10
    for height in (3.0, 4.0, 5.0, 6.0, 9.0):
        x = np.linspace(-height - 4, 0, 8001)
        depth = 4 + np.linspace(0, 1, count) * cell
        points = [(depth, 10 ** (mirror / 20)), (depth - height * cell, 1j * 10 ** ((mirror + relative) / 20))]
        pressure, ranges = lab.pings(
            about,
            np.random.default_rng(2),
            count,
            1600,
            points,
            noise=False,
            oversampling=4.0,
            start=3.0,
            random_phase=False,
        )
        element = lab.element(about, pressure, ranges)
        grid = cells.grid(element)
        found = bottom.find(element.echo_level, grid)
        result = separated.score(
            element.echo_level, grid, found, np.arange(count), depth - height * cell, np.full(count, 3 * cell), -90.0
        )
        sum_ = hann(x) + 1j * _turn(about, -height) * 10 ** (relative / 20) * hann(x + height)
        curve = 20 * np.log10(np.abs(sum_) + 1e-9)
        averaged = strongest_average(height, relative, about)
        peak = curve[np.abs(x + height) < 0.6].max()
        between = (x > -height) & (x < 0)
        gap = longest_gap(x[between], curve[between], min(peak - 3, averaged - 15))
        assert found.level == pytest.approx(np.full(count, mirror + averaged), abs=0.3)
        if gap < 2:
            assert not result.separated.any(), (height, gap)
        if gap > 2.6 and relative > -30:  # weaker ones drown in the mirror's side lobes: not detected
            assert result.separated.mean() > 0.95, (height, gap)


def test_the_false_rate_over_a_bare_rough_bottom_is_small():
    about, rng, count = lab.info(bandwidth=23e3, centre=53.5e3), np.random.default_rng(3), 2000
    level = about.source_level - 40 * np.log10(20)
    points = lab.rough_bottom(about, rng, count, 20.0, level, length=2.0)
    pressure, ranges = lab.pings(about, rng, count, 512, points, start=15.0)
    element = lab.element(about, pressure, ranges)
    grid = cells.grid(element)
    found = bottom.find(element.echo_level, grid)
    for height in (0.1, 0.2, 0.3, 0.5, 1.0):
        place = np.full(count, 20.0 - height)
        within = separated.tolerance(grid, np.full(count, 0.4))
        result = separated.score(element.echo_level, grid, found, np.arange(count), place, within)
        assert result.separated.mean() <= 0.02


def test_a_peak_scores_only_near_the_truth():
    about, count = lab.info(), 20
    points = [(4.0, lab.amplitude(about, -40, 4.0))]
    pressure, ranges = lab.pings(about, np.random.default_rng(4), count, 1600, points)
    element = lab.element(about, pressure, ranges)
    grid = cells.grid(element)
    nothing = bottom.Bottom(np.full(count, np.nan), np.full(count, -1), np.full(count, np.nan))
    within = np.full(count, separated.SCORING_CELLS * grid.cell)
    for off, hit in ((2.9, True), (3.1, False)):
        place = np.full(count, 4.0 + off * grid.cell)
        result = separated.score(element.echo_level, grid, nothing, np.arange(count), place, within)
        assert np.all(result.detected == hit)
        assert np.all(np.isfinite(result.peak) == hit)


def test_a_lost_bottom_separates_nothing_and_one_beyond_the_record_everything():
    about, count = lab.info(), 2
    pressure, ranges = lab.pings(about, np.random.default_rng(4), count, 1600, [(4.0, lab.amplitude(about, -40, 4.0))])
    element = lab.element(about, pressure, ranges)
    grid = cells.grid(element)
    nothing = bottom.Bottom(np.full(count, np.nan), np.full(count, -1), np.full(count, np.nan))
    where = (np.arange(count), np.full(count, 4.0), np.full(count, 0.1))
    lost = separated.score(element.echo_level, grid, nothing, *where)
    assert lost.detected.all()
    assert not lost.separated.any()
    one = separated.score(element.echo_level, grid, nothing, *where, beyond=np.array([False, True]))
    assert one.separated.tolist() == [False, True]


def test_the_runs_maximum_is_the_plain_one():
    stored = np.random.default_rng(5).integers(-30000, 30000, (3, 50)).astype(np.int16)
    for width in (1, 2, 3, 5, 6, 8, 13):
        plain = np.lib.stride_tricks.sliding_window_view(stored, width, axis=1).max(axis=2)
        assert np.array_equal(cells.highest_within(stored, width), plain)


def test_two_fish_are_a_pair_whichever_is_named_first_and_a_gap_needs_room():
    """Drawn by hand, 2 samples a cell: tops of 90 dB at 100 and 120, of 90 dB at 200 and 204, two cells apart."""
    level = np.full((2, 400), 0.0)
    level[0, [100, 120]], level[1, [200, 204]] = 90.0, 90.0
    about = lab.info(bandwidth=75e3, noise=20.0)
    element = lab.element(about, 10 ** (level / 20), 0.005 * np.arange(400) + 2.0)
    grid = cells.grid(element)
    none = bottom.Bottom(np.full(2, np.nan), np.full(2, -1), np.full(2, np.nan))
    where, within = np.array([[2.5, 2.6], [3.0, 3.02]]), np.full((2, 2), 0.03)
    for order in (slice(None), slice(None, None, -1)):
        got = separated.score_pair(element.echo_level, grid, none, np.arange(2), where[:, order], within, floor=-np.inf)
        assert got.tolist() == [True, False]
    close = bottom.Bottom(np.full(2, 90.0), np.array([120, 204]), np.array([2.6, 3.02]))
    gap = separated.quietest_gap(element.echo_level, grid, close, np.arange(2), np.array([100, 200]))
    assert gap[0] == pytest.approx(0.0, abs=0.1)
    assert gap[1] == np.inf
    alone = separated.quietest_gap(element.echo_level, grid, close, np.array([1]), np.array([200]))
    assert alone.tolist() == [np.inf]
    assert separated.quietest_gap(element.echo_level, grid, close, np.zeros(0, int), np.zeros(0, int)).shape == (0,)


def by_hand(level, start=2.0, **about):
    """A ping of levels [dB re 1 uPa] drawn by hand, 2 samples a cell: two cells are 5 samples."""
    about = lab.info(**({"bandwidth": 75e3, "noise": 20.0} | about))
    element = lab.element(about, 10 ** (np.atleast_2d(level) / 20), start + 0.005 * np.arange(np.shape(level)[-1]))
    return element, cells.grid(element)


def bottom_at(*peaks, level=90.0):
    count = len(peaks)
    return bottom.Bottom(np.full(count, level), np.array(peaks), 2.0 + 0.005 * np.array(peaks))


@pytest.mark.parametrize(("room", "fits"), [(4, False), (5, True), (6, True)])
def test_the_gap_lies_between_the_peak_and_the_bottoms_maximum(room, fits):
    """So many samples of 0 dB between two of 80 dB; beyond both ends lower ones, which are none of its concern."""
    level = np.full(60, 0.0)
    level[[20, 20 + room + 1]] = 80.0
    level[[15, 45]] = 40.0
    element, grid = by_hand(level)
    found = bottom_at(20 + room + 1)
    gap = separated.quietest_gap(element.echo_level, grid, found, np.zeros(1, int), np.array([20]))
    assert (gap[0] == pytest.approx(0.0, abs=0.01)) if fits else (gap[0] == np.inf)


def test_the_quietest_of_all_gaps_counts_for_each_peak_of_each_ping():
    """Levels of the gaps behind peaks at 10, 20 and 30: 30, 20 and 25 dB, so 20 dB for the first two."""
    level = np.full((3, 60), 50.0)
    level[:, 11:20], level[:, 21:30], level[:, 31:40] = 30.0, 20.0, 25.0
    level[:, [10, 20, 30, 40]] = 80.0
    level[1] += 5.0
    element, grid = by_hand(level)
    found = bottom_at(40, 40, 30)
    row, index = np.array([2, 0, 0, 1, 1, 2]), np.array([20, 30, 10, 30, 20, 10])
    gap = separated.quietest_gap(element.echo_level, grid, found, row, index)
    assert gap == pytest.approx([20.0, 25.0, 20.0, 30.0, 25.0, 20.0], abs=0.01)
    last = separated.quietest_gap(element.echo_level, grid, found, np.array([2, 0]), np.array([30, 10]))
    assert (last[0], last[1]) == (np.inf, pytest.approx(20.0, abs=0.01))


@pytest.mark.parametrize(
    ("peak", "gap", "ground", "apart"),
    [
        (60.0, 56.9, 90.0, True),  # 3 dB below the peak
        (60.0, 57.1, 90.0, False),
        (80.0, 74.9, 90.0, True),  # 15 dB below the bottom
        (80.0, 75.1, 90.0, False),
        (80.0, 75.1, None, False),  # the bottom was lost
    ],
)
def test_separated_three_decibels_from_the_peak_and_fifteen_from_the_bottom(peak, gap, ground, apart):
    level = np.full(60, gap)
    level[20], level[40] = peak, 90.0
    element, grid = by_hand(level)
    found = bottom_at(-1 if ground is None else 40)
    one, rest = np.zeros(1, int), np.zeros(1)
    peaks = detect.Peaks(one, np.array([20]), rest + 2.1, rest + peak, rest - 40.0, rest)
    assert separated.separated(element.echo_level, grid, found, peaks).tolist() == [apart]


def test_pings_with_and_without_a_bottom_are_judged_apart():
    level = np.full((3, 60), 30.0)
    level[:, 20], level[:, 40] = 80.0, 90.0
    level[2, 21:40] = 79.0
    element, grid = by_hand(level)
    found = bottom.Bottom(np.array([90.0, np.nan, 90.0]), np.array([40, -1, 40]), np.array([2.2, np.nan, 2.2]))
    row, flat = np.array([2, 1, 0, 1]), np.zeros(4)
    peaks = detect.Peaks(row, np.full(4, 20), flat + 2.1, flat + 80.0, flat - 40.0, flat)
    assert separated.separated(element.echo_level, grid, found, peaks).tolist() == [False, False, True, False]
    beyond = np.array([False, True, False])
    result = separated.separated(element.echo_level, grid, found, peaks, beyond)
    assert result.tolist() == [False, True, True, True]


@pytest.mark.parametrize(
    ("at", "counts"), [(2, False), (3, True), (199, True), (200, False), (257, False), (258, False)]
)
def test_peaks_count_from_the_blind_range_to_the_bottoms_edge(at, counts):
    """Blind up to sample 2, the edge at sample 200."""
    level = np.full(260, 0.0)
    level[at] = 90.0
    element, grid = by_hand(level, blank_range=2.012)
    assert grid.blank == 3
    found = bottom.Bottom(np.array([90.0]), np.array([210]), np.array([2.0 + 0.005 * 200.2]))
    where, within = np.array([2.0 + 0.005 * at]), np.array([0.03])
    peaks, trial = separated.peaks_near(element.echo_level, grid, found, np.zeros(1, int), where, within, -np.inf)
    assert (len(peaks), len(trial)) == (int(counts), int(counts))


@pytest.mark.parametrize(("at", "counts"), [(0, False), (1, True), (258, True), (259, False)])
def test_a_peak_needs_a_sample_to_either_side(at, counts):
    """260 samples, no blind range (it ends before the first sample), no bottom."""
    level = np.full(260, 0.0)
    level[at] = 90.0
    element, grid = by_hand(level)
    none = bottom.Bottom(np.array([np.nan]), np.array([-1]), np.array([np.nan]))
    assert grid.blank == 0
    where, within = np.array([2.0 + 0.005 * at]), np.array([0.03])
    peaks, _ = separated.peaks_near(element.echo_level, grid, none, np.zeros(1, int), where, within, -np.inf)
    assert peaks.index.tolist() == ([at] if counts else [])


def test_a_flat_top_is_one_peak():
    """Three samples of 80 dB: the last of them counts, wherever the fish is among them."""
    level = np.full(260, 0.0)
    level[100:103] = 80.0
    element, grid = by_hand(level)
    none = bottom.Bottom(np.array([np.nan]), np.array([-1]), np.array([np.nan]))
    row, where = np.zeros(3, int), 2.0 + 0.005 * np.array([100, 101, 102])
    peaks, trial = separated.peaks_near(element.echo_level, grid, none, row, where, np.full(3, 0.03), -np.inf)
    assert (peaks.index.tolist(), trial.tolist()) == ([102] * 3, [0, 1, 2])


def test_of_several_peaks_near_a_fish_the_strongest_is_told_and_one_that_is_separated_is_enough():
    """Tops of 70 dB at sample 100, before a gap, and of 80 dB at 108, behind which nothing lies under 78.5 dB.

    The first fish is near both, the second near the stronger one alone; the third has a flat top of its own.
    """
    level = np.full(260, 0.0)
    level[[40, 41]] = 85.0
    level[100], level[108], level[109:200], level[200:220] = 70.0, 80.0, 78.5, 90.0
    element, grid = by_hand(level)
    found = bottom.Bottom(np.array([90.0]), np.array([205]), np.array([3.0]))
    where, within = np.array([2.52, 2.55, 2.2]), np.array([0.05, 0.02, 0.02])
    result = separated.score(element.echo_level, grid, found, np.zeros(3, int), where, within, floor=-np.inf)
    assert result.detected.tolist() == [True, True, True]
    assert result.separated.tolist() == [True, False, True]
    # By numpy's parabola through 0, 80 and 78.5 dB, and through 85, 85 and 0.
    tops, places = [], []
    for three, middle in (((0.0, 80.0, 78.5), 108), ((85.0, 85.0, 0.0), 41)):
        bend, tilt, most = np.polyfit([-1, 0, 1], three, 2)
        places.append(2.0 + 0.005 * (middle - tilt / (2 * bend)))
        tops.append(most - tilt**2 / (4 * bend) + 40 * np.log10(places[-1]) - 215.0)
    assert result.peak == pytest.approx([places[0], places[0], places[1]], abs=1e-4)
    assert result.strength == pytest.approx([tops[0], tops[0], tops[1]], abs=0.02)


@pytest.mark.parametrize(("gap", "apart"), [(66.9, True), (67.1, False)])
def test_a_pair_is_separated_three_decibels_below_its_weaker_fish(gap, apart):
    """Tops of 80 and 70 dB, ten samples between them, in either order."""
    level = np.full((2, 260), 0.0)
    level[:, 99:113] = gap
    level[0, [100, 111]], level[1, [100, 111]] = (80.0, 70.0), (70.0, 80.0)
    element, grid = by_hand(level)
    none = bottom.Bottom(np.full(2, np.nan), np.full(2, -1), np.full(2, np.nan))
    true = np.array([[2.5, 2.555]] * 2)
    got = separated.score_pair(element.echo_level, grid, none, np.arange(2), true, np.full((2, 2), 0.02), floor=-np.inf)
    assert got.tolist() == [apart, apart]


def test_a_peak_belongs_to_the_fish_it_is_nearer_to_and_each_needs_one():
    """Fish at samples 100 and 120. One top at 108: the first's, so the second has none, though 60 mm would do."""
    level = np.full((3, 260), 0.0)
    level[0, 108] = level[1, 112] = level[2, 108] = 80.0
    level[2, 122] = 80.0
    element, grid = by_hand(level)
    none = bottom.Bottom(np.full(3, np.nan), np.full(3, -1), np.full(3, np.nan))
    true = np.array([[2.5, 2.6]] * 3)
    got = separated.score_pair(
        element.echo_level, grid, none, np.arange(3), true, np.full((3, 2), 0.065), floor=-np.inf
    )
    assert got.tolist() == [False, False, True]
    # Tops at both places, 70 and 80 dB, and either within reach of both fish: each has its own.
    level = np.full(260, 0.0)
    level[[100, 110]] = 70.0, 80.0
    for order in (1, -1):
        element, grid = by_hand(level[::order])
        true = np.array([[2.5, 2.55]]) if order == 1 else 2.0 + 0.005 * np.array([[259 - 100, 259 - 110]])
        one, wide = np.zeros(1, int), np.full((1, 2), 0.06)
        alone = bottom.Bottom(none.level[:1], none.peak[:1], none.pick[:1])
        assert separated.score_pair(element.echo_level, grid, alone, one, true, wide, floor=-np.inf).tolist() == [True]
