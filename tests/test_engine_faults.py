"""Places that make no sense must neither end the process nor spoil a ping; tables are read inside their bounds."""

import engine_scene as scene
import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pingwright.engine import geometry
from pingwright.engine.kernels.limits import NEAREST
from pingwright.engine.kernels.plain import node_rows, spread_plain
from pingwright.engine.kernels.spread import spreader
from pingwright.inputs import scenario
from pingwright.recording import in_memory, prepare
from pingwright.world.scatterers import StrengthLaw
from tiny_scenarios import LAKE

FACES = {
    "over the angle": (scene.DISC, (130e3, 210e3)),
    "over the plane, complex": (scene.ARC, (85e3, 135e3)),
}
FACE = (0.1, 0.0, 0.5)  # where the faces are in ping 1 of `scene.track`
ANY = st.floats()
NEAR = st.floats(-0.2, 0.2)
ORDINARY = st.floats(-60, 60)
PLACES = st.lists(st.tuples(*[st.one_of(ORDINARY, NEAR, ANY)] * 3), min_size=1, max_size=40)
_made = {}
AT_FACE = '[[target]]\nname = "t"\nstrength = -30\nat = { x = "-8 m", y = "0 m", depth = "1 m" }\n'


def made(name, tilt):
    """Return a prepared run with its reference scatterers' laws; made once a face and tilt."""
    if (name, tilt) not in _made:
        face, band = FACES[name]
        e = scene.element(face, band=band, length=5e-4, tilt=tilt)
        w = scene.world(scene.scatterers(np.zeros((3, 0))), water=scene.layered_water())
        _made[name, tilt] = (scene.run_of(w, [e], scene.settings(end=40.0)), e)
    return _made[name, tilt]


def spread_both(run, e, points, weight):
    """Return the grids of the checked kernel and of the reference version."""
    tables, pose = run.tables[0][0], geometry.pose(run.world.track, 1, e)
    fast, slow = np.zeros((2, 2, run.samplings[0].row), np.float32)
    kernel = spreader(tables.nodes.half, tables.nodes.slope_pairs, tables.plane, tables.parts, checked=True)
    clock = tables.timing(0.0)
    with np.errstate(all="ignore"):
        kernel(
            fast, points.position, points.axis, points.amplitude, points.phase, points.law, weight,
            np.array([[0, len(points)]]), np.ones(1, np.float32), pose, *tables.arguments(clock, tables.gain),
        )  # fmt: skip
        spread_plain(slow, tables, sensible(points), weight.astype(float), pose, clock)
    return fast, slow


def sensible(points):
    """Return the points with those that are no numbers silent: the reference version has no guard."""
    good = np.isfinite(points.position).all(axis=0) & np.isfinite(points.axis).all(axis=0)
    good &= (np.abs(points.position) < 1e6).all(axis=0)
    return scene.scatterers(
        np.where(good, points.position, 0.0), np.where(good, points.axis, 0.0), np.where(good, points.amplitude, 0.0),
        points.phase, points.law,
    )  # fmt: skip


def echo_on_axis(run, e, points):
    """Return the strongest echo that any heard point would have in the middle of the beam, 0.36 the laws' most."""
    points, pose = sensible(points), geometry.pose(run.world.track, 1, e)
    heard = node_rows(run.tables[0][0], points, np.ones(len(points)), pose, run.tables[0][0].timing(0.0))[3]
    r = np.sqrt(((points.position - pose[:3, None]) ** 2).sum(axis=0))
    return float((0.36 / np.maximum(r, NEAREST) ** 2)[heard].max(initial=0.0))


