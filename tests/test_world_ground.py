"""Ground as typed: profiles, grids, patches, what steep faces hide; natural roughness."""

from types import SimpleNamespace

import level_track
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pingwright.acoustics.roughness import relief_variance
from pingwright.engine.kernels import hiding
from pingwright.world import materials, roughness, seabed, shadows, terrain
from pingwright.world.looks import Look
from pingwright.world.volume import Layer

FINE = Look(0.0094, 8.5, 12.0, 0.0, (130e3, 210e3))
FOOT = 0.3048
LEDGE = ((-150 * FOOT, 190 * FOOT), (0.0, 190 * FOOT), (5 * FOOT, 210 * FOOT))


def spec(**changes):
    plain = {
        "depth": None,
        "profile": None,
        "grid": None,
        "slope": SimpleNamespace(along=0.0, across=0.0),
        "relief": None,
        "layer": (SimpleNamespace(sediment="gravel"),),
        "patch": (),
        "roughness": "none",
    }
    return SimpleNamespace(**{**plain, **changes})


steps = st.floats(0.1, 300.0)
depths = st.floats(0.3, 3000.0)


@settings(max_examples=80, deadline=None)
@given(st.lists(st.tuples(steps, depths), min_size=2, max_size=12), st.floats(-200.0, 2000.0), st.floats(0.0, 1.0))
def test_a_profile_is_straight_between_its_points_and_never_beyond_their_depths(rows, start, part):
    x = start + np.cumsum([step for step, _ in rows])
    depth = np.array([deep for _, deep in rows])
    shape = terrain.build(spec(profile=tuple(zip(x, depth, strict=True))), 1)
    tried = np.linspace(x[0] - 100, x[-1] + 100, 501)
    found, along, across = shape.surface(tried, np.zeros_like(tried))
    assert found.min() >= depth.min() - 1e-9
    assert found.max() <= depth.max() + 1e-9
    assert not across.any()
    assert np.all(along[(tried < x[0]) | (tried > x[-1])] == 0.0)
    for k in range(len(x) - 1):
        # Source: the straight line through both points.
        at = x[k] + part * (x[k + 1] - x[k])
        there, slope, _ = shape.surface(np.array([at]), np.zeros(1))
        assert there[0] == pytest.approx(depth[k] + part * (depth[k + 1] - depth[k]), abs=1e-6)
        if part < 1.0 and at < x[k + 1]:
            assert slope[0] == pytest.approx((depth[k + 1] - depth[k]) / (x[k + 1] - x[k]), rel=1e-6)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(steps, min_size=2, max_size=5), st.lists(steps, min_size=2, max_size=5), st.data(),
    st.floats(0.0, 1.0), st.floats(0.0, 1.0),
)  # fmt: skip
def test_a_grid_never_goes_beyond_its_four_nearest_soundings(wide, high, data, u, v):
    x, y = np.cumsum(wide), np.cumsum(high)
    depth = np.array(data.draw(st.lists(depths, min_size=len(x) * len(y), max_size=len(x) * len(y))))
    depth = depth.reshape(len(y), len(x))
    shape = terrain.build(spec(grid=SimpleNamespace(x=x, y=y, depth=depth)), 1)
    for i in range(len(x) - 1):
        for j in range(len(y) - 1):
            at = np.array([x[i] + u * (x[i + 1] - x[i])]), np.array([y[j] + v * (y[j + 1] - y[j])])
            four = depth[j : j + 2, i : i + 2]
            assert four.min() - 1e-9 <= shape.depth(*at)[0] <= four.max() + 1e-9
    on_x, on_y = (g.ravel() for g in np.meshgrid(x, y))
    assert shape.depth(on_x, on_y) == pytest.approx(depth.ravel(), abs=1e-9)


@pytest.mark.parametrize("x", [(-100, 100), (-100, 0, 100), (-100, -50, 0, 100)])
@pytest.mark.parametrize("y", [(-50, 50), (-50, -10, 50)])
def test_a_plane_given_by_its_soundings_is_that_plane(x, y):
    depth = np.array([[40 + 0.05 * a + 0.02 * b for a in x] for b in y])
    grid = SimpleNamespace(x=np.array(x, float), y=np.array(y, float), depth=depth)
    found = terrain.build(spec(grid=grid), 0).surface(np.array([10.0, 50.0]), np.array([5.0, -20.0]))
    assert found[0] == pytest.approx([40.6, 42.1], abs=1e-9)
    assert found[1] == pytest.approx([0.05, 0.05])
    assert found[2] == pytest.approx([0.02, 0.02])


