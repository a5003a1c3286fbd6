"""Cells, filters and widths on small records, by hand, by Harris's window tables, or by a general library."""

import math

import measure_lab as lab
import numpy as np
import pytest
from pingwright.measure import cells, filters, widths
from scipy import signal


def flat(about, start, step, count, level=100.0):
    """One ping of one level [dB re 1 uPa]."""
    ranges = start + step * np.arange(count)
    return lab.element(about, np.full((1, count), 10 ** (level / 20)), ranges)


def test_the_grid_of_a_recording_by_hand():
    # 1500 m/s and 75 kHz: cells of 1 cm; 2.5 samples each; two cells are 5 steps, so 6 samples.
    about = lab.info(bandwidth=75e3, absorption=0.05, source=210.0, noise=31.0, blank_range=2.008)
    grid = cells.grid(flat(about, 2.0, 0.004, 500))
    assert grid.step == pytest.approx(0.004)
    assert grid.cell == pytest.approx(0.01)
    assert grid.per_cell == pytest.approx(2.5)
    assert grid.gap == 6
    assert grid.blank == 3  # 2.008 itself is not beyond
    assert grid.noise == 31.0
    assert grid.range[[0, -1]] == pytest.approx([2.0, 3.996])
    assert grid.index(np.array([2.0, 2.01])) == pytest.approx([0.0, 2.5])
    far = 20 * math.log10(3.996)
    assert grid.surface_gain[-1] == pytest.approx(far + 2 * 0.05 * 3.996 - 210)
    assert grid.strength_gain[-1] == pytest.approx(2 * far + 2 * 0.05 * 3.996 - 210)


@pytest.mark.parametrize(("per_cell", "gap"), [(2.0, 5), (2.1, 6), (2.5, 6), (2.6, 7)])
def test_a_gap_is_the_least_number_of_samples_that_span_two_cells(per_cell, gap):
    step = 0.01 / per_cell
    grid = cells.grid(flat(lab.info(bandwidth=75e3), 0.0, step, 200))
    assert grid.gap == gap
    assert (gap - 1) * step >= 0.02 - 1e-9 > (gap - 2) * step
    assert np.isfinite(grid.surface_gain).all()
    assert grid.surface_gain[0] == pytest.approx(20 * math.log10(step) - 215)  # no nearer than one step


def test_levels_are_stored_rounded_down_and_clipped():
    assert cells.to_stored(np.array([100.0, 100.019, 99.999, 1e9, -1e9])).tolist() == [0, 1, -1, 32766, -32766]
    assert cells.to_stored(100.03) == 3  # 0.03 / 0.01 is a hair under 3
    assert cells.to_level(np.array([0, 1, -250], np.int16)) == pytest.approx([100.0, 100.01, 97.5])


def chirp(**about):
    """A time-bandwidth product of 6400, so that band edges and flanks matter little."""
    return lab.info(pulse_length=80e-3, **about)


@pytest.mark.parametrize("weighting", ["hann", "none", "nobody knows"])
def test_the_spread_of_noise_is_that_of_the_weighting(weighting):
    """Rms width of noise behind the filter, in bands. In a long chirp time is frequency, so its flanks shape the band:

    density cos^4 (Hann, twice) or 1 times the square of scipy's Tukey window with flanks of a tenth altogether.
    """
    x = np.linspace(-0.5, 0.5, 20001)
    density = signal.windows.tukey(20001, 0.1) ** 2 * (np.cos(np.pi * x) ** 4 if weighting == "hann" else 1.0)
    exact = math.sqrt(np.sum(x**2 * density) / np.sum(density))
    assert filters.filtering(chirp(weighting=weighting)).spread == pytest.approx(exact, rel=1e-3)


def test_lobes_of_a_hann_weighting_are_harris_response():
    """Harris 1978: the response of Hann falls to 1/2 a bin away (-6.02 dB), to 0 at two, -31.5 dB beside; adds to 1."""
    lobes = filters.filtering(chirp()).lobes
    assert lobes[8] / lobes[0] == pytest.approx(0.25, rel=0.01)
    assert lobes[16] / lobes[0] < 1e-4
    assert 10 * math.log10(lobes[16:28].max() / lobes[0]) == pytest.approx(-31.5, abs=0.5)
    assert 2 * lobes.sum() - lobes[0] == pytest.approx(1.0)
    assert len(lobes) == pytest.approx(8 * 6400, abs=8)  # to one pulse length, an eighth of a cell each


