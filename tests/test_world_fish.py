"""Fish, schools and targets: strength over tilt and band, highlights, places, swimming."""

from dataclasses import replace
from types import SimpleNamespace

import level_track
import numpy as np
import pytest
from pingwright.acoustics import fish as formulas
from pingwright.acoustics import shapes
from pingwright.errors import ScenarioError
from pingwright.world import (
    fish,
    highlights,
    materials,
    posture,
    scattering_layers,
    strength,
    structure,
    target,
    terrain,
    water,
)
from pingwright.world.gather import Gathering

FREQUENCIES = (38e3, 70e3, 120e3, 170e3, 210e3)
TILT = (-5.0, 15.0)


def tilted(law, tilt, frequency, count=200_000):
    """Return the mean cross-section [m2] over tilts N(mean, sd), seen from straight above."""
    rng = np.random.default_rng(1)
    axis = fish.long_axis(rng.normal(*tilt, count), rng.uniform(0, 360, count))
    cosine = np.abs(axis[2])
    table = law.amplitude(np.linspace(0, 1, 2001), np.array([frequency]))[:, 0]
    return float(np.mean(np.interp(cosine, np.linspace(0, 1, 2001), table) ** 2))


# Strength


@pytest.mark.parametrize("frequency", FREQUENCIES)
@pytest.mark.parametrize("name", ["love-1971", "love-1977"])
@pytest.mark.parametrize(("swimbladder", "intercept"), [("closed", -67.4), ("open", -71.9)])
def test_mean_strength_over_natural_tilt_is_near_the_published_regressions(frequency, name, swimbladder, intercept):
    # Source: Foote 1987, JASA 82, 981-987, mean over tilt. Within 3 dB, as the issue asks; an open bladder at 30 m, in
    # the middle of the depths where herring were measured (that depth is an estimate).
    model = strength.model(name, swimbladder, TILT, 30.0, 1490.0)
    for length in (0.2, 0.3, 0.4, 0.6):
        deep = model.factor(np.array([length]), np.array([30.0]), length, frequency)[0]
        mean = 10 * np.log10(tilted(model.law(length, points=True), TILT, frequency) * deep**2)
        assert mean == pytest.approx(20 * np.log10(100 * length) + intercept, abs=3.0)


MEANS = [name for name in formulas.MODELS if name not in formulas.PEAK_MODELS and not name.endswith(" open")]


@pytest.mark.parametrize("name", MEANS)
@pytest.mark.parametrize("tilt", [(-5.0, 15.0), (-4.4, 16.2), (0.0, 5.0), (-2.0, 12.0)])
def test_models_that_are_means_average_to_themselves_over_the_groups_own_tilt(name, tilt):
    model = strength.model(name, "closed" if name == "foote-1987" else "none", tilt, 20.0, 1490.0)
    for frequency in (38e3, 170e3):
        wanted = float(model.formula(np.array([0.3]), np.array([frequency]))[0])
        assert 10 * np.log10(tilted(model.law(0.3, points=True), tilt, frequency)) == pytest.approx(wanted, abs=0.05)
        assert model.strength(np.array([0.3]), np.array([0.0]), frequency)[0] == pytest.approx(wanted, abs=1e-9)


def test_peak_models_stand_at_broadside_and_average_4_db_lower():
    model = strength.model("love-1971", "closed", TILT, 20.0, 1490.0)
    peak = model.law(0.3).amplitude(np.zeros(1), np.array([38e3]))[0, 0] ** 2
    # Source: reference sheet, Love 1971 at 30 cm, 38 kHz.
    assert 10 * np.log10(peak) == pytest.approx(-35.21, abs=0.01)
    fall = model.strength(np.array([0.3]), np.array([0.0]), 38e3)[0] - 10 * np.log10(peak)
    assert fall == pytest.approx(-4.0, abs=0.5)
    assert 10 * np.log10(tilted(model.law(0.3, points=True), TILT, 38e3) / peak) == pytest.approx(fall, abs=0.05)


