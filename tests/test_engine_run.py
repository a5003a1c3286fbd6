"""The engine as a whole: levels and times of points, noise, sameness, hiding, earlier pings, layers, statistics."""

import engine_scene as scene
import numba
import numpy as np
import pytest
from pingwright.engine import channels, settings
from pingwright.engine import simulate as engine
from pingwright.engine.kernels import hiding, noise
from pingwright.engine.kernels.compiled import compiled
from pingwright.world.scatterers import Absorber, Occluder, ScatteringLayer
from scipy import special, stats

KNOT = 1852 / 3600
BANDS = {"high": ((130e3, 210e3), 0.061), "medium": ((85e3, 135e3), 0.067), "low": ((42e3, 65e3), 0.083)}


def peak(echo, when):
    """Return level [dB] and time [s] of the strongest point, by Fourier interpolation around it."""
    near = np.argmax(np.abs(echo))
    low, high = max(near - 128, 0), near + 128
    fine = scene.finer(echo[low:high], 64)
    best = np.argmax(np.abs(fine))
    step = (when[1] - when[0]) / 64
    return 20 * np.log10(np.abs(fine[best])), when[low] + best * step


@pytest.mark.parametrize("name", BANDS)
@pytest.mark.parametrize("distance", [20.0, 75.0, 150.0])
@pytest.mark.parametrize("off", [0.0, 3.0])
def test_a_point_reads_its_sonar_equation_over_the_band(name, distance, off):
    # Source: the integral over the band itself, with scipy's J1 for the piston: S b^2 10^(-2 a r / 20) / r^2, weighted
    # by |P|^2 W. Bars of the issue: 0.1 dB and 2 us.
    band, diameter = BANDS[name]
    e = scene.element({"shape": "disc", "diameter": diameter}, band=band)
    angle = np.radians(off)
    place = np.array([distance * np.sin(angle), 0.0, 0.5 + distance * np.cos(angle)])
    w = scene.world(scene.scatterers(place[:, None]), laws=scene.POINT, path=scene.track(1))
    run_settings = scene.settings(end=distance + 12)
    echo = scene.echoes(w, [e], run_settings)[0][0]
    level, time = peak(echo, scene.times(e, run_settings))
    f = np.linspace(*band, 20001)
    x = np.pi * diameter * f / scene.C * np.sin(angle)
    beam = np.where(x < 1e-9, 1.0, 2 * special.j1(np.maximum(x, 1e-9)) / np.maximum(x, 1e-9))
    loss = 10 ** (-2 * distance * w.water.mean_absorption(f, 0.5, place[2:])[0] / 20)
    weight = np.abs(e.replica_spectrum(f)) ** 2 * e.weighting(f)
    wanted = np.trapezoid(e.source_amplitude(f) * beam**2 * loss * weight, f) / np.trapezoid(weight, f) / distance**2
    assert level == pytest.approx(20 * np.log10(wanted), abs=0.1)
    assert time == pytest.approx(2 * distance / scene.C, abs=2e-6)


def test_noise_alone_has_the_stated_level_and_a_rayleigh_envelope():
    # Level: NL - DI - 10 log T + 1.76 dB (Coates 1990 wind, Mellen 1952 thermal) = 32.3 dB: the design's row, 0.2 dB.
    e = scene.element(receive_efficiency=1.0)
    w = scene.world(scene.scatterers(np.zeros((3, 0))), path=scene.track(24))
    echo = scene.echoes(w, [e], scene.settings(end=60.0, wind=10 * KNOT), quiet=False)[0]
    power = np.abs(echo) ** 2
    assert 10 * np.log10(power.mean()) == pytest.approx(32.3, abs=0.2)
    # Samples at least 2 / B apart: every fourth at a rate of 2 B.
    apart = np.abs(echo[:, 3::4]).ravel()
    assert stats.kstest(apart, "rayleigh", args=(0, np.sqrt(power.mean() / 2))).pvalue > 0.01


def test_rows_of_noise_are_independent():
    e = scene.element()
    w = scene.world(scene.scatterers(np.zeros((3, 0))), path=scene.track(3))
    first, second, third = scene.echoes(w, [e], scene.settings(), quiet=False)[0]
    for a, b in ((first, second), (second, third)):
        together = np.abs(np.vdot(a, b)) / np.sqrt(np.vdot(a, a).real * np.vdot(b, b).real)
        assert together < 5 / np.sqrt(len(a) / 2)


