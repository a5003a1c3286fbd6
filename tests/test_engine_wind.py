"""Wind: bubbles below the surface take from every echo and send some back."""

import engine_scene as scene
import numpy as np
import pytest
from pingwright.acoustics import bubbles
from pingwright.engine import simulate as engine

KNOT = 1852 / 3600


def levels_of(wind, face=None, band=(130e3, 210e3)):
    """Return the level of a target of 0 dB 20 m down on the axis [dB re 1 uPa]."""
    w = scene.world(
        scene.scatterers(np.array([[0.0], [0.0], [20.5]])), laws=scene.POINT, path=scene.track(1), wind_speed=wind
    )
    echo = scene.echoes(w, [scene.element(face, band=band)], scene.settings(end=30.0))[0][0]
    return 20 * np.log10(np.abs(scene.finer(echo[len(echo) // 2 :], 8)).max())


@pytest.mark.parametrize(("knots", "loss"), [(10, 0.06), (15, 1.0), (20, 17.0)])
def test_bubbles_take_what_the_published_law_says(knots, loss):
    # Source: APL-UW TR 9407 (1994) as restated by an open textbook: two-way loss at 170 kHz through the whole
    # layer; a face 0.5 m down has exp(-0.5) of it below (thinning over 1 m assumed). Over the band: 3 %.
    expected = loss * np.exp(-0.5)
    assert levels_of(0.0) - levels_of(knots * KNOT) == pytest.approx(expected, rel=0.06, abs=0.02)


def test_bubbles_clutter_the_first_metres_as_their_volume_strength_says():
    # Mean power of volume reverberation: S^2 s_v psi (c / 2) tau_eff / r^2 (Urick 1983, ch. 8), see the layers' test in
    # test_engine_run; s_v at the mean depth of the beam's cell, less what the bubbles above it take: 1 dB.
    wind, e = 12 * KNOT, scene.element(length=1e-4)
    w = scene.world(scene.scatterers(np.zeros((3, 0))), path=scene.track(64), water=scene.Lossless(), wind_speed=wind)
    run_settings = scene.settings(end=12.0)
    echo, r = scene.echoes(w, [e], run_settings)[0], engine.ranges(e, run_settings)
    f = np.linspace(*e.band, 2001)
    shape = np.abs(e.replica_spectrum(f)) ** 2 * e.weighting(f)
    filtered = shape * e.source_amplitude(f) * np.sqrt(e.equivalent_beam_angle(f))
    energy = np.trapezoid(filtered**2, f) / np.trapezoid(shape, f) ** 2
    for distance in (1.0, 2.0, 3.5):
        near = np.abs(r - distance) < 0.15
        got = (np.abs(echo[:, near]) ** 2 * r[near] ** 2).mean()
        above = bubbles.two_way_loss(170e3, wind, 0.5) - bubbles.two_way_loss(170e3, wind, 0.5 + distance)
        strength = float(bubbles.volume_backscatter(170e3, wind, 0.5 + distance)) * 10 ** (-above / 10)
        assert 10 * np.log10(got / (strength * scene.C / 2 * energy)) == pytest.approx(0, abs=1.2)


def test_calm_water_has_no_clutter():
    w = scene.world(scene.scatterers(np.zeros((3, 0))), path=scene.track(2))
    assert np.abs(scene.echoes(w, [scene.element()], scene.settings(end=12.0))[0]).max() == 0


@pytest.mark.parametrize("knots", [10, 15, 20])
def test_bubbles_around_the_face_leave_no_rounding_in_quiet_water(knots):
    """Beyond the clutter nothing echoes: what single precision leaves must stay 10 dB below the noise of wind and heat.

    Bubbles in the first millimetres were so strong that it stood 9 dB above all noise at any range (20 kn).
    """
    e = scene.element()
    w = scene.world(scene.scatterers(np.zeros((3, 0))), path=scene.track(4), wind_speed=knots * KNOT)
    run_settings = scene.settings(end=45.0)
    echo, r = scene.echoes(w, [e], run_settings)[0], engine.ranges(e, run_settings)
    left = 10 * np.log10(np.mean(np.abs(echo[:, r > 30.0]) ** 2))
    assert left < e.noise_level(knots * KNOT, True, None) - 10