def echoes(model, length, tilt, frequency, rng):
    """Return echo powers (n) of fish at tilts [deg] (n), seen from straight above, their highlights summed by hand."""
    cosine = np.abs(np.sin(np.radians(tilt)))
    where = highlights.places(rng, len(tilt)) * highlights.SPREAD[model.bladder] * length
    turns = 4 * np.pi * frequency / model.sound_speed * where * np.sin(np.radians(tilt))
    table = np.linspace(0, 1, 4001)
    each = np.interp(cosine, table, model.law(length).amplitude(table, np.array([frequency]))[:, 0])
    return (each * np.abs(np.array(highlights.WEIGHTS) @ np.exp(1j * turns))) ** 2


@pytest.mark.parametrize("frequency", FREQUENCIES)
@pytest.mark.parametrize(
    ("name", "swimbladder"), [("love-1971", "closed"), ("foote-1987", "closed"), ("edwards-1984", "none")]
)
def test_an_echo_fades_once_not_twice_over_natural_tilts(frequency, name, swimbladder):
    # Source: a Rayleigh echo has a standard deviation of 5.57 dB and lies 10 dB under its mean in 1 - exp(-0.1) = 0.095
    # of all cases (exact). The mean is the published one. 40,000 draws: 0.03 dB, 0.002.
    model, rng = strength.model(name, swimbladder, TILT, 20.0, 1490.0), np.random.default_rng(3)
    power = echoes(model, 0.4, rng.normal(*TILT, 40_000), frequency, rng)
    level = 10 * np.log10(power)
    assert 10 * np.log10(power.mean()) == pytest.approx(
        model.strength(np.array([0.4]), np.zeros(1), frequency)[0], abs=0.1
    )
    assert level.std() == pytest.approx(5.6, abs=0.55)
    assert 0.088 < np.mean(level < 10 * np.log10(power.mean()) - 10) < 0.13
    closed = model.fading(0.4, frequency)
    assert closed.std() == pytest.approx(level.std(), abs=0.15)


def test_at_broadside_the_echo_is_the_published_one_and_does_not_fade():
    model, rng = strength.model("love-1971", "closed", TILT, 20.0, 1490.0), np.random.default_rng(3)
    level = 10 * np.log10(echoes(model, 0.3, np.zeros(1000), 38e3, rng))
    # Source: reference sheet, Love 1971 at 30 cm, 38 kHz.
    assert np.ptp(level) < 1e-9
    assert level[0] == pytest.approx(-35.21, abs=0.01)


def test_the_lobe_at_broadside_narrows_with_frequency_and_length():
    def width(length, frequency):
        model = strength.model("love-1971", "closed", TILT, 20.0, 1490.0)
        tilt = np.linspace(0, 40, 801)
        law = model.law(length, points=True).amplitude(np.sin(np.radians(tilt)), np.array([frequency]))[:, 0]
        return tilt[np.argmax(20 * np.log10(law / law[0]) < -2)]

    assert width(0.4, 170e3) < 0.6 * width(0.4, 53.5e3)
    assert width(0.8, 53.5e3) < 0.75 * width(0.4, 53.5e3)
    # Source: widths of ray-mode strengths of X-rayed fish of 40 cm with bladder, 53.5 kHz: 3 to 20 degrees in all.
    assert 1.5 < width(0.4, 53.5e3) < 10


def test_length_and_depth_scale_the_law():
    model = strength.model("love-1971", "open", TILT, 20.0, 1490.0)
    factor = model.factor(np.array([0.2, 0.4, 0.2]), np.array([0.0, 0.0, 90.0]), 0.2, 1e5)
    assert 20 * np.log10(factor[1] / factor[0]) == pytest.approx(19.1 * np.log10(2))
    assert 20 * np.log10(factor[2] / factor[0]) == pytest.approx(-2.3)
    closed = strength.model("love-1971", "closed", TILT, 20.0, 1490.0)
    assert np.ptp(closed.factor(np.full(2, 0.2), np.array([0.0, 90.0]), 0.2, 1e5)) == 0


