"""Sonar equation, detection, dead zone and noise: inverses, limits and scipy's distributions."""

import math

import numpy as np
import pytest
from pingwright.acoustics import arrays, budget, deadzone, detection, fish, noise


def test_reach_is_where_the_needed_strength_is_the_targets():
    for absorption in (0.0, 1e-4, 0.05, 0.2):
        for strength in (-60.0, -35.0, -10.0):
            depth = budget.reach(224.0, 32.3, strength, absorption, 0.8, 1e-5)
            assert budget.needed_strength(224.0, 32.3, depth, absorption, 0.8, 1e-5) == pytest.approx(
                strength, abs=1e-9
            )


def test_reach_is_continuous_as_absorption_vanishes():
    assert budget.reach(200.0, 30.0, -40.0, 1e-12) == pytest.approx(budget.reach(200.0, 30.0, -40.0, 0.0), rel=1e-6)


def test_reach_of_arrays():
    assert budget.reach(200.0, 30.0, np.array([-40.0, -50.0]), np.array([[0.0], [0.05]])).shape == (2, 2)


def test_target_at_the_reach_is_detected_as_often_as_asked():
    depth = float(budget.reach(220.0, 35.0, -40.0, 0.05))
    snr = float(budget.echo_level_point(220.0, depth, 0.05, -40.0)) - 35.0
    assert float(detection.detection_swerling_1(snr, 1e-4)) == pytest.approx(0.5, abs=1e-9)


def test_smallest_fish_is_detected_at_just_that_depth():
    tilt = fish.tilt_average(-5.0, 15.0)
    length = float(budget.smallest_fish(224.0, 32.3, 150.0, 0.05, 170e3, tilt, strength_floor=-200.0))
    strength = float(fish.strength_love_1971(length, 170e3)) + 10 * math.log10(tilt)
    assert float(budget.reach(224.0, 32.3, strength, 0.05)) == pytest.approx(150.0, rel=1e-9)


def test_noise_behind_the_filter_of_the_design_case():
    """What the project set out from: 61 mm disc, 130 to 210 kHz, 2 ms, 10 kn: 32.3 dB +- 0.2; Hann loses 1.76 dB."""
    from pingwright.acoustics import beam

    wind, thermal = noise.wind_coates(170e3, 10 * 1852 / 3600), noise.thermal(170e3)
    ka = 2 * math.pi * 170e3 / 1500 * 0.0305
    index = arrays.decibels(beam.piston_directivity_factor(ka))
    ambient = noise.power_sum(wind - index, thermal - index)
    assert float(budget.noise_level(ambient, 2e-3, 1.76)) == pytest.approx(32.3, abs=0.2)


def test_pure_noise_passes_the_threshold_as_often_as_stated():
    power = np.random.default_rng(3).exponential(1.0, 400_000)
    passed = np.mean(power > 10 ** (float(detection.threshold(1e-2)) / 10))
    assert passed == pytest.approx(1e-2, abs=5 * math.sqrt(1e-2 / 400_000))


def test_swerling_inverse():
    chance = np.array([0.1, 0.5, 0.9])
    snr = detection.needed_snr_swerling_1(chance, 1e-4)
    assert detection.detection_swerling_1(snr, 1e-4) == pytest.approx(chance)


def test_albersheim_keeps_its_promise_of_0_2_db_from_even_chances_up():
    for false_alarm in (1e-7, 1e-5, 1e-3):
        for chance in (0.5, 0.7, 0.9):
            snr = float(detection.needed_snr_albersheim(chance, false_alarm))
            got = detection.detection_fixed([snr - 0.2, snr + 0.2], false_alarm)
            assert got[0] < chance < got[1]


def test_albersheim_fails_at_small_chances():
    """At 0.1 one look needs 0.9 dB more than it says, though the range is often quoted as 0.1 to 0.9."""
    snr = float(detection.needed_snr_albersheim(0.1, 1e-6))
    assert float(detection.detection_fixed(snr, 1e-6)) < 0.1
    assert float(detection.detection_fixed(snr + 0.9, 1e-6)) == pytest.approx(0.1, abs=1e-3)


def test_rice_is_scipys():
    from scipy.stats import rice

    for g in (0.3, 1.0, 10.0):
        law = rice(b=math.sqrt(2 * g), scale=math.sqrt(1 / (2 * (1 + g))))
        amplitude = np.array([0.2, 1.0, 1.7])
        assert detection.exceedance_rice(amplitude, g) == pytest.approx(law.sf(amplitude), rel=1e-9)
        assert float(detection.mean_amplitude_rice(g)) == pytest.approx(law.mean(), rel=1e-9)


def test_rice_without_a_steady_part_is_rayleigh():
    amplitude = np.linspace(0.0, 3.0, 31)
    assert detection.exceedance_rice(amplitude, 0.0) == pytest.approx(detection.exceedance_rayleigh(amplitude))


