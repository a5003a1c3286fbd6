"""What the world's parts give as echoes, through the whole engine: each against a closed form."""

from dataclasses import replace

import gsw
import level_track
import numpy as np
import pytest
from pingwright import recording
from pingwright.inputs.scenario import parse
from pingwright.world import materials, target
from world_lab import energy, over_band, prepared, spread_out, text


def two_way_loss(made, frequency, distance):
    absorption = made.world.water.mean_absorption(frequency, 0.0, np.array([distance]))[0]
    return 10 ** (-2 * absorption * distance / 10)


SPHERE = """
[[target]]
name = "s"
sphere = { material = "%s", diameter = "%s" }
at = { depth = 15 }
"""


@pytest.mark.parametrize(("material", "diameter"), [("tungsten carbide", "38.1 mm"), ("copper", "60 mm")])
def test_a_sphere_echoes_with_its_published_strength_over_the_band(material, diameter):
    made = prepared(SPHERE % (material, diameter))
    row = recording.in_memory(made, quiet=True, keep_phase=True).elements[0]
    element, speed = made.elements[0], float(made.world.water.sound_speed(np.array([15.0]))[0])
    frequency = np.linspace(*element.band, 6001)
    metal = materials.sphere_material(material)
    form = target.form_function(float(diameter[:-3]) / 1e3, metal, made.world.water.density, speed, frequency)
    weight = np.abs(element.replica_spectrum(frequency)) ** 2 * element.weighting(frequency)
    gain = element.source_amplitude(frequency) * form * np.sqrt(two_way_loss(made, frequency, 15.0)) / 15.0**2
    near = np.abs(row.range - 15.0) < 0.3
    time = 2 * row.range[near] / row.info.assumed_sound_speed
    delay = 30.0 * made.world.water.mean_slowness(0.0, np.array([15.0]))[0]
    turns = np.exp(2j * np.pi * frequency[None, :] * (time - delay)[:, None])
    wanted = 20 * np.log10(np.abs(turns @ (weight * gain)).max() / weight.sum())
    got = 20 * np.log10(np.abs(np.asarray(row.echo)[0, near]).max())
    # The smoothed resonances are 3 % of the copper's rms: 0.3 dB at worst.
    assert got == pytest.approx(wanted, abs=0.2)


@pytest.mark.parametrize(
    ("slope", "use", "sediment"),
    [
        (3, "low-pencil", "gravel"),
        (5, "low-pencil", "gravel"),
        (8, "low-pencil", "medium sand"),
        (5, "medium-pencil", "mud"),
        (3, "high-pencil", "rock"),
        (4, "high-pencil", "mud"),
    ],
)
def test_the_first_echo_of_a_slope_comes_from_its_nearest_point(slope, use, sediment):
    # Source: d cos(beta) while the slope is within the beam (8.5, 12 and 20 degrees wide, so half of that). A plane:
    # natural roughness brings the first echo of rock some 7 cm nearer.
    made = spread_out(prepared(pings=24, slope=slope, sediment=sediment, use=use, roughness="none"))
    row = recording.in_memory(made, quiet=True).elements[0]
    power = np.mean(10 ** (row.level().astype(float) / 10), axis=0)
    first = row.range[np.argmax((power > 0.01 * power[row.range > 20].max()) & (row.range > 20))]
    # Rises over about one length of the echo, 1.44 c/2B, ahead of the nearest point by the filter's own skirt.
    assert first == pytest.approx(30 * np.cos(np.radians(slope)), abs=2 * row.info.range_resolution)


@pytest.mark.parametrize(
    ("kind", "use"),
    [("flat", "high-pencil"), ("fluid", "high-pencil"), ("fluid", "low-pencil"), ("gas", "low-pencil"),
     ("gas", "medium-pencil")],
)  # fmt: skip
def test_scattering_layer_reads_its_stated_strength_by_echo_integration(kind, use):
    layer = f'[[scattering_layer]]\nname = "h"\nkind = "{kind}"\ndepth = [12, 18]\n'
    layer += 'volume_strength = -60\nfrequency = "120 kHz"\n'
    made = prepared(layer, pings=64, use=use)
    found = energy(recording.in_memory(made, quiet=True, keep_phase=True).elements[0], 13.5, 16.5)
    element = made.elements[0]
    # -60 dB at 120 kHz; the assumed laws as the catalogue says them: gas f^-0.5, fluid f^4 / (1 + (f / 60 kHz)^4).
    relative = {
        "flat": lambda f: f**0.0,
        "gas": lambda f: (f / 120e3) ** -0.5,
        "fluid": lambda f: (f / 120e3) ** 4 * (1 + 2.0**4) / (1 + (f / 60e3) ** 4),
    }[kind]

    def density(frequency):
        # s_v psi / r^2 dr over the gate, spreading r^-4 times area psi r^2.
        psi = element.equivalent_beam_angle(frequency)
        r = np.linspace(13.5, 16.5, 301)
        absorption = made.world.water.mean_absorption(frequency, 0.0, np.array([15.0]))[0]
        loss = 10 ** (-2 * absorption[None, :] * r[:, None] / 10) / r[:, None] ** 2
        return 1e-6 * relative(frequency) * psi * np.trapezoid(loss, r, axis=0)

    source = element.source_amplitude(np.array([element.centre]))[0] ** 2
    assert 10 * np.log10(found.mean() / source / over_band(made.elements[0], density)) == pytest.approx(0.0, abs=0.3)