def test_resonance_echoes_alike_on_all_sides_and_is_refused_above_kr_1():
    model = strength.model("love-1978", "closed", TILT, 20.0, 1490.0)
    assert np.ptp(model.law(0.03).amplitude(np.linspace(0, 1, 9), np.array([12e3]))) == 0
    low = SimpleNamespace(band=(10e3, 15e3))
    strength.check_love_1978(SimpleNamespace(element=(low,)), "small fry", 0.05, 1490.0)
    high = SimpleNamespace(band=(130e3, 210e3))
    with pytest.raises(ScenarioError, match=r"k r = \d+\.\d at 210 kHz"):
        strength.check_love_1978(SimpleNamespace(element=(low, high)), "small fry", 0.3, 1490.0)


def test_an_unknown_model_is_a_callers_fault():
    with pytest.raises(ValueError, match="no strength model"):
        strength.model("guess", "closed", TILT, 20.0, 1490.0)


@pytest.mark.parametrize("tilt", [-20.0, -4.0, 3.0, 25.0])
@pytest.mark.parametrize("shape", ["cod", "skipjack-tuna"])
def test_a_measured_shape_echoes_by_its_table_head_up_and_head_down(shape, tilt):
    # Source: ray-mode strengths of the shape, computed by an open library: acoustics.shapes (rows of their own).
    model = strength.model(f"shape-{shape}", "closed", TILT, 20.0, 1490.0)
    one = SimpleNamespace(tilt=np.array([tilt]), yaw=np.array([40.0]))
    placed = fish.Placed(np.array([[0.0], [0.0], [20.0]]), np.array([0.5]), one.tilt, one.yaw, np.array([-1]))
    gathering = Gathering()
    path = level_track.still(np.zeros(3), np.zeros(3), 0.0)
    fish.add(
        gathering,
        "f",
        placed,
        replace(model, tilt=(tilt, 0.0)),
        path,
        bladder=True,
        frequency=7e4,
        rng=np.random.default_rng(1),
    )
    points = posture.split(gathering.discrete())[1].at(0, 0.0, np.zeros(3), 99.0)
    frequency = np.array([50e3, 120e3])
    total = np.zeros(2)
    for k in range(len(points)):
        cosine = -points.axis[2, k : k + 1].astype(float)
        if cosine[0] >= 0:
            total += points.amplitude[k] * gathering.laws[points.law[k]].amplitude(cosine, frequency)[0]
    wanted = shapes.strength_shape(shape, 0.5, frequency, np.array([tilt]))[0]
    assert 20 * np.log10(total) == pytest.approx(wanted, abs=0.02)


def test_a_measured_shape_keeps_its_mean_over_the_groups_own_tilts():
    model = strength.model("shape-striped-bass", "closed", (-10.0, 8.0), 20.0, 1490.0)
    tilt = np.random.default_rng(3).normal(-10, 8, 40_000)
    ratio = shapes.cross_section("striped-bass", tilt, np.array([0.4 * 110e3]))[:, 0]
    wanted = 10 * np.log10(ratio.mean() * 0.4**2)
    assert model.strength(np.array([0.4]), np.zeros(1), 110e3)[0] == pytest.approx(wanted, abs=0.1)


# Places


def ground(depth=30.0, along=0.0):
    slope, layer = SimpleNamespace(along=along, across=0.0), (SimpleNamespace(sediment="mud"),)
    return terrain.build(SimpleNamespace(depth=depth, grid=None, slope=slope, relief=None, layer=layer), 1)


def group(**changes):
    plain = {
        "name": "fish",
        "swimbladder": "closed",
        "length": SimpleNamespace(mean=0.4, sd=0.05),
        "count": 400,
        "density": None,
        "where": SimpleNamespace(x=(-15.0, 15.0), y=(-6.0, 8.0), above_bottom=(0.3, 3.0), depth=None),
        "swimming": SimpleNamespace(speed=0.0, heading=0.0),
    }
    return SimpleNamespace(**{**plain, **changes})


def test_fish_stand_above_a_sloping_bottom_in_their_box():
    shape = ground(along=8.0)
    placed = fish.place(group(), 0, 1, shape, TILT, [])
    height = shape.depth(placed.position[0], placed.position[1]) - placed.position[2]
    assert height.min() >= 0.3 - 1e-9
    assert height.max() <= 3.0 + 1e-9
    assert np.ptp(placed.position[0]) > 25


