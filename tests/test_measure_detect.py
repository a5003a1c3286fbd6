"""Detection against exactly known answers: false alarms of noise, Marcum and Swerling probabilities of detection."""

import measure_lab as lab
import numpy as np
import pytest
from scipy import special, stats

from simulator.measure import bottom, cells, detect, parted


def without_bottom(count):
    return bottom.Bottom(np.full(count, np.nan), np.full(count, -1), np.full(count, np.nan))


@pytest.mark.parametrize(("oversampling", "seed"), [(2.0, 3), (2.25, 4), (3.1, 5)])
def test_false_alarms_of_pure_noise_are_as_stated(oversampling, seed):
    about = lab.info()
    pressure, ranges = lab.pings(about, np.random.default_rng(seed), 256, 16384, oversampling=oversampling)
    element = lab.element(about, pressure, ranges)
    grid = cells.grid(element)
    peaks = detect.detect(element.echo_level, grid, without_bottom(256), floor=-np.inf)
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
    peaks = detect.detect(element.echo_level, grid, without_bottom(256), floor=-np.inf)
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
    where = 4.0
    step = lab.SOUND_SPEED / 2 / (2.25 * 80e3)
    where = round(where / step) * step
    size = np.sqrt(10 ** ((about.noise_level + signal_to_noise) / 10))
    if fluctuating:
        size = size * (rng.standard_normal(count) + 1j * rng.standard_normal(count)) / np.sqrt(2)
    pressure, ranges = lab.pings(about, rng, count, 1500, [(where, size)])
    element = lab.element(about, pressure, ranges)
    grid = cells.grid(element)
    row = np.arange(count)
    within = np.full(count, 0.6 * grid.cell)
    result = parted.score(
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


@pytest.mark.parametrize("signal_to_noise", [8.0, 10.0, 12.0, 16.0])
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
    peaks = detect.detect(element.echo_level, grid, found)
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
        result = parted.score(element.echo_level, grid, found, np.arange(count), place, within)
        assert result.detected.mean() < 0.06
        assert result.parted.mean() < 0.003


def test_peaks_are_read_to_a_hundredth_of_a_decibel():
    about, rng = lab.info(noise=-100.0), np.random.default_rng(7)
    where = 4 + rng.random(300) * 0.1
    pressure, ranges = lab.pings(about, rng, 300, 1500, [(where, 1e5)], noise=False, oversampling=2.0)
    level = lab.stored(pressure)
    index = np.argmax(level, axis=1)
    offset, peak = detect.parabola(level, np.arange(300), index)
    assert np.abs(peak - 100).max() < 0.03  # design: 0.01 dB with Hann at 2 B, plus the stored step of 0.01 dB
    assert np.abs(ranges[index] + offset * (ranges[1] - ranges[0]) - where).max() < 1e-4