def two_elements(pings=20, seed=7):
    rng = np.random.default_rng(1)
    w = scene.world(scene.random_points(300, rng), path=scene.track(pings))
    pair = [scene.element(), scene.element(band=(85e3, 135e3), length=1e-3)]
    return w, pair, scene.settings(end=40.0, seed=seed)


def levels(w, pair, run_settings, **options):
    """Return each element's levels (ping, sample)."""
    chunks = list(engine.simulate(w, tuple(pair), run_settings, **options))
    return [np.concatenate([c.level for c in chunks if c.element == e]) for e in range(len(pair))]


def test_same_bits_for_any_threads_and_jobs():
    w, pair, run_settings = two_elements()
    want = levels(w, pair, run_settings, threads=1)
    for options in ({"threads": 2}, {"threads": 2, "job_pings": 5}, {"threads": 1, "job_pings": 1}):
        for got, expected in zip(levels(w, pair, run_settings, **options), want, strict=True):
            assert np.array_equal(got, expected)


def test_another_seed_changes_every_element():
    w, pair, run_settings = two_elements(4)
    other = levels(w, pair, scene.settings(end=40.0, seed=8))
    for a, b in zip(levels(w, pair, run_settings), other, strict=True):
        assert np.mean(a != b) > 0.5


def test_work_taken_up_again_gives_the_same_later_pings():
    w, pair, run_settings = two_elements()
    whole, later = levels(w, pair, run_settings), levels(w, pair, run_settings, first_ping=16)
    for a, b in zip(whole, later, strict=True):
        assert np.array_equal(a[16:], b)


def test_elements_in_turn_ping_at_every_other_place_and_do_not_leak():
    w, pair, run_settings = two_elements(8)
    turn = levels(w, pair, scene.settings(end=40.0, in_turn=True))
    assert [len(t) for t in turn] == [4, 4]
    from dataclasses import replace

    alone = levels(w, pair, run_settings)
    assert np.array_equal(turn[0][0], alone[0][0])
    together = levels(w, pair, replace(run_settings, crosstalk=True))
    assert not np.array_equal(together[1][0], alone[1][0])  # bands 130-135 kHz overlap
    # By default each pings as if it were the only one: levels within 60 dB of the top to the last step. Tables are
    # made for the longest range of all elements, so the bits are not the same.
    both = levels(w, pair, run_settings, quiet=True)
    for e, own in enumerate(pair):
        single = levels(w, [own], run_settings, quiet=True)[0].astype(int)
        strong = single > single.max() - 6000
        assert np.abs(single - both[e])[strong].max() <= 1


@pytest.mark.parametrize(("depth", "heard"), [(8.0, True), (11.0, False), (30.0, False)])
def test_what_stands_in_or_behind_a_box_is_silent(depth, heard):
    point = scene.scatterers(np.array([[0.0], [0.0], [depth]]))
    w = scene.world(point, laws=scene.POINT, path=scene.track(1), occluders=(scene.box((-3, -3, 10), (3, 3, 14)),))
    echo = scene.echoes(w, [scene.element()], scene.settings(end=40.0))[0][0]
    assert (np.abs(echo).max() > 0) == heard