def test_density_counts_as_a_poisson_number_in_the_box():
    counts = [len(fish.place(group(count=None, density=0.5), 0, s, ground(), TILT, []).length) for s in range(60)]
    volume = 30 * 14 * 2.7
    assert np.mean(counts) == pytest.approx(0.5 * volume, rel=0.02)
    assert np.var(counts) == pytest.approx(0.5 * volume, rel=0.6)


def test_fish_keep_clear_of_the_inside_of_a_wreck_unless_there_is_no_room():
    box = SimpleNamespace(kind="box", length=20.0, width=10.0, height=4.0)
    spec = SimpleNamespace(name="w", shape=box, at=SimpleNamespace(x=0.0, y=0.0, depth=None), heading=0.0)
    wreck = structure.place(spec, ground(), None)
    assert not wreck.contains(fish.place(group(), 0, 1, ground(), TILT, [wreck.contains]).position).any()
    room = SimpleNamespace(x=(-5.0, 5.0), y=(-2.0, 2.0), above_bottom=(0.5, 3.0), depth=None)
    inside = fish.place(group(where=room), 0, 1, ground(), TILT, [wreck.contains])
    assert wreck.contains(inside.position).all()


def test_lengths_are_normal_and_cut_off():
    lengths = fish.lengths(np.random.default_rng(1), 0.4, 0.05, 20_000)
    assert lengths.mean() == pytest.approx(0.4, abs=0.001)
    assert np.all(np.abs(lengths - 0.4) <= 2.5 * 0.05 + 1e-12)
    assert np.ptp(fish.lengths(np.random.default_rng(1), 0.4, 0.0, 10)) == 0


def test_tilts_are_those_of_the_group():
    tilt = fish.place(group(count=20_000), 0, 1, ground(), (-4.4, 16.2), []).tilt
    assert tilt.mean() == pytest.approx(-4.4, abs=0.4)
    assert tilt.std() == pytest.approx(16.2, abs=0.3)


def test_head_down_puts_the_nose_deeper_and_yaw_turns_to_starboard():
    axis = fish.long_axis(np.array([-90.0, 0.0, 0.0]), np.array([0.0, 0.0, 90.0]))
    assert axis == pytest.approx(np.array([[0, 1, 0], [0, 0, 1], [1, 0, 0]]), abs=1e-12)


# Highlights


def added(placed, *, bladder=True, swimming=(0.0, 0.0, 0.0)):
    gathering = Gathering()
    model = strength.model("love-1971", "closed", TILT, 20.0, 1490.0)
    path = level_track.still(np.linspace(-30, 30, 121), np.zeros(121), 0.0)
    stock = fish.add(
        gathering, "fish", placed, model, path, bladder=bladder, swimming=swimming, frequency=1e5,
        rng=np.random.default_rng(7),
    )  # fmt: skip
    return gathering.discrete(), stock


@pytest.mark.parametrize("bladder", [True, False])
def test_highlights_add_up_to_the_fish_and_lie_within_it(bladder):
    placed = fish.place(group(count=50), 0, 1, ground(), TILT, [])
    found, stock = added(placed, bladder=bladder)
    for i in range(50):
        own = found.owner == i
        total = np.sum(found.scatterers.amplitude[own].astype(float))
        assert total == pytest.approx((placed.length[i] / placed.length.mean()) ** (1.91 / 2), rel=1e-5)
        assert np.ptp(found.scatterers.phase[own]) == 0
        apart = found.scatterers.position[:, own] - stock.position[:, [i]]
        assert np.linalg.norm(apart, axis=0).max() <= 0.5 * placed.length[i]
        assert np.abs(np.cross(apart.T, fish.long_axis(stock.tilt[[i]], placed.yaw[[i]]).T)).max() < 1e-9


# Postures


def postures(count=400, sd=15.0, times=(), **keys):
    """Return the swimmers of a group at times [s], as tilts (time, fish) [deg]."""
    placed = fish.place(group(count=count), 0, 1, ground(), (-5.0, sd), [])
    gathering = Gathering()
    model = strength.model("love-1971", "closed", (-5.0, sd), 20.0, 1490.0)
    path = level_track.still(np.linspace(-30, 30, 121), np.zeros(121), 0.0)
    fish.add(gathering, "fish", placed, model, path, bladder=True, frequency=1e5, rng=np.random.default_rng(7), **keys)
    still, moving = posture.split(gathering.discrete())
    assert len(still) == 0
    every = moving.start[:-1]
    return np.array([
        np.degrees(np.arcsin(-moving.at(0, t, np.zeros(3), 1e3).axis[2][every])) for t in times
    ])  # fmt: skip


