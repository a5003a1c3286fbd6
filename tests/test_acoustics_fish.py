"""Fish: the tilt law and how the models hang together."""

import math

import numpy as np
import pytest
from pingwright.acoustics import arrays, fish, shapes, sphere


@pytest.mark.parametrize(("mean", "sd"), [(-5.0, 15.0), (-4.4, 16.2), (0.0, 5.0), (-30.0, 40.0)])
def test_tilt_average_equals_a_monte_carlo_and_adaptive_quadrature(mean, sd):
    from scipy.integrate import quad

    def density(tilt):
        weight = math.exp(-0.5 * ((tilt - mean) / sd) ** 2) / (sd * math.sqrt(2 * math.pi))
        return weight / (1 + 24 * math.sin(math.radians(tilt)) ** 2) ** 2

    exact = quad(density, mean - 8 * sd, mean + 8 * sd, limit=1000)[0]
    assert fish.tilt_average(mean, sd) == pytest.approx(exact, rel=1e-6)
    tilt = np.random.default_rng(5).normal(mean, sd, 200_000)
    drawn = fish.tilt_factor(np.sin(np.radians(tilt)))
    assert drawn.mean() == pytest.approx(exact, abs=5 * drawn.std() / math.sqrt(len(drawn)))


def test_tilt_average_is_about_4_db():
    """The aim: a geometric spheroid of 5 : 1 loses about 4 dB over N(-5, 15 deg), at every frequency."""
    assert float(arrays.decibels(fish.tilt_average(-5.0, 15.0))) == pytest.approx(-4.0, abs=0.1)


@pytest.mark.parametrize("frequency", [38e3, 70e3, 120e3, 170e3, 210e3])
@pytest.mark.parametrize("length", [0.15, 0.4, 1.0])
def test_maximum_dorsal_and_tilt_stay_within_3_db_of_the_mean_regression(frequency, length):
    """Foote 1987 is a mean over natural tilt at 38 kHz; the aim is 3 dB at every frequency for 40 cm."""
    mean = fish.strength_love_1971(length, frequency) + arrays.decibels(fish.tilt_average(-5.0, 15.0))
    assert float(mean) == pytest.approx(float(fish.strength_foote_physoclist(length)), abs=3.0)


def test_tilt_factor_is_the_spheroid_over_its_broadside():
    cosine = np.linspace(-1.0, 1.0, 41)
    for ratio in (2.0, 5.0, 8.0):
        section = fish.spheroid_cross_section(cosine, ratio, 1.0) / fish.spheroid_cross_section(0.0, ratio, 1.0)
        assert fish.tilt_factor(cosine, ratio) == pytest.approx(section)


def test_rivals_agree_to_6_db():
    """Reference sheet g: the three dorsal regressions differ by 3 to 6 dB, the mean lies 2.6 dB under Love 1971."""
    length, frequency = 0.3, 38e3
    love = float(fish.strength_love_1971(length, frequency))
    assert float(fish.strength_love_1977(length, 1500 / frequency)) == pytest.approx(love, abs=1.0)
    assert float(fish.strength_mccartney_stubbs(length, 1500 / frequency)) == pytest.approx(love, abs=3.0)
    assert love - float(fish.strength_foote_physoclist(length)) == pytest.approx(2.65, abs=0.01)


def test_length_is_the_inverse_of_strength():
    length = np.array([0.01, 0.3, 4.0])
    assert fish.length_love_1971(fish.strength_love_1971(length, 170e3), 170e3) == pytest.approx(length)


def test_resonance_model_is_refused_by_its_guard_where_it_is_wrong():
    assert fish.love_1978_holds(0.002, 100e3)
    assert not fish.love_1978_holds(0.01, 200e3)
    exact = float(sphere.target_strength(sphere.amplitude_soft(0.01, 200e3)))
    assert exact - float(fish.strength_love_1978(0.01, 200e3, 50.0)) == pytest.approx(12.6, abs=0.05)


