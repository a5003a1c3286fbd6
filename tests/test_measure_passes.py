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


@pytest.mark.parametrize(
    ("widths", "lobe"), [((8.5, 20.0), (10.2, 24.0)), ((20.0, 8.5), (24.0, 10.2)), ((40.0, 37.0), (45.0, 44.4)),
                         ((37.0, 40.0), (44.4, 45.0))],
)  # fmt: skip
def test_without_a_pattern_the_lobe_is_1_2_widths_and_45_degrees_at_most(widths, lobe):
    """A disc of one-way width 1.03 wavelengths over its diameter has its null at 1.22: 1.18; 1.2 as stated."""
    about = made_info("high", 0, "high", beamwidth_along=widths[0], beamwidth_across=widths[1])
    two = np.zeros((1, 2))
    assert passes.main_lobe(about, None) == pytest.approx(lobe)
    assert passes.main_lobe(about, BeamPattern(np.array([170e3]), np.array([-1.0, 1.0]), two, two)) == (
        pytest.approx(lobe)
    )


def drawn(*nulls, depth=20.0):
    """Cuts of -1 dB a degree of angle either side with single dips to -`depth` dB at some angles [deg]."""
    angle = np.arange(-60.0, 61.0)
    level = -np.minimum(np.abs(angle), 5.0)
    level[np.isin(angle, nulls)] = -depth
    return angle, level


def test_the_nulls_are_those_of_the_bands_middle_and_of_each_cut():
    """130 to 210 kHz: the cut at 170 kHz, of three."""
    angle, middle = drawn(-12, 12)
    across, other = drawn(-20, 20)[1], drawn(-30, 30)[1]
    beam = BeamPattern(np.array([100e3, 172e3, 210e3]), angle, np.stack([other, middle, other]),
                       np.stack([other, across, other]))  # fmt: skip
    assert passes.main_lobe(made_info("high", 0, "high"), beam) == (12.0, 20.0)


@pytest.mark.parametrize(
    ("nulls", "depth", "end"),
    [
        ((-12, 14), 20.0, 14.0),  # the farther of the two sides
        ((-14, 12), 20.0, 14.0),
        ((-12, -18, 12, 16), 20.0, 12.0),  # the first on each side
        ((-12, 12), 10.0, 12.0),  # 10 dB below the axis is a null ...
        ((-12, 12), 9.9, 45.0),  # ... less is ripple
        ((12,), 20.0, 45.0),  # a side without one
        ((-50, 50), 20.0, 45.0),  # beyond 45 degrees
        ((-12, -13, 12, 13), 20.0, 13.0),  # a flat dip ends where it rises again
        ((-1, 1), 20.0, 1.0),  # next to the axis
    ],
)
def test_the_first_null_of_a_drawn_cut(nulls, depth, end):
    angle, level = drawn(*nulls, depth=depth)
    beam = BeamPattern(np.array([170e3]), angle, level[None], level[None])
    assert passes.main_lobe(made_info("high", 0, "high"), beam) == (end, end)


def test_the_axis_itself_is_inside_and_so_is_the_edge():
    """Directions need not be of length 1; at 90 degrees and behind nothing is inside."""
    assert passes.inside((45.0, 45.0), np.array([2.0, 2.1]), np.zeros(2), np.array([2.0, 2.0])).tolist() == [
        True,
        False,
    ]
    assert passes.inside((45.0, 45.0), np.array([1.0, 0.0]), np.zeros(2), np.array([0.0, -1.0])).tolist() == [
        False, True,
    ]  # fmt: skip


def test_a_pattern_of_three_angles_is_one():
    """It has no null; a pattern of two is none."""
    about = made_info("high", 0, "high")
    three = np.array([[-20.0, 0.0, -20.0]])
    assert passes.main_lobe(about, BeamPattern(np.array([170e3]), np.array([-9.0, 0.0, 9.0]), three, three)) == (45, 45)
