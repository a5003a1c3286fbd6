"""Seabed: the laws at vertical, at low grazing and between, and what must not leak."""

import dataclasses
import math

import numpy as np
import pytest
from pingwright.acoustics import arrays, roughness, seabed

SIZES = [-1.0, 0.5, 1.5, 2.5, 3.5, 4.5, 6.0, 7.0, 9.0]
SEDIMENTS = [seabed.sediment_from_grain_size(size) for size in SIZES]
ROCK = seabed.Sediment(2.5, 2.5, 0.01374, 0.196, 0.01862, volume_parameter=0.002, lambert_floor_db=-10.0)
COBBLE = seabed.Sediment(2.5, 1.8, 0.01374, 0.273, 0.016, volume_parameter=0.002, lambert_floor_db=-12.0)
GRAVEL = dataclasses.replace(SEDIMENTS[0], lambert_floor_db=-14.0)
ALL = [*SEDIMENTS, ROCK, COBBLE, GRAVEL]
BANDS = np.array([50e3, 85e3, 110e3, 135e3, 170e3, 210e3, 250e3])


def integral(cosine, wavenumber, w2, exponent):
    """Kirchhoff's integral by adaptive quadrature, written from the formula."""
    from scipy.integrate import quad
    from scipy.special import j0

    a, k, sine = exponent / 2 - 1, wavenumber / 100, math.sqrt(1 - cosine**2)
    q = cosine**2 * sine ** (-2 * a) * float(roughness.structure_constant(w2, exponent)) * 2 ** (1 - 2 * a)
    q *= k ** (2 * (1 - a))
    end = (40 / q) ** (1 / (2 * a))
    edges = np.concatenate([[0.0], np.geomspace(1e-6 * end, end, 400)])
    edges = np.concatenate([np.arange(0.0, end, min(2.0, end)), [end]]) if end > 2.0 else edges[[0, -1]]
    parts = [
        quad(lambda u: math.exp(-q * u ** (2 * a)) * j0(u) * u, low, high, epsabs=1e-13, limit=200)[0]
        for low, high in zip(edges[:-1], edges[1:], strict=True)
    ]
    return math.fsum(parts) / (8 * math.pi * (cosine * sine) ** 2)


@pytest.mark.parametrize("degrees", [1.0, 5.0, 15.0, 30.0, 45.0, 70.0])
@pytest.mark.parametrize(
    ("wavenumber", "w2", "exponent"),
    [(210.0, 0.000518, 3.25), (420.0, 0.004446, 3.25), (880.0, 0.01862, 3.25), (420.0, 0.004, 3.6)],
)
def test_kirchhoff_equals_its_integral(degrees, wavenumber, w2, exponent):
    cosine = math.cos(math.radians(degrees))
    exact = integral(cosine, wavenumber, w2, exponent)
    least = 1e-9 if exact < 1e-9 else 0.0  # below it the quadrature's own error rules
    assert float(roughness.kirchhoff(cosine, wavenumber, w2, exponent)) == pytest.approx(exact, rel=1e-5, abs=least)


def test_kirchhoff_is_smooth_where_table_meets_series():
    scale = np.linspace(0.98, 1.02, 41) * 20.0
    assert roughness.stable(scale, 1.25) == pytest.approx(roughness._stable_far(scale, 1.25), rel=1e-6)


def test_kirchhoff_refuses_exponents_outside_its_table():
    for exponent in (2.6, 3.95):
        with pytest.raises(ValueError, match="outside 2.7..3.9"):
            roughness.kirchhoff(1.0, 400.0, 0.004, exponent)


def test_handbook_closed_form_stays_within_1_1_db_of_the_integral():
    """Reference sheet h: 45 to 90 deg grazing, all sediments, 50 to 200 kHz."""
    cosine = np.sin(np.radians(np.linspace(45.0, 90.0, 46)))[:, None]
    wavenumber = 2 * np.pi * np.array([50e3, 100e3, 200e3]) / 1500
    for sediment in SEDIMENTS:
        ratio = roughness.kirchhoff_handbook(cosine, wavenumber, sediment.roughness_w2)
        ratio = ratio / roughness.kirchhoff(cosine, wavenumber, sediment.roughness_w2)
        assert np.abs(arrays.decibels(ratio)).max() <= 1.15


