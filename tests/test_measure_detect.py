"""Detection against exactly known answers: false alarms of noise, Marcum and Swerling probabilities of detection."""

import measure_lab as lab
import numpy as np
import pytest
from every_peak import every_peak
from pingwright.measure import bottom, cells, detect, separated
from scipy import special, stats


def without_bottom(count):
    return bottom.Bottom(np.full(count, np.nan), np.full(count, -1), np.full(count, np.nan))


@pytest.mark.parametrize(("oversampling", "seed"), [(2.0, 3), (2.25, 4), (3.1, 5)])
def test_false_alarms_of_pure_noise_are_as_stated(oversampling, seed):
    about = lab.info()
    pressure, ranges = lab.pings(about, np.random.default_rng(seed), 256, 16384, oversampling=oversampling)
    element = lab.element(about, pressure, ranges)
    grid = cells.grid(element)
    peaks = every_peak(element.echo_level, grid, without_bottom(256), floor=-np.inf)
    expected = 1e-4 * 256 * (16384 - grid.blank) / grid.per_cell
    assert expected > 120
    # A Poisson count: four standard deviations.
    assert abs(len(peaks) - expected) < 4 * np.sqrt(expected)


def test_false_alarms_of_reverberation_of_unknown_level_are_as_stated():
    # The noise stated is 40 dB below what is there: everything rests on the local level.
    about = lab.info(noise=72.3)
    pressure, ranges = lab.pings(about, np.random.default_rng(8), 256, 16384)
    element = lab.element(lab.info(noise=32.3), pressure, ranges)
    grid = cells.grid(element)
    peaks = every_peak(element.echo_level, grid, without_bottom(256), floor=-np.inf)
    expected = 1e-4 * 256 * (16384 - grid.blank) / grid.per_cell
    assert abs(len(peaks) - expected) < 4 * np.sqrt(expected)


@pytest.mark.parametrize("n", [4, 8, 12, 16])
def test_local_factor_has_the_stated_rate_over_the_law_of_the_mean_logarithm(n):
    # The law of the mean of n logarithms by drawing (a general library's generator), the rate by Rice's formula.
    found = detect.factors(n, 1e-4, 0.1414)
    z = np.exp(np.log(np.random.default_rng(1).exponential(size=(400_000, n))).mean(axis=1) + np.euler_gamma)
    t = found.t_local * z
    rate = 2 * np.sqrt(np.pi) * 0.1414 * np.sqrt(t) * np.exp(-t)
    error = rate.std() / np.sqrt(len(rate))
    assert rate.mean() == pytest.approx(1e-4, abs=4 * error)


def test_the_mean_of_decibels_stands_two_and_a_half_below_the_decibels_of_the_mean():
    # Exact, reference sheet l: 10 log10 of exponential power averages to -2.507 dB; by scipy's digamma.
    assert pytest.approx(-10 / np.log(10) * special.digamma(1)) == detect.BIAS
    assert pytest.approx(2.507, abs=5e-4) == detect.BIAS


@pytest.mark.parametrize("n", [1, 2, 8, 16])
def test_the_law_of_the_mean_logarithm_has_the_moments_of_log_gamma(n):
    # E exp(s ln X) = Gamma(1 + s) for an exponential X, so E z^s = exp(s gamma) Gamma(1 + s/n)^n: exact.
    z, weight = detect.mean_log_law(n)
    for s in (0.5, 1.0, 2.0):
        exact = np.exp(s * np.euler_gamma) * special.gamma(1 + s / n) ** n
        assert np.sum(weight * z**s) == pytest.approx(exact, rel=1e-4)


def test_known_noise_alone_needs_the_threshold_of_rice():
    # Rice 1948: upcrossings of a Rayleigh envelope a second; here a cell, with rms bandwidth 0.2887 B unweighted.
    t = detect.factors(0, 1e-4, 0.2887).t_noise
    rms_pulsation = 2 * np.pi * 0.2887
    assert rms_pulsation / np.sqrt(np.pi) * np.sqrt(t) * np.exp(-t) == pytest.approx(1e-4, rel=1e-3)


