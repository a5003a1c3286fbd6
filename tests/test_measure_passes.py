"""The main lobe against the nulls of known beams."""

import numpy as np
import pytest
from pingwright.echograms.record import BeamPattern
from pingwright.measure import passes
from tests_made import info as made_info


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