@pytest.mark.parametrize("sediment", ALL)
def test_vertical_is_kirchhoff_plus_volume_plus_floor(sediment):
    """The issue's bar: 0.1 dB for every sediment, no leak of the perturbation."""
    wavenumber = 2 * np.pi * BANDS / 1500
    reflected = abs(complex(seabed.reflection(1.0, sediment.density_ratio, sediment.speed_ratio, sediment.loss))) ** 2
    expected = reflected * roughness.kirchhoff_vertical(wavenumber, sediment.roughness_w2)
    expected = expected + seabed.volume_backscatter(1.0, sediment)
    if sediment.lambert_floor_db is not None:
        expected = expected + 10 ** (sediment.lambert_floor_db / 10)
    got = seabed.backscatter(sediment, [1.0], BANDS)[0]
    assert np.abs(arrays.decibels(got / expected)).max() < 0.001


@pytest.mark.parametrize("sediment", ALL)
def test_within_15_degrees_of_vertical_there_is_no_perturbation(sediment):
    cosine = np.cos(np.radians(np.linspace(0.0, 15.0, 31)))
    wavenumber = 2 * np.pi * BANDS / 1480
    reflected = np.abs(seabed.reflection(1.0, sediment.density_ratio, sediment.speed_ratio, sediment.loss)) ** 2
    expected = reflected * roughness.kirchhoff(cosine[:, None], wavenumber, sediment.roughness_w2)
    if sediment.lambert_floor_db is not None:
        expected = expected + seabed.lambert(cosine, sediment.lambert_floor_db)[:, None]
    assert seabed.surface_backscatter(sediment, cosine, BANDS, 1480.0) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("sediment", [s for s in ALL if s.roughness_w2 < 0.001])
def test_far_off_vertical_soft_bottoms_are_perturbation(sediment):
    cosine = np.cos(np.radians([40.0, 60.0, 75.0]))
    wavenumber = 2 * np.pi * BANDS / 1500
    factor = (
        np.abs(seabed.perturbation_factor(cosine, sediment.density_ratio, sediment.speed_ratio, sediment.loss)) ** 2
    )
    expected = factor[:, None] * roughness.perturbation(cosine[:, None], wavenumber, sediment.roughness_w2)
    assert seabed.surface_backscatter(sediment, cosine, BANDS) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("sediment", SEDIMENTS[5:])
def test_kirchhoff_and_perturbation_meet_on_soft_bottoms(sediment):
    """Reference sheet h: at 70 deg grazing they differ by at most 0.6 dB on silt, mud and clay."""
    cosine = math.sin(math.radians(70.0))
    wavenumber = 2 * np.pi * np.array([50e3, 100e3, 200e3]) / 1500
    ratio = {sediment.density_ratio, sediment.speed_ratio, sediment.loss}
    assert len(ratio) == 3
    args = (sediment.density_ratio, sediment.speed_ratio, sediment.loss)
    kirchhoff = np.abs(seabed.reflection(1.0, *args)) ** 2 * roughness.kirchhoff(
        cosine, wavenumber, sediment.roughness_w2
    )
    small = np.abs(seabed.perturbation_factor(cosine, *args)) ** 2
    small = small * roughness.perturbation(cosine, wavenumber, sediment.roughness_w2)
    assert np.abs(arrays.decibels(small / kirchhoff)).max() <= 0.65