def detection_share(signal_to_noise, fluctuating, count=6000, seed=1):
    """Return the share of trials with a peak within half a cell of a point of given mean SNR [dB] on a sample."""
    about, rng = lab.info(), np.random.default_rng(seed)
    where = 2.0
    step = lab.SOUND_SPEED / 2 / (2.25 * 80e3)
    where = round(where / step) * step
    size = np.sqrt(10 ** ((about.noise_level + signal_to_noise) / 10))
    if fluctuating:
        size = size * (rng.standard_normal(count) + 1j * rng.standard_normal(count)) / np.sqrt(2)
    pressure, ranges = lab.pings(about, rng, count, 700, [(where, size)])
    element = lab.element(about, pressure, ranges)
    grid = cells.grid(element)
    row = np.arange(count)
    within = np.full(count, 0.6 * grid.cell)
    result = separated.score(
        element.echo_level, grid, without_bottom(count), row, np.full(count, where), within, floor=-np.inf
    )
    return result.detected.mean()


def expected_share(signal_to_noise, fluctuating):
    """Closed form for single samples, averaged over the law of the local level of 16 cells."""
    found = detect.factors(16, 1e-4, 0.1414)
    z = np.exp(np.log(np.random.default_rng(2).exponential(size=(20_000, 16))).mean(axis=1) + np.euler_gamma)
    threshold = found.t_noise + found.t_local * np.maximum(z - 1, 0)
    snr = 10 ** (signal_to_noise / 10)
    if fluctuating:
        return np.exp(-threshold / (1 + snr)).mean()  # Swerling 1
    return stats.ncx2.sf(2 * threshold, 2, 2 * snr).mean()  # Marcum's Q1


@pytest.mark.parametrize("signal_to_noise", [9.0, 14.0])
@pytest.mark.parametrize("fluctuating", [False, True])
def test_probability_of_detection_is_marcums_or_swerlings(signal_to_noise, fluctuating):
    found, exact = detection_share(signal_to_noise, fluctuating), expected_share(signal_to_noise, fluctuating)
    # The peak beside the true place is never lower than the sample there: some tenths of a dB, at most 0.05 in
    # probability where the curve is steepest. Statistical error: 0.0065.
    assert exact - 0.02 < found < exact + 0.055


def test_nothing_is_detected_in_the_blind_range_nor_below_the_floor_nor_behind_the_bottom():
    about, rng = lab.info(), np.random.default_rng(2)
    points = [
        (r, lab.amplitude(about, strength, r)) for r, strength in ((1.0, -30), (3.0, -63), (4.0, -57), (5.5, -40))
    ]
    points += lab.rough_bottom(about, rng, 8, 5.0, about.source_level - 28 - 5)
    pressure, ranges = lab.pings(about, rng, 8, 2048, points)
    element = lab.element(about, pressure, ranges)
    grid = cells.grid(element)
    found = bottom.find(element.echo_level, grid)
    peaks = every_peak(element.echo_level, grid, found)
    assert np.all(found.peak > 0)
    peaks = peaks.keep(peaks.range < 4.9)  # nearer to the bottom its own first weak cells may count
    assert np.array_equal(peaks.row, np.arange(8))
    assert peaks.range == pytest.approx(4.0, abs=1e-3)
    assert peaks.strength == pytest.approx(-57, abs=0.1)


def test_the_bottoms_side_lobes_are_not_detected():
    about, rng, count = lab.info(), np.random.default_rng(6), 1500
    points = lab.rough_bottom(about, rng, count, 5.0, about.source_level - 28)
    pressure, ranges = lab.pings(about, rng, count, 1600, points)
    element = lab.element(about, pressure, ranges)
    grid = cells.grid(element)
    found = bottom.find(element.echo_level, grid)
    for ahead in (4, 6, 8):
        place, within = np.full(count, 5.0 - ahead * grid.cell), np.full(count, 3 * grid.cell)
        result = separated.score(element.echo_level, grid, found, np.arange(count), place, within)
        assert result.detected.mean() < 0.06
        assert result.separated.mean() < 0.003


def test_peaks_are_read_to_a_hundredth_of_a_decibel():
    about, rng = lab.info(noise=-100.0), np.random.default_rng(7)
    where = 4 + rng.random(300) * 0.1
    pressure, ranges = lab.pings(about, rng, 300, 1500, [(where, 1e5)], noise=False, oversampling=2.0)
    level = lab.stored(pressure)
    index = np.argmax(level, axis=1)
    offset, peak = detect.parabola(level, np.arange(300), index)
    assert np.abs(peak - 100).max() < 0.03  # design: 0.01 dB with Hann at 2 B, plus the stored step of 0.01 dB
    assert np.abs(ranges[index] + offset * (ranges[1] - ranges[0]) - where).max() < 1e-4


