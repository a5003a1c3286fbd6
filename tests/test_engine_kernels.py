"""Compiled kernels against their reference versions in plain numpy."""

import threading

import engine_scene as scene
import numpy as np
import pytest
from pingwright.echograms import levels
from pingwright.echograms.record import ADD_OFFSET, LIMIT, SCALE_FACTOR
from pingwright.engine import geometry, nodes, settings
from pingwright.engine.kernels import noise, plain
from pingwright.engine.kernels.cells import cell_spreader
from pingwright.engine.kernels.over import many_spreader
from pingwright.engine.kernels.spread import spreader
from pingwright.engine.scratch import Scratch
from scipy.integrate import quad

FACES = {
    "over the angle, real": (scene.DISC, (130e3, 210e3)),
    "over the angle, complex": (scene.CAP, (130e3, 210e3)),
    "over the plane, real": (scene.RECTANGLE, (85e3, 135e3)),
    "over the plane, complex": (scene.ARC, (85e3, 135e3)),
    "over the plane, steered": (scene.STEERED, (85e3, 135e3)),
}


@pytest.mark.parametrize("name", FACES)
@pytest.mark.parametrize("bounce", [False, True])
def test_spreading_equals_its_reference_version(name, bounce):
    face, band = FACES[name]
    rng = np.random.default_rng(4)
    points = scene.random_points(400, rng)
    w = scene.world(points, water=scene.layered_water())
    e = scene.element(face, band=band, tilt=(12.0, -7.0))
    run = scene.run_of(w, [e], scene.settings(end=60.0))
    tables, pose = run.tables[0][0], geometry.pose(w.track, 1, e)
    clock = tables.bounce_timing(0.0, 0.5, 1 / 1500.0) if bounce else tables.timing(0.0)
    weight = rng.random(400).astype(np.float32)
    weight[::7] = 0
    fast, slow = np.zeros((2, 2, run.samplings[0].row), np.float32)
    spreader(tables.nodes.half, tables.nodes.slope_pairs, tables.plane, tables.parts)(
        fast, points.position, points.axis, points.amplitude, points.phase, points.law, weight,
        np.array([[0, 150], [150, 400]]), np.ones(2, np.float32), pose, *tables.arguments(clock, tables.gain),
    )  # fmt: skip
    plain.spread_plain(slow, tables, points, weight, pose, clock)
    assert np.abs(slow).max() > 0
    # Single precision: tables, carrier phase and sums each to some 1e-7.
    assert np.abs(fast - slow).max() < 1e-6 * np.abs(slow).max()


def test_a_part_of_larger_arrays_is_spread_as_its_copy_and_gaps_are_refused():
    run = scene.run_of(
        scene.world(scene.random_points(400, np.random.default_rng(5))), [scene.element()], scene.settings()
    )
    points, tables = run.world.discrete.scatterers, run.tables[0][0]
    pose, kernel = (
        geometry.pose(run.world.track, 1, run.elements[0]),
        spreader(tables.nodes.half, tables.nodes.slope_pairs, tables.plane, tables.parts),
    )

    def spread(arrays, count):
        grid = np.zeros((2, run.samplings[0].row), np.float32)
        segments, shares = np.array([[0, count]]), np.ones(1, np.float32)
        kernel(
            grid, *arrays, np.zeros(0, np.float32), segments, shares, pose,
            *tables.arguments(tables.timing(0.0), tables.gain),
        )  # fmt: skip
        return grid

    whole = (points.position, points.axis, points.amplitude, points.phase, points.law)
    for count in (1, 37, 300, 399):
        part = tuple(array[..., :count] for array in whole)
        copy = tuple(np.ascontiguousarray(array) for array in part)
        assert np.any(spread(copy, count) != 0)
        assert np.array_equal(spread(part, count), spread(copy, count))
        assert np.array_equal(spread(whole, count), spread(copy, count))
    for array in range(2):  # for the others the kernel would be compiled anew
        gaps = tuple(a[..., ::2] if n == array else a[..., :200] for n, a in enumerate(whole))
        with pytest.raises(ValueError, match="gaps"):
            spread(gaps, 200)


@pytest.mark.parametrize("count", [1, 15, 256, 700])
def test_cells_equal_their_reference_version(count):
    run = scene.run_of(scene.world(scene.scatterers(np.zeros((3, 0)))), [scene.element()], scene.settings(end=20.0))
    held, grid = run.tables[0][0].nodes, run.samplings[0]
    rng = np.random.default_rng(6)
    rows = held.rows(rng.random((count, 2 * held.half)) + 0.5)
    fast, slow = np.ones((2, 2, grid.row), np.float32)
    cell_spreader(held.half, held.slope_pairs)(fast, rows.ravel(), 40, held.taps, np.uint64(99))
    plain.cells_plain(slow, rows, 40, held, noise.noise_plain(99, np.ones(count, np.float32), 0))
    assert np.abs(slow - 1).max() > 0.1
    assert np.abs(fast - slow).max() < 2e-6 * np.abs(slow).max()  # single precision, and draws to 1e-6


