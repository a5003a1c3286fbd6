"""The rule of a pass against brute force over all outcomes, the exact binomial, and the nulls of known beams."""

import itertools

import numpy as np
import pytest
from pingwright.echograms.record import BeamPattern
from pingwright.measure import passes
from tests_made import info as made_info


def row_of(hits):
    return bool(passes.in_pass(np.array(hits, dtype=bool)))


@pytest.mark.parametrize(
    ("hits", "met"),
    [
        ([1, 1, 1], True), ([1, 0, 1, 0, 1], True), ([0, 1, 1, 0, 0, 1], False), ([1, 1, 0, 0, 1, 1], False),
        ([1, 0, 0, 1, 1, 0, 1], True), ([1, 1], False), ([], False),
    ],
)  # fmt: skip
def test_three_hits_with_at_most_one_missed_between(hits, met):
    assert row_of(hits) is met


def test_separated_needs_three_pings_of_one_row_of_detections():
    shown = np.array([1, 1, 1, 1, 1, 0, 0, 1, 1, 1], dtype=bool)
    assert passes.in_pass(shown, np.array([1, 0, 0, 1, 1, 0, 0, 0, 0, 0], dtype=bool))
    assert not passes.in_pass(shown, np.array([1, 0, 0, 1, 0, 0, 0, 1, 1, 0], dtype=bool))


def spelt_out(detected, counted):
    """The same rule written as a regular walk over one outcome: 0 missed, 1 shown, 2 shown and counting."""
    total = 0.0
    for outcome in itertools.product((0, 1, 2), repeat=len(detected)):
        p = np.prod([(1 - d, d - c, c)[o] for o, d, c in zip(outcome, detected, counted, strict=True)])
        rows, row, missed = [], 0, 0
        for o in outcome:
            missed = missed + 1 if o == 0 else 0
            if missed == 2:
                rows.append(row)
                row = 0
            row += o == 2
        total += p * (max([*rows, row]) >= 3)
    return total


def test_the_chance_is_that_of_all_outcomes_added_up():
    rng = np.random.default_rng(1)
    detected = rng.random((2, 7))
    counted = detected * rng.random((2, 7))
    for d, c in zip(detected, counted, strict=True):
        assert passes.chance(d) == pytest.approx(spelt_out(d, d), abs=1e-12)
        assert passes.chance(d, c) == pytest.approx(spelt_out(d, c), abs=1e-12)


def test_the_chance_of_three_pings_is_the_cube_and_agrees_with_draws():
    assert passes.chance(np.full(3, 0.3)) == pytest.approx(0.027, abs=1e-12)
    rng = np.random.default_rng(2)
    p = np.array([0.1, 0.3, 0.6, 0.6, 0.3, 0.1, 0.4, 0.2])
    share = passes.in_pass(rng.random((40_000, 8)) < p).mean()
    assert share == pytest.approx(float(passes.chance(p)), abs=4 * np.sqrt(0.25 / 40_000))


def disc(ka):
    from scipy.special import j1

    angle = np.linspace(-90, 90, 721)
    x = ka * np.sin(np.radians(angle)) + 1e-9
    level = 20 * np.log10(np.abs(2 * j1(x) / x) + 1e-12)[None]
    return BeamPattern(np.array([170e3]), angle, level, level)


def test_the_main_lobe_of_a_disc_ends_where_its_bessel_function_is_zero():
    # First zero of J1: 3.8317 (Abramowitz & Stegun 1964, table 9.5).
    lobe = passes.main_lobe(made_info("high", 0, "high"), disc(21.0))
    assert lobe[0] == pytest.approx(np.degrees(np.arcsin(3.8317 / 21.0)), abs=0.25)


def test_a_beam_without_a_null_ends_at_45_degrees():
    angle = np.linspace(-90, 90, 721)
    level = (-0.5 * (angle / 30) ** 2)[None]
    beam = BeamPattern(np.array([170e3]), angle, level, level)
    assert passes.main_lobe(made_info("high", 0, "high"), beam) == (45.0, 45.0)


def test_the_lobe_is_an_ellipse_of_angles():
    lobe = (10.0, 30.0)
    turn = np.radians(np.array([9.9, 10.1]))
    zero = np.zeros(2)
    assert passes.inside(lobe, np.sin(turn), zero, np.cos(turn)).tolist() == [True, False]
    assert passes.inside(lobe, zero, np.sin(3 * turn), np.cos(3 * turn)).tolist() == [True, False]
    assert passes.inside(lobe, np.zeros(1), np.zeros(1), np.ones(1)).tolist() == [True]
