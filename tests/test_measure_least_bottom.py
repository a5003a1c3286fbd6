"""The least levels of a bottom, on echoes drawn by hand, as the tables of `simulator.measure.bottom` state them."""

import measure_lab as lab
import numpy as np
import pytest

from simulator.measure import bottom, cells


def drawn(level, start=4.0):
    """A recording of levels [dB re 1 uPa]: (ping, sample); 1 cm cells of 2.5 samples; source level 215 dB."""
    ranges = start + 0.004 * np.arange(np.shape(level)[1])
    element = lab.element(lab.info(bandwidth=75e3, noise=20.0), 10 ** (np.asarray(level) / 20), ranges)
    return element, cells.grid(element)


@pytest.mark.parametrize(("distance", "seen"), [(21.5, False), (23.3, True)])
def test_a_weak_short_echo_counts_where_no_fish_is_as_strong(distance, seen):
    """-57 dB with spherical spreading taken off is an echo strength of -30 dB re 1 m2 at 10^(27/20) = 22.4 m."""
    level = np.full((1, 600), 5.0)
    level[:, 300:320] = 215.0 - 20 * np.log10(distance) - 57.0
    element, grid = drawn(level, start=distance - 1.24)
    assert np.isfinite(bottom.find(element.echo_level, grid).pick[0]) == seen


@pytest.mark.parametrize(("rest", "seen"), [(-30.0, False), (-10.0, True)])
def test_a_weak_echo_counts_where_it_goes_on(rest, seen):
    """At -53 dB: 8 cells and 24 weaker ones lose 6.0 dB (rest at -30 dB) or 4.9; 5.2 may be."""
    level = np.full((1, 600), 5.0)
    level[:, 300:320] = 215.0 - 20 * np.log10(5.24) - 53.0
    level[:, 320:380] = level[0, 300] + rest
    element, grid = drawn(level)
    assert np.isfinite(bottom.find(element.echo_level, grid).pick[0]) == seen
