"""Builds a World from a resolved scenario."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from pingwright import seeds
from pingwright.acoustics import seabed as formulas
from pingwright.acoustics import surface
from pingwright.inputs.fields import known
from pingwright.world import (
    cautions,
    fish,
    impossible,
    materials,
    resolve,
    roughness,
    scattering_layers,
    seabed,
    shadows,
    strength,
    target,
    terrain,
    track,
    water,
)
from pingwright.world.contents import Body, Contents, Outline, Stock
from pingwright.world.fish import Placed
from pingwright.world.gather import Gathering
from pingwright.world.looks import Look
from pingwright.world.resolve import SECOND_ECHO
from pingwright.world.roughness import Roughness
from pingwright.world.scatterers import Absorber, Bounce, FloatArray, Occluder, Track, World
from pingwright.world.terrain import Ground
from pingwright.world.unheard import unheard
from pingwright.world.volume import Layer
from pingwright.world.water import LayeredWater

if TYPE_CHECKING:
    from pingwright.inputs.bodies import School
    from pingwright.inputs.scenario import Scenario
    from pingwright.world.structure import Placed as Standing


@dataclass(frozen=True)
class Base:
    """Basis of a scenario's world: seed, ground, water, the boat's track, and the looks of elements.

    stacks: layers from the top down, of the seabed's own ground and of each patch.
    """

    seed: int
    ground: Ground
    water: LayeredWater
    track: Track
    stacks: tuple[tuple[Layer, ...], ...]
    roughness: Roughness | None
    looks: tuple[Look, ...]


def build(scenario: "Scenario", looks: Sequence[Look], seed: int | None = None, *, same_fish: bool = False) -> World:
    """Return the world of a resolved scenario (world.resolve).

    looks: how finely each element looks (recording.looks). seed: instead of its own. same_fish: the fish of `[[fish]]`
    keep the places and lengths from the scenario's own seed; their postures, and all else, are drawn from `seed`.
    Raises ScenarioError for an impossible scenario (a file that is not a mesh, love-1978 above k r = 1).
    """
    boat = scenario.boat
    transmissions = resolve.pings(scenario) * (len(scenario.element) if boat.in_turn else 1)
    base = _base(scenario, track.build(boat, transmissions), seed, looks)
    gathering = Gathering()
    ground_source = _seabed(scenario, base, gathering)
    occluders, outlines, standing = _structures(scenario, base, gathering)
    inside = [surface.contains for surface in standing]
    impossible.refuse_collisions(scenario, base.track, inside)
    schools = [fish.settled(school, _highest(base, standing), base.ground) for school in scenario.school]
    home = int(scenario.seed) if same_fish else base.seed
    stocks, absorbers = _fish(scenario, base, gathering, standing, schools, home)
    gathering.warnings += cautions.find(scenario, stocks, base.ground, base.track, base.water, inside, base.looks)
    gathering.warnings += unheard(scenario, stocks, standing, base.ground, base.track)
    gathering.warnings += cautions.structures(standing, base.ground)
    gathering.warnings += cautions.schools(schools, base.ground)
    bodies = _targets(scenario, base, gathering)
    bodies += [_school_body(school) for school in schools] + _layer_bodies(scenario, base)
    contents = Contents(tuple(stocks), tuple(outlines), tuple(bodies))
    return _world(scenario, base, gathering, ground_source, occluders, absorbers, contents)


def monte_carlo(
    scenario: "Scenario",
    poses: Track,
    placed: Placed,
    group: fish.Animals,
    seed: int | None,
    looks: Sequence[Look],
) -> World:
    """Return a world of many independent pings: each fish of `placed` exists in its own pings only.

    scenario: resolved; its own fish, schools and targets are left out, its structures and scattering layers stay.
    poses: one ping each, spaced so that each has its own bottom. group: a `fish` section: name, swimbladder, tilt,
    strength_model.
    """
    base = _base(scenario, poses, seed, looks)
    gathering = Gathering()
    ground_source = _seabed(scenario, base, gathering)
    occluders, outlines, _ = _structures(scenario, base, gathering)
    stock = _stock(scenario, base, gathering, group, placed, 0)
    contents = Contents((stock,), tuple(outlines), tuple(_layer_bodies(scenario, base)))
    return _world(scenario, base, gathering, ground_source, occluders, [], contents)


def laid_over(world: World, scenario: "Scenario", placed: Placed, group: fish.Animals) -> World:
    """Return a world of fish alone, over the track, water and structures of another that was built here.

    scenario, placed, group: see `monte_carlo`.
    """
    if not isinstance(world.terrain, Ground) or not isinstance(world.water, LayeredWater):
        raise TypeError(world)
    base = Base(world.seed, world.terrain, world.water, world.track, (), None, world.looks)
    gathering = Gathering()
    stock = _stock(scenario, base, gathering, group, placed, 0)
    return replace(
        world, laws=tuple(gathering.laws), discrete=gathering.discrete(), seabed=None, bounce=None,
        scattering_layer=(), contents=Contents((stock,), (), ()),
    )  # fmt: skip


def water_of(scenario: "Scenario") -> LayeredWater:
    """Return the water of a resolved scenario, as deep as any echo of its run."""
    ground = terrain.build(scenario.seabed, int(scenario.seed))
    deepest = max(resolve.window_end(scenario), SECOND_ECHO * float(resolve.run_depths(scenario, ground).max()))
    return water.build(scenario.water, float(scenario.boat.transducer_depth), 1.2 * deepest)


def _base(scenario: "Scenario", poses: Track, seed: int | None, looks: Sequence[Look]) -> Base:
    seed = int(scenario.seed if seed is None else seed)
    # The relief follows from the scenario's own seed, independent of the seed of the echoes.
    ground = terrain.build(scenario.seabed, int(scenario.seed))
    deepest = max(resolve.window_end(scenario), SECOND_ECHO * float(ground.depth(poses.x, poses.y).max()))
    body = water.build(scenario.water, float(scenario.boat.transducer_depth), 1.2 * deepest)
    layers = tuple(Layer(materials.sediment(spec.sediment), spec.thickness) for spec in scenario.seabed.layer)
    patches = getattr(scenario.seabed, "patch", ())
    stacks = (layers, *((replace(layers[0], sediment=materials.sediment(p.sediment)), *layers[1:]) for p in patches))
    rough = roughness.build(scenario.seabed, [stack[0].sediment for stack in stacks], seed)
    return Base(seed, ground, body, poses, stacks, rough, tuple(looks))


def _seabed(scenario: "Scenario", base: Base, gathering: Gathering) -> seabed.Seabed:
    """Make the seabed; its laws come first in the world."""
    over = float(base.water.sound_speed(base.ground.depth(base.track.x[:1], base.track.y[:1]))[0])
    source = seabed.build(
        base.seed, base.ground, base.stacks, base.looks, base.track, over, base.roughness, scenario.seabed.law
    )
    gathering.laws.extend(source.laws)
    return source


def _margin(scenario: "Scenario", base: Base) -> float:
    """Return how far relief and roughness may reach below the typed seabed [m], plus a small margin."""
    reliefs = [scenario.seabed.relief, *(patch.relief for patch in getattr(scenario.seabed, "patch", ()))]
    heights = [float(relief.height) for relief in reliefs if relief is not None]
    return 0.1 + max(heights, default=0.0) + (3.0 * base.roughness.largest if base.roughness is not None else 0.0)


def _structures(
    scenario: "Scenario", base: Base, gathering: Gathering
) -> tuple[list[Occluder], list[Outline], list["Standing"]]:
    from pingwright.world import structure

    occluders: list[Occluder] = []
    outlines: list[Outline] = []
    standing: list[Standing] = []
    faces = shadows.faces(base.ground, _margin(scenario, base))
    if faces is not None:
        occluders.append(faces)
    amount = (0, 0)
    for index, spec in enumerate(scenario.structure):
        surface = structure.place(spec, base.ground, scenario, index)
        amount = structure.added(amount, surface, scenario, index)
        rng = seeds.stream(base.seed, "structure", index)
        structure.add(gathering, surface, materials.material(spec.material), base.ground, rng)
        occluders.append(surface.occluder)
        outlines.append(structure.outline(surface, str(spec.material)))
        standing.append(surface)
    return occluders, outlines, standing


def _highest(base: Base, standing: Sequence["Standing"]) -> fish.Highest:
    """Return the function that gives the depth of the highest thing at x, y [m]: seabed or a structure."""

    def highest(x: FloatArray, y: FloatArray) -> FloatArray:
        tops = [base.ground.depth(x, y), *(surface.top(x, y) for surface in standing)]
        return np.asarray(np.min(tops, axis=0), dtype=np.float64)

    return highest


def _fish(
    scenario: "Scenario",
    base: Base,
    gathering: Gathering,
    standing: Sequence["Standing"],
    schools: Sequence["School"],
    home: int,
) -> tuple[list[Stock], list[Absorber]]:
    """Make fish and schools. home: the seed of the places of fish; where it is not the world's, they turn anew."""
    stocks: list[Stock] = []
    absorbers: list[Absorber] = []
    inside, highest = [surface.contains for surface in standing], _highest(base, standing)
    for index, group in enumerate(scenario.fish):
        placed = fish.place(group, index, home, base.ground, _tilt(group), inside, highest)
        if home != base.seed:
            placed = fish.turned(placed, group, _tilt(group), seeds.stream(base.seed, "fish", index, 2))
        stocks.append(_stock(scenario, base, gathering, group, placed, index, sum(len(s) for s in stocks)))
    for index, school in enumerate(schools):
        placed = fish.place_school(school, index, base.seed, _tilt(school))
        first = sum(len(s) for s in stocks)
        number = len(scenario.fish) + index
        stocks.append(_stock(scenario, base, gathering, school, placed, number, first, school=True))
        if len(placed.length):
            mean = float(placed.length.mean())
            number_in_all = len(placed.length) * placed.weight
            absorbers.append(
                scattering_layers.absorber(school, number_in_all, mean, _model(scenario, school, base, placed))
            )
    return stocks, absorbers