def test_perturbation_equals_the_textbooks_form():
    """The textbook's companion code: (k^4/4) |1 + R|^4 |G|^2 W, G = (1/r - 1)(-cos^2 - P^2/r) + 1 - kappa^2 / r."""
    for sediment in ALL:
        r, nu, loss = sediment.density_ratio, sediment.speed_ratio, sediment.loss
        for grazing in (10.0, 30.0, 60.0, 75.0):
            mu, kappa = math.sin(math.radians(grazing)), (1 + 1j * loss) / nu
            below = complex(seabed.vertical_wavenumber(mu, nu, loss))
            g = (1 / r - 1) * (-(1 - mu**2) - below**2 / r) + 1 - kappa**2 / r
            reflected = complex(seabed.reflection(mu, r, nu, loss))
            wavenumber = 400.0
            relief = float(roughness.spectrum(2 * wavenumber * math.sqrt(1 - mu**2), sediment.roughness_w2))
            textbook = (wavenumber / 100) ** 4 / 4 * abs(1 + reflected) ** 4 * abs(g) ** 2 * relief
            ours = abs(complex(seabed.perturbation_factor(mu, r, nu, loss))) ** 2
            ours *= float(roughness.perturbation(mu, wavenumber, sediment.roughness_w2))
            assert ours == pytest.approx(textbook, rel=1e-9)


def test_perturbation_is_let_in_between_15_and_20_degrees():
    """On clay Kirchhoff has long fallen there: the share is the ramp 3 x^2 - 2 x^3 alone."""
    clay = SEDIMENTS[-1]
    args = (clay.density_ratio, clay.speed_ratio, clay.loss)
    wavenumber = 2 * np.pi * 100e3 / 1500
    for degrees, share in ((15.0, 0.0), (16.25, 0.15625), (17.5, 0.5), (18.75, 0.84375), (20.0, 1.0), (25.0, 1.0)):
        cosine = math.cos(math.radians(degrees))
        steep = abs(complex(seabed.reflection(1.0, *args))) ** 2
        steep *= float(roughness.kirchhoff(cosine, wavenumber, clay.roughness_w2))
        small = abs(complex(seabed.perturbation_factor(cosine, *args))) ** 2
        small *= float(roughness.perturbation(cosine, wavenumber, clay.roughness_w2))
        got = float(seabed.surface_backscatter(clay, [cosine], [100e3])[0, 0])
        assert got == pytest.approx((1 - share) * steep + share * small, rel=1e-6)


def test_laws_share_evenly_where_kirchhoff_is_15_db_down():
    """TR 9407's blend, from memory: one half at that angle, 1 / (1 + e^(-80 x)) away from it by x in sine."""
    from scipy.optimize import brentq

    sand, wavenumber = SEDIMENTS[1], 2 * np.pi * 60e3 / 1500
    args = (sand.density_ratio, sand.speed_ratio, sand.loss)
    vertical = float(roughness.kirchhoff_vertical(wavenumber, sand.roughness_w2))

    def kirchhoff(sine):
        return float(roughness.kirchhoff(math.sqrt(1 - sine**2), wavenumber, sand.roughness_w2))

    meet = brentq(lambda sine: kirchhoff(sine) / vertical - 10**-1.5, 0.05, 0.99)
    assert meet > math.sin(math.radians(20.0))  # so the ramp is past
    for off in (0.0, 0.02, -0.01):
        cosine = math.sqrt(1 - (meet + off) ** 2)
        steep = abs(complex(seabed.reflection(1.0, *args))) ** 2 * kirchhoff(meet + off)
        small = abs(complex(seabed.perturbation_factor(cosine, *args))) ** 2
        small *= float(roughness.perturbation(cosine, wavenumber, sand.roughness_w2))
        share = 1 / (1 + math.exp(-80 * off))
        got = float(seabed.surface_backscatter(sand, [cosine], [60e3])[0, 0])
        assert got == pytest.approx((1 - share) * steep + share * small, rel=1e-3)


def test_law_is_smooth_over_frequency():
    frequency = np.linspace(40e3, 260e3, 2201)
    for sediment in SEDIMENTS:
        level = arrays.decibels(seabed.backscatter(sediment, np.cos(np.radians([5.0, 30.0])), frequency))
        assert np.abs(np.diff(level, 2, axis=1)).max() < 0.003  # no steps from one node to the next


def test_waves_decay_downwards():
    """For exp(-i omega t) the vertical wavenumber's imaginary part is above 0; Y at vertical is R with its phase."""
    assert complex(seabed.vertical_wavenumber(0.3, 1.2, 0.02)).imag > 0.0
    reflected = complex(seabed.reflection(1.0, 1.8, 1.2, 0.3))
    assert complex(seabed.perturbation_factor(1.0, 1.8, 1.2, 0.3)) == pytest.approx(reflected)


