"""Measured fish shapes: read at the nodes of their tables, at the ends, and with the usual tilt."""

import numpy as np
import pytest
from pingwright.acoustics import shapes

NAME = "cod"


def test_beyond_the_ends_of_the_table_its_last_values_hold():
    table = shapes._table(NAME)
    first, last = table.frequency_length[0], table.frequency_length[-1]
    at = [0.5 * first, first, last, 2 * last]
    found = shapes.cross_section(NAME, table.tilt, at)
    assert found == pytest.approx(table.ratio[:, [0, 0, -1, -1]], rel=1e-9)
    steep = shapes.cross_section(NAME, [-90.0, 90.0], table.frequency_length)
    assert steep == pytest.approx(np.maximum(table.ratio[[0, -1]], 1e-9), rel=1e-9)


def test_the_nodes_of_the_table_are_its_values_and_between_tilts_it_is_straight():
    table = shapes._table(NAME)
    some = table.frequency_length[3:40:9]
    found = shapes.cross_section(NAME, table.tilt, some)
    assert found == pytest.approx(table.ratio[:, 3:40:9], rel=1e-9)
    quarter = shapes.cross_section(NAME, 0.75 * table.tilt[:-1] + 0.25 * table.tilt[1:], some)
    assert quarter == pytest.approx(0.75 * found[:-1] + 0.25 * found[1:], rel=1e-9)


def test_a_shape_is_seen_broadside_if_no_tilt_is_given():
    """A fish of twice the length at half the frequency: four times the cross-section, 6.02 dB."""
    usual = shapes.strength_shape(NAME, 0.3, [38e3, 120e3])
    assert usual == pytest.approx(shapes.strength_shape(NAME, 0.3, [38e3, 120e3], 0.0), abs=1e-12)
    assert abs(usual - shapes.strength_shape(NAME, 0.3, [38e3, 120e3], 3.0)).max() > 0.1
    assert shapes.strength_shape(NAME, 0.6, [19e3, 60e3]) == pytest.approx(usual + 20 * np.log10(2), abs=1e-9)


@pytest.mark.parametrize("sd", [2.0, 15.0])
def test_the_mean_over_tilts_is_that_of_a_weighted_sum(sd):
    """Equal steps of 0.02 deg over four standard deviations, weighted by a normal law of a general library."""
    from scipy import stats

    tilt = np.linspace(-5 - 4 * sd, -5 + 4 * sd, round(8 * sd / 0.02) + 1)
    at = np.array([30e3, 12e3, 30e3])
    weight = stats.norm.pdf(tilt, -5, sd)
    expected = weight @ shapes.cross_section(NAME, tilt, at) / weight.sum()
    assert shapes.tilt_mean(NAME, -5.0, sd, at) == pytest.approx(expected, rel=1e-3)


def test_the_mean_strength_takes_the_waters_sound_speed():
    """Wavelengths, not frequencies, decide: 1 % faster water is as 1 % lower frequency. N(-5, 15) if not given."""
    usual = shapes.mean_strength(NAME, [0.2, 0.4], 70e3)
    assert usual.shape == (2,)
    assert shapes.mean_strength(NAME, [0.2, 0.4], 70e3, 1490.0, (-5.0, 15.0)) == pytest.approx(usual, abs=1e-12)
    assert shapes.mean_strength(NAME, [0.2, 0.4], 70.7e3, 1.01 * 1490.0) == pytest.approx(usual, abs=1e-9)
    expected = 10 * np.log10(shapes.tilt_mean(NAME, -5.0, 15.0, [14e3, 28e3])) + 20 * np.log10([0.2, 0.4])
    assert usual == pytest.approx(expected, abs=1e-9)
