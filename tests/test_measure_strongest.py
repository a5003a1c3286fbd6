"""Which stretch of a ping is the bottom's: strengths put in by hand, the rules' limits around them."""

from types import SimpleNamespace

import numpy as np
import pytest
from pingwright.measure import strongest

STEP, AVERAGED = 0.1, 3


def grid(noise=-300.0, samples=500):
    """Samples 0.1 m apart from 0.1 m on, no absorption, a source of 0 dB."""
    distance = STEP * (1 + np.arange(samples))
    return SimpleNamespace(
        range=distance, noise=noise, surface_gain=20 * np.log10(distance), strength_gain=40 * np.log10(distance),
        index=lambda place: (np.asarray(place) - STEP) / STEP,
    )  # fmt: skip


def sample(distance):
    """The average that a stretch of three samples around a distance [m] has its middle in."""
    return round(distance / STEP) - 1 - (AVERAGED - 1) // 2


def found(*things, noise=-300.0):
    """Return the distance [m] of what is taken for the bottom; things: distance [m], echo strength [dB re 1 m2]."""
    mean = np.full((1, 500 - AVERAGED + 1), 1e-30)
    for distance, strength in things:
        mean[0, sample(distance)] = 10 ** (0.1 * (strength - 20 * np.log10(distance)))
    first = strongest.first(mean, AVERAGED, grid(noise))[0]
    return pytest.approx(STEP * (first + 1 + (AVERAGED - 1) // 2))


@pytest.mark.parametrize(
    ("things", "at"),
    [
        # Within 6 dB of the highest with spherical spreading removed, the first; strengths no single fish has.
        ([(2.0, -10.0), (4.0, -10.0 + 6.02 + 5.9)], 2.0),
        ([(2.0, -10.0), (4.0, -10.0 + 6.02 + 6.1)], 4.0),
        # A fish of -33 dB at 1 m is as strong then as something of -13 dB at 10 m: 6 dB more than the fish will do.
        ([(1.0, -33.0), (10.0, -26.9)], 10.0),
        ([(1.0, -33.0), (10.0, -27.1)], 1.0),
        # No single fish has -30 dB.
        ([(1.0, -29.9), (10.0, -15.0)], 1.0),
        ([(1.0, -30.1), (10.0, -15.0)], 10.0),
        # Within 2.2 times its range it may be a fish's second echo: that begins at 0.9, this must begin at 1.98 m.
        ([(1.0, -33.0), (2.0, -26.0)], 1.0),
        ([(1.0, -33.0), (2.1, -26.0)], 2.1),
        # Of two behind a fish, the first within 6 dB of the higher of them.
        ([(1.0, -33.0), (10.0, -25.0), (20.0, -25.0 + 6.02 + 5.9)], 10.0),
        ([(1.0, -33.0), (10.0, -25.0), (20.0, -25.0 + 6.02 + 6.1)], 20.0),
        # Three fish are passed over, not four.
        ([(1.0, -60.0), (2.5, -53.0), (6.0, -46.0), (15.0, -39.0)], 15.0),
        ([(1.0, -60.0), (2.5, -53.0), (6.0, -46.0), (15.0, -39.0), (40.0, -32.0)], 15.0),
    ],
)
def test_the_first_stretch_that_no_fish_could_send(things, at):
    assert found(*things) == at


@pytest.mark.parametrize(("over", "seen"), [(9.9, False), (10.1, True)])
def test_what_lies_behind_a_fish_stands_ten_decibels_over_the_noise(over, seen):
    """-25 dB at 10 m is received 65 dB below the source."""
    assert found((1.0, -33.0), (10.0, -25.0), noise=-65.0 - over) == (10.0 if seen else 1.0)


@pytest.mark.parametrize(("highest", "fish"), [(-30.2, True), (-29.7, False)])
def test_a_stretch_is_as_strong_as_its_highest_part(highest, fish):
    """It begins 5 dB below, one or two samples ahead: within its own length; a third ahead is another stretch."""
    for begin, passed_over in ((19.8, fish), (19.9, fish), (19.7, True)):
        at = found((begin, highest - 5.0), (20.0, highest), (45.0, -23.5))
        assert at == (45.0 if passed_over else begin)


def test_each_ping_has_its_own():
    """A fish over ground, ground alone, a fish alone; and none at all."""
    mean = np.full((3, 498), 1e-30)
    for row, distance, strength in ((0, 1.0, -33.0), (0, 10.0, -20.0), (1, 5.0, -20.0), (2, 1.0, -33.0)):
        mean[row, sample(distance)] = 10 ** (0.1 * (strength - 20 * np.log10(distance)))
    assert strongest.first(mean, AVERAGED, grid()).tolist() == [sample(10.0), sample(5.0), sample(1.0)]
    assert strongest.first(mean[:0], AVERAGED, grid()).tolist() == []