@pytest.mark.parametrize(
    ("a", "b", "c"), [(9000, 10000, 9500), (9990, 10000, 8000), (-400, 0, -400), (9100, 9200, 9150)]
)
def test_a_parabola_through_three_levels_is_that_of_polyfit(a, b, c):
    stored = np.array([[0, a, b, c, 0]], np.int16)
    offset, level = detect.parabola(stored, np.zeros(1, int), np.array([2]))
    bend, tilt, middle = np.polyfit([-1, 0, 1], np.array([a, b, c]) * 0.01 + 100, 2)
    assert offset[0] == pytest.approx(-tilt / (2 * bend))
    assert level[0] == pytest.approx(middle - tilt**2 / (4 * bend))


def test_three_levels_without_a_top_keep_the_middle_one():
    """A rise, a line, a hollow; and a top that would lie beyond the neighbours stays half a sample away."""
    stored = np.array([[0, 10, 30], [0, 10, 20], [30, 10, 30], [0, 10, 19]], np.int16)
    offset, level = detect.parabola(stored, np.arange(4), np.ones(4, int))
    assert offset.tolist() == [0, 0, 0, 0.5]
    assert level[:3] == pytest.approx(100.1)


def drawn(level, bandwidth=75e3, noise=40.0, **about):
    """Levels [dB re 1 uPa] drawn by hand, (ping, sample), 2 samples a cell; the first 10 are blind."""
    about = lab.info(**({"bandwidth": bandwidth, "noise": noise, "blank_range": 0.0475} | about))
    element = lab.element(about, 10 ** (np.asarray(level) / 20), 0.005 * np.arange(np.shape(level)[1]))
    return element.echo_level, cells.grid(element)


def threshold(stored, grid, index, found=None):
    found = found or without_bottom(1)
    return detect.local_threshold(stored, grid, found, np.zeros(1, int), np.array([index]), 1e-4)[0]


def expected_threshold(n, above, noise=40.0, spread=None):
    """Noise times (t_noise + t_local times what the reference cells stand above it), their decibels made powers."""
    factors = detect.factors(n, 1e-4, spread)
    excess = max(10 ** ((above + 10 * np.euler_gamma / np.log(10)) / 10) - 1, 0)
    return noise + 10 * np.log10(factors.t_noise + factors.t_local * excess)


# Reference cells lie 3, 6 .. 24 cells (48 samples) to either side. index: of 400 samples.
@pytest.mark.parametrize(
    ("index", "n", "above"),
    [
        (200, 16, 20.0),  # eight pairs
        (10 + 24, 8, 20.0),  # 12 cells of water ahead: four pairs
        (10 + 22, 11, (3 * 10.0 + 8 * 30.0) / 11),  # fewer: those behind, and the three ahead
        (399 - 24, 8, 20.0),  # four pairs before the end
        (399 - 22, 8, 10.0),  # fewer: those ahead alone
    ],
)
def test_reference_cells_lie_in_pairs_or_on_the_side_that_has_them(index, n, above):
    """10 dB above the noise ahead of the cell, 30 dB behind it: pairs meet 20 dB in the middle."""
    level = np.where(np.arange(400) < index, 50.0, 70.0)[None]
    stored, grid = drawn(level)
    wanted = expected_threshold(n, above, spread=round(grid.filtering.spread, 4))
    assert threshold(stored, grid, index) == pytest.approx(wanted, abs=0.01)


def test_a_level_that_rises_evenly_in_decibels_is_met_exactly():
    stored, grid = drawn((60.0 + 0.05 * (np.arange(400) - 200))[None])
    wanted = expected_threshold(16, 20.0, spread=round(grid.filtering.spread, 4))
    assert threshold(stored, grid, 200) == pytest.approx(wanted, abs=0.01)


def test_where_the_water_is_quieter_than_stated_the_noise_alone_counts():
    stored, grid = drawn(np.full((1, 400), 20.0))
    spread = round(grid.filtering.spread, 4)
    factors = detect.factors(16, 1e-4, spread)
    assert threshold(stored, grid, 200) == pytest.approx(40 + 10 * np.log10(factors.t_noise))


