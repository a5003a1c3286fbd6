"""Every sign and order of the contract, each as one small fact."""

import engine_scene as scene
import numpy as np
import pytest
from pingwright.engine import geometry
from pingwright.engine import simulate as engine
from pingwright.inputs.scenario import parse
from pingwright.world import terrain
from scipy.spatial.transform import Rotation


def loudness(points, tilt=(0.0, 0.0), **pose):
    """Return the level [dB] of each point alone, as a narrow element hears it from a boat in some pose."""
    result = []
    for point in points:
        path = scene.track(1, **pose)
        w = scene.world(scene.scatterers(np.array(point)[:, None]), laws=scene.POINT, path=path)
        e = scene.element(tilt=tilt)
        echo = scene.echoes(w, [e], scene.settings(end=60.0))[0][0]
        result.append(20 * np.log10(np.abs(echo).max()))
    return result


STARBOARD, PORT = (0.0, 3.0, 30.0), (0.0, -3.0, 30.0)
AHEAD, ASTERN = (3.0, 0.0, 30.0), (-3.0, 0.0, 30.0)


def test_a_level_boat_hears_both_sides_alike():
    starboard, port = loudness([STARBOARD, PORT])
    assert starboard == pytest.approx(port, abs=1e-3)


def test_starboard_down_turns_the_beam_to_port():
    # Roll positive: starboard down. The axis, fixed to the keel, then swings towards port.
    starboard, port = loudness([STARBOARD, PORT], roll=5.0)
    assert port > starboard + 6


def test_bow_up_turns_the_beam_ahead():
    ahead, astern = loudness([AHEAD, ASTERN], pitch=5.0)
    assert ahead > astern + 6


def test_heading_turns_from_x_to_y():
    # Towards +y by 90 degrees: what was ahead is now to starboard, where the roll's dead side is.
    bow = geometry.attitude(0.0, 0.0, 90.0) @ np.array([1.0, 0.0, 0.0])
    assert bow == pytest.approx([0.0, 1.0, 0.0], abs=1e-12)
    starboard = geometry.attitude(0.0, 0.0, 90.0) @ np.array([0.0, 1.0, 0.0])
    assert starboard == pytest.approx([-1.0, 0.0, 0.0], abs=1e-12)


def test_attitude_is_heading_times_pitch_times_roll():
    """Against scipy's rotations: intrinsic z, y, x."""
    for roll, pitch, heading in ((3.0, -7.0, 110.0), (-20.0, 15.0, -60.0)):
        want = Rotation.from_euler("ZYX", [heading, pitch, roll], degrees=True).as_matrix()
        assert np.abs(geometry.attitude(roll, pitch, heading) - want).max() < 1e-12


def test_attitude_moves_bow_and_starboard_the_right_way():
    assert (geometry.attitude(0.0, 5.0, 0.0) @ np.array([1.0, 0, 0]))[2] < 0  # bow up: less depth
    assert (geometry.attitude(5.0, 0.0, 0.0) @ np.array([0, 1.0, 0]))[2] > 0  # starboard down: more depth


@pytest.mark.parametrize(("tilt", "louder", "quieter"), [((5.0, 0.0), AHEAD, ASTERN), ((0.0, 5.0), STARBOARD, PORT)])
def test_tilt_turns_the_axis_towards_positive_x_and_y(tilt, louder, quieter):
    loud, quiet = loudness([louder, quieter], tilt=tilt)
    assert loud > quiet + 6


def test_heave_up_lengthens_the_way_down():
    e, run_settings = scene.element(), scene.settings(end=60.0)
    ranges = engine.ranges(e, run_settings)
    found = []
    for depth in (0.5, -0.5):  # one metre of heave up takes a metre of depth off the face
        w = scene.world(
            scene.scatterers(np.array([[0.0], [0.0], [30.0]])), laws=scene.POINT, path=scene.track(1, depth=depth)
        )
        found.append(ranges[np.argmax(np.abs(scene.echoes(w, [e], run_settings)[0][0]))])
    assert found[1] - found[0] == pytest.approx(1.0, abs=0.02)


def test_range_grows_with_the_sample_and_pings_come_first():
    e, run_settings = scene.element(), scene.settings(end=60.0)
    assert np.all(np.diff(engine.ranges(e, run_settings)) > 0)
    w = scene.world(scene.scatterers(np.zeros((3, 0))), path=scene.track(5))
    chunk = next(iter(engine.simulate(w, (e,), run_settings)))
    assert chunk.level.shape == (5, len(engine.ranges(e, run_settings)))


SCENARIO = """
title = "signs"
[water]
temperature = 10
salinity = 35
[boat]
speed = 2
start = -20
length = 40
[[element]]
name = "e"
use = "high-pencil"
[seabed]
depth = 30
slope = { along = 5, across = 3 }
[[seabed.layer]]
sediment = "gravel"
"""


def test_slope_is_deeper_towards_positive_x_and_y():
    ground = terrain.build(parse(SCENARIO, "signs.toml", {}).seabed, 1)
    here, ahead, starboard = ground.depth(np.array([0.0, 10.0, 0.0]), np.array([0.0, 0.0, 10.0]))
    assert here == pytest.approx(30.0)
    assert ahead == pytest.approx(30 + 10 * np.tan(np.radians(5)))
    assert starboard == pytest.approx(30 + 10 * np.tan(np.radians(3)))
