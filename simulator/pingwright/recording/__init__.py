"""From a scenario to a recording: everything between the user's file and the wall, in one place.

prepare: what the engine needs and the header of the record; chunks go to a file (run) or stay in memory (claims,
match).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from typing import TYPE_CHECKING, Any

import numpy as np

from pingwright.echograms.layout import slugs
from pingwright.echograms.levels import blind_samples
from pingwright.echograms.memory import Gatherer
from pingwright.echograms.record import (
    AS_GIVEN,
    BY_DEPTH,
    NO_OWNER,
    BeamPattern,
    ElementInfo,
    ElementRecord,
    FloatArray,
    Record,
)
from pingwright.element.model import Element
from pingwright.inputs.fields import known
from pingwright.recording.surroundings import with_surroundings
from pingwright.world.looks import Look
from pingwright.world.scatterers import World

if TYPE_CHECKING:
    from pingwright.engine.settings import Settings
    from pingwright.inputs.elements import Element as Spec
    from pingwright.inputs.scenario import Scenario

Progress = Callable[[str, int, int], None]

#: Nodes of the stored beam pattern.
PATTERN_ANGLES = np.linspace(-90.0, 90.0, 721)
PATTERN_FREQUENCIES = 9


@dataclass(frozen=True)
class Prepared:
    """All that one run needs: resolved scenario, world, elements, the engine's settings, the record's header.

    header: a Record whose elements have no levels yet (echo_level None).
    """

    scenario: "Scenario"
    world: World
    elements: tuple[Element, ...]
    settings: "Settings"
    header: Record


def prepare(scenario: "Scenario", *, history: str = "") -> Prepared:
    """Resolve a scenario (inputs.scenario.Scenario), build its world and elements, and lay out the record's header.

    Raises ScenarioError where the scenario asks for what cannot be built.
    """
    from pingwright.engine.settings import from_scenario

    resolved, world, elements = built(scenario)
    bottom = float(np.median(world.terrain.depth(world.track.x, world.track.y))) - float(resolved.boat.transducer_depth)
    elements = tuple(replace(element, far=max(bottom, 1.0)) for element in elements)
    settings = from_scenario(resolved, world)
    return Prepared(
        resolved, world, elements, settings, _header(scenario, resolved, world, elements, settings, history)
    )


def built(scenario: "Scenario") -> tuple["Scenario", World, tuple[Element, ...]]:
    """Return a scenario resolved, its world and its elements: all of `prepare` that added things need."""
    from pingwright.element.build import build as build_element
    from pingwright.world import build
    from pingwright.world.resolve import resolve

    resolved = resolve(scenario)
    water, depth = build.water_of(resolved), float(resolved.boat.transducer_depth)
    density, speed = water.density, water.surface_sound_speed
    elements = tuple(build_element(spec, density, speed, depth) for spec in resolved.element)
    return resolved, build.build(resolved, looks(elements)), elements


def looks(elements: Sequence[Element]) -> tuple[Look, ...]:
    """Return how finely each element looks at the seabed [m, deg]: the world samples it accordingly."""
    from pingwright.engine.look import look

    return tuple(look(element) for element in elements)


def _header(
    scenario: "Scenario",
    resolved: "Scenario",
    world: World,
    elements: tuple[Element, ...],
    settings: "Settings",
    history: str,
) -> Record:
    from pingwright.inputs.scenario import to_toml
    from pingwright.world import truth

    records = tuple(_element(i, element, resolved, world, elements, settings) for i, element in enumerate(elements))
    records = tuple(_with_choice(one, spec) for one, spec in zip(records, scenario.element, strict=True))
    along, across = _profiles(world, records)
    return Record(
        title=resolved.title,
        seed=resolved.seed,
        scenario=scenario.text,
        scenario_resolved=to_toml(resolved),
        elements=records,
        truth=truth.build(world, resolved, records),
        seabed_profile=along,
        seabed_across=across,
        inputs=dict(scenario.inputs),
        history=history,
        warnings=(*world.warnings, *_cautions(resolved, world, elements)),
    )


def _cautions(resolved: "Scenario", world: World, elements: tuple[Element, ...]) -> list[str]:
    """Return what to know of the elements in this world: near fields that things stand in, bands heard by others."""
    from pingwright.element import cautions

    face = float(resolved.boat.transducer_depth)
    shallow = [world.terrain.depth(world.track.x, world.track.y), world.discrete.scatterers.position[2]]
    nearest = max(min(float(depth.min()) for depth in shallow if len(depth)) - face, 0.0)
    together = cautions.shared_bands(elements) if resolved.boat.crosstalk and not resolved.boat.in_turn else []
    return [*cautions.near_fields(elements, nearest), *cautions.driven_hard(elements), *together, *_at_the_face(world)]


def _at_the_face(world: World) -> list[str]:
    """Return a sentence where something lies so near to the faces that its echo is left out."""
    from pingwright.engine.kernels.limits import NEAREST

    track, points = world.track, world.discrete.scatterers.position
    level = (points[2] > track.depth.min() - NEAREST) & (points[2] < track.depth.max() + NEAREST)
    for point in np.unique(points[:, level], axis=1).T[:1000]:
        apart = np.sqrt((point[0] - track.x) ** 2 + (point[1] - track.y) ** 2 + (point[2] - track.depth) ** 2)
        if apart.min() < NEAREST:
            return [
                f"At ping {int(np.argmin(apart)) + 1} something lies {apart.min() * 100:.0f} cm from the elements' "
                f"faces: nearer than {NEAREST * 100:.0f} cm nothing echoes, so it is left out."
            ]
    return []


def _with_choice(record: ElementRecord, spec: "Spec") -> ElementRecord:
    """Return an element's record that says whether its pulse follows the depth; spec: as the user wrote it."""
    choice = BY_DEPTH if spec.pulse.length is None else AS_GIVEN
    return replace(record, info=replace(record.info, extra={**record.info.extra, "pulse_choice": choice}))


