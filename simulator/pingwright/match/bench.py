"""One fish to a ping: simulates all places of a trip under every element at once, and judges each ping as it comes.

The world of a ping holds its own fish only. All places are simulated in one run of the engine: its tables of a wide
curved face take longer to make than hundreds of pings.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pingwright import seeds
from pingwright.echograms.record import ElementInfo, ElementRecord
from pingwright.match.hits import BoolArray, FloatArray
from pingwright.match.plan import Places
from pingwright.measure.bottom import find
from pingwright.measure.cells import grid
from pingwright.measure.separated import score, tolerance
from pingwright.recording import Prepared

Progress = Callable[[str, int, int], None]
Keep = Callable[[Mapping[str, Any]], None]

#: Pings between two keepings of what is judged: whole jobs of the engine.
ROUND = 128


@dataclass(frozen=True)
class Judged:
    """Verdicts by element and place: detected, separated (element, n)."""

    detected: BoolArray
    separated: BoolArray


def simulate(
    prepared: Prepared,
    places: Places,
    seed: int,
    *,
    seabed: bool = True,
    kept: Mapping[str, Any] | None = None,
    keep: Keep | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Judged:
    """Simulate one ping for each place and judge it.

    seabed: whether there is one. kept: verdicts to go on with; keep: called with them after every ROUND pings and at
    the end. The same arguments but threads and kept give the same verdicts.
    """
    from pingwright.engine.settings import from_scenario
    from pingwright.engine.simulate import simulate as pings
    from pingwright.world import track

    order = np.argsort(places.x, kind="stable")
    sorted_places = places.take(order)
    poses = track.still(sorted_places.x, sorted_places.y, float(prepared.scenario.boat.transducer_depth))
    world = _world(prepared, poses, sorted_places, seed)
    if not seabed:
        world = replace(world, seabed=None, bounce=None)
    settings = replace(from_scenario(prepared.scenario, world), seed=seed, span=0.0, crosstalk=False)
    ranges = [_drawn_range(sorted_places, world, poses, e.info) for e in prepared.header.elements]
    usual = np.array([float(prepared.scenario.fish[int(q)].length.mean) for q in sorted_places.species])
    length = np.where(np.isnan(sorted_places.length), usual, sorted_places.length)
    detected, separated, done = _so_far(kept, (len(ranges), len(order)))
    chunks = pings(world, prepared.elements, settings, threads=threads, first_ping=done, progress=progress)
    for chunk in chunks if done < len(order) else ():
        end = chunk.first_ping + len(chunk.level)
        part, element = slice(chunk.first_ping, end), prepared.header.elements[chunk.element]
        detected[chunk.element, part], separated[chunk.element, part] = _judge(
            element, chunk.level, ranges[chunk.element][part], length[part]
        )
        is_round = chunk.element == len(ranges) - 1 and (end % ROUND == 0 or end == len(order))
        if keep and is_round:
            keep({"done": end, "detected": _as_text(detected[:, :end]), "separated": _as_text(separated[:, :end])})
    back = np.argsort(order)
    return Judged(detected[:, back], separated[:, back])


def _so_far(kept: Mapping[str, Any] | None, shape: tuple[int, int]) -> tuple[BoolArray, BoolArray, int]:
    """Return detected, separated (element, n) in order of the track, filled in as far as known, and how many pings."""
    found, done = np.zeros((2, *shape), dtype=bool), int(kept["done"]) if kept else 0
    for verdicts, name in zip(found, ("detected", "separated"), strict=True):
        for row, text in zip(verdicts, kept[name] if kept else (), strict=False):
            row[:done] = [mark == "1" for mark in text]
    return found[0], found[1], done


def _as_text(verdicts: BoolArray) -> list[str]:
    return ["".join("01"[int(verdict)] for verdict in row) for row in verdicts]


def resolution(prepared: Prepared) -> FloatArray:
    """Return each element's range resolution [m]: full width at -3 dB of a point's echo behind its matched filter."""
    found = []
    for element, header in zip(prepared.elements, prepared.header.elements, strict=True):
        found.append(element.signal.filtered.width * header.info.assumed_sound_speed / 2)
    return np.array(found)


def _world(prepared: Prepared, poses: Any, places: Places, seed: int) -> Any:
    """Return one world with every species in it: that of the first, and the fish of the others with their laws."""
    from pingwright.world import build
    from pingwright.world.scatterers import Discrete

    scenario = prepared.scenario
    bare = scenario.model_copy(update={"structure": ()})
    worlds = [
        build.monte_carlo(
            bare if q else scenario,
            poses,
            _placed(prepared, poses, places, q, group, seed),
            group,
            seed,
            prepared.world.looks,
        )
        for q, group in enumerate(scenario.fish)
    ]
    first = worlds[0]
    for other in worlds[1:]:
        shifted = other.discrete.renumbered(np.arange(len(other.laws)) + len(first.laws))
        first = replace(first, laws=first.laws + other.laws, discrete=Discrete.joined([first.discrete, shifted]))
    return first


def _placed(prepared: Prepared, poses: Any, places: Places, species: int, group: Any, seed: int) -> Any:
    """Return the fish of one species as the world wants them: absolute places, and postures of the group."""
    from pingwright.world import fish

    random, count = seeds.stream(seed, "fish", species), len(places)
    own = fish.lengths(random, float(group.length.mean), float(group.length.sd), count)
    length = np.where(np.isnan(places.length), own, places.length)
    tilt = np.clip(random.normal(float(group.tilt.mean), float(group.tilt.sd), count), -90.0, 90.0)
    yaw = random.uniform(0.0, 360.0, count)
    x, y, z = _position(places, prepared.world, poses)
    mine = np.flatnonzero((places.species == species) & (places.present > 0))
    return fish.Placed(np.stack([x, y, z])[:, mine], length[mine], tilt[mine], yaw[mine], mine)


def _position(places: Places, world: Any, poses: Any) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return where each fish stands: x, y, depth [m] (n); heights count from the bottom under the fish itself."""
    x, y = poses.x + places.along, poses.y + places.across
    return x, y, np.where(np.isnan(places.height), places.depth, world.terrain.depth(x, y) - places.height)


def _drawn_range(places: Places, world: Any, poses: Any, info: ElementInfo) -> FloatArray:
    """Return where each fish's echo is drawn on the range axis [m] (n): true travel time at the assumed speed."""
    from pingwright.world.truth import drawn_range

    _, _, depth = _position(places, world, poses)
    face = info.transducer_depth
    way = (places.along, places.across, depth - face)
    return drawn_range(world.water, way, depth, face, info.assumed_sound_speed)


def _judge(
    element: ElementRecord, stored: Any, true_range: FloatArray, length: FloatArray
) -> tuple[BoolArray, BoolArray]:
    """Return which pings of a chunk detect and which part the fish at its true range [m]; length [m] of each fish."""
    cells = grid(element)
    row = np.arange(len(stored), dtype=np.int64)
    verdicts = score(stored, cells, find(stored, cells), row, true_range, tolerance(cells, length))
    return verdicts.detected, verdicts.separated
