"""Water along the path, and the boat's track."""

from types import SimpleNamespace

import numpy as np
import pytest
from pingwright.acoustics.absorption import francois_garrison
from pingwright.acoustics.water import sound_speed
from pingwright.world import resolve, track, water
from scipy.integrate import quad

PLAIN = SimpleNamespace(temperature=11.0, salinity=34.5, acidity=8.0, profile=None)
LAYERED = SimpleNamespace(
    temperature=None,
    salinity=None,
    acidity=8.0,
    profile=SimpleNamespace(
        depth=(0.0, 10.0, 15.0, 60.0), temperature=(18.0, 17.5, 9.0, 7.0), salinity=(30, 30, 34, 35)
    ),
)


def temperature_and_salinity(spec, depth):
    if spec.profile is None:
        return spec.temperature, spec.salinity
    profile = spec.profile
    return np.interp(depth, profile.depth, profile.temperature), np.interp(depth, profile.depth, profile.salinity)


@pytest.mark.parametrize("spec", [PLAIN, LAYERED])
@pytest.mark.parametrize(("top", "bottom"), [(0.6, 58.0), (2.0, 12.3), (30.0, 5.0), (0.0, 90.0)])
def test_mean_slowness_is_the_integral_of_the_published_sound_speed(spec, top, bottom):
    # Source: scipy.integrate.quad over acoustics.water.sound_speed. 1e-6 is 0.06 mm in 58 m.
    body = water.build(spec, top, 100.0)
    integral, _ = quad(
        lambda z: 1 / sound_speed(*temperature_and_salinity(spec, z), z), top, bottom, points=[10, 15, 60]
    )
    assert body.mean_slowness(top, np.array([bottom]))[0] == pytest.approx(integral / (bottom - top), rel=1e-6)


@pytest.mark.parametrize("spec", [PLAIN, LAYERED])
def test_mean_absorption_is_the_integral_of_the_published_absorption(spec):
    # Source: scipy.integrate.quad over Francois & Garrison. Half metre steps: 1e-4 where temperature breaks sharply.
    body, frequency = water.build(spec, 0.0, 100.0), np.array([50e3, 200e3])
    for depth in (12.3, 58.0):
        got = body.mean_absorption(frequency, 0.6, np.array([depth]))[0]
        for f, value in zip(frequency, got, strict=True):

            def loss(z, f=f):
                return francois_garrison(f, *temperature_and_salinity(spec, z), z, 8.0)

            integral, _ = quad(loss, 0.6, depth, points=[10, 15])
            assert value == pytest.approx(integral / (depth - 0.6), rel=1e-4)


def test_means_at_equal_depths_are_the_local_value():
    body = water.build(LAYERED, 0.0, 100.0)
    here = np.array([12.0])
    assert body.mean_slowness(12.0, here)[0] == pytest.approx(1 / body.sound_speed(here)[0], rel=1e-9)
    wide = body.mean_absorption(np.array([2e5]), 11.99, np.array([12.01]))
    assert body.mean_absorption(np.array([2e5]), 12.0, here) == pytest.approx(wide, rel=1e-3)


def test_depths_beyond_the_profile_keep_its_ends():
    body = water.build(LAYERED, 0.0, 80.0)
    assert body.sound_speed(np.array([500.0]))[0] == body.sound_speed(body.nodes[-1:])[0]
    assert np.isfinite(body.mean_slowness(0.0, np.array([-3.0, 500.0]))).all()


def test_assumed_speed_is_depth_over_vertical_travel_time():
    body = water.build(LAYERED, 0.6, 80.0)
    time, _ = quad(lambda z: 1 / sound_speed(*temperature_and_salinity(LAYERED, z), z), 0.6, 70.0, points=[10, 15, 60])
    assert resolve.assumed_speed(body, 0.6, 70.0) == pytest.approx(69.4 / time, rel=1e-6)


def test_fresh_and_sea_water_have_their_densities():
    # Source: reference values of density at 10 degC, TEOS-10: 999.702 and 1026.954 kg/m3.
    for salinity, density in ((0.0, 999.702), (35.0, 1026.954)):
        spec = SimpleNamespace(temperature=10.0, salinity=salinity, acidity=8.0, profile=None)
        assert water.build(spec, 0.0, 10.0).density == pytest.approx(density, abs=0.05)


def boat(**changes):
    plain = {
        "start": -50.0, "speed": 2.0, "ping_interval": 0.25, "transducer_depth": 0.6, "roll": None, "pitch": None,
        "heave": None,
    }  # fmt: skip
    return SimpleNamespace(**{**plain, **changes})


def test_the_boat_runs_along_x_at_its_speed():
    path = track.build(boat(), 201)
    assert path.x[0] == -50.0
    assert path.x[-1] == pytest.approx(50.0)
    assert np.all(path.y == 0.0)
    assert np.all(path.depth == 0.6)


def test_heave_up_lifts_the_transducer_and_motion_is_a_sinusoid():
    swing = SimpleNamespace(amplitude=0.3, period=4.0, phase=90.0)
    path = track.build(boat(heave=swing, roll=SimpleNamespace(amplitude=2.0, period=5.0, phase=0.0)), 100)
    assert path.heave[0] == pytest.approx(0.3)
    assert path.depth == pytest.approx(0.6 - path.heave)
    assert path.roll == pytest.approx(2.0 * np.sin(2 * np.pi * path.time / 5.0))


def test_an_anchored_boat_stays():
    assert np.ptp(track.build(boat(speed=0.0), 50).x) == 0.0


@pytest.mark.parametrize(("length", "speed", "interval", "pings"), [(100.0, 2.0, 0.25, 201), (1.0, 2.0, 1.0, 1)])
def test_pings_of_a_run_fill_its_length(length, speed, interval, pings):
    assert track.pings_of_run(length, speed, interval) == pings


@pytest.mark.parametrize("speed", [5e-324, 1e-300, 1e-9])
def test_a_boat_that_hardly_moves_has_a_countable_run(speed):
    assert track.pings_of_run(30.0, speed, 0.1) == track.COUNTED  # found by fuzz: speed times interval rounded to 0