WRECK = """
[[structure]]
name = "wreck"
shape = { kind = "box", length = "20 m", width = "20 m", height = "4 m" }
"""
FISH = """
[[fish]]
name = "f"
swimbladder = "closed"
length = "40 cm"
count = 40
where = { x = [-1, 1], y = [-1, 1], above_bottom = [%s, %s] }
"""


def loudest(made, low, high):
    row = recording.in_memory(made, quiet=True).elements[0]
    keep = (row.range > low) & (row.range < high)
    return float(row.level(0, keep.nonzero()[0][[0, -1]].tolist() and slice(*keep.nonzero()[0][[0, -1]])).max())


def test_fish_inside_a_wreck_disappear_and_above_it_do_not():
    wreck = loudest(prepared(WRECK), 26.3, 29.5)
    inside = loudest(prepared(WRECK + FISH % ("0.5", "3.4")), 26.3, 29.5)
    assert inside == pytest.approx(wreck, abs=0.5)
    above = loudest(prepared(WRECK + FISH % ("6", "8")), 21.0, 24.5)
    assert above > loudest(prepared(WRECK), 21.0, 24.5) + 20


def test_fish_behind_a_structure_disappear():
    box = 'shape = { kind = "box", length = 16, width = 16, height = 1 }'
    slab = f'[[structure]]\nname = "slab"\n{box}\nat = {{ depth = 13 }}\n'
    fish = FISH.replace("above_bottom", "depth") % (18, 22)
    alone, hidden, slabs = (loudest(prepared(body), 17.0, 23.0) for body in (fish, slab + fish, slab))
    assert hidden == pytest.approx(slabs, abs=0.5)
    assert alone > hidden + 20


def test_what_stands_in_front_hides_the_seabed():
    assert loudest(prepared(WRECK), 29.8, 30.3) < loudest(prepared(), 29.8, 30.3) - 15


ROOF = """
[[structure]]
name = "w"
shape = { kind = "hull", length = "40 m", width = "20 m", height = "5 m", list = "%s deg" }
"""


def test_a_flat_roof_glints_and_a_tilted_one_does_not():
    flat, listing = (loudest(prepared(ROOF % degrees), 15.0, 29.0) for degrees in (0, 40))
    assert flat > listing + 6


def test_an_edge_glints_where_its_faces_do_not():
    # A beam of 2 m a side with an edge up: 12 m of edge, some 2 m of it within one cell of the nearest point, at
    # -20 dB a metre or so; either face, met at 45 degrees, gives Lambert's -20 dB of little area.
    import trimesh

    bar = trimesh.creation.box((12, 2, 2))
    bar.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 4, (1, 0, 0)))
    body = '[[structure]]\nname = "bar"\nshape = { kind = "mesh", file = "bar.stl", unit = "m" }\n'
    made = recording.prepare(parse(text(body), "test.toml", {"bar.stl": bar.export(file_type="stl")}))
    row = recording.in_memory(made, quiet=True).elements[0]
    top = 30 - np.sqrt(8)
    near, behind = ((row.range > top + a) & (row.range < top + b) for a, b in ((-0.05, 0.06), (0.15, 0.6)))
    level = row.level(0).astype(float)
    strength = level[near].max() + 40 * np.log10(top) + 2 * row.info.absorption * top - row.info.source_level
    assert -26 < strength < -12
    assert level[near].max() > level[behind].max() + 3


