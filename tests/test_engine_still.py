"""Superposition: things laid over kept echoes give what simulating both at once gives."""

from dataclasses import replace

import engine_scene as scene
import numpy as np
import pytest
from pingwright.engine import geometry, shadows
from pingwright.engine import simulate as engine
from pingwright.engine.still import keep
from pingwright.world.scatterers import Absorber, ScatteringLayer

#: Energy of the difference over energy of what is laid over: the engine's own error against the direct sum.
STATED = 10**-8.6
PAIR = {"disc": (scene.DISC, (130e3, 210e3)), "rectangle": (scene.RECTANGLE, (85e3, 135e3))}


def points(count, depth, seed, law=1):
    rng = np.random.default_rng(seed)
    axis = rng.normal(size=(3, count))
    place = np.stack(
        [np.sort(rng.uniform(-0.2, 0.6, count)), rng.uniform(-0.3, 0.3, count), rng.uniform(*depth, count)]
    )
    return scene.scatterers(place, axis / np.sqrt((axis**2).sum(axis=0)), 1.0, rng.random(count), law)


def both(still_points, laid, path, **changes):
    """Return a world with what stays, one with what is laid over, one with all, over a track."""
    position = np.concatenate([still_points.position, laid.position], axis=1)
    order = np.argsort(position[0], kind="stable")
    joined = scene.scatterers(
        position[:, order], np.concatenate([still_points.axis, laid.axis], axis=1)[:, order], 1.0,
        np.concatenate([still_points.phase, laid.phase])[order], np.concatenate([still_points.law, laid.law])[order],
    )  # fmt: skip
    joined = replace(joined, amplitude=np.concatenate([still_points.amplitude, laid.amplitude])[order])
    return [scene.world(p, path=path, **changes) for p in (still_points, laid, joined)]


def elements():
    return tuple(scene.element(face, band=band, length=1e-3, name=name) for name, (face, band) in PAIR.items())


def echoes_of(w, pair, run_settings):
    """Return each element's echoes before saturation, without noise (ping, sample)."""
    return keep(w, pair, run_settings, noise=False).echo


def compare(kept, things, whole, pair, run_settings):
    """Assert that things laid over give the whole within the stated error, and levels within rounding."""
    still = keep(kept, pair, run_settings, threads=1)
    levels, want = still.over(things), keep(whole, pair, run_settings, threads=1)
    alone = echoes_of(things, pair, run_settings)
    for e in range(len(pair)):
        echo = np.array(still.echo[e])
        for rows, total, ends in still._sums(e, still.echo[e], still._laid(things)):
            for i, (low, high) in enumerate(ends):
                echo[rows.start + i, low:high] = total[i, low:high]
        # While the pulse leaves the record is blind, and echoes from its very end come round to there.
        heard = slice(still.run.receivers[e].blank, None)
        error = (np.abs(echo - want.echo[e])[:, heard] ** 2).sum() / (np.abs(alone[e])[:, heard] ** 2).sum()
        assert error < STATED
        strong = np.abs(want.echo[e]) > 1e-3 * np.abs(want.echo[e]).max()
        assert np.abs(levels[e].astype(int) - want.level[e])[strong].max() <= 1
        assert not np.array_equal(levels[e], still.level[e])
    return still


def test_a_fish_over_a_kept_bottom_is_the_fish_and_the_bottom_at_once():
    bed = scene.random_points(400, np.random.default_rng(1))
    worlds = both(bed, points(30, (30.0, 30.6), 2), scene.track(5))
    pair, run_settings = elements(), scene.settings(end=48.0, crosstalk=True, wind=5.0)
    still = compare(*worlds, pair, run_settings)
    plain = [
        np.concatenate([c.level for c in engine.simulate(worlds[0], pair, run_settings) if c.element == e])
        for e in range(2)
    ]
    assert all(np.array_equal(a, b) for a, b in zip(still.level, plain, strict=True))


def test_a_school_over_many_metres_and_a_swimmer_are_laid_over_too():
    bed = scene.random_points(200, np.random.default_rng(3))
    fish = points(200, (8.0, 38.0), 4)
    kept, things, whole = both(bed, fish, scene.track(4), water=scene.layered_water())
    compare(kept, things, whole, elements(), scene.settings(end=48.0))
    swim = np.tile([[0.5], [0.2], [-0.1]], (1, 200))
    things = replace(things, discrete=scene.discrete(fish, velocity=swim, time=np.full(200, 0.3)))
    moved = np.concatenate([np.zeros((3, 200)), swim], axis=1)
    joined = scene.discrete(
        geometry.join([bed, fish]), velocity=moved, time=np.concatenate([np.zeros(200), np.full(200, 0.3)])
    )
    compare(kept, things, replace(whole, discrete=joined), elements(), scene.settings(end=48.0))