def test_rayleigh_levels_in_decibels():
    """Reference sheet l, exact: mean -2.507, sd 5.570, median -1.592 dB re 10 log <A^2>."""
    chance = (np.arange(200_000) + 0.5) / 200_000
    level = 10 * np.log10(-np.log(chance))  # A^2 whose exceedance is `chance`
    assert np.allclose(detection.exceedance_rayleigh(10 ** (level / 20)), chance)
    assert level.mean() == pytest.approx(-2.507, abs=1e-3)
    assert level.std() == pytest.approx(5.570, abs=2e-3)
    assert np.median(level) == pytest.approx(-1.592, abs=1e-3)


def test_blackstock_joins_fubini_and_sawtooth():
    from scipy.special import j1

    below = np.array([0.1, 0.5, 0.9, 1.0])
    assert budget.fundamental_blackstock(below) == pytest.approx(2 * j1(below) / below, rel=1e-9)
    above = np.array([3.0, 5.0, 10.0, 50.0])
    assert budget.fundamental_blackstock(above) == pytest.approx(2 / (1 + above), rel=0.015)
    both = budget.fundamental_blackstock(np.linspace(0.0, 10.0, 1001))
    assert np.all(np.diff(both) < 1e-12)
    assert budget.fundamental_blackstock([[0.5, 2.0]]).shape == (1, 2)


def test_steepening_grows_with_distance_power_and_frequency():
    base = (500.0, 0.0029, 170e3, 60.0, 1026.0, 1500.0)
    loss = float(budget.nonlinear_loss(*base))
    for place, factor in ((0, 2.0), (2, 1.2), (3, 2.0)):
        changed = list(base)
        changed[place] *= factor
        assert float(budget.nonlinear_loss(*changed)) > loss
    assert float(budget.nonlinear_loss(1e-6, *base[1:])) == pytest.approx(0.0, abs=1e-6)
    assert float(budget.nonlinear_loss(500.0, 0.0029, 170e3, 1e-3, 1026.0, 1500.0)) < 0.01


def test_plane_wave_steepens_by_its_path():
    """sigma = beta M k z in the near field."""
    mach = math.sqrt(2 * 500.0 / 0.0029 / (1026.0 * 1500.0)) / 1500.0
    sigma = 3.6 * mach * 2 * math.pi * 170e3 / 1500.0 * 0.2
    expected = -20 * np.log10(budget.fundamental_blackstock(sigma))
    assert budget.nonlinear_loss(500.0, 0.0029, 170e3, 0.2, 1026.0, 1500.0) == pytest.approx(expected, rel=1e-9)


def test_spherical_wave_steepens_by_the_logarithm():
    near = 170e3 * 0.0029 / 1500.0
    mach = math.sqrt(2 * 500.0 / 0.0029 / (1026.0 * 1500.0)) / 1500.0
    sigma = 3.6 * mach * 2 * math.pi * 170e3 / 1500.0 * near * (1 + math.log(20.0 / near))
    expected = -20 * np.log10(budget.fundamental_blackstock(sigma))
    assert budget.nonlinear_loss(500.0, 0.0029, 170e3, 20.0, 1026.0, 1500.0) == pytest.approx(expected, rel=1e-9)


def test_dead_zone_is_where_the_fish_is_farther_than_the_bottom():
    depth, angle = 58.0, 12.0
    height = float(deadzone.height_at_angle(depth, angle))
    assert depth - height == pytest.approx(depth * math.cos(math.radians(angle)))
    offset = float(deadzone.swath(depth, 0.3)) / 2
    assert math.hypot(offset, depth - 0.3) == pytest.approx(depth)


def test_mean_dead_height_is_about_a_quarter_of_the_square():
    assert float(deadzone.mean_height(100.0, 3.5)) == pytest.approx(100.0 * math.radians(3.5) ** 2 / 4, rel=0.01)


def test_slope_within_the_beam_gives_the_perpendicular():
    got = deadzone.nearest_bottom_range(50.0, [0.0, 3.0, 8.0], 5.0)
    expected = [
        50.0,
        50.0 * math.cos(math.radians(3.0)),
        50.0 * math.cos(math.radians(8.0)) / math.cos(math.radians(3.0)),
    ]
    assert got == pytest.approx(expected)


def test_wind_meets_heat_where_the_sheet_says():
    """Reference sheet f: crossover 83.1, 110.3, 164.8, 224.1 kHz at 2.5, 5, 10, 15 m/s."""
    for wind, khz in ((2.5, 83.1), (5.0, 110.3), (10.0, 164.8), (15.0, 224.1)):
        assert float(noise.wind_coates(khz * 1e3, wind)) == pytest.approx(float(noise.thermal(khz * 1e3)), abs=0.02)


def test_rival_wind_curves_stay_within_2_4_db():
    f = np.geomspace(38e3, 250e3, 30)
    assert np.abs(noise.wind_coates(f, 5.0) - noise.wind_zimmer(f, 5.0)).max() < 2.4


def test_ships_are_in_only_when_asked_for():
    quiet, busy = noise.ambient(1e3, 0.0), noise.ambient(1e3, 0.0, 1.0)
    assert busy > quiet