def test_tilts_wander_from_ping_to_ping_and_keep_the_groups_spread():
    times = np.arange(0.0, 40.0, 0.25)
    tilt = postures(times=times)
    # 15 deg in all: 5 of them over time (assumed), the rest between fish: sqrt(15^2 - 5^2) = 14.1. 400 fish: 4 %.
    assert tilt.std() == pytest.approx(15.0, rel=0.06)
    assert tilt.std(axis=0).mean() == pytest.approx(5.0, rel=0.1)
    own = tilt - tilt.mean(axis=0)
    correlation = [np.mean(own[k:] * own[: len(own) - k]) / np.mean(own**2) for k in (1, 4, 12)]
    assert correlation[0] > 0.85
    assert correlation[1] < 0.5
    assert abs(correlation[2]) < 0.25


def test_a_group_told_to_lie_still_does():
    assert np.ptp(postures(sd=0.0, times=(0.0, 1.0, 7.0)), axis=0).max() < 1e-4


def test_any_ping_may_be_asked_first_and_a_fish_exists_in_its_own_pings_only():
    placed = fish.Placed(
        np.tile([[0.0], [0.0], [20.0]], 3), np.full(3, 0.4), np.zeros(3), np.zeros(3), np.array([0, 4, 8]),
        last=np.array([3, 7, 8]),
    )  # fmt: skip
    found, stock = added(placed)
    moving = posture.split(found)[1]
    assert [len(moving.at(p, 0.1 * p, np.zeros(3), 50.0)) for p in range(10)] == [4] * 9 + [0]
    first, again = moving.at(5, 0.5, np.zeros(3), 50.0), posture.split(found)[1].at(5, 0.5, np.zeros(3), 50.0)
    assert np.array_equal(first.position, again.position)
    assert len(moving.at(5, 0.5, np.array([99.0, 0.0, 0.0]), 50.0)) == 0
    assert stock.at(3.0) == pytest.approx(placed.position)


def test_who_swims_sways_about_its_straight_way():
    placed = fish.place(group(count=300, swimming=SimpleNamespace(speed=1.0, heading=0.0)), 0, 1, ground(), TILT, [])
    found, stock = added(placed, swimming=(1.0, 0.0, 0.0))
    assert stock.at(stock.time) == pytest.approx(stock.position)
    later = stock.at(stock.time + 10.0) - stock.position
    assert later[0] == pytest.approx(10.0)
    # A course that wanders by 15 degrees and forgets it in some 8 s leads some 2 m aside in 10 s.
    assert 0.8 < later[1].std() < 4.0
    moving, time = posture.split(found)[1], float(stock.time[0]) + 2.0
    own = moving.at(0, time, np.zeros(3), 1e3)
    middle = stock.at(time)
    assert np.abs(own.position.mean(axis=1) - middle.mean(axis=1)).max() < 0.05


def test_a_swimming_fish_is_at_its_place_when_the_boat_is_abeam():
    placed = fish.place(group(count=20, swimming=SimpleNamespace(speed=0.8, heading=90.0)), 0, 1, ground(), TILT, [])
    found, stock = added(placed, swimming=(0.8, 90.0, 0.0))
    assert np.all(placed.yaw == 90.0)
    assert stock.velocity[1] == pytest.approx(0.8)
    assert found.velocity[0] == pytest.approx(0.0)
    # The track of 121 pings a second apart runs from -30 to 30 m.
    assert stock.time == pytest.approx((stock.position[0] + 30) * 2)


def test_a_climbing_fish_rises():
    # 0.8 m/s at 30 degrees up: 0.4 m/s towards smaller depth, 0.69 m/s along its heading.
    found, stock = added(fish.place(group(count=3), 0, 1, ground(), TILT, []), swimming=(0.8, 180.0, 30.0))
    assert stock.velocity[:, 0] == pytest.approx([-0.8 * np.sqrt(3) / 2, 0.0, -0.4], abs=1e-9)
    assert found.velocity[2] == pytest.approx(-0.4)


