"""Scenario to world: defaults of the scene, what is built, what is true, worlds for many runs."""

from dataclasses import replace
from types import SimpleNamespace

import level_track
import numpy as np
import pytest
from pingwright.acoustics.water import sound_speed
from pingwright.errors import ScenarioError
from pingwright.inputs.scenario import changed, parse, to_toml
from pingwright.world import build, fish, resolve, truth
from world_lab import LOOKS

TEXT = """
title = "Ore barge on a gravel plain"
seed = 11
[water]
temperature = "11 degC"
salinity = 34.5
wind = "10 kn"
[boat]
speed = "4 kn"
start = "-30 m"
length = "60 m"
transducer_depth = "0.6 m"
[[element]]
name = "high"
use = "high-pencil"
[[element]]
name = "low"
use = "low-pencil"
[seabed]
depth = "58 m"
[[seabed.layer]]
sediment = "gravel"
[[structure]]
name = "ore barge"
shape = { kind = "box", length = "30 m", width = "8 m", height = "4 m" }
at = { x = "0 m", y = "2 m" }
[[fish]]
name = "reef fish"
swimbladder = "closed"
length = { mean = "40 cm", sd = "5 cm" }
count = 12
where = { x = ["-15 m", "15 m"], y = ["-6 m", "8 m"], above_bottom = ["0.3 m", "3 m"] }
swimming = { speed = "0.4 m/s", heading = "60 deg" }
[[school]]
name = "bait ball"
swimbladder = "open"
length = "12 cm"
at = { x = "10 m", y = "0 m", depth = "18 m" }
size = { along = "8 m", across = "6 m", height = "4 m" }
density = "1 per m3"
[[scattering_layer]]
name = "krill"
kind = "fluid"
depth = ["22 m", "27 m"]
volume_strength = "-75 dB"
frequency = "120 kHz"
[[target]]
name = "sphere"
sphere = { material = "tungsten carbide", diameter = "38.1 mm" }
at = { x = "0 m", y = "0 m", depth = "12 m" }
"""


def scenario(**changes):
    plain = parse(TEXT)
    return changed(plain, changes) if changes else plain


@pytest.fixture(scope="module")
def world():
    return build.build(resolve.resolve(scenario()), LOOKS)


# Defaults


def test_every_default_of_the_scene_is_filled_as_the_contract_says():
    found = resolve.resolve(scenario())
    deepest = 2.2 * 58.0
    speed = float(sound_speed(11.0, 34.5, 30.0))
    assert found.window.depth == (0.0, pytest.approx(72.5))
    # The contract: 2 % of the two-way time to the deepest seabed of the run.
    pulse = 0.02 * 2 * 57.4 / speed
    assert found.element[0].pulse.length == pytest.approx(pulse, rel=2e-3)
    assert found.water.assumed_sound_speed == pytest.approx(speed, abs=1.0)
    assert found.boat.ping_interval == pytest.approx(2 * deepest / speed + pulse, rel=1e-3)
    assert found.boat.pings == int(60 / (4 * 1852 / 3600 * found.boat.ping_interval)) + 1
    assert (found.fish[0].tilt.mean, found.fish[0].tilt.sd) == (-4.4, 16.2)
    assert found.fish[0].strength_model == "love-1971"
    assert found.school[0].tilt.sd == 12.0


def test_resolving_twice_changes_nothing_and_the_text_reads_back():
    found = resolve.resolve(scenario())
    assert resolve.resolve(found) == found
    assert parse(to_toml(found)) == found


@pytest.mark.parametrize(
    ("depth", "pulse", "length"),
    [
        (3.0, {}, 0.1e-3),
        (30.0, {}, 0.02 * 2 * 29.4 / 1492.8),
        (2000.0, {}, 10e-3),
        (30.0, {"tone": "170 kHz"}, 0.2e-3),
        (1.6, {"tone": "170 kHz"}, 0.1 * 2 * 1.0 / 1492.3),
        (2000.0, {"length": "1 ms"}, 1e-3),
    ],
)
def test_pulses_are_as_long_as_the_depth_asks(depth, pulse, length):
    """The contract: 2 % of the two-way time, 0.1 to 10 ms; a tone 0.2 ms, or 10 % of that time; a given one stays."""
    changes = {"seabed.depth": depth, "element.1.pulse": pulse, "school": [], "fish": [], "boat.pings": 3}
    found = resolve.resolve(scenario(**changes))
    assert found.element[0].pulse.length == pytest.approx(length, rel=4e-3)


def test_without_a_second_echo_the_interval_ends_with_the_window():
    found = resolve.resolve(scenario(**{"reverberation.second_echo": False}))
    assert found.boat.ping_interval == pytest.approx(2 * 72.5 / 1493.4 + 1.54e-3, rel=1e-3)


def test_what_is_given_stays():
    given = {"boat.ping_interval": "0.5 s", "window.depth": ["5 m", "90 m"], "water.assumed_sound_speed": "1500 m/s"}
    found = resolve.resolve(scenario(**given))
    assert found.boat.ping_interval == 0.5
    assert found.window.depth == (5.0, 90.0)
    assert found.water.assumed_sound_speed == 1500.0