def _stock(
    scenario: "Scenario",
    base: Base,
    gathering: Gathering,
    group: fish.Animals,
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
        without=getattr(group, "without", ()),
    )


def _model(scenario: "Scenario", group: fish.Animals, base: Base, placed: Placed) -> strength.Model:
    depth = float(placed.position[2].mean()) if len(placed.length) else 0.0
    speed = float(base.water.sound_speed(np.array([depth]))[0])
    model = strength.model(str(group.strength_model), str(group.swimbladder), _tilt(group), depth, speed)
    if model.name == "love-1978" and len(placed.length):
        strength.check_love_1978(scenario, str(group.name), float(placed.length.max()), speed)
    return model


def _swimming(group: fish.Animals) -> tuple[float, float, float]:
    swimming = getattr(group, "swimming", None)
    if swimming is None:
        return 0.0, 0.0, 0.0
    return float(swimming.speed), float(swimming.heading), float(swimming.climb)


def _tilt(group: fish.Animals) -> tuple[float, float]:
    tilt = known(group.tilt, "fish.tilt")
    return float(tilt.mean), float(tilt.sd)


def _targets(scenario: "Scenario", base: Base, gathering: Gathering) -> list[Body]:
    bands = [(float(spec.band[0]), float(spec.band[1])) for spec in scenario.element]
    return [target.add(gathering, spec, base.water, bands) for spec in scenario.target]


