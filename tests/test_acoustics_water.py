"""Water against TEOS-10 (gsw) over its whole range, and the models against each other."""

import numpy as np
import pytest
from pingwright.acoustics import absorption, water


@pytest.fixture(scope="module")
def ocean():
    """Temperature, salinity, depth on a grid, and gsw's absolute salinity and pressure there."""
    import gsw

    t, s, d = np.meshgrid(np.linspace(0, 30, 7), np.linspace(0, 40, 9), [0.0, 10.0, 50.0, 200.0, 1000.0])
    pressure = gsw.p_from_z(-d, 45.0)
    return t, s, d, gsw.SA_from_SP(s, pressure, -20.0, 45.0), pressure


def test_sound_speed_agrees_with_teos_10(ocean):
    import gsw

    t, s, d, absolute, pressure = ocean
    error = np.abs(water.sound_speed(t, s, d) - gsw.sound_speed_t_exact(absolute, t, pressure))
    assert error[..., 0].max() < 0.15  # as the docstring states; the models themselves differ so much
    assert error[..., :4].max() < 0.24
    assert error.max() < 0.57


def test_density_agrees_with_teos_10(ocean):
    import gsw

    t, s, d, absolute, pressure = ocean
    assert np.abs(water.density(t, s, d) - gsw.rho_t_exact(absolute, t, pressure)).max() < 0.01


def test_pressure_agrees_with_teos_10_at_all_latitudes():
    import gsw

    depth, latitude = np.meshgrid(np.linspace(1, 1000, 9), np.linspace(-90, 90, 13))
    error = water.pressure_leroy_parthiot(depth, latitude) / 1e4 - gsw.p_from_z(-depth, latitude)
    assert np.abs(error).max() < 0.004  # dbar


def test_salinity_nought_agrees_with_both_fresh_formulas():
    t = np.linspace(0.0, 40.0, 81)
    fresh = water.sound_speed(t, 0.0, 0.0)
    assert np.abs(fresh - water.sound_speed_fresh_bilaniuk_wong(t)).max() < 0.001
    assert np.abs(fresh - water.sound_speed_fresh_marczak(t)).max() < 0.024


def test_models_of_the_sea_agree_within_0_6_to_20_degrees():
    t, s, d = np.meshgrid(np.linspace(0, 20, 7), np.linspace(30, 40, 5), [0.0, 100.0, 500.0, 1000.0])
    ours = water.sound_speed(t, s, d)
    assert np.abs(ours - water.sound_speed_mackenzie(t, s, d)).max() < 0.6
    assert np.abs(ours - water.sound_speed_leroy(t, s, d)).max() < 0.6


def test_warm_and_deep_the_models_part():
    """0.59 m/s at 25 degC, 35, 1000 m on the reference sheet; more beyond, in models each checked digit by digit."""
    warm, hot = water.sound_speed([25.0, 30.0], 35.0, 1000.0) - water.sound_speed_mackenzie([25.0, 30.0], 35.0, 1000.0)
    assert warm == pytest.approx(0.59, abs=0.01)
    assert 0.8 < hot < 0.9


def test_water_falls_in_density_away_from_four_degrees():
    t = np.linspace(0.0, 10.0, 1001)
    assert t[np.argmax(water.density(t, 0.0))] == pytest.approx(3.98, abs=0.02)  # maximum density, textbook value


def test_ainslie_stays_within_a_tenth_of_francois():
    """Stated by Ainslie & McColm 1998: within 10 % over 100 Hz to 1 MHz at 35, pH 8, surface."""
    f, t = np.meshgrid(np.geomspace(100.0, 1e6, 40), np.linspace(-1.0, 30.0, 12))
    ratio = absorption.ainslie_mccolm(f, t, 35.0) / absorption.francois_garrison(f, t, 35.0)
    assert np.abs(ratio - 1.0).max() < 0.10


def test_ainslie_follows_francois_in_acidity_salinity_and_depth():
    f = np.geomspace(1e3, 1e6, 20)
    for salinity, depth, acidity in [
        (35.0, 0.0, 7.7),
        (35.0, 0.0, 8.3),
        (5.0, 0.0, 8.0),
        (40.0, 0.0, 8.0),
        (35.0, 3e3, 8.0),
    ]:
        ours = absorption.francois_garrison(f, 10.0, salinity, depth, acidity)
        theirs = absorption.ainslie_mccolm(f, 10.0, salinity, depth, acidity)
        assert np.abs(theirs / ours - 1.0).max() < 0.12


def test_fresh_water_has_no_relaxations_and_no_warning():
    boric, sulphate, pure = absorption.francois_garrison_parts([50e3, 200e3], 10.0, 0.0)
    assert np.all(boric == 0.0)
    assert np.all(sulphate == 0.0)
    assert np.all(pure > 0.0)
    assert np.all(absorption.ainslie_mccolm([50e3], 10.0, 0.0) > 0.0)


def test_arguments_broadcast():
    assert water.sound_speed(np.zeros((3, 1)), np.zeros(4), 0.0).shape == (3, 4)
    assert water.density(np.zeros((3, 1)), np.zeros(4), 0.0).shape == (3, 4)
    assert absorption.francois_garrison(np.full((3, 1), 1e5), 10.0, 35.0, np.zeros(4)).shape == (3, 4)