def test_elements_in_turn_share_the_transmissions():
    together, turns = resolve.resolve(scenario()), resolve.resolve(scenario(**{"boat.in_turn": True}))
    assert turns.boat.pings == together.boat.pings // 2
    assert len(build.build(turns, LOOKS).track) == 2 * turns.boat.pings


def test_a_run_aground_is_refused_with_the_depth():
    with pytest.raises(ScenarioError, match=r"comes up to 0\.\d\d m"):
        resolve.resolve(scenario(**{"seabed.depth": "3 m", "seabed.slope.along": "5 deg"}))


# World


def test_the_world_holds_everything_of_the_scenario(world):
    assert len(world.occluders) == len(world.absorbers) == 1
    assert [layer.name for layer in world.scattering_layer] == ["krill", "background"]
    assert [stock.name for stock in world.contents.stocks] == ["reef fish", "bait ball"]
    assert sorted({body.kind for body in world.contents.bodies}) == ["scattering_layer", "school", "target"]
    assert len(np.unique(world.discrete.owner)) == 1 + 12 + len(world.contents.stocks[1])
    assert world.wind_speed == pytest.approx(10 * 1852 / 3600)
    assert world.discrete.scatterers.law.max() < len(world.laws)


def test_laws_are_smooth_enough_for_the_engines_tables(world):
    # 1025 rows in sqrt(1 - cosine) and 16 nodes in the band: linear reading between rows within 0.1 dB of the law where
    # it is within 40 dB of its maximum.
    row = np.linspace(0, 1, 1025)
    between = (row[1:] + row[:-1]) / 2
    for band in ((130e3, 210e3), (42e3, 65e3)):
        frequency = np.linspace(*band, 16)
        for law in world.laws:
            table = law.amplitude(1 - row**2, frequency)
            exact = law.amplitude(1 - between**2, frequency)
            read = (table[1:] + table[:-1]) / 2
            # The last row is grazing incidence, where surfaces fall silent.
            strong = (exact > 0.01 * exact.max()) & (between < row[-2])[:, None]
            assert np.abs(20 * np.log10(read[strong] / exact[strong])).max() < 0.1, law.name


def test_the_same_seed_builds_the_same_world_and_another_another(world):
    again, other = (
        build.build(resolve.resolve(scenario()), LOOKS),
        build.build(resolve.resolve(scenario()), LOOKS, seed=12),
    )
    assert np.array_equal(world.discrete.scatterers.position, again.discrete.scatterers.position)
    assert np.array_equal(world.discrete.scatterers.phase, again.discrete.scatterers.phase)
    assert not np.array_equal(world.seabed.tile(0, 0).phase, other.seabed.tile(0, 0).phase)
    own, new = (w.contents.stocks[0].position for w in (world, other))
    assert not np.array_equal(own, new)


def test_the_second_echo_loses_half_and_the_bottoms_reflection():
    quiet = build.build(resolve.resolve(scenario(**{"reverberation.second_echo": False})), LOOKS)
    lossy = build.build(
        resolve.resolve(scenario(**{"reverberation.surface_loss": "6 dB", "water.wind": "0 m/s"})), LOOKS
    )
    # Gravel's reflection coefficient: 0.5383 (reference sheet h).
    assert quiet.bounce is None
    assert lossy.bounce.gain(np.array([1e5]))[0] == pytest.approx(0.5 * 0.5383 * 10 ** (-6 / 20), rel=1e-3)


def test_a_long_run_costs_no_more_to_build_than_a_short_one():
    long = build.build(resolve.resolve(scenario(**{"boat.length": "20 km"})), LOOKS)
    assert len(long.track) > 50_000
    assert len(long.discrete.scatterers) == len(build.build(resolve.resolve(scenario()), LOOKS).discrete.scatterers)


# Truth


def record(world, depth=0.6, assumed=1500.0, **extra):
    path, info = world.track, {"transducer_depth": depth, "assumed_sound_speed": assumed, "extra": extra}
    info = SimpleNamespace(band_low=130e3, band_high=210e3, **info)
    return SimpleNamespace(info=info, ping_time=path.time, x=path.x, y=path.y, heave=path.heave, pings=len(path))


@pytest.mark.parametrize("tilt", [0.0, 15.0])
@pytest.mark.parametrize(("speed", "climb"), [(0.0, 0.0), (1.5, -10.0), (1.0, 20.0)])
def test_nearest_pings_are_those_whose_axis_passes_nearest(world, tilt, speed, climb):
    # Source: geometry, every ping tried; a tilt turns the axis towards +x. Fish swim with the boat and dive or climb.
    row, stock = record(world, tilt_along=tilt), world.contents.stocks[0]
    velocity = speed * fish.long_axis(np.array([climb]), np.zeros(1))
    stock = replace(stock, velocity=np.repeat(velocity, len(stock), axis=1))
    time = world.track.time
    place = stock.position[:, :, None] + stock.velocity[:, :, None] * (time - stock.time[:, None])
    ahead = place[0] - world.track.x - (place[2] - 0.6) * np.tan(np.radians(tilt))
    assert np.array_equal(truth.nearest_pings(stock, row), np.hypot(ahead, place[1]).argmin(axis=1))