def test_a_ledge_is_as_typed():
    shape = terrain.build(spec(profile=LEDGE), 1)
    x = np.array([-1000.0, -150.0, -0.001, 2.5, 4.999, 5.0, 5.001, 1000.0]) * FOOT
    wanted = np.array([190.0, 190.0, 190.0, 200.0, 209.996, 210.0, 210.0, 210.0])
    assert shape.depth(x, np.zeros_like(x)) / FOOT == pytest.approx(wanted, abs=1e-9)
    assert shape.surface(np.array([1.0]), np.zeros(1))[1] == pytest.approx(4.0)
    assert shape.breaks(-10.0, 10.0) == pytest.approx([0.0, 5 * FOOT])


def sampled(shape, stacks=None, rough=None, x=None):
    path = np.arange(-40.0, 41.0) if x is None else x
    stacks = [[Layer(materials.sediment("gravel"), None)]] if stacks is None else stacks
    return seabed.build(5, shape, stacks, (FINE,), level_track.still(path, np.zeros(len(path)), 0.0), 1490.0, rough)


def test_patches_of_a_steep_face_have_its_area_and_enough_of_them():
    source = sampled(terrain.build(spec(profile=LEDGE), 1))
    tiles = [source.tile(ix, iy) for ix in (-1, 0) for iy in range(-6, 6)]
    x = np.concatenate([t.position[0] for t in tiles])
    area = np.concatenate([t.amplitude for t in tiles]).astype(float) ** 2
    across, face = 12 * source.tile_edge, (x > 0) & (x < 5 * FOOT)
    # Exact: 5 ft wide at a slope of 4 is 5 sqrt(17) ft of face; some 1000 patches there, 3 % each way.
    assert area[face].sum() == pytest.approx(across * 5 * FOOT * np.sqrt(17), rel=0.1)
    assert area[~face].sum() == pytest.approx(across * (2 * source.tile_edge - 5 * FOOT), rel=0.05)
    assert face.sum() / (5 * FOOT) > 5 * (~face).sum() / (2 * source.tile_edge)


def test_a_ledge_hides_its_foot_from_the_high_side_and_not_from_the_low_one():
    shape = terrain.build(spec(profile=LEDGE), 1)
    tree = hiding.build_tree(shadows.faces(shape, 0.1))
    bottom = 210 * FOOT
    points = np.array([[2.0, 6.0, 30.0, -3.0], [0.0, 0.0, 0.0, 0.0], [bottom, bottom, bottom, 190 * FOOT]])
    axis = np.repeat(np.array([[0.0], [0.0], [-1.0]], dtype=np.float32), 4, axis=1)

    def seen(x):
        weight = np.ones(4, np.float32)
        hiding.hide(
            points, axis, np.zeros(4, np.int32), np.array([0], np.uint8), np.array([[0, 4]]), np.array([x, 0.0, 0.0]),
            tree.boxes, tree.child, tree.triangles, hiding.TOLERANCE, weight,
        )  # fmt: skip
        return (weight > 0).tolist()

    # Straight lines over the edge at (0, 190 ft): from 80 m back they meet 210 ft at 80 x 20 / 190 = 8.4 m.
    assert seen(-80.0) == [False, False, True, True]
    assert seen(-10.0) == [True, True, True, True]
    assert seen(40.0) == [True, True, True, True]
    assert shadows.faces(terrain.build(spec(depth=30.0), 1), 0.1) is None


# Patches


def patch(sediment, x=None, y=None, relief=None):
    return SimpleNamespace(sediment=sediment, x=x, y=y, relief=relief)


ROCK, MUD = patch("rock", x=(5.0, 12.0)), patch("mud", x=(10.0, 20.0), y=(0.0, 30.0))


def test_the_last_patch_that_covers_a_place_counts():
    found = spec(depth=30.0, patch=(ROCK, MUD))
    shape = terrain.build(found, 1)
    x, y = np.array([0.0, 6.0, 11.0, 11.0, 15.0, 25.0]), np.array([1.0, 1.0, 1.0, -1.0, -1.0, 1.0])
    assert shape.region(x, y).tolist() == [0, 1, 2, 1, 0, 0]


def test_each_ground_echoes_by_its_own_laws_up_to_a_sharp_edge():
    shape = terrain.build(spec(depth=30.0, patch=(ROCK, MUD)), 1)
    stacks = [[Layer(materials.sediment(name), None)] for name in ("gravel", "rock", "mud")]
    source = sampled(shape, stacks)
    names = [law.name for law in source.laws]
    assert names.count("seabed with volume") == 3  # gravel, rock and mud; mud also without, and its strata
    for ix in range(-1, 3):
        for iy in range(-1, 2):
            tile = source.tile(ix, iy)
            region = shape.region(tile.position[0], tile.position[1])
            first = np.array([stack.first for stack in source.stacks])
            owner = np.searchsorted(first, tile.law, side="right") - 1
            assert np.array_equal(owner, region)
            on_top = np.abs(tile.position[2] - 30.0) < 1e-9
            assert np.sum(tile.amplitude[on_top].astype(float) ** 2) == pytest.approx(source.tile_edge**2, rel=1e-5)