def _element(
    position: int,
    element: Element,
    resolved: "Scenario",
    world: World,
    elements: tuple[Element, ...],
    settings: "Settings",
) -> ElementRecord:
    """Return an element's axes, attributes and beam, its levels still to come."""
    from pingwright.engine.preparing import Run
    from pingwright.engine.simulate import ranges

    pings = Run(world, elements, settings).pings_of(position)
    track = world.track
    distance = ranges(element, settings)
    frequency = np.linspace(*element.band, PATTERN_FREQUENCIES)
    along, across = _pattern(element, frequency)
    x, y = track.x[pings], track.y[pings]
    return ElementRecord(
        info=_info(position, element, resolved, world, elements),
        ping_time=track.time[pings],
        x=x,
        y=y,
        roll=track.roll[pings],
        pitch=track.pitch[pings],
        heave=track.heave[pings],
        bottom_depth=world.terrain.depth(x, y),
        range=distance,
        beam=BeamPattern(frequency, PATTERN_ANGLES, along, across),
        echo_level=None,
    )


def _pattern(element: Element, frequency: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the element's levels along and across (frequency, angle); of one face, water and band computed once."""
    from pingwright.engine.remembered import remembered

    key = ("pattern", element.face, element.sound_speed, element.band)
    along, across = remembered(key, lambda: element.pattern(frequency, PATTERN_ANGLES))
    return along, across


def _info(
    position: int, element: Element, resolved: "Scenario", world: World, elements: tuple[Element, ...]
) -> ElementInfo:
    from pingwright.acoustics import bubbles
    from pingwright.acoustics.noise import own_level
    from pingwright.measure.filters import point_width

    depth = float(resolved.boat.transducer_depth)
    own = own_level(resolved.noise.own, resolved.boat.speed)
    end = np.array([known(resolved.window.depth, "window.depth")[1]])
    absorption = world.water.mean_absorption(np.array([element.centre]), depth, end)[0, 0]
    bottom = np.asarray(np.median(world.terrain.depth(world.track.x, world.track.y)))
    fields, extra, noise_level = _facts(element, resolved.water.wind, resolved.noise.ambient, own)
    made = ElementInfo(
        **fields,
        slug=slugs(e.name for e in elements)[position],
        position=position,
        absorption=float(absorption),
        noise_level=noise_level,
        transducer_depth=depth,
        assumed_sound_speed=float(known(resolved.water.assumed_sound_speed, "water.assumed_sound_speed")),
        extra={
            **extra,
            "resolution_cell": float(element.range_resolution),
            "mean_sound_speed": 1.0 / float(world.water.mean_slowness(depth, bottom)),
            "bubble_loss": float(bubbles.two_way_loss(element.centre, resolved.water.wind, depth)),
        },
    )
    return replace(made, range_resolution=point_width(made))


@lru_cache(maxsize=64)
def _facts(
    element: Element, wind: float, ambient: bool, own: float | None
) -> tuple[dict[str, Any], dict[str, float | str], float]:
    """Return what a record says of an element alone (do not change it): fields, extra fields, and noise [dB re 1 uPa].

    A changed scene mostly has the elements of the one before.
    """
    from pingwright.element.describe import extra_fields

    noise = element.noise_level(wind, ambient, own)
    return element.info_fields(), extra_fields(element, wind, ambient, own), noise


def _profiles(world: World, records: tuple[ElementRecord, ...]) -> tuple[FloatArray, FloatArray]:
    """Return the terrain under the track (x, depth) and across it at mid-track (y, depth), (point, 2) [m]."""
    x = np.concatenate([record.x for record in records])
    deepest = max(float(record.bottom_depth.max()) for record in records)
    ends = float(x.min() - deepest / 2), float(x.max() + deepest / 2)
    # A profile's own points are among them, so that straight lines between all of them are the seabed as typed.
    along = np.union1d(np.linspace(*ends, 801), world.terrain.breaks(*ends))
    across = np.linspace(-deepest, deepest, 401)
    middle = np.full_like(across, (x.min() + x.max()) / 2)
    return (
        np.stack([along, world.terrain.depth(along, np.zeros_like(along))], axis=1),
        np.stack([across, world.terrain.depth(middle, across)], axis=1),
    )


def with_owners(prepared: Prepared, *, threads: int | None = None, progress: Progress | None = None) -> Prepared:
    """Return the scene with which kind of thing dominates each sample in its truth (engine.owners)."""
    from pingwright.engine.owners import owners

    tell = None if progress is None else partial(progress, "what dominates each sample")
    result = owners(prepared.world, prepared.elements, prepared.settings, threads, tell)
    for element, kinds in zip(prepared.header.elements, result, strict=True):
        kinds[:, : blind_samples(element)] = NO_OWNER
    header = prepared.header
    return replace(prepared, header=replace(header, truth=replace(header.truth, owners=result)))


def in_memory(
    prepared: Prepared,
    *,
    threads: int | None = None,
    keep_phase: bool = False,
    quiet: bool = False,
    progress: Progress | None = None,
) -> Record:
    """Simulate and return the whole record in memory, its levels quantised as in the file. quiet: without noise."""
    from pingwright.engine.simulate import simulate

    prepared = with_surroundings(prepared, threads=threads)
    gatherer = Gatherer(prepared.header, keep_phase=keep_phase)
    chunks = simulate(
        prepared.world,
        prepared.elements,
        prepared.settings,
        threads=threads,
        keep_phase=keep_phase,
        quiet=quiet,
        progress=progress,
    )
    for chunk in chunks:
        gatherer.write(chunk.element, chunk.first_ping, chunk.level, chunk.echo)
    return gatherer.record()