def test_discrete_scatterers_are_sorted_by_x_and_keep_their_owners():
    found, stock = added(fish.place(group(count=30), 0, 1, ground(), TILT, []))
    assert np.all(np.diff(found.scatterers.position[0]) >= 0)
    for i in (0, 17):
        middle = found.scatterers.position[:, found.owner == i].mean(axis=1)
        assert np.linalg.norm(middle - stock.position[:, i]) < 0.1


# Schools


def school(**changes):
    plain = {
        "name": "ball",
        "length": SimpleNamespace(mean=0.12, sd=0.0),
        "at": SimpleNamespace(x=10.0, y=1.0, depth=18.0),
        "size": SimpleNamespace(along=8.0, across=6.0, height=4.0),
        "count": 4000,
        "density": None,
    }
    return SimpleNamespace(**{**plain, **changes})


def test_a_school_keeps_its_count_and_mean_density_and_has_clumps_holes_and_streamers():
    placed = fish.place_school(school(count=40_000), 0, 1, TILT)
    offset = (placed.position - np.array([[10.0], [1.0], [18.0]])) / np.array([[4.0], [3.0], [2.0]])
    radius = np.linalg.norm(offset, axis=0)
    assert len(radius) == 40_000
    # 4 % of the fish are in streamers, part of them beyond the ellipsoid; the edge wanders by 8 %.
    assert 0.9 < np.mean(radius < 1.1) < 0.995
    assert radius.max() > 1.25
    # Even fish would have a mean of radius^3 of 1/2 (exact); a core lowers it a little.
    assert np.mean(radius[radius < 1] ** 3) == pytest.approx(0.48, abs=0.04)
    inside = np.linalg.norm(offset, axis=0) < 0.8
    count = np.histogramdd(offset[:, inside].T, bins=[np.linspace(-0.45, 0.45, 6)] * 3)[0].ravel()
    even = 40_000 * 0.18**3 / (4 / 3 * np.pi)
    assert 10 * np.log10(count.mean() / even) == pytest.approx(0.15, abs=0.4)
    assert count.var() > 4 * count.mean()
    assert count.min() < 0.5 * count.mean()


def test_a_school_dims_by_its_number_and_strength():
    model = strength.model("foote-1987", "closed", TILT, 18.0, 1490.0)
    absorber = scattering_layers.absorber(school(), 4000, 0.12, model)
    density = 4000 / (4 / 3 * np.pi * 4 * 3 * 2)
    sigma = 10 ** ((20 * np.log10(12) - 67.4) / 10)
    assert absorber.extinction(np.array([1e5]))[0] == pytest.approx(density * 2 * 4 * np.pi * sigma)
    assert absorber.semi_axes.tolist() == [4.0, 3.0, 2.0]


# Targets


@pytest.mark.parametrize(
    ("material", "diameter", "sound_speed", "density", "levels"),
    [
        # Source: exact elastic series, two own solutions agreeing to 1e-4 dB (reference sheet g).
        ("tungsten carbide", 0.0381, 1490.0, 1025.0, {38e3: -42.393, 70e3: -41.290, 120e3: -39.481, 200e3: -39.237}),
        ("tungsten carbide", 0.0381, 1500.0, 1025.0, {38e3: -42.417, 70e3: -41.436, 120e3: -39.525, 200e3: -39.055}),
        ("tungsten carbide", 0.0381, 1470.0, 1027.0, {38e3: -42.278, 70e3: -40.934, 120e3: -39.556, 200e3: -39.507}),
        ("copper", 0.0600, 1490.0, 1025.0, {38e3: -33.515}),
        ("copper", 0.0321, 1490.0, 1025.0, {70e3: -39.077}),
        ("copper", 0.0630, 1490.0, 1025.0, {18e3: -34.393}),
        ("copper", 0.0230, 1490.0, 1025.0, {120e3: -40.351}),
        ("copper", 0.0137, 1490.0, 1025.0, {200e3: -45.013}),
    ],
)
def test_spheres_have_their_published_strength(material, diameter, sound_speed, density, levels):
    form = target.form_function(
        diameter, materials.sphere_material(material), density, sound_speed, np.array(list(levels))
    )
    assert 20 * np.log10(np.abs(form)) == pytest.approx(list(levels.values()), abs=0.05)


