"""Layers with texture, beds on the bottom, the open water's own echo, steps of temperature."""

import level_track
import numpy as np
import pytest
import world_lab as lab
from pingwright import recording
from pingwright.inputs.scenario import parse
from pingwright.world import build, resolve, texture

ANCHORED = "speed = 0\nstart = 0\npings = 1\n"


def sailing(body, run, **keys):
    """Return the text of a scene under way."""
    return lab.text(body, pings=1, **keys).replace(ANCHORED, run)


LAYER = (
    '[[scattering_layer]]\nname = "l"\nkind = "flat"\ndepth = [12, 18]\nvolume_strength = -60\nfrequency = "120 kHz"\n'
)
BED = (
    LAYER.replace('"l"', '"weed"').replace("depth = [12, 18]", "above_bottom = 1\nx = [-50, 50]").replace("-60", "-50")
)


def test_patches_keep_the_mean_at_every_depth_and_vary_by_their_decibels():
    path = level_track.still(np.arange(0.0, 1000.0, 2.0), np.zeros(500), 0.0)
    made_of = texture.texture(np.random.default_rng(3), (12.0, 18.0), path)
    depth = np.linspace(13.5, 16.5, 31)
    table = np.array([made_of(float(x), 0.0, depth) for x in path.x])
    assert table.mean(axis=0) == pytest.approx(np.ones(31), abs=0.07)  # 0.3 dB
    assert np.std(10 * np.log10(table)) == pytest.approx(texture.PATCHINESS, abs=0.7)
    lag = round(texture.PATCH / 2)
    level = np.log(table[:, 15])
    level -= level.mean()
    # A Gaussian correlation is exp(-1/2) at its length.
    assert np.mean(level[lag:] * level[:-lag]) / np.mean(level**2) == pytest.approx(0.6, abs=0.25)
    edges = np.array([made_of(float(x), 0.0, np.linspace(10, 20, 1001)).astype(bool) for x in path.x])
    tops = np.argmax(edges, axis=1) * 0.01 + 10
    assert 0.2 < tops.std() < 0.9
    assert np.mean(tops) == pytest.approx(12.0, abs=0.6)


def test_a_patchy_layer_reads_its_mean_over_a_run_and_ends_with_its_bed():
    text = sailing(LAYER, "speed = 4\nstart = -100\npings = 64\nping_interval = 0.8\n")
    scene = recording.prepare(parse(text))
    row, element = recording.in_memory(scene, quiet=True, keep_phase=True).elements[0], scene.elements[0]
    found = lab.energy(row, 13.5, 16.5)

    def density(frequency):
        psi, r = element.equivalent_beam_angle(frequency), np.linspace(13.5, 16.5, 301)
        absorption = scene.world.water.mean_absorption(frequency, 0.0, np.array([15.0]))[0]
        return 1e-6 * psi * np.trapezoid(10 ** (-2 * absorption * r[:, None] / 10) / r[:, None] ** 2, r, axis=0)

    wanted = lab.source_power(element) * lab.over_band(element, density)
    assert 10 * np.log10(found.mean() / wanted) == pytest.approx(0.0, abs=0.3)
    assert np.std(10 * np.log10(found)) > 1.0


def test_a_bed_of_weed_stands_on_a_sloping_bottom_and_ends_where_it_is_said_to():
    text = sailing(BED, "speed = 5\nstart = -100\npings = 40\nping_interval = 1\n", depth=20, end=40).replace(
        "slope = { across = 0 }", "slope = { along = 2 }"
    )
    scene, bare = (recording.prepare(parse(t)) for t in (text, text.replace(BED, "")))
    rows = [recording.in_memory(s, quiet=True).elements[0] for s in (scene, bare)]
    power = [10 ** (row.level().astype(float) / 10) for row in rows]
    x, bottom = rows[0].x, rows[0].bottom_depth
    above = (rows[0].range[None, :] > bottom[:, None] - 0.8) & (rows[0].range[None, :] < bottom[:, None] - 0.3)
    gain = 10 * np.log10([(a[k]).mean() / (b[k]).mean() for a, b, k in zip(power[0], power[1], above, strict=True)])
    assert gain[np.abs(x) < 45].min() > 10
    assert np.abs(gain[np.abs(x) > 55]).max() < 0.1
    body = scene.world.contents.bodies[0]
    assert body.box[:2] == (-50.0, 50.0)


@pytest.mark.parametrize(
    ("keys", "wanted"),
    [({}, -90.0), ({"salinity": 0}, None), ({"second_echo": "none"}, None), ({"second_echo": -80}, -80.0)],
)
def test_open_sea_water_scatters_faintly_and_fresh_water_does_not(keys, wanted):
    background = keys.pop("second_echo", "by water")
    text = lab.text("", **keys).replace('background = "none"', f"background = {background!r}".replace("'", '"'))
    layers = build.build(resolve.resolve(parse(text)), lab.LOOKS).scattering_layer
    assert (None if not layers else pytest.approx(wanted)) == (
        wanted if not layers else 10 * np.log10(layers[0].volume_coefficient(np.array([1e5]))[0])
    )


def test_steps_of_temperature_show_where_they_are_asked_for():
    rows = "depth,temperature,salinity\n0,20,35\n10,20,35\n12,14,35\n40,13,35\n"
    text = (
        lab.text("")
        .replace('background = "none"\n', "")
        .replace("temperature = 11\nsalinity = 34.5\n", 'profile = "w.csv"\nshow_steps = true\n')
    )
    layers = build.build(resolve.resolve(parse(text, "t.toml", {"w.csv": rows.encode()})), lab.LOOKS).scattering_layer
    assert [(one.name, one.depth) for one in layers[:1]] == [("step at 10.0 m", (10.0, 12.0))]
    assert len(layers) == 2
