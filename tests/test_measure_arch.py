"""The arch of a fish, ping by ping, from echoes put in by hand; and which fish a picture shows."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from pingwright.echograms.record import Surroundings, Truth
from pingwright.measure import arch
from pingwright.measure.beside import COLUMNS
from test_measure_marks import BOAT, echo, element, fishes


def far(x, depth, ping):
    return math.hypot(depth, x - BOAT[ping])


#: Two fish: the pings whose main lobe holds each, 1.2 x 8 deg either side, 3.38 m at 20 m and 3.05 m at 18 m.
PLACES = ((30.0, 20.0, range(54, 67)), (33.0, 18.0, range(60, 73)))


@pytest.fixture(scope="module")
def made():
    echoes = [(k, far(x, d, k), echo(far(x, d, k), -35.0)) for x, d, pings in PLACES for k in pings]
    return element(echoes, samples=2100, noise=20.0), Truth(fishes([30.0, 33.0], [20.0, 18.0]))


@pytest.mark.parametrize("fish", [0, 1])
def test_the_arch_holds_every_ping_of_the_pass_and_the_range_of_its_own_echo(made, fish):
    x, depth, pings = PLACES[fish]
    found = arch.arch(*made, fish)
    assert found.ping.tolist() == list(pings)
    assert found.peak == pytest.approx([far(x, depth, k) for k in pings], abs=0.006)


def test_echoes_below_the_floor_are_not_in_it(made):
    """The echoes are of -35 dB."""
    assert len(arch.arch(*made, 0, floor=-34.0).ping) == 0
    assert len(arch.arch(*made, 0, floor=-36.0).ping) == 13


def test_a_fish_that_no_beam_holds_has_no_arch(made):
    found = arch.arch(made[0], Truth(fishes(30.0, 10.0, y=15.0)), 0)
    assert (len(found.ping), len(found.peak)) == (0, 0)


def test_what_is_known_around_the_fish_is_asked(made):
    """In ping 60 a known echo as strong as the fish stands all around it; in ping 61 one far weaker."""
    recorded, truth = made
    level = np.array([np.full(COLUMNS, 140.0), np.full(COLUMNS, 40.0)])
    known = Surroundings(np.zeros(2, int), np.zeros(2, int), np.array([60, 61]), level)
    found = arch.arch(recorded, replace(truth, surroundings=known), 0)
    assert found.ping.tolist() == [k for k in range(54, 67) if k != 60]


def judged(*elements):
    """An assessment of some elements, each: letters of marks, arch lengths, pings detected, arch depths."""
    words = {"p": "separated", "s": "merged", "m": "not_shown"}
    return SimpleNamespace(
        elements=[
            SimpleNamespace(
                mark=tuple(words[letter] for letter in letters),
                arch_length=np.array(length, dtype=float),
                pings_detected=np.array(pings),
                arch_depth=np.array(depth, dtype=float),
            )
            for letters, length, pings, depth in elements
        ]
    )


@pytest.mark.parametrize(
    ("elements", "x", "wanted"),
    [
        # Shown by both elements before shown by one, however long; merged is shown too.
        ((("ps", [2, 2], [9, 3], [1, 1]), ("ms", [0, 2], [0, 3], [0, 1])), [5, 5], 1),
        # In more pings of all elements.
        ((("pp", [2, 2], [4, 5], [9, 1]), ("pp", [2, 2], [2, 2], [9, 1])), [5, 5], 1),
        # Whole arches before those cut by the end of the run: half of 6 m from 2 m on is cut, of 3.9 m is not.
        ((("pp", [3.9, 6.0], [3, 9], [1, 1]),), [2, 2], 0),
        ((("pp", [6.0, 3.9], [9, 3], [1, 1]),), [8, 8], 1),
        # An arch that just touches an end is cut.
        ((("pp", [4.0, 3.9], [9, 3], [1, 1]),), [2, 2], 1),
        ((("pp", [4.0, 3.9], [9, 3], [1, 1]),), [8, 8], 1),
        # The longest arch of all elements counts.
        ((("pp", [1.0, 1.0], [9, 3], [1, 1]), ("pp", [6.0, 1.0], [9, 3], [1, 1])), [2, 2], 1),
        # Deeper arms where all else is equal, added over elements; none is as 0.
        ((("pp", [2, 2], [4, 4], [1.0, 1.5]), ("pp", [2, 2], [4, 4], [1.0, 0.2])), [5, 5], 0),
        ((("pp", [2, np.nan], [4, 4], [0.5, np.nan]),), [5, 5], 0),
        # A fish outside the run comes last, an end itself is outside.
        ((("pm", [0, 0], [9, 0], [1, 0]),), [11, 5], 1),
        ((("pm", [0, 0], [9, 0], [1, 0]),), [0, 5], 1),
        ((("pm", [0, 0], [9, 0], [1, 0]),), [10, 5], 1),
    ],
)
def test_the_fish_with_the_best_arch(elements, x, wanted):
    assert arch.best(judged(*elements), np.array(x, dtype=float), (0.0, 10.0)) == wanted


def test_without_fish_there_is_no_best_arch():
    assert arch.best(judged(("", [], [], [])), np.zeros(0), (0.0, 10.0)) is None
