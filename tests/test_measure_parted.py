"""Parted: two points, a point over a mirror, and a point over a rough bottom, against their closed form."""

import measure_lab as lab
import numpy as np
import pytest

from simulator.measure import bottom, cells, parted


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
def test_two_points_are_parted_when_the_closed_form_says_so(phase, spacing):
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
    result = parted.score_pair(
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
def test_a_point_over_a_mirror_is_parted_from_where_the_gap_allows(relative):
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
        result = parted.score(
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
            assert not result.parted.any(), (height, gap)
        if gap > 2.6 and relative > -30:  # weaker ones drown in the mirror's side lobes: not detected
            assert result.parted.mean() > 0.95, (height, gap)


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
        within = parted.tolerance(grid, np.full(count, 0.4))
        result = parted.score(element.echo_level, grid, found, np.arange(count), place, within)
        assert result.parted.mean() <= 0.02


def test_a_peak_scores_only_near_the_truth():
    about, count = lab.info(), 20
    points = [(4.0, lab.amplitude(about, -40, 4.0))]
    pressure, ranges = lab.pings(about, np.random.default_rng(4), count, 1600, points)
    element = lab.element(about, pressure, ranges)
    grid = cells.grid(element)
    nothing = bottom.Bottom(np.full(count, np.nan), np.full(count, -1), np.full(count, np.nan))
    within = np.full(count, parted.SCORING_CELLS * grid.cell)
    for off, hit in ((2.9, True), (3.1, False)):
        place = np.full(count, 4.0 + off * grid.cell)
        result = parted.score(element.echo_level, grid, nothing, np.arange(count), place, within)
        assert np.all(result.detected == hit)
        assert np.all(np.isfinite(result.peak) == hit)


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
        got = parted.score_pair(element.echo_level, grid, none, np.arange(2), where[:, order], within, floor=-np.inf)
        assert got.tolist() == [True, False]
    close = bottom.Bottom(np.full(2, 90.0), np.array([120, 204]), np.array([2.6, 3.02]))
    gap = parted.quietest_gap(element.echo_level, grid, close, np.arange(2), np.array([100, 200]))
    assert gap[0] == pytest.approx(0.0, abs=0.1)
    assert gap[1] == np.inf
    alone = parted.quietest_gap(element.echo_level, grid, close, np.array([1]), np.array([200]))
    assert alone.tolist() == [np.inf]
    assert parted.quietest_gap(element.echo_level, grid, close, np.zeros(0, int), np.zeros(0, int)).shape == (0,)
