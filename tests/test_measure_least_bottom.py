"""The least levels of a bottom, on echoes drawn by hand, as the tables of `pingwright.measure.bottom` state them."""

import measure_lab as lab
import numpy as np
import pytest
from pingwright.measure import bottom, cells


def drawn(level, start=4.0, **about):
    """A recording of levels [dB re 1 uPa]: (ping, sample); 1 cm cells of 2.5 samples; source level 215 dB."""
    ranges = start + 0.004 * np.arange(np.shape(level)[1])
    element = lab.element(lab.info(bandwidth=75e3, noise=20.0, **about), 10 ** (np.asarray(level) / 20), ranges)
    return element, cells.grid(element)


def seen_at(surface, rest, stretches, distance=5.24, **about):
    """Whether 8 cells at a level [dB] with spreading taken off, and weaker ones behind them [dB], are a bottom."""
    level = np.full((1, 900), 5.0)
    even = 215.0 + surface - 20 * np.log10(distance + 0.004 * (np.arange(900) - 310))
    level[:, 300:320] = even[300:320]
    level[:, 320 : 320 + 20 * stretches] = even[320 : 320 + 20 * stretches] + rest
    element, grid = drawn(level, start=distance - 1.24, **about)
    return bool(np.isfinite(bottom.find(element.echo_level, grid).pick[0]))


@pytest.mark.parametrize(("distance", "seen"), [(21.9, False), (22.9, True)])
def test_a_weak_short_echo_counts_where_no_fish_is_as_strong(distance, seen):
    """-57 dB with spherical spreading taken off is an echo strength of -30 dB re 1 m2 at 10^(27/20) = 22.4 m."""
    assert seen_at(-57.0, -100.0, 0, distance) == seen


@pytest.mark.parametrize(("rest", "seen"), [(-30.0, False), (-12.0, False), (-11.3, True), (-10.0, True)])
def test_a_weak_echo_counts_where_it_goes_on(rest, seen):
    """At -53 dB: 8 cells and 24 weaker ones lose 10 log of (1 + 3 x) / 4; 5.2 dB may be: x of -11.6 dB."""
    assert seen_at(-53.0, rest, 3, equivalent_beam_angle=-5.0) == seen


@pytest.mark.parametrize(("surface", "seen"), [(-56.2, False), (-55.8, True)])
def test_a_short_echo_that_goes_on_is_no_weaker_than_the_table_says(surface, seen):
    """-56 dB; the beam is wide, so that as a volume (-5 dB re 1 sr, 1 cm: -25 dB) it would be a weak school."""
    assert seen_at(surface, -1.0, 3, equivalent_beam_angle=-5.0) == seen


@pytest.mark.parametrize(("rest", "seen"), [(-11.85, False), (-11.55, True)])
def test_a_weaker_echo_counts_where_it_goes_on_for_long(rest, seen):
    """At -60 dB: 8 cells and 120 weaker ones lose 10 log of (1 + 15 x) / 16; 9 dB may be: x of -11.7 dB."""
    assert seen_at(-60.0, rest, 15) == seen


@pytest.mark.parametrize(("surface", "seen"), [(-65.2, False), (-64.8, True)])
def test_no_bottom_is_weaker_than_the_densest_school(surface, seen):
    """-26 dB re 1 m-1 in a beam of -19 dB re 1 sr and cells of 1 cm is -65 dB."""
    assert seen_at(surface, -1.0, 15) == seen


def tail_at(behind, ahead, echo=140.0):
    """Whether a short echo at 5.24 m is a bottom: levels [dB] of five stretches of 16 cells, from 8 cells off it on.

    Noise: 20 dB. The echo: two cells, an echo strength of 140 - 215 + 40 log10(5.24) = -46 dB re 1 m2, a good fish.
    """
    level = np.full((1, 900), 20.0)
    peak = 310
    level[:, peak - 2 : peak + 3] = echo
    for k in range(5):
        first, last = 20 * (1 + 2 * k), 20 * (3 + 2 * k)
        level[:, peak + first : peak + last] = behind[k]
        level[:, peak - last + 1 : peak - first + 1] = ahead[k]
    element, grid = drawn(level)
    return bool(np.isfinite(bottom.find(element.echo_level, grid).pick[0]))


QUIET = (20.0,) * 5


@pytest.mark.parametrize(
    ("behind", "ahead", "seen"),
    [
        ((85, 75, 63, 54, 46), QUIET, True),  # as mud gives it under 900 kHz to 1 MHz: it goes on beside the beam
        ((85, 75, 63, 54, 46), (84, 72, 40, 20, 20), True),  # the filter's side lobes hide the first of it
        (QUIET, QUIET, False),  # a fish
        (
            (85, 75, 63, 54, 46),
            (85, 75, 63, 54, 46),
            False,
        ),  # a fish, and side lobes of the filter, alike on both sides
        ((85, 75, 63, 24, 20), QUIET, False),  # it ends: a few fish below a fish
        ((85, 75, 83, 54, 46), QUIET, False),  # a gap, and then more: ground below a fish
        ((135, 125, 123, 114, 96), QUIET, False),  # as strong as the echo: a school
        ((112, 112, 112, 112, 112), QUIET, True),
        ((112, 112, 112, 112, 112), (112, 112, 112, 112, 112), False),  # a fish in a layer
    ],
)
def test_a_short_echo_is_ground_where_a_tail_falls_behind_it(behind, ahead, seen):
    assert tail_at(behind, ahead) == seen
