"""A small scene from its text, moved about and measured, for tests that go through the whole engine."""

from dataclasses import replace
from types import SimpleNamespace

import level_track
import numpy as np
from pingwright import recording
from pingwright.inputs.scenario import parse
from pingwright.world import build
from pingwright.world.looks import Look

#: One element that looks finely, where a world is built without any.
LOOKS = (Look(0.0094, 8.5, 12.0, 0.0, (130e3, 210e3)),)

SHEET = """
title = "test"
seed = 2
[water]
temperature = {temperature}
salinity = {salinity}
{water}
[boat]
speed = 0
start = 0
pings = {pings}
{boat}
[window]
depth = [0, {end}]
[[element]]
name = "e"
use = "{use}"
{element}
[seabed]
depth = {depth}
slope = {{ across = {slope} }}
roughness = "{roughness}"
[[seabed.layer]]
sediment = "{sediment}"
[noise]
ambient = false
[reverberation]
second_echo = {second_echo}
background = "none"
"""


def text(
    body="",
    *,
    pings=1,
    end=40,
    use="high-pencil",
    depth=30,
    slope=0,
    sediment="gravel",
    boat="",
    element="",
    temperature=11,
    salinity=34.5,
    water="",
    second_echo=False,
    roughness="natural",
):
    """Return the scene's text; body: further tables."""
    return (
        SHEET.format(
            pings=pings,
            end=end,
            use=use,
            depth=depth,
            slope=slope,
            sediment=sediment,
            boat=boat,
            element=element,
            temperature=temperature,
            salinity=salinity,
            water=water,
            second_echo=str(second_echo).lower(),
            roughness=roughness,
        )
        + body
    )


def prepared(body="", **keys):
    """Return the scene, ready to run; see text."""
    return recording.prepare(parse(text(body, **keys)))


def spread_out(made, apart=40.0):
    """Move the pings apart along x, the contour, so that each has its own bottom; fish and targets are left out."""
    count = len(made.world.track)
    path = level_track.still(np.arange(count) * apart, np.zeros(count), 0.0)
    nobody = build.fish.Placed(np.zeros((3, 0)), *np.zeros((3, 0)), np.zeros(0, dtype=np.int64))
    group = SimpleNamespace(
        name="none",
        swimbladder="closed",
        tilt=SimpleNamespace(mean=0.0, sd=5.0),
        strength_model="love-1971",
    )
    return replace(
        made,
        world=replace(
            build.monte_carlo(made.scenario, path, nobody, group, None, made.world.looks), seed=made.world.seed
        ),
    )


def energy(row, low, high):
    """Return each ping's echo energy [uPa2 s over the effective pulse] between two ranges [m] of an element's row."""
    info, keep = row.info, (row.range > low) & (row.range < high)
    step = 2 * (row.range[1] - row.range[0]) / info.assumed_sound_speed
    return (np.abs(np.asarray(row.echo)[:, keep]) ** 2).sum(axis=1) * step / info.effective_pulse


def over_band(element, density):
    """Return the band mean of a density (frequency) as the receiver weighs it, relative to centre source level."""
    frequency = np.linspace(*element.band, 41)[1:-1]
    weight = element.weighting(frequency) ** 2
    source = (element.source_amplitude(frequency) / element.source_amplitude(np.array([element.centre]))) ** 2
    return float(np.sum(weight * source * density(frequency)) / np.sum(weight))


def source_power(element):
    """Return the square of the source amplitude at band centre [uPa2 m2]."""
    return float(element.source_amplitude(np.array([element.centre]))[0] ** 2)