def test_a_school_of_n_fish_reads_n_times_the_mean_to_within_extinction():
    school = """
[[school]]
name = "s"
swimbladder = "closed"
length = "12 cm"
at = {{ depth = 16 }}
size = {{ along = "60 m", across = "60 m", height = "6 m" }}
density = "{density} per m3"
strength_model = "foote-1987"
tilt = {{ mean = 0, sd = 10 }}
"""
    levels = []
    for density in (2.0, 6.0):
        made = prepared(school.format(density=density), pings=1)
        # Twenty-eight boats over the one school, each over fish of its own: the energy of the middle of it.
        x = np.linspace(-15, 15, 28)
        world = replace(made.world, track=level_track.still(x, 0.7 * x, 0.0))
        from pingwright.engine.settings import from_scenario

        scenario = made.scenario.model_copy(update={"boat": made.scenario.boat.model_copy(update={"pings": 28})})
        made = replace(made, world=world, settings=from_scenario(scenario, world))
        header = made.header
        row = header.elements[0]
        grown = {k: np.zeros(28) for k in ("ping_time", "x", "y", "roll", "pitch", "heave", "bottom_depth")}
        made = replace(made, header=replace(header, elements=(replace(row, **grown),)))
        found = energy(recording.in_memory(made, quiet=True, keep_phase=True).elements[0], 14.0, 18.0)
        levels.append(found.mean() / density)

    def density_of(frequency):
        psi = made.elements[0].equivalent_beam_angle(frequency)
        r = np.linspace(14.0, 18.0, 301)
        absorption = made.world.water.mean_absorption(frequency, 0.0, np.array([16.0]))[0]
        loss = 10 ** (-2 * absorption[None, :] * r[:, None] / 10) / r[:, None] ** 2
        return 10 ** ((20 * np.log10(12) - 67.4) / 10) * psi * np.trapezoid(loss, r, axis=0)

    source = made.elements[0].source_amplitude(np.array([made.elements[0].centre]))[0] ** 2
    wanted = over_band(made.elements[0], density_of) * source
    sigma = 10 ** ((20 * np.log10(12) - 67.4) / 10)
    for density, level in zip((2.0, 6.0), levels, strict=True):
        # Two-way through three metres of school on average, n sigma_e with sigma_e = 8 pi sigma_bs.
        dimmed = np.exp(-2 * density * 8 * np.pi * sigma * 3.0)
        # Twenty-eight views of some 25 and 75 fish each: 0.2 and 0.1 dB of scatter.
        assert 10 * np.log10(level / wanted / dimmed) == pytest.approx(0.0, abs=0.5)


def test_a_mesh_of_more_than_200_000_triangles_echoes_and_hides_through_the_engine():
    import trimesh

    ball = trimesh.creation.uv_sphere(radius=2.0, count=[320, 330])
    assert len(ball.faces) > 200_000
    mesh = '[[structure]]\nname = "ball"\nshape = { kind = "mesh", file = "ball.stl", unit = "m" }\n'
    inputs = {"ball.stl": ball.export(file_type="stl")}
    made = recording.prepare(parse(text(mesh, depth=20, end=23), "test.toml", inputs))
    with_ball = recording.in_memory(made, quiet=True).elements[0]
    bare = recording.in_memory(prepared(depth=20, end=23), quiet=True).elements[0]
    level, other = with_ball.level(0).astype(float), bare.level(0).astype(float)
    # A ball 4 m high on the bottom at 20 m: its top at 16 m; the bottom under it, 1.5 m each way in the beam, is gone.
    top = (with_ball.range > 15.9) & (with_ball.range < 16.3)
    assert level[top].max() > other[top].max() + 40
    under = (with_ball.range > 19.95) & (with_ball.range < 20.05)
    assert other[under].max() > level[under].max() + 15


@pytest.mark.parametrize(("salinity", "temperature"), [(34.5, 2), (34.5, 25), (8, 11), (0, 11)])
def test_a_wrong_sound_speed_puts_the_bottom_at_the_wrong_depth_by_the_right_amount(salinity, temperature):
    # Source of the true speed: TEOS-10 (gsw), at 15 m; the echo of a point at 30 m is drawn at 30 m x assumed / true.
    true = float(gsw.sound_speed_t_exact(gsw.SA_from_SP(salinity, 15.0, 0.0, 45.0), temperature, 15.0))
    point = '[[target]]\nname = "t"\nstrength = -10\nat = { depth = 30 }\n'
    keys = {"depth": 60, "end": 45, "temperature": temperature, "salinity": salinity, "pings": 1}
    for assumed in (1450, 1550):
        made = prepared(point, water=f"assumed_sound_speed = {assumed}\n", **keys)
        row = recording.in_memory(made, quiet=True).elements[0]
        near = np.flatnonzero(row.range > 20)
        found = row.range[near[np.argmax(row.level(0)[near])]]
        assert found == pytest.approx(30.0 * assumed / true, abs=0.01)