def test_earlier_pings_tails_structures_and_absorbers_act_on_what_is_laid_over():
    bed = scene.random_points(200, np.random.default_rng(5), depth=(3.0, 25.0))
    occluder = scene.box((-3.0, -2.0, 14.0), (3.0, 0.05, 17.0))
    school = Absorber(
        "school", np.array([0.2, 0.1, 8.0]), np.array([3.0, 2.0, 1.5]), lambda f: np.full(np.shape(f), 0.05)
    )
    layer = ScatteringLayer("layer", (5.0, 12.0), lambda f: np.full(np.shape(f), 1e-7))
    path = scene.track(5, interval=0.03, roll=3.0)
    worlds = both(
        bed, points(60, (9.0, 23.0), 6), path, occluders=(occluder,), absorbers=(school,), scattering_layer=(layer,)
    )
    worlds[1] = replace(worlds[1], scattering_layer=())
    compare(*worlds, elements(), scene.settings(end=20.0, interval=0.03, span=0.06))


def test_a_stretch_of_pings_is_that_of_the_whole_and_changes_are_only_where_the_fish_is():
    bed = scene.random_points(200, np.random.default_rng(7))
    kept, things, _ = both(bed, points(20, (20.0, 20.3), 8), scene.track(9))
    pair, run_settings = elements()[:1], scene.settings(end=48.0)
    whole, part = keep(kept, pair, run_settings), keep(kept, pair, run_settings, pings_of=range(3, 7))
    assert np.array_equal(part.level[0], whole.level[0][3:7])
    laid = whole.over(things)[0]
    assert np.array_equal(part.over(things)[0], laid[3:7])
    changes = whole.changed(things)[0]
    assert [c.ping for c in changes] == list(range(9))
    rebuilt = whole.level[0].copy()
    for c in changes:
        rebuilt[c.ping, c.first : c.first + len(c.level)] = c.level
        assert len(c.level) < 0.2 * rebuilt.shape[1]
    assert np.array_equal(rebuilt, laid)


def test_a_fresh_draw_of_noise_differs_and_has_the_same_level():
    empty = scene.scatterers(np.zeros((3, 0)))
    kept = scene.world(empty, path=scene.track(12))
    pair, run_settings = elements()[:1], scene.settings(end=30.0)
    still = keep(kept, pair, run_settings, noise=False)
    first, again, second = (still.over(kept, draw=d)[0].astype(float) for d in (0, 0, 1))
    assert np.array_equal(first, again)
    assert np.mean(first != second) > 0.9
    own = keep(kept, pair, run_settings).level[0].astype(float)
    blank = still.run.receivers[0].blank
    means = [np.mean(10 ** (level[:, blank:] * 0.01 / 10)) for level in (first, second, own)]
    assert np.ptp(10 * np.log10(means)) < 0.2
    with pytest.raises(ValueError, match="noise"):
        keep(kept, pair, run_settings).over(kept, draw=0)


def test_what_hides_what_is_kept_is_refused():
    kept = scene.world(scene.scatterers(np.zeros((3, 0))))
    still = keep(kept, elements()[:1], scene.settings(end=20.0))
    with pytest.raises(ValueError, match="box"):
        still.over(replace(kept, occluders=(scene.box((0, 0, 5), (1, 1, 6)),)))
    with pytest.raises(ValueError, match="track"):
        still.over(scene.world(scene.scatterers(np.zeros((3, 0))), path=scene.track(5)))


def test_overlays_of_groups_together_are_all_of_them_at_once():
    bed = scene.random_points(200, np.random.default_rng(11))
    pair, run_settings, path = elements(), scene.settings(end=48.0), scene.track(40)
    near, far = points(20, (20.0, 20.3), 12), points(20, (35.0, 36.0), 13)
    kept, first, _ = both(bed, near, path)
    second, everything = both(near, far, path)[1:]
    still = keep(kept, pair, run_settings, threads=1)
    one = still.overlay(first)
    for got, want in zip(still.together([one]), still.over(first), strict=True):
        assert np.array_equal(got, want)
    for n, (got, want) in enumerate(
        zip(still.together([one, still.overlay(second)]), still.over(everything), strict=True)
    ):
        strong = np.abs(still.echo[n]) > 1e-3 * np.abs(still.echo[n]).max()
        assert np.abs(got.astype(int) - want)[strong].max() <= 1
        assert not np.array_equal(got, still.level[n])
    assert all(np.array_equal(a, b) for a, b in zip(still.together([]), still.level, strict=True))


def test_shadows_of_structures_that_are_kept_are_those_worked_out(monkeypatch):
    # Points around and under a box: hidden ones are left out, the second time from what was kept.
    points_ = scene.random_points(500, np.random.default_rng(21), depth=(3.0, 25.0))
    box = scene.box((-6.0, -6.0, 8.0), (6.0, 6.0, 9.0))
    pair, run_settings = elements()[:1], scene.settings(end=30.0)
    hidden = scene.world(points_, path=scene.track(3), occluders=(box,))
    asked = []
    kept = shadows.kept
    monkeypatch.setattr(shadows, "kept", lambda *a: asked.append(a[0]) or kept(*a))
    first, again = (keep(hidden, pair, run_settings, threads=1).echo[0] for _ in range(2))
    assert len(asked) == 6
    assert len(set(asked)) == 3
    assert np.array_equal(first, again)
    bare = keep(scene.world(points_, path=scene.track(3)), pair, run_settings, threads=1).echo[0]
    assert np.sum(np.abs(first) ** 2) < 0.8 * np.sum(np.abs(bare) ** 2)