@pytest.mark.parametrize("count", [60, 70])  # by trying all, and by the tree
def test_what_hides_is_what_a_plain_test_of_all_triangles_hides(count):
    rng = np.random.default_rng(5)
    corners = rng.uniform(-10, 10, (count, 1, 3)) + rng.normal(size=(count, 3, 3)) * 1.5 + np.array([0, 0, 25.0])
    occluder = Occluder("cloud", corners.reshape(-1, 3), np.arange(3 * count).reshape(-1, 3))
    tree = hiding.build_tree(occluder)
    points = np.ascontiguousarray(rng.uniform(-15, 15, (3, 400)) + np.array([[0], [0], [40.0]]))
    origin = np.array([0.3, -0.2, 0.5])
    ray = points - origin[:, None]
    whole, law, axis = np.array([[0, 400]]), np.zeros(400, np.int32), rng.normal(size=(3, 400)).astype(np.float32)
    shape = (tree.boxes, tree.child, tree.triangles, hiding.TOLERANCE)
    weight, one_sided = np.ones(400, np.float32), np.ones(400, np.float32)
    hiding.hide(points, axis, law, np.array([True]), whole, origin, *shape, weight)
    hiding.hide(points, axis, law, np.array([False]), whole, origin, *shape, one_sided)
    # Facing away is only asked of what has one side, and only where the box round all is crossed.
    assert np.array_equal(one_sided[(ray * axis).sum(axis=0) < 0], weight[(ray * axis).sum(axis=0) < 0])
    assert np.all(one_sided <= weight)
    assert (one_sided < weight).sum() > 20
    plain = np.ones(400)
    for n, ray in enumerate((points - origin[:, None]).T):
        # Solve origin + t ray = corner + a e1 + b e2 for every triangle.
        for a, b, c in corners:
            matrix = np.stack([ray, a - b, a - c], axis=1)
            t, u, v = np.linalg.solve(matrix, a - origin)
            if u >= 0 and v >= 0 and u + v <= 1 and 0 < t < 1 - hiding.TOLERANCE / np.linalg.norm(ray):
                plain[n] = 0
    assert 20 < plain.sum() < 380
    assert np.array_equal(weight, plain)


def test_a_ray_in_the_plane_of_a_box_of_the_tree_is_hidden_all_the_same():
    # A level plate of squares, edges at whole metres: straight down from x = 0 every ray lies in sides of the boxes.
    x, y = np.meshgrid(np.arange(-10, 11), np.arange(-3, 4), indexing="ij")
    number = np.arange(x.size).reshape(x.shape)
    a, b, c, d = (part.ravel() for part in (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]))
    plate = Occluder(
        "plate", np.stack([x.ravel(), y.ravel(), np.full(x.size, 10)], 1).astype(float),
        np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]),
    )  # fmt: skip
    tree = hiding.build_tree(plate)
    across = np.random.default_rng(8).uniform(-5, 5, 500)
    for points in ((0 * across, across, 0 * across + 20), (across, 0 * across, 0 * across + 20)):
        weight = np.ones(500, np.float32)
        hiding.hide(
            np.ascontiguousarray(points), np.zeros((3, 500), np.float32), np.zeros(500, np.int32), np.array([True]),
            np.array([[0, 500]]), np.array([0.0, 0.0, 0.5]), tree.boxes, tree.child, tree.triangles, 0.03, weight,
        )  # fmt: skip
        # The plate ends 3 m to the side; its rays cross it up to 5 / 19.5 * 9.5 = 2.4 m off.
        assert not weight.any()


def test_path_in_an_absorber_is_the_integral_along_the_line():
    absorber = Absorber(
        "school", np.array([2.0, -1.0, 20.0]), np.array([6.0, 3.0, 4.0]), lambda f: 0.01 * np.ones(len(f))
    )
    rng, origin = np.random.default_rng(6), np.array([0.0, 0.0, 0.5])
    points = rng.uniform([[-8], [-6], [10]], [[8], [6], [40]], (3, 50))
    t = (np.arange(20000) + 0.5) / 20000
    for got, point in zip(hiding.absorber_path(absorber, origin, points), points.T, strict=True):
        along = origin[:, None] + np.outer(point - origin, t)
        inside = (((along - absorber.centre[:, None]) / absorber.semi_axes[:, None]) ** 2).sum(axis=0) < 1
        assert got == pytest.approx(inside.mean() * np.linalg.norm(point - origin), abs=0.01)


def test_absorbers_dim_what_is_behind_or_inside_by_their_path():
    """By numpy, the path by `absorber_path`, which a test of its own judges."""
    absorbers = [
        Absorber(n, np.array(c), np.array([5.0, 4.0, 3.0]), lambda f: np.full(len(f), 0.02 * f[0] / 1e5))
        for n, c in (("one", [0.0, 0.0, 20.0]), ("two", [3.0, 1.0, 26.0]), ("round the face", [0.0, 0.0, 1.0]))
    ]
    rng, origin = np.random.default_rng(7), np.array([0.2, -0.1, 0.5])
    points = rng.uniform([[-12], [-12], [1]], [[12], [12], [50]], (3, 900))
    weight = np.ones(900, np.float32)
    hiding.dim(tuple(absorbers), 1.7e5, origin, points, np.array([[0, 300], [310, 900]]), weight)
    path = sum(hiding.absorber_path(absorber, origin, points) for absorber in absorbers)
    want = np.exp(-0.02 * 1.7 * path)
    want[300:310] = 1.0  # not of a segment
    assert np.abs(weight - want).max() < 1e-6
    assert (weight < 0.9).sum() > 50


