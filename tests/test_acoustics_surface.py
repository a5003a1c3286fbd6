"""The sea surface from below: at the winds where its laws change, by their formulas as published."""

import math

import pytest
from pingwright.acoustics import surface


@pytest.mark.parametrize(
    ("wind", "variance"),
    [
        (0.0, 0.0034), (0.999, 0.0034),
        (1.0, 4.6e-3 * math.log(2.1)), (1.05, 4.6e-3 * (math.log(2.1) + 2 * math.log(1.05))),
        (10.0, 4.6e-3 * (math.log(2.1) + 2 * math.log(10.0))),
    ],
)  # fmt: skip
def test_slopes_follow_the_logarithm_from_one_metre_a_second_on(wind, variance):
    """APL-UW TR 9407 (1994), section II, as restated elsewhere: 4.6e-3 ln(2.1 U^2)."""
    assert surface.slope_variance(wind) == pytest.approx(variance, rel=1e-12)


@pytest.mark.parametrize(
    ("wind", "loss"),
    [
        (0.0, 0.0), (6.0, 1.26e-3 * 6**1.57 * 30**0.85), (12.0, 1.26e-3 * 12**1.57 * 30**0.85),
        (5.0, 1.26e-3 * 6**1.57 * math.exp(-1.2) * 30**0.85),
        (0.5, 1.26e-3 * 6**1.57 * math.exp(-6.6) * 30**0.85),
    ],
)  # fmt: skip
def test_the_loss_is_a_power_of_wind_from_six_metres_a_second_on(wind, loss):
    assert surface.reflection_loss(30e3, wind) == pytest.approx(loss)
    # At a grazing angle of 30 degrees the path through the bubbles is twice as long.
    assert surface.reflection_loss(30e3, wind, 30.0) == pytest.approx(2 * loss)


def test_facets_straight_up_and_one_slope_off():
    """1 / (4 pi s^2); where tan^2 is s^2, e times less and (1 + s^2)^2 more."""
    square = float(surface.slope_variance(8.0))
    angle = math.degrees(math.atan(math.sqrt(square)))
    top, off = surface.facet_backscatter([0.0, angle], 8.0)
    assert top == pytest.approx(1 / (4 * math.pi * square))
    assert off / top == pytest.approx((1 + square) ** 2 / math.e)
