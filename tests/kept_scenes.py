"""Two small scenes whose levels were stored before the package got its public name; see test_engine_kept_levels.

Everything a default could change is written out: tapers of 0.1, elements that hear each other, wind but no own noise.
The scatterers are drawn here, so no change of the world's sampling moves them.
"""

from dataclasses import replace

import engine_scene as scene
import numpy as np
from pingwright.world import scatterers as types


def together():
    """Return world, elements, settings: two chirps that share 130 to 135 kHz, a tone, a second echo."""
    rng = np.random.default_rng(101)
    swimming = scene.discrete(scene.random_points(300, rng, depth=(3.0, 20.0), half_width=12.0))
    velocity = np.where(rng.random(300) < 0.3, 0.7, 0.0) * rng.normal(size=(3, 300))
    bounce = types.Bounce(lambda frequency: np.full(np.shape(frequency), 0.2), np.ones(5))
    w = scene.world(replace(swimming, velocity=velocity), path=scene.track(5, spacing=0.4), bounce=bounce)
    pair = (
        scene.element(name="disc"),
        scene.element(scene.RECTANGLE, band=(85e3, 135e3), length=1e-3, tilt=(4.0, -6.0), name="rectangle"),
        scene.element(scene.STEERED, band=(85e3, 105e3), kind="tone", tone=95e3, length=2e-4, name="steered tone"),
    )
    return w, pair, scene.settings(end=48.0, crosstalk=True, wind=5.0)


def behind():
    """Return world, elements, settings: curved faces on a rolling boat, a box, a school, a layer, tails."""
    rng = np.random.default_rng(102)
    points = scene.random_points(300, rng, depth=(3.0, 25.0), half_width=15.0)
    occluder = scene.box((-3.0, -2.0, 14.0), (3.0, 2.0, 17.0))
    school = types.Absorber(
        "school", np.array([4.0, 1.0, 8.0]), np.array([3.0, 2.0, 1.5]), lambda f: np.full(np.shape(f), 0.05)
    )
    layer = types.ScatteringLayer("layer", (5.0, 12.0), lambda f: 1e-7 * (np.asarray(f) / 1e5) ** 2)
    path = scene.track(4, spacing=0.3, interval=0.03, roll=np.array([3.0, -2.0, 1.0, 0.0]), pitch=1.5, heading=10.0)
    w = scene.world(
        points,
        water=scene.layered_water(),
        path=path,
        occluders=(occluder,),
        absorbers=(school,),
        scattering_layer=(layer,),
    )
    pair = (
        scene.element(scene.CAP, length=5e-4, name="cap"),
        scene.element(scene.ARC, band=(85e3, 125e3), length=5e-4, name="arc"),
    )
    return w, pair, scene.settings(end=28.0, interval=0.03, span=0.06, crosstalk=True)


SCENES = {"together": together, "behind": behind}


def arrays(name):
    """Return every fifth of the scene's levels (ping, sample), int16, and the largest envelope [uPa] of each ping."""
    from pingwright.engine.simulate import simulate

    w, pair, run_settings = SCENES[name]()
    found = {}
    for chunk in simulate(w, pair, run_settings, threads=1, keep_phase=True):
        found[f"{name} {chunk.element}"] = chunk.level[:, ::5]
        found[f"{name} {chunk.element} peak"] = np.abs(chunk.echo).max(axis=1)
    return found
