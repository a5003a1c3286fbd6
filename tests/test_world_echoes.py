"""What the world's parts give as echoes, through the whole engine: each against a closed form."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from simulator import recording
from simulator.acoustics.roughness import gaussian_slopes
from simulator.inputs.scenario import parse
from simulator.world import materials, seabed, target, terrain, track
from simulator.world.scatterers import StrengthLaw
from simulator.world.volume import Layer

HEAD = """
title = "test"
seed = 2
[water]
temperature = 11
salinity = 34.5
[boat]
speed = 0
start = 0
pings = {pings}
[window]
depth = [0, {end}]
[[element]]
name = "e"
use = "{use}"
[seabed]
depth = {depth}
slope = {{ across = {slope} }}
[[seabed.layer]]
sediment = "{sediment}"
[noise]
ambient = false
[reverberation]
second_echo = false
"""


def prepared(body="", *, pings=1, end=40, use="high-pencil", depth=30, slope=0, sediment="gravel"):
    return recording.prepare(
        parse(HEAD.format(pings=pings, end=end, use=use, depth=depth, slope=slope, sediment=sediment) + body)
    )


def spread_out(made, apart=40.0):
    """Move the pings apart along x, the contour, so that each has its own bottom."""
    count = len(made.world.track)
    path = track.still(np.arange(count) * apart, np.zeros(count), 0.0)
    scenario, world = made.scenario, made.world
    from simulator.world import build

    nobody = build.fish.Placed(np.zeros((3, 0)), *np.zeros((3, 0)), np.zeros(0, dtype=np.int64))
    group = SimpleNamespace(
        name="none",
        swimbladder="closed",
        tilt=SimpleNamespace(mean=0.0, sd=5.0),
        strength_model="love-1971",
    )
    return replace(made, world=replace(build.monte_carlo(scenario, path, nobody, group), seed=world.seed))


def energy(record, low, high):
    """Return the mean echo energy over pings [uPa2 s over the effective pulse] between two ranges [m]."""
    row = record.elements[0]
    info, keep = row.info, (row.range > low) & (row.range < high)
    step = 2 * (row.range[1] - row.range[0]) / info.assumed_sound_speed
    power = np.abs(np.asarray(row.echo)[:, keep]) ** 2
    return power.sum(axis=1) * step / info.effective_pulse


def over_band(made, density):
    """Return the band mean of a density (frequency) as the receiver weighs it, relative to centre source level."""
    element = made.elements[0]
    frequency = np.linspace(*element.band, 41)[1:-1]
    weight = element.weighting(frequency) ** 2
    source = (element.source_amplitude(frequency) / element.source_amplitude(np.array([element.centre]))) ** 2
    return float(np.sum(weight * source * density(frequency)) / np.sum(weight))


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


@pytest.mark.parametrize("slope", [0, 5])
@pytest.mark.parametrize(("sediment", "use"), [("gravel", "high-pencil"), ("medium sand", "medium-pencil")])
def test_bottom_energy_through_the_engine(sediment, use, slope):
    # 48 fresh bottoms; tolerance 0.5 dB plus twice the sum's standard error, as the issue states.
    made = spread_out(prepared(pings=48, depth=18, end=32, sediment=sediment, use=use, slope=slope))
    found = energy(recording.in_memory(made, quiet=True, keep_phase=True), 5.0, 40.0)
    element, world = made.elements[0], made.world
    step = 0.15
    x, y = (a.ravel() for a in np.meshgrid(np.arange(-20, 20, step), np.arange(-20, 20, step)))
    depth, along, across = world.terrain.surface(x, y)
    r = np.sqrt(x**2 + y**2 + depth**2)
    entry = materials.sediment(sediment)
    node, share = np.polynomial.hermite_e.hermegauss(7)
    spread = np.tan(np.radians(entry.slope_rms_deg)) / np.sqrt(2)

    def density(frequency):
        from simulator.acoustics.seabed import backscatter

        table = backscatter(entry, 1 - np.linspace(0, 1, 1025) ** 2, frequency, 1490.0)
        total = np.zeros((len(x), len(frequency)))
        for a, wa in zip(node, share, strict=True):
            for b, wb in zip(node, share, strict=True):
                nx, ny = along + a * spread, across + b * spread
                cosine = (depth - x * nx - y * ny) / r / np.sqrt(1 + nx**2 + ny**2)
                total += wa * wb * table[np.round(np.sqrt(np.clip(1 - cosine, 0, 1)) * 1024).astype(int)]
        beam = np.abs(element.beam(x / r, y / r, frequency)) ** 4
        loss = 10 ** (-2 * r[:, None] * world.water.mean_absorption(frequency, 0.0, np.array([18.0])) / 10)
        stretch = np.sqrt(1 + along**2 + across**2)[:, None]
        return (total / share.sum() ** 2 * beam * loss * stretch / r[:, None] ** 4).sum(axis=0) * step**2

    element = made.elements[0]
    coarse = np.linspace(*element.band, 7)
    values = density(coarse)
    wanted = over_band(made, lambda f: np.interp(f, coarse, values))
    source = element.source_amplitude(np.array([element.centre]))[0] ** 2
    off = 10 * np.log10(found.mean() / source / wanted)
    error = 10 * np.log10(1 + 2 * found.std() / found.mean() / np.sqrt(len(found)))
    assert abs(off) < 0.5 + error


def test_a_smooth_bottom_of_gaussian_slopes_is_a_mirror():
    # The limit named by the issue: slopes far narrower than the beam, no volume. Energy |R|^2 / (2 d)^2, within 0.3 dB:
    # patches as the world sows them, summed over a beam that is even out to 40 degrees. sqrt(2) enters since a slope s
    # sends sound back from incidence s, once: integral of S over the plane / d^4 = |R|^2 / 4 d^2.
    slope = SimpleNamespace(along=0.0, across=0.0)
    layer = (SimpleNamespace(sediment="fine sand"),)
    ground = terrain.build(SimpleNamespace(depth=30.0, grid=None, slope=slope, relief=None, layer=layer), 1)
    entry = replace(materials.sediment("fine sand"), slope_rms_deg=0.0)
    look = seabed.Look(0.0094, 12.0, 12.0, 0.0, (130e3, 210e3))
    source = seabed.build(1, ground, [Layer(entry, None)], [look], track.still(np.zeros(1), np.zeros(1), 0.0), 1490.0)
    law = StrengthLaw("test", lambda c, f: np.sqrt(gaussian_slopes(c, 2.0))[:, None] * np.ones(len(f)))
    sums = []
    for run in range(40):
        tiles = [source.tile(200 * run + i, j) for i in range(-2, 2) for j in range(-2, 2)]
        position = np.concatenate([t.position for t in tiles], axis=1)
        position[0] -= 200 * run * source.tile_edge
        axis, amplitude = np.concatenate([t.axis for t in tiles], axis=1), np.concatenate([t.amplitude for t in tiles])
        r = np.linalg.norm(position, axis=0)
        strength = amplitude * law.amplitude(-np.sum(position * axis, axis=0) / r, np.ones(1))[:, 0]
        sums.append(np.sum(strength**2 / r**4))
    assert 10 * np.log10(np.mean(sums) * 4 * 30.0**2) == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize("slope", [3, 5])
def test_the_first_echo_of_a_slope_comes_from_its_nearest_point(slope):
    # Source: d cos(beta) while the slope is within the beam (12 and 20 degrees wide, half 6 and 10).
    made = spread_out(prepared(pings=24, slope=slope, sediment="gravel", use="low-pencil"))
    row = recording.in_memory(made, quiet=True).elements[0]
    power = np.mean(10 ** (row.level().astype(float) / 10), axis=0)
    first = row.range[np.argmax((power > 0.01 * power[row.range > 20].max()) & (row.range > 20))]
    # Rises over about one length of the echo, 1.44 c/2B, ahead of the nearest point by the filter's own skirt.
    assert first == pytest.approx(30 * np.cos(np.radians(slope)), abs=2 * row.info.range_resolution)


def test_haze_reads_its_stated_strength_by_echo_integration():
    haze = '[[haze]]\nname = "h"\nkind = "flat"\ndepth = [12, 18]\nvolume_strength = -60\nfrequency = "120 kHz"\n'
    made = prepared(haze, pings=64)
    found = energy(recording.in_memory(made, quiet=True, keep_phase=True), 13.5, 16.5)
    element = made.elements[0]

    def density(frequency):
        # s_v psi / r^2 dr over the gate, spreading r^-4 times area psi r^2.
        psi = element.equivalent_beam_angle(frequency)
        r = np.linspace(13.5, 16.5, 301)
        absorption = made.world.water.mean_absorption(frequency, 0.0, np.array([15.0]))[0]
        loss = 10 ** (-2 * absorption[None, :] * r[:, None] / 10) / r[:, None] ** 2
        return 1e-6 * psi * np.trapezoid(loss, r, axis=0)

    source = element.source_amplitude(np.array([element.centre]))[0] ** 2
    assert 10 * np.log10(found.mean() / source / over_band(made, density)) == pytest.approx(0.0, abs=0.3)


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
    for density in (2.0, 8.0):
        made = prepared(school.format(density=density), pings=1)
        # Forty boats over the one school, each over fish of its own: the energy of the middle of it.
        x = np.linspace(-15, 15, 40)
        world = replace(made.world, track=track.still(x, 0.7 * x, 0.0))
        from simulator.engine.settings import from_scenario

        scenario = made.scenario.model_copy(update={"boat": made.scenario.boat.model_copy(update={"pings": 40})})
        made = replace(made, world=world, settings=from_scenario(scenario, world))
        header = made.header
        row = header.elements[0]
        grown = {k: np.zeros(40) for k in ("ping_time", "x", "y", "roll", "pitch", "heave", "bottom_depth")}
        made = replace(made, header=replace(header, elements=(replace(row, **grown),)))
        found = energy(recording.in_memory(made, quiet=True, keep_phase=True), 14.0, 18.0)
        levels.append(found.mean() / density)

    def density_of(frequency):
        psi = made.elements[0].equivalent_beam_angle(frequency)
        r = np.linspace(14.0, 18.0, 301)
        absorption = made.world.water.mean_absorption(frequency, 0.0, np.array([16.0]))[0]
        loss = 10 ** (-2 * absorption[None, :] * r[:, None] / 10) / r[:, None] ** 2
        return 10 ** ((20 * np.log10(12) - 67.4) / 10) * psi * np.trapezoid(loss, r, axis=0)

    source = made.elements[0].source_amplitude(np.array([made.elements[0].centre]))[0] ** 2
    wanted = over_band(made, density_of) * source
    sigma = 10 ** ((20 * np.log10(12) - 67.4) / 10)
    for density, level in zip((2.0, 8.0), levels, strict=True):
        # Two-way through three metres of school on average, n sigma_e with sigma_e = 8 pi sigma_bs.
        dimmed = np.exp(-2 * density * 8 * np.pi * sigma * 3.0)
        # Forty views of some 25 and 100 fish each: 0.2 and 0.1 dB of scatter.
        assert 10 * np.log10(level / wanted / dimmed) == pytest.approx(0.0, abs=0.5)