def test_fits_change_over_where_the_handbook_says():
    """The branches of TR 9407 do not quite meet: each side of a change is its own polynomial, worked out by hand."""
    sides = {
        1.0: (0.007797 - 0.17057 + 2.3139, -0.0165406 + 0.2290201 - 1.1069031 + 3.0455),
        5.3: (
            -0.0165406 * 5.3**3 + 0.2290201 * 5.3**2 - 1.1069031 * 5.3 + 3.0455,
            -0.0012973 * 5.3 + 1.1565,
        ),
    }
    for size, expected in sides.items():
        assert abs(expected[0] - expected[1]) > 1e-5  # so the two can be told apart
        assert seabed.density_ratio_from_grain_size([size - 1e-9, size]) == pytest.approx(expected, abs=1e-6)
    speeds = (0.002709 - 0.056452 + 1.2778, -0.0014881 + 0.0213937 - 0.1382798 + 1.3425)
    assert seabed.speed_ratio_from_grain_size([1.0 - 1e-9, 1.0]) == pytest.approx(speeds, abs=1e-6)
    assert seabed.roughness_w2_from_grain_size([5.0]) == pytest.approx([0.00207 * 0.25])
    assert seabed.roughness_w2_from_grain_size([4.999]) == pytest.approx(0.00207 * 0.25, rel=1e-3)
    by_hand = [0.9431 - 0.2041 * 9.499 + 0.0117 * 9.499**2, 0.0601]
    assert seabed.attenuation_from_grain_size([9.499, 9.5]) == pytest.approx(by_hand, abs=1e-7)
    for size, expected in {
        2.6: (0.4556 + 0.0245 * 2.6, 0.1978 + 0.1245 * 2.6),
        4.5: (0.1978 + 0.1245 * 4.5, 8.0399 - 2.5228 * 4.5 + 0.20098 * 4.5**2),
        6.0: (8.0399 - 2.5228 * 6 + 0.20098 * 36, 0.9431 - 0.2041 * 6 + 0.0117 * 36),
    }.items():
        assert abs(expected[0] - expected[1]) > 5e-4
        assert seabed.attenuation_from_grain_size([size - 1e-9, size]) == pytest.approx(expected, abs=1e-6)


def test_perturbation_alone_diverges_at_vertical():
    assert np.isinf(roughness.perturbation(1.0, 400.0, 0.005))


@pytest.mark.parametrize("sediment", ALL)
def test_law_is_smooth_and_finite_over_all_angles(sediment):
    cosine = np.cos(np.linspace(0.0, np.pi / 2, 2000))
    level = seabed.backscatter(sediment, cosine, np.array([100e3, 210e3]))
    assert np.all(np.isfinite(level))
    assert np.all(level >= 0.0)
    steps = np.abs(np.diff(arrays.decibels(level[:1900]), axis=0))
    assert steps.max() < 0.35  # dB per 0.045 deg; the soft ones fall 10 dB in the first 2 degrees


def test_behind_the_surface_there_is_silence():
    assert np.all(seabed.backscatter(ROCK, [-1.0, -0.2, 0.0], BANDS) == 0.0)


def test_shape_is_angle_by_frequency():
    assert seabed.backscatter(ROCK, np.linspace(0, 1, 7), BANDS).shape == (7, len(BANDS))
    assert seabed.backscatter(ROCK, 1.0, 1e5).shape == (1, 1)


def test_rock_echoes_most_and_mud_least_over_a_wide_beam():
    """Common practice, no source: energy falls rock > cobble > gravel > medium sand > mud, rock over mud by 10 dB."""
    cosine = np.cos(np.radians(np.linspace(0.0, 30.0, 301)))
    solid = np.sqrt(1 - cosine**2)
    energy = [
        (seabed.backscatter(sediment, cosine, BANDS) * (solid * cosine**4)[:, None]).sum(axis=0)
        for sediment in (ROCK, COBBLE, GRAVEL, SEDIMENTS[2], SEDIMENTS[6])
    ]
    assert np.all(np.diff(energy, axis=0) < 0.0)
    assert np.all(energy[0] > 10 * energy[-1])


