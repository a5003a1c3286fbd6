"""Spheres: limits that hold whatever the material."""

import numpy as np
import pytest
from pingwright.acoustics import sphere

SPEED, RADIUS = 1500.0, 0.01


def frequency(ka):
    return np.asarray(ka) * SPEED / (2 * np.pi * RADIUS)


@pytest.mark.parametrize(("amplitude", "sign"), [(sphere.amplitude_soft, -1.0), (sphere.amplitude_rigid, 1.0)])
def test_a_large_sphere_mirrors_from_its_front(amplitude, sign):
    """Geometrical acoustics (Morse & Ingard 1968, 8.2): +-a/2 e^(-2 i ka) for exp(-i omega t); next term 1/ka."""
    ka = np.array([150.0, 300.3, 400.7])
    wanted = sign * RADIUS / 2 * np.exp(-2j * ka)
    assert np.abs(amplitude(RADIUS, frequency(ka)) - wanted).max() < 0.02 * RADIUS / 2


def test_a_very_stiff_heavy_solid_is_rigid():
    f = frequency([0.5, 2.0, 9.0])
    stiff = sphere.amplitude_elastic(RADIUS, f, 1e6, 1e6, 6e5)
    assert np.abs(stiff) == pytest.approx(np.abs(sphere.amplitude_rigid(RADIUS, f)), rel=1e-4)


def test_a_solid_without_stiffness_in_shear_is_a_fluid():
    f = frequency([0.5, 2.0, 4.0])
    soft = sphere.amplitude_elastic(RADIUS, f, 1.5, 1800.0, 20.0)
    assert soft == pytest.approx(sphere.amplitude_fluid(RADIUS, f, 1.5, 1800.0 / SPEED), rel=2e-2)


def test_a_gas_of_no_mass_is_soft_away_from_resonance():
    f = frequency([0.5, 2.0, 9.0])
    gas = sphere.amplitude_fluid(RADIUS, f, 1e-9, 0.22)
    assert gas == pytest.approx(sphere.amplitude_soft(RADIUS, f), rel=1e-5)


def test_gas_sphere_resonates_where_its_breathing_mode_does():
    """Exact unitarity: at resonance |f| = 1 / k; x = sqrt(3 g h^2) to first order (reference sheet g)."""
    g, h = 0.0012, 0.23
    x = np.linspace(0.012, 0.016, 8001)
    amplitude = np.abs(sphere.amplitude_fluid(RADIUS, frequency(x), g, h))
    peak = np.argmax(amplitude)
    assert x[peak] == pytest.approx(np.sqrt(3 * g * h**2), rel=2e-3)
    assert amplitude[peak] == pytest.approx(RADIUS / x[peak], rel=1e-4)


def test_no_contrast_no_echo():
    assert np.abs(sphere.amplitude_fluid(RADIUS, frequency([0.3, 3.0]), 1.0, 1.0)) == pytest.approx(0.0, abs=1e-15)


def test_band_mean_of_the_copper_sphere():
    """60.0 mm copper, 3.8 kHz around 38 kHz: -33.67 dB (reference sheet g, 0.02)."""
    f = np.linspace(36.1e3, 39.9e3, 401)
    cross_section = np.abs(sphere.amplitude_elastic(0.03, f, 8947 / 1025, 4760.0, 2288.5, 1490.0)) ** 2
    assert 10 * np.log10(cross_section.mean()) == pytest.approx(-33.67, abs=0.02)


def test_one_call_spans_small_and_large_arguments_without_warning():
    f = frequency([0.001, 40.0])
    for amplitude in (
        sphere.amplitude_soft(RADIUS, f),
        sphere.amplitude_rigid(RADIUS, f),
        sphere.amplitude_fluid(RADIUS, f, 1.04, 1.04),
        sphere.amplitude_elastic(RADIUS, f, 14.9, 6853.0, 4171.0),
    ):
        assert np.all(np.isfinite(amplitude))
    alone = sphere.amplitude_rigid(RADIUS, f[:1])
    assert sphere.amplitude_rigid(RADIUS, f)[0] == pytest.approx(alone[0], rel=1e-9)


def test_shape_follows_frequency():
    assert sphere.amplitude_soft(RADIUS, np.full((2, 3), 5e4)).shape == (2, 3)
    assert sphere.amplitude_elastic(RADIUS, 5e4, 14.9, 6853.0, 4171.0).shape == ()


@pytest.mark.parametrize(
    ("mean", "sd", "levels"),
    [
        (0.0, 10.0, (-4.13, -8.65, -10.78)),
        (-4.4, 16.2, (-6.11, -10.82, -12.99)),
        (-5.0, 15.0, (-5.88, -10.57, -12.74)),
    ],
)
def test_tilt_average_of_the_cylinder(mean, sd, levels):
    """Computed, reference sheet g: 3 sd truncation, c 1500, L 0.1 m; 0.02 dB. Why the cylinder is no fish law."""
    z = np.linspace(-3.0, 3.0, 4001)
    density = np.exp(-0.5 * z**2)
    for f, level in zip((38e3, 120e3, 200e3), levels, strict=True):
        lobe = sphere.cylinder_cross_section(mean + sd * z, 0.1, 0.01, SPEED / f)
        ratio = np.sum(density * lobe) / np.sum(density) / sphere.cylinder_cross_section(0.0, 0.1, 0.01, SPEED / f)
        assert 10 * np.log10(ratio) == pytest.approx(level, abs=0.02)


@pytest.mark.parametrize("argument", [0.01, 0.5, 7.0, 300.0])
def test_bessel_functions_are_those_of_a_general_library(argument):
    """Far orders of a small argument are scaled on the way, not lost; orders reach beyond the argument, as in use."""
    from scipy.special import spherical_jn, spherical_yn

    orders = np.arange(int(argument) + 45)
    found = sphere._bessel(orders[:, None].astype(float), np.array([argument]))
    expected = (
        spherical_jn(orders, argument), spherical_yn(orders, argument),
        spherical_jn(orders, argument, derivative=True), spherical_yn(orders, argument, derivative=True),
    )  # fmt: skip
    for ours, theirs in zip(found, expected, strict=True):
        kept = np.isfinite(theirs) & (np.abs(theirs) > 1e-150) & (np.abs(theirs) < 1e150)
        assert kept.sum() > 20
        assert ours[kept, 0] == pytest.approx(theirs[kept], rel=1e-7)


@pytest.mark.parametrize("argument", [1e-4, 1e-2, 0.3])
def test_far_orders_of_a_small_argument_follow_the_series(argument):
    """x^n / (2n + 1)!! (1 - x^2 / (2 (2n + 3)) + ...), Abramowitz & Stegun 1964, 10.1.2; 0 where that underflows."""
    count = 90
    found = sphere._downwards(count + 1, np.array([argument]))[:, 0]
    logarithm = 0.0
    for n in range(count):
        if n:
            logarithm += np.log10(argument) - np.log10(2 * n + 1)
        series = 1 - argument**2 / (2 * (2 * n + 3)) + argument**4 / (8 * (2 * n + 3) * (2 * n + 5))
        if logarithm > -295:
            assert np.log10(found[n]) == pytest.approx(logarithm + np.log10(series), abs=1e-6)
        elif logarithm < -330:
            assert found[n] == 0.0