def test_apparent_depth_is_assumed_speed_times_travel_time(world):
    found = truth.build(
        world, resolve.resolve(scenario()), [record(world, assumed=1500.0), record(world, assumed=1450.0)]
    ).fish
    ping = found.nearest_ping[0]
    slant = np.sqrt((found.x - world.track.x[ping]) ** 2 + found.y**2 + (found.depth - 0.6) ** 2)
    true_speed = 1 / world.water.mean_slowness(0.6, found.depth)
    assert found.apparent_depth[0] == pytest.approx(0.6 + slant * 1500 / true_speed, rel=1e-9)
    assert (found.apparent_depth[1] - 0.6) / (found.apparent_depth[0] - 0.6) == pytest.approx(1450 / 1500)


def test_truth_lists_single_fish_with_height_and_strength(world):
    found = truth.build(world, resolve.resolve(scenario()), [record(world)])
    assert len(found.fish.id) == 12
    assert set(found.fish.name) == {"reef fish"}
    assert found.fish.height == pytest.approx(58.0 - found.fish.depth)
    # Love 1971 less about 4 dB for tilt, 40 cm at 170 kHz.
    assert found.fish.strength.mean() == pytest.approx(19.1 * np.log10(40) - 0.9 * np.log10(170) - 62 - 4.2, abs=0.8)
    assert found.structures[0].name == "ore barge"
    assert len(found.soft) == 3


# Many runs


def test_in_a_monte_carlo_world_each_fish_exists_in_its_own_ping():
    found = resolve.resolve(scenario())
    count = 40
    poses = level_track.still(np.zeros(count), np.arange(count) * 2.0, 0.6)
    position = np.stack([np.zeros(count), np.arange(count) * 2.0, np.full(count, 57.0)])
    zero = np.zeros(count)
    placed = fish.Placed(position, np.full(count, 0.4), zero, zero, np.arange(count))
    world = build.monte_carlo(found, poses, placed, found.fish[0], None, LOOKS)
    assert np.array_equal(np.unique(world.discrete.ping), np.arange(-1, count))
    for ping in (0, 17):
        own = world.discrete.ping == ping
        assert np.abs(world.discrete.scatterers.position[1][own] - 2.0 * ping).max() < 0.3
    row = record(world)
    assert np.array_equal(truth.build(world, found, [row]).fish.nearest_ping[0], np.arange(count))


def test_a_monte_carlo_world_has_the_bottom_of_its_seed_under_each_ping():
    found = resolve.resolve(scenario())
    poses = level_track.still(np.zeros(4), np.arange(4) * 2.0, 0.6)
    nobody = fish.Placed(np.zeros((3, 0)), np.zeros(0), np.zeros(0), np.zeros(0), np.zeros(0, dtype=np.int64))
    with_none = build.monte_carlo(found, poses, nobody, found.fish[0], 3, LOOKS)
    again = build.monte_carlo(found, poses, nobody, found.fish[0], 3, LOOKS)
    assert np.array_equal(with_none.seabed.tile(1, 1).position, again.seabed.tile(1, 1).position)
    assert np.all(with_none.discrete.owner == -1)
    assert with_none.track.y.tolist() == [0.0, 2.0, 4.0, 6.0]


def test_motion_by_wind_is_that_of_a_grown_sea():
    # Source: Pierson & Moskowitz 1964 (from memory): 10 m/s raise a sea of 2.14 m and 7.3 s (83 m long).
    found = resolve.resolve(scenario(**{"water.wind": "10 m/s", "boat.motion": "by wind"})).boat
    assert found.heave.period == pytest.approx(7.3, abs=0.05)
    assert found.heave.amplitude == pytest.approx(2.14 / np.sqrt(8) / (1 + (14 / 83.2) ** 2), rel=0.01)
    assert found.pitch.amplitude == pytest.approx(np.degrees(2 * np.pi * found.heave.amplitude / 83.2), rel=0.01)
    kept = resolve.resolve(
        scenario(
            **{"water.wind": "10 m/s", "boat.motion": "by wind", "boat.roll": {"amplitude": "2 deg", "period": "4 s"}}
        )
    )
    assert kept.boat.roll.amplitude == 2.0
    assert resolve.resolve(scenario(**{"water.wind": "10 m/s"})).boat.heave is None


def test_wind_weakens_the_second_echo_by_the_published_loss():
    calm, windy = (
        build.build(resolve.resolve(scenario(**{"water.wind": w})), LOOKS).bounce for w in ("0 m/s", "10 m/s")
    )
    frequency = np.array([50e3, 150e3])
    loss = 20 * np.log10(calm.gain(frequency) / windy.gain(frequency))
    # Source: TR 9407, 1.26e-3 U^1.57 f^0.85 dB at vertical.
    assert loss == pytest.approx(1.26e-3 * 10**1.57 * np.array([50.0, 150.0]) ** 0.85, rel=1e-6)