def test_a_tone_has_nearly_a_triangle():
    """Autocorrelation of a tone with flanks of a tenth altogether, by scipy; its cell is c T / 2."""
    about = lab.info(pulse_length=1e-3, range_resolution=0.75, extra={"pulse_kind": "tone"}, weighting="none")
    envelope = signal.windows.tukey(8001, 0.1)
    response = (signal.fftconvolve(envelope, envelope)[8000:] / np.sum(envelope**2)) ** 2
    lobes = filters.filtering(about).lobes
    assert lobes / lobes[0] == pytest.approx(response[:8000:1000], abs=2e-3)
    assert len(lobes) == 8
    for drop in (3.0, 6.0):
        half = np.argmax(response < 10 ** (-drop / 10)) / 8000
        assert filters.point_width(about, drop) == pytest.approx(0.75 * 2 * half, rel=2e-3)


@pytest.mark.parametrize("weighting", ["hann", "none"])
def test_the_width_of_a_point_is_that_of_the_band(weighting):
    """Response of the band (Tukey squared for the chirp's flanks, times the weighting), by numpy's transform.

    Hann without flanks: 1.4405 and 1.9968 bins (Harris 1978).
    """
    x = (np.arange(1024) + 0.5) / 1024 - 0.5
    band = signal.windows.tukey(1024, 0.1) ** 2 * (0.5 + 0.5 * np.cos(2 * np.pi * x) if weighting == "hann" else 1.0)
    response = np.abs(np.fft.fft(band, 4096 * 1024)) ** 2
    about = chirp(weighting=weighting)
    for drop, harris in ((3.0103, 1.4405), (6.0206, 1.9968)):
        # The flanks stand for parts of the band by stationary phase only: 0.12 % for none.
        width = 2 * np.argmax(response < response[0] * 10 ** (-drop / 10)) / 4096
        assert filters.point_width(about, drop) / about.range_resolution == pytest.approx(width, rel=2e-3)
        if weighting == "hann":
            assert width == pytest.approx(harris, rel=0.01)


def test_the_flanks_of_a_pulse_are_those_the_recording_tells():
    """An unweighted chirp of hard ends has the narrower echo: 0.886 bins (Harris 1978, rectangle); told or not."""
    hard, usual = (chirp(weighting="none", extra={"pulse_taper": taper}) for taper in (0.0, 0.1))
    assert filters.point_width(hard, 3.0103) / hard.range_resolution == pytest.approx(0.886, rel=3e-3)
    assert filters.point_width(usual) > 1.03 * filters.point_width(hard)
    for strange in ({}, {"pulse_taper": "a tenth"}, {"pulse_taper": float("nan")}):
        assert filters.point_width(chirp(weighting="none", extra=strange)) == filters.point_width(usual)


def test_the_width_between_echoes_far_apart_is_linear():
    """Five echoes: 6 dB under the strongest lies at 1.2 deg on the right, 1.5 on the left."""
    angle, strength = np.array([2.0, -1.0, 0.0, 1.0, -2.0]), np.array([-50.0, -44.0, -40.0, -45.0, -48.0])
    assert widths.beam_width(angle, strength) == pytest.approx(1.2 + 1.5)
    assert widths.beam_width(angle, strength, 4.5) == pytest.approx(0.9 + 1.125)
    for some in (angle < 1.5, angle > -1.5):
        assert math.isnan(widths.beam_width(angle[some], strength[some]))
    assert math.isnan(widths.beam_width(angle, strength, 10.0))  # not fallen through, but reached


def test_the_top_of_a_beam_is_that_of_a_parabola():
    """-12 dB x (angle / 5)^2 about 0.3 deg: one-way -3 dB width 5 sqrt(2) deg, though no echo is at the top."""
    angle = np.arange(-10.0, 10.0, 0.5) + 0.05
    strength = -40 - 12 * ((angle - 0.3) / 5) ** 2
    assert widths.beam_width(angle, strength) == pytest.approx(5 * math.sqrt(2), abs=0.02)
    lopsided = np.concatenate([np.arange(-10.0, 0.3, 0.1), np.arange(0.55, 10.0, 0.5)])  # echoes crowd on one side
    strength = -40 - 12 * ((lopsided - 0.3) / 5) ** 2
    assert widths.beam_width(lopsided, strength) == pytest.approx(5 * math.sqrt(2), abs=0.02)
    hollow = np.array([-60.0, -40.0, -42.0, -42.5, -42.0, -40.0, -60.0])  # bent upwards: the strongest echo counts
    assert widths.beam_width(np.arange(7.0), hollow) == pytest.approx(4 + 2 * 6 / 20)