def _layer_bodies(scenario: "Scenario", base: Base) -> list[Body]:
    deepest = float(base.ground.depth(base.track.x, base.track.y).max())
    return [scattering_layers.body(layer, deepest) for layer in scenario.scattering_layer]


def _school_body(school: "School") -> Body:
    at, half = school.at, (school.size.along / 2.0, school.size.across / 2.0, school.size.height / 2.0)
    depth = known(at.depth, "school.at.depth")
    box = (at.x - half[0], at.x + half[0], at.y - half[1], at.y + half[1], depth - half[2], depth + half[2])
    return Body("school", str(school.name), tuple(float(v) for v in box))  # type: ignore[arg-type]


def _world(
    scenario: "Scenario",
    base: Base,
    gathering: Gathering,
    source: seabed.Seabed,
    occluders: list[Occluder],
    absorbers: list[Absorber],
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
        absorbers=tuple(absorbers),
        scattering_layer=scattering_layers.layers(scenario, base.seed, base.ground, base.track),
        bounce=_bounce(scenario, base) if scenario.reverberation.second_echo else None,
        wind_speed=float(scenario.water.wind),
        warnings=tuple(gathering.warnings),
        looks=base.looks,
        contents=contents,
    )


def _bounce(scenario: "Scenario", base: Base) -> Bounce:
    """Second echo: amplitude x 1/2 |R0| of the ground under the boat x the surface's loss, stated and by wind."""
    tops = [stack[0].sediment for stack in base.stacks]
    reflected = np.abs([float(formulas.reflection_vertical(top.density_ratio, top.speed_ratio)) for top in tops])
    stated, wind = float(scenario.reverberation.surface_loss), float(scenario.water.wind)

    def gain(frequency: FloatArray) -> FloatArray:
        loss = stated + surface.reflection_loss(frequency, wind)
        return np.asarray(0.5 * float(reflected[0]) * 10.0 ** (-loss / 20.0))

    under = base.ground.region(base.track.x, base.track.y)
    return Bounce(gain, reflected[under] / max(float(reflected[0]), 1e-9))