def test_relief_of_a_patch_takes_the_place_of_the_seabeds():
    waves, flat = (SimpleNamespace(height=h, wavelength=3.0, heading=0.0) for h in (0.4, 0.0))
    found = spec(
        depth=30.0, relief=waves, patch=(patch("mud", x=(0.0, 50.0), relief=flat), patch("rock", x=(60.0, 90.0)))
    )
    shape = terrain.build(found, 1)
    x = np.linspace(-50.0, 100.0, 3001)
    depth, along, _ = shape.surface(x, np.zeros_like(x))
    inside = (x > 0) & (x < 50)
    assert np.ptp(depth[inside]) == 0
    assert not along[inside].any()
    assert np.ptp(depth[x < 0]) == pytest.approx(0.4, abs=1e-3)
    assert np.ptp(depth[x > 60]) == pytest.approx(0.4, abs=1e-3)


# Natural roughness


def rough(sediment, depth=58.0, seed=3):
    return roughness.build(spec(depth=depth, roughness="natural"), [materials.sediment(sediment)], seed)


@pytest.mark.parametrize(
    ("sediment", "longest", "rms"), [("gravel", 2.0, 0.021), ("gravel", 5.0, 0.039), ("gravel", 10.0, 0.06)]
)
def test_the_published_spectrum_gives_the_rms_that_independent_code_found(sediment, longest, rms):
    entry = materials.sediment(sediment)
    found = np.sqrt(relief_variance(0.3, longest, entry.roughness_w2, entry.roughness_exponent))
    assert found == pytest.approx(rms, abs=6e-4)


@pytest.mark.parametrize("sediment", ["gravel", "mud"])
def test_heights_have_the_rms_and_the_spectrum_of_the_law(sediment):
    entry, source = materials.sediment(sediment), rough(sediment)
    # Source: the law's integral from 0.3 m to a tenth of the depth. 4 periods of the longest wave a side: 10 %.
    wanted = float(np.sqrt(relief_variance(0.3, 5.8, entry.roughness_w2, entry.roughness_exponent)))
    rng = np.random.default_rng(1)
    x, y = rng.uniform(-500, 500, (2, 60_000))
    heights = source.deeper(x, y, np.zeros(len(x), dtype=np.int64))
    assert heights.std() == pytest.approx(wanted, rel=0.1)
    # The spectrum of a cut through an isotropic surface K^-g is k^(1 - g) far within the band.
    step, count = 0.05, 8192
    along = np.arange(count) * step
    power = 0.0
    for _ in range(60):
        angle, at = rng.uniform(0, np.pi), rng.uniform(-500, 500, 2)
        cut = source.deeper(
            at[0] + along * np.cos(angle), at[1] + along * np.sin(angle), np.zeros(count, dtype=np.int64)
        )
        power = power + np.abs(np.fft.rfft(cut * np.hanning(count))) ** 2
    wave = np.fft.rfftfreq(count, step)
    middle = (wave > 1 / 2.5) & (wave < 1 / 0.7)
    slope = np.polyfit(np.log(wave[middle]), np.log(power[middle]), 1)[0]
    assert slope == pytest.approx(1.0 - entry.roughness_exponent, abs=0.35)
    assert power[wave > 1 / 0.25].sum() < 1e-3 * power.sum()


def test_roughness_is_one_ground_for_all_and_does_not_repeat_along_a_track():
    x = np.arange(0.0, 200.0, 0.1)
    zero = np.zeros(len(x), dtype=np.int64)
    first, again, other = (rough("gravel", seed=s).deeper(x, 0.0 * x, zero) for s in (3, 3, 4))
    assert np.array_equal(first, again)
    assert abs(np.corrcoef(first, other)[0, 1]) < 0.5
    period = round(4 * roughness.longest_wave(58.0) / 0.1)
    assert abs(np.corrcoef(first[:-period], first[period:])[0, 1]) < 0.5
    assert roughness.build(spec(depth=58.0), [materials.sediment("gravel")], 3) is None


def test_roughness_moves_patches_up_and_down_and_leaves_normals_and_areas():
    flat, uneven = (sampled(terrain.build(spec(depth=30.0), 1), rough=r) for r in (None, rough("gravel", 30.0)))
    a, b = flat.tile(0, 0), uneven.tile(0, 0)
    assert np.array_equal(a.axis, b.axis)
    assert np.array_equal(a.amplitude, b.amplitude)
    assert 0.01 < np.std(b.position[2] - a.position[2]) < 0.06