def test_the_earlier_pings_echo_shows_when_the_interval_is_short():
    # A point 40 m down, pings 30 ms apart, window to 30 m: its echo at 53.7 ms is heard 23.7 ms into the next ping.
    point = scene.scatterers(np.array([[0.0], [0.0], [40.5]]))
    path = scene.track(3, spacing=0.0, interval=0.03)
    w = scene.world(point, laws=scene.POINT, path=path)
    run_settings = scene.settings(end=30.0, interval=0.03, span=0.09)
    e = scene.element()
    first, second, third = scene.echoes(w, [e], run_settings)[0]
    assert np.abs(first).max() < 1e-3 * np.abs(second).max()
    level, time = peak(second, scene.times(e, run_settings))
    assert time == pytest.approx(2 * 40 / scene.C - 0.03, abs=2e-6)
    alone = scene.echoes(w, [e], scene.settings(end=60.0, interval=0.03))[0][0]
    assert level == pytest.approx(peak(alone, scene.times(e, scene.settings(end=60.0)))[0], abs=0.02)
    assert np.abs(third - second).max() < 1e-3 * np.abs(second).max()


@pytest.mark.parametrize(("name", "pieces"), [("high", 1), ("high", 3), ("low", 1)])
def test_scattering_layer_of_stated_strength_reads_it_by_echo_integration(name, pieces, monkeypatch):
    # Source: the sonar equation of volume reverberation (Urick 1983, ch. 8; MacLennan, Fernandes & Dalen 2002 for s_v):
    # mean power = S^2 s_v psi (c / 2) tau_eff / r^2 with the losses; 0.3 dB, some 500 independent cells.
    monkeypatch.setattr(channels, "_PIECES", (pieces,))
    band, diameter = BANDS[name]
    e = scene.element({"shape": "disc", "diameter": diameter}, band=band)
    layer = ScatteringLayer("layer", (10.0, 60.0), lambda f: 1e-7 * np.ones(len(f)))
    w = scene.world(
        scene.scatterers(np.zeros((3, 0))), path=scene.track(24), scattering_layer=(layer,), water=scene.Lossless()
    )
    run_settings = scene.settings(end=60.0)
    echo = scene.echoes(w, [e], run_settings)[0]
    r = engine.ranges(e, run_settings)
    inside = (r > 25) & (r < 50)
    f = np.linspace(*band, 4001)
    shape = np.abs(e.replica_spectrum(f)) ** 2 * e.weighting(f)
    filtered = shape * e.source_amplitude(f) * np.sqrt(e.equivalent_beam_angle(f))
    energy = np.trapezoid(filtered**2, f) / np.trapezoid(shape, f) ** 2
    wanted = 1e-7 * scene.C / 2 * energy
    got = (np.abs(echo[:, inside]) ** 2 * r[inside] ** 2).mean()
    assert 10 * np.log10(got / wanted) == pytest.approx(0, abs=0.3)


def test_progress_tells_of_compiling_only_when_nothing_is_kept(tmp_path, monkeypatch):
    # One kernel, made anew over a folder of machine code that is empty at first: it is compiled, then loaded.
    monkeypatch.setattr(numba.core.config, "CACHE_DIR", str(tmp_path))
    world = scene.world(scene.random_points(5, np.random.default_rng(1)), path=scene.track(1))
    stages = []
    for _ in range(2):
        monkeypatch.setattr(noise, "pack", compiled()(noise.pack.py_func))
        stages.append(set())
        tell = lambda stage, done, total: stages[-1].add(stage.split()[0])  # noqa: E731
        list(engine.simulate(world, (scene.element(),), scene.settings(end=20.0), progress=tell))
    assert stages == [{"preparing", "compiling", "pinging"}, {"preparing", "pinging"}]
    assert list(tmp_path.rglob("*.nbi"))


def test_a_fast_length_is_the_one_of_the_library_that_transforms():
    from scipy.fft import next_fast_len

    for least in (*range(1, 400), 4859, 14872, 20011, 65537, 123457):
        assert settings.fast_length(least) == next_fast_len(least)