def test_with_fewer_than_four_reference_cells_the_noise_alone_counts():
    """Five cells of water on either side: one and one; Rice's threshold of known noise."""
    stored, grid = drawn(np.full((1, 10 + 20), 70.0))
    known = detect.factors(0, 1e-4, round(grid.filtering.spread, 4))
    assert known.t_local == 0.0
    assert threshold(stored, grid, 10 + 10) == pytest.approx(40 + 10 * np.log10(known.t_noise))
    assert len(detect.local_threshold(stored, grid, without_bottom(1), np.zeros(0, int), np.zeros(0, int), 1e-4)) == 0


def test_references_end_two_cells_ahead_of_the_bottom():
    """Bottom at sample 300, all in front of its guard 10 dB over the noise, the last four samples 60 dB over it."""
    level = np.full((1, 400), 50.0)
    level[0, 296:300] = 100.0
    stored, grid = drawn(level, weighting="hann", pulse_length=1e-6)
    found = bottom.Bottom(np.array([50.0]), np.array([310]), np.array([1.5]))
    got = threshold(stored, grid, 296 - 24, found)  # 12 cells behind it the guard begins: four references there
    assert got > threshold(stored, grid, 296 - 24) - 40  # and without a bottom the loud ones would count
    for index in (*range(245, 252), *range(270, 276)):
        steps = 6 * np.arange(1, 9)
        pairs = int(np.sum((index + steps < 296) & (index - steps >= grid.blank)))
        n = 2 * pairs if pairs >= 4 else 8
        factors = detect.factors(n, 1e-4, round(grid.filtering.spread, 4))
        leaks = detect.leak(stored, grid, found)[0]
        known = 10**4.0 + leaks[min(300 - index, len(leaks) - 1)]
        excess = 10 ** ((50 - 10 * np.log10(known) + 2.5068) / 10) - 1
        wanted = 10 * np.log10(known * (factors.t_noise + factors.t_local * max(excess, 0)))
        assert threshold(stored, grid, index, found) == pytest.approx(wanted, abs=0.05)


def test_what_the_bottom_leaks_is_its_power_through_the_side_lobes():
    """One bright sample k behind the pick: j ahead of it the lobe at j + k samples, whose both sides add to 1."""
    level = np.full((3, 600), -200.0)
    level[0, 307], level[1, 300], level[2, 307] = 100.0, 90.0, 100.0
    stored, grid = drawn(level, pulse_length=400e-6)  # B T = 30
    found = bottom.Bottom(np.full(3, 100.0), np.array([307, 307, -1]), np.array([1.5, 1.5, np.nan]))
    leaks = detect.leak(stored, grid, found)
    lobes = grid.filtering.lobes
    share = np.array([lobes[4 * s] * 4 if 4 * s < len(lobes) else 0.0 for s in range(200)])  # 8 steps, 2 samples a cell
    assert 2 * share.sum() - share[0] == pytest.approx(1.0, abs=0.05)
    reach = leaks.shape[1] - 1
    assert reach == pytest.approx(60, abs=2)  # one pulse length of samples
    assert leaks[0, :reach] == pytest.approx(1e10 * share[7 : 7 + reach], rel=2e-3, abs=1e3)
    assert leaks[1, 0] == pytest.approx(1e9 * share[0], rel=2e-3)
    assert leaks[1, :reach] == pytest.approx(1e9 * share[:reach], rel=2e-3, abs=1e2)
    assert np.all(leaks[:, -1] == 0)
    assert np.all(leaks[2] == 0)


def test_samples_ahead_of_the_bottom_are_counted_by_its_pick():
    stored, grid = drawn(np.full((3, 400), 40.0))
    found = bottom.Bottom(np.full(3, 50.0), np.array([310, -1, 20]), np.array([1.5024, np.nan, 0.101]))
    assert detect.last_sample(grid, found, 400).tolist() == [300, 400, 20]