def test_resonance_model_peaks_at_its_resonance():
    f = np.linspace(300.0, 1500.0, 12_001)
    peak = f[np.argmax(fish.strength_love_1978(0.01, f, 50.0, viscosity=10.0))]
    assert peak == pytest.approx(float(fish.resonance_love_1978(0.01, 50.0)), rel=0.01)


def test_resonance_damping_follows_viscosity_and_sound_speed():
    """At resonance sigma = r^2 H^2 with 1/H = k0 r + xi / (pi r^2 f0 rho)."""
    r, f0 = 0.01, float(fish.resonance_love_1978(0.01, 50.0))
    for viscosity, speed in ((10.0, 1500.0), (50.0, 1450.0)):
        damping = 2 * math.pi * r * f0 / speed + viscosity / (math.pi * r**2 * f0 * 1050.0)
        strength = float(fish.strength_love_1978(r, f0, 50.0, viscosity, speed))
        assert strength == pytest.approx(20 * math.log10(r / damping), abs=1e-9)


def test_tissue_density_lowers_the_resonance():
    assert fish.resonance_love_1978(0.01, 0.0, 4200.0) == pytest.approx(fish.resonance_love_1978(0.01, 0.0) / 2)


def test_prolate_correction_tends_to_one_for_a_sphere():
    assert fish.prolate_correction_weston(0.9999) == pytest.approx(1.0, abs=1e-4)


def test_boyle_shrinks_more_than_herring_did():
    depth = np.array([10.0, 50.0, 200.0])
    assert np.all(fish.depth_term_boyle(depth) < fish.depth_term_herring(depth))


def test_a_shape_is_read_straight_between_tilts_and_held_at_its_ends():
    """By hand: tilts 0.5 deg apart; at the last one the last row alone counts."""

    def at(*tilt):
        return shapes.cross_section("cod", np.array(tilt), np.array([15e3]))[:, 0]

    low, high, third = at(-5.0, -4.5, -5.0 + 0.5 / 3)
    assert third == pytest.approx(low + (high - low) / 3)
    end, beyond, before = at(60.0, 75.0, 59.999)
    assert end == beyond
    assert before == pytest.approx(end, rel=0.01)
    assert low != pytest.approx(high, rel=1e-3)
    with pytest.raises(ValueError, match="unknown shape 'coelacanth'; there are cod"):
        shapes.cross_section("coelacanth", 0.0, 15e3)
    with pytest.raises(ValueError, match="unknown shape"):
        shapes.has_bladder("coelacanth")


def test_every_model_gives_its_own_formula_over_length_and_frequency():
    """Those that know no frequency are alike in shape all the same."""
    length, frequency = np.array([0.2, 0.4]), np.array([38e3, 120e3])
    own = {
        "love-1971": fish.strength_love_1971(length, frequency),
        "love-1977": fish.strength_love_1977(length, 1480.0 / frequency),
        "foote-1987": fish.strength_foote_physoclist(length), "foote-1987 open": fish.strength_foote_clupeoid(length),
        "edwards-1984": fish.strength_mackerel(length),
        "mackerel-in-situ": fish.strength_mackerel_in_situ(length, frequency),
        "kawabata-1999": fish.strength_todarodes(length),
        "benoit-bird-2008": fish.strength_dosidicus(length, frequency),
        "shape-cod": shapes.mean_strength("cod", length, frequency, 1480.0),
        "shape-sardine": shapes.mean_strength("sardine", length, frequency, 1480.0),
    }  # fmt: skip
    assert set(own) <= set(fish.MODELS)
    assert len(fish.MODELS) == 8 + len(shapes.SHAPES)
    for name, expected in own.items():
        assert fish.MODELS[name](length, frequency, 1480.0) == pytest.approx(expected, abs=1e-9), name
        assert fish.MODELS[name](length[:1], frequency, 1480.0).shape == (2,)