def test_volume_needs_loss():
    with pytest.raises(ValueError, match="above 0"):
        seabed.volume_backscatter(1.0, dataclasses.replace(ROCK, loss=0.0))
    assert np.all(
        seabed.volume_backscatter([0.5, 1.0], dataclasses.replace(ROCK, loss=0.0, volume_parameter=0.0)) == 0.0
    )


def test_grain_sizes_outside_the_fits_are_refused():
    for size in (-1.01, 9.01):
        with pytest.raises(ValueError, match="outside -1..9"):
            seabed.sediment_from_grain_size(size)


def test_layer_tends_to_its_parts():
    """Thick and lossy: the upper boundary alone; no contrast above: the lower one with its phase."""
    assert seabed.reflection_layered(0.06, 0.3, 50j) == pytest.approx(0.06)
    assert seabed.reflection_layered(0.0, 0.3, 1.0) == pytest.approx(0.3 * np.exp(1j))


def test_reflection_reaches_minus_one_at_grazing():
    assert complex(seabed.reflection(0.0, 1.8, 1.2, 0.01)) == pytest.approx(-1.0)


def test_gaussian_slopes_conserve_energy():
    """Integral of sigma cos over the half space is |R|^2 / 4 for small slopes: the facets' own solid angle."""
    cosine = np.cos(np.linspace(0.0, np.pi / 2, 20_001))
    angle = np.linspace(0.0, np.pi / 2, 20_001)
    density = roughness.gaussian_slopes(cosine, 5.0) * np.sin(angle) * 2 * np.pi
    assert np.sum(density) * angle[1] == pytest.approx(0.25, rel=0.02)


@pytest.mark.parametrize(("wavenumber", "w2", "exponent"), [(50.0, 0.004, 3.25), (400.0, 0.004, 3.25), (5.0, 0.2, 3.0)])
def test_where_kirchhoff_has_fallen_by_15_decibels(wavenumber, w2, exponent):
    """Read between angles of a table; where it never falls as far, nowhere."""
    fallen, never = (
        seabed._sine_where_kirchhoff_has_fallen(np.array([k]), relief)[0]
        for k, relief in ((wavenumber, (w2, exponent)), (2000.0, (5.0, 2.8)))
    )
    at = roughness.kirchhoff([1.0, np.sqrt(1 - fallen**2)], wavenumber, w2, exponent)
    assert 10 * np.log10(at[1] / at[0]) == pytest.approx(-15.0, abs=0.05)
    assert never == np.inf


@pytest.mark.parametrize(("power", "usable"), [(0.69, False), (0.7, True), (1.9, True), (1.91, False)])
def test_the_table_of_the_stable_density_holds_from_0_7_to_1_9(power, usable):
    """At 0 the integral of exp(-v^p) v is Gamma(2/p) / p."""
    if usable:
        assert roughness.stable(0.0, power) == pytest.approx(math.gamma(2 / power) / power, rel=1e-5)
    else:
        with pytest.raises(ValueError, match=r"outside 2\.7\.\.3\.9"):
            roughness.stable(0.0, power)


@pytest.mark.parametrize("power", [0.7, 0.75, 1.25])
@pytest.mark.parametrize("argument", [6.0, 19.0, 19.99])
def test_the_stable_density_is_its_integral_up_to_the_end_of_its_table(power, argument):
    """By a general library. Once 1 % off at an exponent of 2.72, and no number at 2.7: J0 swings fast near 0."""
    from scipy import integrate, special

    end = 37.0 ** (1 / power)
    exact = integrate.quad(
        lambda v: math.exp(-(v**power)) * special.j0(argument * v) * v, 0.0, end, limit=4000, epsabs=1e-13, epsrel=1e-9
    )[0]
    assert roughness.stable(argument, power) == pytest.approx(exact, rel=2e-6)