def test_peaks_of_a_drawn_ping_by_hand():
    """Tops over everything around them, at samples of one's choice; one in the blind range; a flat top counts once."""
    level = np.full((2, 400), -100.0)
    level[0, [5, 100, 200, 398]], level[1, [150, 151]] = 90.0, 90.0
    level[0, 201] = 80.0
    stored, grid = drawn(level, noise=0.0)
    peaks = every_peak(stored, grid, without_bottom(2), floor=-np.inf)
    assert list(zip(peaks.row.tolist(), peaks.index.tolist(), strict=True)) == [(0, 100), (0, 200), (0, 398), (1, 151)]
    assert len(peaks) == 4
    assert peaks.range[0] == pytest.approx(0.5)
    assert peaks.level[0] == pytest.approx(90.0)
    assert 1.0 < peaks.range[1] < 1.0025  # leans to the stronger neighbour
    assert peaks.strength[0] == pytest.approx(90.0 + 40 * np.log10(0.5) - 215.0, abs=0.01)
    high = every_peak(stored, grid, without_bottom(2), floor=90.0 + 40 * np.log10(0.75) - 215.0)
    assert high.index.tolist() == [200, 398, 151]
    ahead = bottom.Bottom(np.full(2, 90.0), np.array([210, 210]), np.array([1.0024, 0.6]))
    assert every_peak(stored, grid, ahead, floor=-np.inf).index.tolist() == [100]


def test_the_fewest_false_alarms_cost_the_most():
    """Rice: 10 times fewer crossings of known noise, ln 10 more power, less the square root's share."""
    rare, often = (detect.factors(0, p, 0.1414).t_noise for p in (1e-6, 1e-3))
    assert rare - 0.5 * np.log(rare) - (often - 0.5 * np.log(often)) == pytest.approx(3 * np.log(10), rel=1e-6)


def test_a_peak_that_reaches_its_threshold_and_the_floor_is_detected():
    flat = np.zeros(5, int)
    level, threshold = np.array([50.0, 50.0, 49.9, 60.0, 60.0]), np.full(5, 50.0)
    strength = np.array([-60.0, -59.0, -50.0, -60.1, -20.0])
    peaks = detect.Peaks(np.arange(5), flat + 7, flat + 2.0, level, strength, threshold)
    assert peaks.exceeding(-60.0).tolist() == [True, True, False, False, True]
    some = peaks.keep(np.array([False, True, False, False, True]))
    assert (some.row.tolist(), some.index.tolist(), some.range.tolist()) == ([1, 4], [7, 7], [2.0, 2.0])
    assert (some.level.tolist(), some.strength.tolist()) == ([50.0, 60.0], [-59.0, -20.0])
    assert some.threshold.tolist() == [50.0, 50.0]


@pytest.mark.parametrize(("over", "count"), [(-0.05, 0), (0.05, 1)])
def test_a_peak_between_two_samples_is_found_by_its_parabola(over, count):
    """Two equal samples, 4 dB over those beside: the top between them is 0.5 dB higher (a parabola, by hand).

    The water is quieter than the noise stated, which alone decides.
    """
    _, grid = drawn(np.zeros((1, 400)))
    needed = 40.0 + 10 * np.log10(detect.factors(16, 1e-4, round(grid.filtering.spread, 4)).t_noise)
    level = np.full((1, 400), 0.0)
    level[0, 199:203] = needed - 0.5 + over - np.array([4.0, 0.0, 0.0, 4.0])
    stored, grid = drawn(level)
    assert len(every_peak(stored, grid, without_bottom(1), floor=-np.inf)) == count


@pytest.mark.parametrize(("floor_over", "count"), [(-0.05, 1), (0.05, 0)])
def test_the_floor_holds_for_the_top_between_two_samples(floor_over, count):
    level = np.full((1, 400), -100.0)
    level[0, 199:203] = 80.0 - np.array([4.0, 0.0, 0.0, 4.0])
    stored, grid = drawn(level)
    strength = 80.5 + 40 * np.log10(0.005 * 200.5) - 215.0
    assert len(every_peak(stored, grid, without_bottom(1), floor=strength + floor_over)) == count


