"""Beams: laws that hold for every aperture, against scipy's quadrature and special functions."""

import numpy as np
import pytest
from pingwright.acoustics import beam


@pytest.mark.parametrize("ka", [3.0, 10.0, 26.5])
def test_directivity_is_the_integral_of_the_pattern(ka):
    from scipy.integrate import quad

    def density(angle):
        return float(beam.piston_amplitude(np.degrees(angle), ka)) ** 2 * np.sin(angle)

    power = quad(density, 0.0, np.pi / 2, limit=200)[0]
    assert float(beam.piston_directivity_factor(ka)) == pytest.approx(2.0 / power, rel=1e-8)


def test_width_and_wavenumber_radius_are_inverse():
    width = np.array([5.0, 20.0, 90.0])
    for level in (-3.0, -6.0, -10.0):
        assert beam.piston_width(beam.piston_wavenumber_radius(width, level), level) == pytest.approx(width)


def test_pattern_is_half_power_at_half_the_width():
    for level in (beam.HALF_POWER, -10.0):
        edge = beam.piston_width(12.0, level) / 2
        assert 20 * np.log10(beam.piston_amplitude(edge, 12.0)) == pytest.approx(level, abs=1e-9)


def test_urick_rule_for_the_equivalent_angle():
    """Urick 1983 as quoted by Ona & Vestnes 1985: 10 log psi = 20 log(lambda / 2 pi a) + 7.7."""
    for ka in (12.0, 26.0):
        level = 10 * np.log10(beam.piston_equivalent_beam_angle(ka))
        assert level == pytest.approx(-20 * np.log10(ka) + 7.7, abs=0.1)


def test_near_field_oscillates_between_nought_and_one_inside_the_last_maximum():
    radius, wavelength = 0.03, 0.0088
    z = np.linspace(0.001, beam.last_maximum_distance(radius, wavelength), 20_000)
    pressure = beam.on_axis_amplitude(z, radius, wavelength)
    assert pressure.max() == pytest.approx(1.0, abs=1e-4)
    assert pressure.min() == pytest.approx(0.0, abs=1e-2)
    assert beam.near_field_distance(radius, wavelength) > z[-1]


def test_line_width_is_half_power_and_inverse_of_length():
    width = np.array([10.0, 60.0, 120.0])
    length = beam.line_length(width, 1.0)
    assert beam.line_width(length, 1.0) == pytest.approx(width)
    assert beam.line_amplitude(width / 2, length, 1.0) ** 2 == pytest.approx(0.5, abs=1e-7)
    assert float(beam.line_width(0.3, 1.0)) == 180.0


def test_a_rectangle_is_its_points_added_up():
    """Outside check: many points on the face, added by numpy; midpoint rule, error below 1e-4 at 200 x 200."""
    along, across, wavelength = 0.05, 0.02, 0.0075
    x, y = ((np.arange(200) + 0.5) / 200 - 0.5) * along, ((np.arange(200) + 0.5) / 200 - 0.5) * across
    for first, second in ((0.05, 0.0), (0.0, 0.3), (0.1, 0.2), (0.4, -0.5)):
        turns = (first * x[:, None] + second * y) / wavelength
        added = np.mean(np.exp(2j * np.pi * turns)).real
        assert beam.rectangle_amplitude(first, second, along, across, wavelength) == pytest.approx(added, abs=1e-4)


def test_an_ellipse_is_its_points_added_up_and_a_disc_where_its_axes_are_equal():
    """Outside check: many points on the face, added by numpy; error below 1e-3 at 400 x 400, the edge being ragged."""
    along, across, wavelength = 0.05, 0.02, 0.0075
    x, y = (((np.arange(400) + 0.5) / 400 - 0.5) * side for side in (along, across))
    inside = (2 * x[:, None] / along) ** 2 + (2 * y / across) ** 2 <= 1
    for first, second in ((0.05, 0.0), (0.0, 0.3), (0.1, 0.2), (0.4, -0.5)):
        turns = (first * x[:, None] + second * y) / wavelength
        added = np.exp(2j * np.pi * turns)[inside].mean().real
        assert beam.ellipse_amplitude(first, second, along, across, wavelength) == pytest.approx(added, abs=1e-3)
    disc = beam.piston_amplitude(20.0, np.pi * along / wavelength)
    assert beam.ellipse_amplitude(0.0, np.sin(np.radians(20.0)), along, along, wavelength) == pytest.approx(disc)


def test_line_array_factor_equals_the_general_sum():
    angle = np.linspace(-90.0, 90.0, 361)
    sine = np.sin(np.radians(angle))
    direction = np.stack([sine, np.zeros_like(sine), np.cos(np.radians(angle))], axis=1)
    for count in (2, 3, 5):
        x = (np.arange(count) - (count - 1) / 2) * 0.7
        position = np.stack([x, 0 * x, 0 * x], axis=1)
        general = beam.array_factor(direction, position, [2 * np.pi / 0.4], np.ones(count))
        assert general.shape == (361, 1)
        assert general[:, 0].real == pytest.approx(beam.line_array_factor(angle, count, 0.7, 0.4), abs=1e-9)
        assert general.imag == pytest.approx(0.0, abs=1e-12)


def test_delays_steer_the_array_and_weights_are_normalised():
    position = np.array([[-0.5, 0, 0], [0.0, 0, 0], [0.5, 0, 0]])
    steered = np.radians(20.0)
    direction = [[np.sin(steered), 0.0, np.cos(steered)]]
    delay = position[:, 0] * np.sin(steered)
    value = beam.array_factor(direction, position, [10.0, 50.0], [1.0, 2.0, 1.0], delay)
    assert value == pytest.approx(1.0)
    apart = beam.array_factor([[0.0, 0.0, 1.0]], position, [10.0], [1.0, -1.0, 1.0])
    assert apart[0, 0].real == pytest.approx(1 / 3)


def test_cap_order_follows_its_rule_and_is_a_root():
    from scipy.special import lpmv

    for alpha in (10.0, 30.0, 57.0):
        order = beam.cap_order(alpha)
        assert order == pytest.approx(0.5 * (4.81 / np.radians(alpha) - 1.0), rel=0.01)  # Rogers & Van Buren 1978
        assert lpmv(0, order, np.cos(np.radians(alpha))) == pytest.approx(0.0, abs=1e-9)
    assert beam.cap_order(90.0) == pytest.approx(1.0)  # P1 = cos


def test_legendre_equals_scipy_at_any_order():
    from scipy.special import lpmv

    angle = np.linspace(0.0, 150.0, 31)
    for order in (0.5, 1.9878, 4.0837):
        assert beam.legendre(angle, order) == pytest.approx(lpmv(0, order, np.cos(np.radians(angle))), abs=1e-10)


@pytest.mark.parametrize(("area", "wavelength"), [(0.01, 0.0088), (0.5, 0.03)])
def test_the_beam_of_a_rectangle_in_sterads(area, wavelength):
    """Two directions, each the integral of sinc^4 of (side / wavelength) sine: 2/3 wavelength / side."""
    from scipy import integrate

    one = integrate.quad(lambda x: np.sinc(x) ** 4, 0.0, 50.0, limit=400)[0] * 2
    found = beam.rectangle_equivalent_beam_angle(area, wavelength)
    assert found == pytest.approx(one**2 * wavelength**2 / area, rel=1e-5)