def test_the_last_cell_may_stand_sixteen_samples_before_the_end():
    run = scene.run_of(scene.world(scene.scatterers(np.zeros((3, 0)))), [scene.element()], scene.settings(end=20.0))
    held = run.tables[0][0].nodes
    memory = np.zeros((3, 2, 100), np.float32)
    rows = held.rows(np.ones((60, 2 * held.half)))
    cell_spreader(held.half, held.slope_pairs)(memory[1], rows.ravel(), 24, held.taps, np.uint64(99))
    assert not memory[0].any()
    assert not memory[2].any()
    assert not memory[1, :, :24].any()


def test_noise_equals_its_reference_version():
    scale = np.linspace(0.5, 2.0, 5000).astype(np.float32)
    pair = np.zeros((5000, 2), np.float32)
    noise.add_noise(pair[:2000].reshape(-1), np.uint64(2**63 + 12345), scale[:2000], 0)
    noise.add_noise(pair[2000:].reshape(-1), np.uint64(2**63 + 12345), scale[2000:], 2000)
    plain = noise.noise_plain(2**63 + 12345, scale, 0)
    assert np.abs(pair[:, 0] + 1j * pair[:, 1] - plain).max() < 1e-5


def test_noise_of_two_keys_differs_everywhere():
    scale = np.ones(1000, np.float32)
    assert np.all(noise.noise_plain(1, scale, 0) != noise.noise_plain(2, scale, 0))


def test_packing_equals_its_reference_version():
    rng = np.random.default_rng(5)
    size = 10 ** rng.uniform(-16, 16, 20000)
    echo = (size * np.exp(2j * np.pi * rng.random(20000))).astype(np.complex64)
    echo[:3] = 0
    fast = np.empty(len(echo), np.int16)
    noise.pack(echo, SCALE_FACTOR, ADD_OFFSET, LIMIT, fast)
    plain = levels.pack(echo)
    assert fast[0] == plain[0] == -LIMIT
    # A level half way between two steps may go either way in single precision.
    assert np.abs(fast.astype(int) - plain.astype(int)).max() <= 1
    assert np.mean(fast == plain) > 0.99


@pytest.mark.parametrize("end", [3.0, 60.0, 150.0, 431.7])
def test_the_rows_of_a_grid_hold_every_tap_and_stay_apart(end):
    grid = settings.sampling(scene.element(), scene.settings(end=end))
    assert grid.row >= grid.spread_length + 16
    # Within a multiple of 2 kB, give or take the 64 bytes of a row of taps on either side, stores are mistaken.
    assert 512 <= grid.row * 4 % 2048 <= 1536


def test_scratch_gives_each_thread_memory_of_its_own():
    scratch = Scratch()
    mine = scratch.take("a", (3, 2), np.float32)
    mine[...] = 7
    theirs = []
    other = threading.Thread(target=lambda: theirs.append(scratch.take("a", (6,), np.float32)))
    other.start()
    other.join()
    theirs[0][...] = 1
    again = scratch.take("a", (2, 2), np.float32)
    assert np.shares_memory(again, mine)
    assert np.all(again == 7)
    assert not np.shares_memory(scratch.take("b", (1,), np.int16), mine)


def test_the_windows_spectrum_is_its_integral():
    """exp(beta (sqrt(1 - x^2) - 1)) over 16 taps (Barnett et al. 2019), by scipy's adaptive quadrature."""
    rate = 100e3
    beta = 0.97 * np.pi * 16 * (1 - 1 / 2.5)

    def integral(offset):
        return quad(lambda x: np.exp(beta * (np.sqrt(1 - x * x) - 1)) * np.cos(16 * np.pi * offset / rate * x), -1, 1)[
            0
        ]

    offset = np.linspace(-45e3, 45e3, 13)
    want = np.array([integral(f) for f in offset]) / integral(0.0)
    assert np.abs(nodes.window_spectrum(offset, rate) - want).max() < 1e-8


def test_kernels_made_for_different_tables_have_different_names():
    # Machine code that other processes kept is linked by name: with one name for all, a kernel that calls another
    # was seen to call that of another face.
    made = [(6, (1, 2, 4), False, 1), (6, (1, 2, 4), True, 1), (5, (0, 2, 3), False, 1), (6, (1, 2, 4), False, 2)]
    for maker in (spreader, many_spreader):
        assert len({maker(*one).py_func.__qualname__ for one in made}) == len(made)
    assert spreader(*made[0]).py_func.__qualname__ != spreader(*made[0], checked=True).py_func.__qualname__
