"""One pulse and its receiver's band: the grid of frequencies, and how a spectrum is computed."""

import numpy as np
import pytest
from pingwright.acoustics import signal


def chirp(low=130e3, high=210e3, length=1e-3, **about):
    values = {"taper": 0.1, "direction": "up", "band": (low, high), "weighting_name": "hann"} | about
    return signal.Signal(low, high, length, **values)


@pytest.mark.parametrize(
    ("length", "per_cell", "steps"),
    [(1e-3, 8, 640), (1e-3, 4, 320), (1.001e-3, 8, 641), (2.4e-5, 8, 16), (2.6e-5, 8, 17), (1e-6, 8, 16)],
)
def test_the_grid_of_a_band_has_eight_steps_a_cell_and_sixteen_at_least(length, per_cell, steps):
    """80 kHz: steps of 1 / (8 T), rounded up; both ends of the band are in it."""
    grid = chirp(length=length).band_grid(per_cell)
    assert (grid[0], grid[-1], len(grid)) == (130e3, 210e3, steps + 1)
    assert np.ptp(np.diff(grid)) < 1e-6
    if per_cell == 8:
        assert chirp(length=length).band_grid().tolist() == grid.tolist()


def test_even_frequencies_are_told_from_uneven_ones():
    even = np.linspace(-40e3, 40e3, 64)
    assert signal._evenly_spaced(even)
    assert not signal._evenly_spaced(even[:63])
    for place in (1, 30, 63):
        bent = even.copy()
        bent[place] += 1.0
        assert not signal._evenly_spaced(bent)


@pytest.mark.parametrize(
    "offset", [np.linspace(-40e3, 40e3, 200), np.linspace(1e3, 2e3, 64), np.linspace(5e4, -5e4, 99)]
)
@pytest.mark.parametrize("length", [2e-4, 1e-3])
def test_the_fast_sum_is_the_plain_sum(offset, length):
    """sum of samples times exp(-2 pi i f t), term by term."""
    rng = np.random.default_rng(1)
    t = (np.arange(257) + 0.5) * (length / 257)
    samples = rng.standard_normal(257) + 1j * rng.standard_normal(257)
    plain = np.exp(-2j * np.pi * np.outer(offset, t)) @ samples
    assert signal._even_transform(offset, t, samples) == pytest.approx(plain, abs=1e-8)


def test_a_pulse_is_sampled_at_the_middles_of_its_steps():
    """At 16 times the band, 8 times the reach, 256 samples at least, whichever is most."""
    one = chirp()
    for reach, count in ((0.0, 1280), (100e3, 1280), (200e3, 1600)):
        t, samples = one._samples(reach)
        assert len(t) == len(samples) == count
        assert t[0] == pytest.approx(0.5e-3 / count)
        assert t[-1] == pytest.approx(1e-3 - 0.5e-3 / count)
    assert len(chirp(170e3, 170e3, 1e-3, band=(166e3, 174e3))._samples(0.0)[0]) == 256
    assert len(chirp(length=1e-4)._samples(0.0)[0]) == 256


@pytest.mark.parametrize(("tone", "length", "half"), [(200e3, 1e-3, 4e3), (50e3, 1e-5, 37.5e3), (50e3, 1.0, 4.0)])
def test_a_tone_is_heard_to_its_fourth_zero_and_three_quarters_of_itself_at_most(tone, length, half):
    assert signal.tone_band(tone, length) == pytest.approx((tone - half, tone + half))


def test_the_weighting_lies_over_the_receivers_band():
    """Hann over 80 kHz around 170: 1 in the middle, 1/2 a quarter off it, 0 at the ends and outside."""
    at = np.array([130e3, 150e3, 170e3, 190e3, 210e3, 211e3])
    assert chirp().weighting(at) == pytest.approx([0.0, 0.5, 1.0, 0.5, 0.0, 0.0], abs=1e-12)