def test_what_the_bottom_leaks_raises_the_threshold_sample_by_sample():
    """A tone's side lobes in its own triangle (Hann-less, 8 cells of 8 samples): at j samples ahead, noise plus leak.

    Without reference cells in reach (11 samples of water) the threshold is Rice's times what is known there.
    """
    level = np.full((1, 60), -200.0)
    level[0, 31:35] = 120.0
    stored, grid = drawn(level, pulse_length=400e-6)
    found = bottom.Bottom(np.array([100.0]), np.array([33]), np.array([0.1551]))  # sample 31.02
    known = detect.factors(0, 1e-4, round(grid.filtering.spread, 4)).t_noise
    lobes = grid.filtering.lobes
    for index in (13, 20, 26, 29, 30):
        # 8 steps of the table and 2 samples a cell.
        leaks = sum(1e12 * 4 * lobes[4 * (at - index)] for at in range(31, 35))
        wanted = 10 * np.log10(known * (1e4 + leaks))
        assert threshold(stored, grid, index, found) == pytest.approx(wanted, abs=0.02)


def test_reference_cells_are_taken_over_what_is_known_there():
    """Ahead of a bright bottom the water lies 10 dB over noise and leak at every sample.

    Far off so does the threshold's; where less leaks than at the peak, a cell is over what leaks at the peak, or as
    quiet as noise is by chance (2.5 dB under its mean). By hand, with all cells over the peak's own side lobes.
    """
    level = np.full((1, 400), 50.0)
    level[0, 300:310] = 120.0
    stored, grid = drawn(level, pulse_length=400e-6)
    found = bottom.Bottom(np.array([110.0]), np.array([305]), np.array([1.5001]))
    leaks = detect.leak(stored, grid, found)[0]
    known = np.array([1e4 + leaks[min(300 - i, len(leaks) - 1)] for i in range(300)])
    level[0, :300] = 10 * np.log10(known) + 10.0
    stored, _ = drawn(level, pulse_length=400e-6)
    spread = round(grid.filtering.spread, 4)
    for index, n in ((200, 16), (240, 16), (292, 8), (296, 8)):
        cells_ = known[index - 6 * np.arange(1, 9)] / known[index]
        below = np.maximum(10.0 + 10 * np.log10(cells_), -10 * np.euler_gamma / np.log(10))
        above = np.where(cells_ < 0.5, below, 10.0).mean()
        wanted = expected_threshold(n, above, noise=0.0, spread=spread) + 10 * np.log10(known[index])
        assert threshold(stored, grid, index, found) == pytest.approx(wanted, abs=0.02)


def test_quiet_water_farther_up_is_held_against_what_leaks_at_the_peak():
    """Water 20 dB over the noise, but 40 dB below what leaks where the peak stands, does not raise its threshold."""
    level = np.full((1, 400), -200.0)
    level[0, 300:310] = 120.0
    stored, grid = drawn(level, pulse_length=100e-6)  # leaks 16 samples far
    found = bottom.Bottom(np.array([110.0]), np.array([305]), np.array([1.5001]))
    leak, index = detect.leak(stored, grid, found)[0], 292
    assert leak[300 - index] > 1e4 * 10**4.0
    factors = detect.factors(8, 1e-4, round(grid.filtering.spread, 4))
    for over in (0.0, 20.0):
        level[0, :300] = 40.0 + over
        stored, _ = drawn(level, pulse_length=100e-6)
        got = threshold(stored, grid, index, found) - 10 * np.log10(1e4 + leak[300 - index])
        assert got == pytest.approx(10 * np.log10(factors.t_noise), abs=0.1), over


def test_the_side_lobes_of_a_peak_do_not_raise_its_own_threshold():
    """A point's echo through the filter of a short pulse, 60 dB over the noise: Rice's threshold, as without them."""
    quiet = np.full((1, 400), -200.0)
    stored, grid = drawn(quiet, pulse_length=400e-6)
    lobes = 10 * np.log10(np.maximum(grid.filtering.lobes / grid.filtering.lobes[0], 1e-30))
    away = np.abs(np.arange(400) - 200) * 8 // round(grid.per_cell)
    shape = np.where(away < len(lobes), lobes[np.minimum(away, len(lobes) - 1)], -300.0)
    level = np.maximum(100.0 + shape, 40.0)[None]
    stored, _ = drawn(level, pulse_length=400e-6)
    least = detect.factors(0, 1e-4, round(grid.filtering.spread, 4)).t_noise
    most = expected_threshold(8, 0.0, spread=round(grid.filtering.spread, 4))
    assert 40.0 + 10 * np.log10(least) - 0.5 <= threshold(stored, grid, 200) <= most + 0.1