@pytest.mark.parametrize(("material", "diameter"), [("tungsten carbide", 0.0381), ("copper", 0.06), ("copper", 0.023)])
def test_the_points_of_a_sphere_sum_to_its_form_function(material, diameter):
    bands = [(42e3, 65e3), (85e3, 135e3), (130e3, 210e3)]
    metal = materials.sphere_material(material)
    delay, amplitude = target.sphere_echo(diameter, metal, 1026.0, 1490.0, bands)
    for band in bands:
        frequency = np.linspace(*band, 1001)
        exact = target.form_function(diameter, metal, 1026.0, 1490.0, frequency)
        got = np.exp(-2j * np.pi * frequency[:, None] * delay) @ amplitude
        assert np.sqrt(np.mean(np.abs(got - exact) ** 2) / np.mean(np.abs(exact) ** 2)) < 0.045


def test_a_sphere_reflects_from_its_front_first():
    delay, amplitude = target.sphere_echo(0.06, materials.sphere_material("copper"), 1026.0, 1490.0, [(42e3, 210e3)])
    first = delay[np.abs(amplitude) > 0.5 * np.abs(amplitude).max()][0]
    assert first == pytest.approx(-0.06 / 1490.0, abs=5e-6)


def test_a_target_of_flat_strength_is_that_strong():
    body = water.build(SimpleNamespace(temperature=11.0, salinity=34.5, acidity=8.0, profile=None), 0.0, 50.0)
    spec = SimpleNamespace(name="t", strength=-40.0, sphere=None, at=SimpleNamespace(x=1.0, y=2.0, depth=20.0))
    gathering = Gathering()
    target.add(gathering, spec, body, [(42e3, 210e3)])
    points = gathering.discrete().scatterers
    law = gathering.laws[points.law[0]]
    level = 20 * np.log10(points.amplitude[0] * law.amplitude(np.array([0.3]), np.array([1e5]))[0, 0])
    assert level == pytest.approx(-40.0, abs=1e-5)
    assert points.position[:, 0].tolist() == [1.0, 2.0, 20.0]


# Scattering layer


@pytest.mark.parametrize("kind", ["fluid", "gas", "flat"])
def test_scattering_layer_has_its_stated_strength_at_its_frequency(kind):
    spec = SimpleNamespace(kind=kind, volume_strength=-75.0, frequency=120e3)
    coefficient = scattering_layers._coefficient(spec)
    assert 10 * np.log10(coefficient(np.array([120e3]))[0]) == pytest.approx(-75.0)
    low, high = coefficient(np.array([38e3, 200e3]))
    assert {"fluid": low < high, "gas": low > high, "flat": low == pytest.approx(high)}[kind]


def test_fluid_scattering_layer_rises_with_the_fourth_power_well_below_its_turn():
    ratio = scattering_layers.relative("fluid", np.array([12e3])) / scattering_layers.relative("fluid", np.array([6e3]))
    assert ratio[0] == pytest.approx(16.0, rel=0.01)


def test_the_assumed_laws_of_scattering_layer_are_those_that_are_said():
    # Assumed, and said so: gas falls as f^-0.5, fluid is f^4 / (1 + (f / 60 kHz)^4), half its height at 60 kHz.
    gas, fluid = (scattering_layers.relative(kind, np.array([50e3, 60e3, 200e3, 6e6])) for kind in ("gas", "fluid"))
    assert gas[2] / gas[0] == pytest.approx(0.5)
    assert fluid[1] / fluid[3] == pytest.approx(0.5, rel=1e-6)


def test_tilt_averages_agree_with_the_formulas_own():
    law = strength.model("love-1971", "closed", TILT, 20.0, 1490.0).law(0.3, points=True)
    peak = law.amplitude(np.zeros(1), np.array([1e5]))[0, 0] ** 2
    assert tilted(law, TILT, 1e5) / peak == pytest.approx(formulas.tilt_average(*TILT), rel=0.01)
