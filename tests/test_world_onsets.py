"""The weak first part of bottom echoes on slopes, waves and rock: picked as bottom, never taken for a fish."""

import numpy as np
import pytest
import world_lab as lab
from pingwright import recording
from pingwright.inputs.scenario import parse
from pingwright.measure import bottom, cells, separated
from pingwright.measure.rules import SEEN

HEIGHTS = np.arange(0.2, 2.1, 0.1)


@pytest.mark.parametrize(
    ("sediment", "slope", "use", "roughness"),
    [
        ("gravel", 0, "high-pencil", "natural"),
        ("fine sand", 10, "high-pencil", "none"),
        ("mud", 12, "high-pencil", "natural"),
        ("gravel", 12, "medium-pencil", "natural"),
    ],
)
def test_a_bare_slope_shows_no_fish(sediment, slope, use, roughness):
    # The design's bar: of pings without fish at most 2 in 100 count as a separated fish of 40 cm at any one height.
    # With the sediment's own relief single pings go a little beyond it (2.7 in 100 on medium sand); then passes of ten
    # pings are judged, as marks are.
    pings, depth = 30, 40.0
    keys = {"pings": pings, "depth": depth, "end": 50, "slope": slope, "sediment": sediment, "use": use}
    sheet = lab.text(**keys, roughness=roughness).replace("ambient = false", "ambient = true")
    made = lab.spread_out(recording.prepare(parse(sheet)))
    row = recording.in_memory(made, quiet=True).elements[0]
    grid = cells.grid(row)
    found = bottom.find(row.echo_level, grid)
    trial = np.repeat(np.arange(pings), len(HEIGHTS))
    place = np.tile(depth - HEIGHTS, pings)
    judged = separated.score(
        row.echo_level, grid, found, trial, place, separated.tolerance(grid, np.full(len(trial), 0.4))
    )
    shown = judged.separated.reshape(pings, len(HEIGHTS)).T.reshape(-1, 10)
    assert (SEEN.met(shown).mean() if roughness == "natural" else shown.mean()) <= 0.02
    # Source: the nearest point of a plane, d cos(beta).
    nearest = depth * np.cos(np.radians(slope))
    assert np.median(found.pick) == pytest.approx(nearest, abs=0.1)


@pytest.mark.parametrize(
    ("sediment", "relief", "steepest"),
    [
        # Steepest slope of a sinusoid: pi height / wavelength.
        ("coarse sand", '{ height = "2 m", wavelength = "14 m" }', np.pi * 2 / 14),
        # Rough rock is random; three times its rms slope along the track, height / sqrt 8 and 2 pi / wavelength in all
        # directions, with the shortest waves 0.4 times the wavelength.
        ("rock", '{ height = "1.5 m", wavelength = "9 m" }', 3 * 1.5 / np.sqrt(8) * 2 * np.pi / 9),
    ],
)
def test_the_pick_follows_waves_without_steps(sediment, relief, steepest):
    # Source: the range to the nearest ground changes by no more than the way times the sine of the steepest slope; two
    # cells either way for the echo's fading. It stepped by up to 0.84 m where the first echo is weak.
    pings, way = 80, 30.0
    run = f'speed = "2 m/s"\nstart = -15\nlength = {way}\nping_interval = {way / 2 / pings}'
    sheet = lab.text(end=48, depth=40, sediment=sediment).replace("speed = 0\nstart = 0\npings = 1", run)
    sheet = sheet.replace("ambient = false", "ambient = true").replace("slope = { across = 0 }", f"relief = {relief}")
    row = recording.in_memory(recording.prepare(parse(sheet)), quiet=True).elements[0]
    grid = cells.grid(row)
    pick = bottom.find(row.echo_level, grid).pick
    most = way / pings * np.sin(np.arctan(steepest)) + 4 * grid.cell
    steps = np.abs(np.diff(pick))
    assert len(pick) >= pings
    assert np.mean(steps < most) > 0.97
    # Single steps of 0.68 m on sand waves and 0.60 m on rock were measured where a fade of the onset passed for water.
    assert steps.max() < 0.25


def test_the_pick_is_the_nearest_spot_of_a_rough_ground():
    # Geometry alone: the least range to any facet of the ground within the beam's -3 dB width, 4.25 degrees off its
    # axis. Natural relief of gravel has spots some 6 cm over its mean; the mean is no place that echoes first.
    pings = 12
    sheet = lab.text(end=48, depth=40, sediment="gravel", pings=pings, use="high-pencil", roughness="natural")
    made = lab.spread_out(recording.prepare(parse(sheet.replace("slope = { across = 0 }", ""))))
    row = recording.in_memory(made, quiet=True).elements[0]
    pick = bottom.find(row.echo_level, cells.grid(row)).pick
    seabed, track = made.world.seabed, made.world.track
    off = []
    for x, y, depth, found in zip(track.x, track.y, track.depth, pick, strict=True):
        at = [range(int((v - 4) // seabed.tile_edge), int((v + 4) // seabed.tile_edge) + 1) for v in (x, y)]
        way = np.concatenate([seabed.tile(i, j).position for i in at[0] for j in at[1]], axis=1)
        way = way - np.array([x, y, depth])[:, None]
        inside = np.hypot(way[0], way[1]) < way[2] * np.tan(np.radians(4.25))
        off.append(found - np.linalg.norm(way[:, inside], axis=0).min())
    assert abs(np.median(off)) < 0.015  # a cell and a half
    assert np.std(off) < 0.015