def test_an_echo_reads_the_width_that_was_drawn():
    """A Gaussian echo of 12 dB x (r / w)^2: full -3 dB width w, -6 dB width w sqrt 2; at the edge none is read."""
    about = lab.info(bandwidth=75e3)
    ranges = 2.0 + 0.004 * np.arange(400)
    where = np.array([2.4013, 3.0, 2.02])
    level = 100 - 12 * ((ranges - where[:, None]) / 0.02) ** 2
    element = lab.element(about, 10 ** (level / 20), ranges)
    grid, row = cells.grid(element), np.arange(3)
    index = np.argmax(element.echo_level, axis=1)
    for drop, width in ((3.0, 0.02), (6.0, 0.02 * math.sqrt(2))):
        found = widths.echo_width(element.echo_level, grid, row, index, drop)
        assert found[:2] == pytest.approx(width, rel=0.005)
        assert math.isnan(found[2])
    assert np.isnan(widths.echo_width(element.echo_level, grid, row, index, 80.0)).all()
    assert np.isnan(widths.echo_width(element.echo_level[:, ::-1], grid, row, 399 - index)[2])


def test_the_maximum_over_runs_longer_than_the_recording_is_none():
    stored = np.arange(12, dtype=np.int16).reshape(2, 6)
    for width, count in ((5, 2), (6, 1), (7, 0), (40, 0)):
        assert cells.highest_within(stored, width).shape == (2, count)
    assert cells.highest_within(stored, 6).tolist() == [[5], [11]]


def test_what_fills_the_beam_stands_over_its_volume_strength_by_beam_and_cell():
    """-19 dB re 1 sr and cells of 1 cm."""
    assert cells.grid(flat(lab.info(bandwidth=75e3), 2.0, 0.004, 50)).volume_gain == pytest.approx(-39.0)


def crossing(levels, target):
    """Distance from the first of these samples to where the cubic through four of them falls to a level, by numpy."""
    at = next(i for i, level in enumerate(levels) if level < target)
    cubic = np.polyfit(np.arange(at - 2, at + 2), levels[at - 2 : at + 2], 3)
    roots = np.roots(cubic - [0, 0, 0, target])
    return next(root.real for root in roots if abs(root.imag) < 1e-9 and at - 1 <= root.real <= at)


def test_the_crossings_are_those_of_a_cubic_through_four_levels():
    """Levels in hundredths of a decibel over 100 dB, falling unevenly on both sides; the top by numpy's parabola."""
    right = [980, 1000, 940, 800, 530, 110, -300, -720, -1100, -1500, -1650]
    left = [940, 1000, 980, 700, 600, 330, 220, -20, -300, -1210, -1900]
    stored = np.array([left[:1:-1] + right[1:]], np.int16)  # the peak at 9 of 19, as near the ends as may be
    row, index = np.zeros(1, int), np.array([9])
    grid = cells.grid(flat(lab.info(bandwidth=75e3), 2.0, 0.005, 19))
    bend, tilt, level = np.polyfit([-1, 0, 1], [980, 1000, 940], 2)
    top = level - tilt**2 / (4 * bend)
    for drop in (1.0, 3.0, 6.0, 12.0, 17.0, 21.5):
        wanted = crossing(right, top - 100 * drop) + crossing(left, top - 100 * drop) - 2
        found = widths.echo_width(stored, grid, row, index, drop)
        assert found[0] == pytest.approx(0.005 * wanted, rel=1e-4)
    for short in (stored[:, 1:], stored[:, :-1]):
        assert np.isnan(widths.echo_width(short, grid, row, np.argmax(short, axis=1))).all()


def test_an_echo_wider_than_eight_samples_to_a_side_has_no_width():
    """Falling by 1 dB a sample: 8 dB under the top the crossing is the eighth sample, 9 dB under it the ninth."""
    stored = (1000 - 100 * np.abs(np.arange(61) - 30)).astype(np.int16)[None]
    grid = cells.grid(flat(lab.info(bandwidth=75e3), 2.0, 0.005, 61))
    row, index = np.zeros(1, int), np.array([30])
    assert widths.echo_width(stored, grid, row, index, 7.5)[0] == pytest.approx(0.005 * 15, rel=1e-3)
    assert np.isnan(widths.echo_width(stored, grid, row, index, 8.5)[0])


@pytest.mark.parametrize("near", [4, 5])
def test_five_echoes_within_three_decibels_make_a_parabola(near):
    """Fitted by numpy; with fewer the strongest counts. Beyond, echoes lie 14 dB a degree under the next."""
    strength = np.array([-71.0, -57.0, -43.0, -40.0, -41.5, -40.6, -43.0, -57.0, -71.0])
    if near == 4:
        strength[2] = -43.5
    angle = np.arange(9.0) - 4
    top = -40.0
    if near == 5:
        bend, tilt, level = np.polyfit(angle[2:7], strength[2:7], 2)
        top = level - tilt**2 / (4 * bend)
        assert abs(top + 40) > 0.05
    down, steps = top - 6.0, np.diff(strength)
    low = -3 + (down - strength[1]) / steps[1]
    high = 2 + (down - strength[6]) / steps[6]
    assert widths.beam_width(angle, strength, 6.0) == pytest.approx(high - low)
