"""A resolved scenario becomes a World."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from pingwright import seeds
from pingwright.acoustics import seabed as formulas
from pingwright.world import (
    cautions,
    fish,
    looks,
    materials,
    scattering_layers,
    seabed,
    strength,
    target,
    terrain,
    track,
    water,
)
from pingwright.world.contents import Body, Contents, Outline, Stock
from pingwright.world.fish import Placed
from pingwright.world.gather import Gathering
from pingwright.world.scatterers import Bounce, FloatArray, Occluder, Track, Veil, World
from pingwright.world.terrain import Ground
from pingwright.world.volume import Layer
from pingwright.world.water import LayeredWater


@dataclass(frozen=True)
class Base:
    """What a scenario's world stands on: seed, ground, water, where the boat is, and the bottom's layers."""

    seed: int
    ground: Ground
    water: LayeredWater
    track: Track
    layers: tuple[Layer, ...]


def build(scenario: Any, seed: int | None = None) -> World:
    """Return the world of a resolved scenario (world.resolve); seed: instead of the scenario's own.

    Raises ScenarioError where the scenario asks for what cannot be (a mesh that is none, love-1978 above k r = 1).
    """
    boat = scenario.boat
    transmissions = boat.pings * (len(scenario.element) if boat.in_turn else 1)
    base = _base(scenario, track.build(boat, transmissions), seed)
    gathering = Gathering()
    ground_source = _seabed(scenario, base, gathering)
    occluders, outlines, inside = _structures(scenario, base, gathering)
    stocks, veils = _fish(scenario, base, gathering, inside)
    gathering.warnings += cautions.find(scenario, stocks, base.ground, base.track, base.water, inside)
    bodies = _targets(scenario, base, gathering)
    bodies += [_school_body(school) for school in scenario.school] + [
        scattering_layers.body(layer) for layer in scenario.scattering_layer
    ]
    contents = Contents(tuple(stocks), tuple(outlines), tuple(bodies))
    return _world(scenario, base, gathering, ground_source, occluders, veils, contents)


def monte_carlo(scenario: Any, poses: Track, placed: Placed, group: Any, seed: int | None = None) -> World:
    """Return a world of many independent pings: each fish of `placed` exists in its own ping only.

    scenario: resolved; its own fish, schools and targets are left out, its structures and scattering layers stay.
    poses: one ping each, spaced so that each has its own bottom. group: a `fish` section: name, swimbladder, tilt,
    strength_model.
    """
    base = _base(scenario, poses, seed)
    gathering = Gathering()
    ground_source = _seabed(scenario, base, gathering)
    occluders, outlines, _ = _structures(scenario, base, gathering)
    stock = _stock(scenario, base, gathering, group, placed, 0)
    contents = Contents(
        (stock,), tuple(outlines), tuple(scattering_layers.body(layer) for layer in scenario.scattering_layer)
    )
    return _world(scenario, base, gathering, ground_source, occluders, [], contents)


def _base(scenario: Any, poses: Track, seed: int | None) -> Base:
    seed = int(scenario.seed if seed is None else seed)
    # The relief is the scenario's, whatever seed sows the echoes on it.
    ground = terrain.build(scenario.seabed, int(scenario.seed))
    deepest = max(float(scenario.window.depth[1]), 2.2 * float(ground.depth(poses.x, poses.y).max()))
    body = water.build(scenario.water, float(scenario.boat.transducer_depth), 1.2 * deepest)
    layers = tuple(Layer(materials.sediment(spec.sediment), spec.thickness) for spec in scenario.seabed.layer)
    return Base(seed, ground, body, poses, layers)


def _seabed(scenario: Any, base: Base, gathering: Gathering) -> seabed.Seabed:
    """Make the seabed; its laws come first in the world."""
    views = looks.looks(scenario.element, base.water.surface_sound_speed)
    over = float(base.water.sound_speed(base.ground.depth(base.track.x[:1], base.track.y[:1]))[0])
    source = seabed.build(base.seed, base.ground, base.layers, views, base.track, over)
    gathering.laws.extend(source.laws)
    return source


def _structures(
    scenario: Any, base: Base, gathering: Gathering
) -> tuple[list[Occluder], list[Outline], list[fish.Inside]]:
    from pingwright.world import structure

    occluders: list[Occluder] = []
    outlines: list[Outline] = []
    inside: list[fish.Inside] = []
    amount = (0, 0)
    for index, spec in enumerate(scenario.structure):
        surface = structure.place(spec, base.ground, scenario)
        amount = structure.added(amount, surface, scenario, index)
        rng = seeds.stream(base.seed, "structure", index)
        structure.add(gathering, surface, materials.material(spec.material), base.ground, rng)
        occluders.append(surface.occluder)
        outlines.append(structure.outline(surface, str(spec.material)))
        inside.append(surface.contains)
    return occluders, outlines, inside


def _fish(
    scenario: Any, base: Base, gathering: Gathering, inside: Sequence[fish.Inside]
) -> tuple[list[Stock], list[Veil]]:
    stocks: list[Stock] = []
    veils: list[Veil] = []
    for index, group in enumerate(scenario.fish):
        placed = fish.place(group, index, base.seed, base.ground, _tilt(group), inside)
        stocks.append(_stock(scenario, base, gathering, group, placed, index, sum(len(s) for s in stocks)))
    for index, school in enumerate(scenario.school):
        placed = fish.place_school(school, index, base.seed, _tilt(school))
        first = sum(len(s) for s in stocks)
        number = len(scenario.fish) + index
        stocks.append(_stock(scenario, base, gathering, school, placed, number, first, school=True))
        if len(placed.length):
            mean = float(placed.length.mean())
            number_in_all = len(placed.length) * placed.weight
            veils.append(scattering_layers.veil(school, number_in_all, mean, _model(scenario, school, base, placed)))
    return stocks, veils


def _stock(
    scenario: Any,
    base: Base,
    gathering: Gathering,
    group: Any,
    placed: Placed,
    number: int,
    first_id: int = 0,
    *,
    school: bool = False,
) -> Stock:
    model = _model(scenario, group, base, placed)
    bands = np.array([spec.band for spec in scenario.element], dtype=np.float64)
    return fish.add(
        gathering,
        str(group.name),
        placed,
        model,
        base.track,
        bladder=group.swimbladder != "none",
        swimming=_swimming(group),
        frequency=float(np.sqrt(bands.min() * bands.max())),
        rng=seeds.stream(base.seed, "fish", number, 1),
        first_id=first_id,
        school=school,
    )


def _model(scenario: Any, group: Any, base: Base, placed: Placed) -> strength.Model:
    depth = float(placed.position[2].mean()) if len(placed.length) else 0.0
    speed = float(base.water.sound_speed(np.array([depth]))[0])
    model = strength.model(str(group.strength_model), str(group.swimbladder), _tilt(group), depth, speed)
    if model.name == "love-1978" and len(placed.length):
        strength.check_love_1978(scenario, group, float(placed.length.max()), speed)
    return model


def _swimming(group: Any) -> tuple[float, float, float]:
    swimming = getattr(group, "swimming", None)
    if swimming is None:
        return 0.0, 0.0, 0.0
    return float(swimming.speed), float(swimming.heading), float(swimming.climb)


def _tilt(group: Any) -> tuple[float, float]:
    return float(group.tilt.mean), float(group.tilt.sd)


def _targets(scenario: Any, base: Base, gathering: Gathering) -> list[Body]:
    bands = [(float(spec.band[0]), float(spec.band[1])) for spec in scenario.element]
    return [target.add(gathering, spec, _sphere_material(spec), base.water, bands) for spec in scenario.target]


def _sphere_material(spec: Any) -> Any:
    return materials.sphere_material(spec.sphere.material) if spec.strength is None else None


def _school_body(school: Any) -> Body:
    at, half = school.at, (school.size.along / 2.0, school.size.across / 2.0, school.size.height / 2.0)
    box = (at.x - half[0], at.x + half[0], at.y - half[1], at.y + half[1], at.depth - half[2], at.depth + half[2])
    return Body("school", str(school.name), tuple(float(v) for v in box))  # type: ignore[arg-type]


def _world(
    scenario: Any,
    base: Base,
    gathering: Gathering,
    source: seabed.Seabed,
    occluders: list[Occluder],
    veils: list[Veil],
    contents: Contents,
) -> World:
    return World(
        seed=base.seed,
        water=base.water,
        track=base.track,
        terrain=base.ground,
        laws=tuple(gathering.laws),
        discrete=gathering.discrete(),
        seabed=source,
        occluders=tuple(occluders),
        veils=tuple(veils),
        scattering_layer=tuple(scattering_layers.layer(spec) for spec in scenario.scattering_layer),
        bounce=_bounce(scenario, base) if scenario.reverberation.second_echo else None,
        wind_speed=float(scenario.water.wind),
        warnings=tuple(gathering.warnings),
        contents=contents,
    )


def _bounce(scenario: Any, base: Base) -> Bounce:
    """Second echo: amplitude x 1/2 |R0| of the top sediment x the surface's loss."""
    top = base.layers[0].sediment
    seabed_part = abs(float(formulas.reflection_vertical(top.density_ratio, top.speed_ratio)))
    gain = 0.5 * seabed_part * 10.0 ** (-float(scenario.reverberation.surface_loss) / 20.0)

    def constant(frequency: FloatArray) -> FloatArray:
        return np.full(np.shape(frequency), gain)

    return Bounce(constant)