@pytest.mark.parametrize("name", FACES)
@settings(max_examples=15, deadline=None)
@given(places=PLACES, tilt=st.sampled_from([(0.0, 0.0), (35.0, -20.0)]), seed=st.integers(0, 2**31))
@example(places=[FACE], tilt=(0.0, 0.0), seed=0)
@example(places=[(np.nan, 0.0, 9.0), (0.0, 0.0, np.inf), (0.0, 0.0, 9.0)], tilt=(0.0, 0.0), seed=1)
@example(places=[(0.1, 0.0, 1e30), (1e30, 0.0, 5.0), (0.1, 0.0, -1e30)], tilt=(35.0, -20.0), seed=2)
def test_places_of_every_kind_stay_within_the_tables(name, places, tilt, seed):
    run, e = made(name, tilt)
    rng = np.random.default_rng(seed)
    position = np.ascontiguousarray(np.array(places, float).T)  # as in a run: another order is another kernel
    n = position.shape[1]
    axis = rng.normal(size=(3, n))
    points = scene.scatterers(
        position, axis / np.sqrt((axis**2).sum(axis=0)), 1.0, rng.random(n), rng.integers(0, 2, n)
    )
    fast, slow = spread_both(run, e, points, np.ones(n, np.float32))
    assert np.isfinite(fast).all()
    # Single precision, of the echo that each point would have on the axis: in a null of the beam that is what is left.
    allowed = 1e-6 * echo_on_axis(run, e, points)
    assert np.abs(fast - slow).max() <= 2e-6 * np.abs(slow).max() + allowed


@pytest.mark.parametrize("amplitude", [np.nan, np.inf, 0.0])
def test_a_strength_that_is_no_number_leaves_the_others_alone(amplitude):
    run, e = made("over the angle", (0.0, 0.0))
    place = np.array([[0.1, 0.3], [0.0, 0.0], [9.0, 12.0]])
    both = scene.scatterers(place, amplitude=np.array([amplitude, 1.0]))
    alone = scene.scatterers(place, amplitude=np.array([0.0, 1.0]))
    weight = np.ones(2, np.float32)
    assert np.array_equal(spread_both(run, e, both, weight)[0], spread_both(run, e, alone, weight)[0])


@pytest.mark.parametrize(("distance", "heard"), [(0.0, False), (0.99 * NEAREST, False), (1.01 * NEAREST, True)])
def test_what_lies_at_the_face_is_silent(distance, heard):
    run, e = made("over the angle", (0.0, 0.0))
    point = scene.scatterers(np.array(FACE)[:, None] + [[0.0], [0.0], [distance]])
    fast, _ = spread_both(run, e, point, np.ones(1, np.float32))
    assert np.any(fast != 0) == heard


def test_the_checked_kernel_finds_a_law_that_does_not_exist():
    run, e = made("over the angle", (0.0, 0.0))
    point = scene.scatterers(np.array([[0.1], [0.0], [9.0]]), law=7)
    tables, grid = run.tables[0][0], np.zeros((2, run.samplings[0].row), np.float32)
    pose = geometry.pose(run.world.track, 1, e)
    kernel = spreader(tables.nodes.half, tables.nodes.slope_pairs, tables.plane, tables.parts, checked=True)
    with pytest.raises(IndexError):
        kernel(
            grid, point.position, point.axis, point.amplitude, point.phase, point.law, np.ones(1, np.float32),
            np.array([[0, 1]]), np.ones(1, np.float32), pose, *tables.arguments(tables.timing(0.0), tables.gain),
        )  # fmt: skip


def test_tables_that_hold_no_numbers_are_refused():
    law = StrengthLaw("broken", lambda cosine, frequency: np.full((len(cosine), len(frequency)), np.nan))
    w = scene.world(scene.scatterers(np.array([[0.0], [0.0], [9.0]])), laws=(law,))
    with pytest.raises(ValueError, match="strength"):
        scene.run_of(w, [scene.element()], scene.settings(end=20.0))
    with pytest.raises(ValueError, match="law"):
        scene.run_of(scene.world(scene.scatterers(np.zeros((3, 1)), law=5)), [scene.element()], scene.settings())


def test_a_target_at_the_face_runs_and_is_told_of():
    """An anchored boat with a target on the very place of its elements once ended the process without a word."""
    text = LAKE.replace("pings = 40", 'pings = 2\ntransducer_depth = "1 m"') + AT_FACE
    prepared = prepare(scenario.parse(text, "at_face.toml", {}))
    assert any("cm from the elements' faces" in line for line in prepared.header.warnings)
    record = in_memory(prepared, threads=1)
    assert all(np.any(np.asarray(e.echo_level) > 0) for e in record.elements)
