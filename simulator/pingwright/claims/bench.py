"""One fish to a ping: worlds drawn afresh, every element shown the same ones, each ping judged.

Elements ping alone, over the same world and with the same random numbers for their noise, so nothing but the element
differs.
"""

from collections.abc import Generator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.claims.lots import BoolArray, Fish, FloatArray, Laid, Stage
from pingwright.claims.question import Species
from pingwright.echograms.record import ElementRecord
from pingwright.measure import onset
from pingwright.measure.bottom import Bottom, find
from pingwright.measure.cells import Grid, StoredArray, grid
from pingwright.measure.separated import score, score_pair, tolerance

#: Pings judged at a time: whole jobs of the engine.
ROUND = 128
#: Water kept above the fish [m and cells of the coarsest element]: guard and reference cells of the detector.
LEAD, LEAD_CELLS = 0.5, 30.0
#: Depth kept below the bottom [m, and of the depth]: its echo's maximum lies there.
TRAIL, TRAIL_OF_DEPTH = 1.5, 0.03
#: A fish further ahead of the bottom than this [m] is judged without it: water alone lies between.
FREE_WATER = 12.0


@dataclass(frozen=True)
class Round:
    """What some pings gave: done: pings judged so far, twins included; run: numbers of the runs in it.

    hit, detected (element, run), false (element, twin): the measure's verdicts, detections, and the measure's verdicts
    without the fish.
    """

    done: int
    run: NDArray[np.int64]
    hit: BoolArray
    detected: BoolArray
    false: BoolArray


def rounds(
    at: Stage,
    species: Species,
    laid: Laid,
    seed: int,
    measure: str = "separated",
    *,
    seabed: bool = True,
    first: int = 0,
    threads: int | None = None,
) -> Generator[Round, None, None]:
    """Yield what every element saw, ROUND pings at a time; the caller stops when it knows enough.

    measure: separated, detected or separated_pair. seabed: whether there is one. first: ping to go on at, a multiple of
    ROUND. The same arguments but threads: the same rounds.
    """
    world = _world(at, species, laid, seed)
    true = true_range(at, world, laid.track, laid.fish)
    ground = at.depth(laid.track.x, laid.track.y)
    solid = np.minimum(ground, at.crest)
    free = not seabed or bool(np.all(laid.fish.depth + _slant_excess(at, laid.fish) + FREE_WATER < solid))
    if free:
        world = open_water(world)
    streams = records(at, world, _window(at, true, ground, free), seed, first, threads)
    for start, found in streams:
        part = slice(start, start + len(found[0].ping_time))
        sights = [_judged(r, true[:, part], laid.fish.length[part], free, measure) for r in found]
        real = ~laid.empty[part]
        hit = np.array([h for h, _ in sights])
        detected = np.array([d for _, d in sights])
        yield Round(part.stop, laid.run[part][real], hit[:, real], detected[:, real], hit[:, ~real])


def open_water(world: Any) -> Any:
    """Return a world without its bottom, nor the bottom's laws, whose tables take longer to make than the pings."""
    points = world.discrete.scatterers
    used, place = np.unique(points.law, return_inverse=True)
    discrete = replace(world.discrete, scatterers=replace(points, law=place.astype(points.law.dtype)))
    return replace(world, seabed=None, bounce=None, laws=tuple(world.laws[i] for i in used), discrete=discrete)


def records(
    at: Stage, world: Any, window: tuple[float, float], seed: int, first: int, threads: int | None
) -> Generator[tuple[int, list[ElementRecord]], None, None]:
    """Yield the first ping and each element's record of ROUND pings at a time."""
    from pingwright.engine.settings import from_scenario
    from pingwright.engine.simulate import PINGS, ranges
    from pingwright.engine.simulate import simulate as pings

    settings = replace(from_scenario(at.scenario, world), seed=seed, window=window, span=0.0)
    track, total = world.track, len(world.track)
    elements = at.prepared.elements
    headers = [
        replace(header, range=ranges(element, settings))
        for header, element in zip(at.prepared.header.elements, elements, strict=True)
    ]
    streams = [pings(world, (element,), settings, threads=threads, first_ping=first) for element in elements]
    try:
        for start in range(first, total, ROUND):
            part = slice(start, min(start + ROUND, total))
            jobs = -(-(part.stop - start) // PINGS)
            found = []
            for header, stream in zip(headers, streams, strict=True):
                level = np.concatenate([next(stream).level for _ in range(jobs)])
                found.append(
                    replace(
                        header, ping_time=track.time[part], x=track.x[part], y=track.y[part], roll=track.roll[part],
                        pitch=track.pitch[part], heave=track.heave[part],
                        bottom_depth=world.terrain.depth(track.x[part], track.y[part]), echo_level=level,
                    )
                )  # fmt: skip
            yield start, found
    finally:
        for stream in streams:
            getattr(stream, "close", lambda: None)()


def _slant_excess(at: Stage, fish: Fish) -> FloatArray:
    down = fish.depth - at.face
    return np.sqrt(fish.along**2 + fish.across**2 + down**2) - down


def _world(at: Stage, species: Species, laid: Laid, seed: int) -> Any:
    from pingwright.world import build
    from pingwright.world.fish import Placed

    group = group_of((species.swimbladder, species.tilt, species.strength_model))
    there, fish, track = np.flatnonzero(~laid.empty), laid.fish, laid.track
    position = np.stack([track.x + fish.along, track.y + fish.across, fish.depth])[:, there]
    length, tilt, yaw = fish.length[there], fish.tilt[there], fish.yaw[there]
    if fish.is_pair:
        above = np.zeros_like(position)
        above[2] = fish.spacing[there]
        position = np.concatenate([position, position - above], axis=1)
        # The second fish lies as the first of another run does.
        length, tilt, yaw = (np.concatenate([a, np.roll(a, 1)]) for a in (length, tilt, yaw))
        there = np.concatenate([there, there])
    return build.monte_carlo(at.scenario, track, Placed(position, length, tilt, yaw, there), group, seed)


def group_of(kind: tuple[str, tuple[float, float], str]) -> Any:
    """Return a `fish` section for the world: swimbladder, tilt (mean, sd [deg]) and strength model."""
    from types import SimpleNamespace

    swimbladder, (mean, sd), model = kind
    tilt = SimpleNamespace(mean=mean, sd=sd)
    return SimpleNamespace(name="fish", swimbladder=swimbladder, tilt=tilt, strength_model=model, swimming=None)


def true_range(at: Stage, world: Any, track: Any, fish: Fish) -> FloatArray:
    """Return where the echoes of each ping's fish are drawn on the range axis [m], (fish of the ping, n)."""
    from pingwright.world.truth import drawn_range

    depths = [fish.depth - rise for rise in (np.zeros(len(fish.depth)), fish.spacing)[: 1 + fish.is_pair]]
    assumed = float(at.scenario.water.assumed_sound_speed)
    ways = [(fish.along, fish.across, depth - track.depth) for depth in depths]
    pairs = zip(ways, depths, strict=True)
    return np.array([drawn_range(world.water, way, depth, at.face, assumed) for way, depth in pairs])


def onset_ahead(bottom: float, cell: float) -> float:
    """Return from what range [m] on a record must go for the onset of a bottom at some range, cells [m]."""
    return bottom * (1 - onset.LONGEST - onset.FURTHER) - 2 * cell


def _window(at: Stage, true: FloatArray, ground: FloatArray, free: bool) -> tuple[float, float]:
    """Return the depths [m] the records must hold for detector and bottom, nothing more."""
    cell = max(element.info.cell for element in at.prepared.header.elements)
    # What stands on the bottom is its echo's first part: without it a fish behind would be judged against the rest.
    top = min(float(true.min()), at.crest - at.face) - LEAD - LEAD_CELLS * cell
    if not free:
        top = min(top, onset_ahead(float(ground.min()) - at.face, cell))
    if free:
        end = float(true.max()) + LEAD + LEAD_CELLS * cell
    else:
        tilts = [np.hypot(spec.tilt.along, spec.tilt.across) for spec in at.scenario.element]
        deep = (float(ground.max()) - at.face) / np.cos(np.radians(min(max(tilts), 60.0)))
        end = max(float(true.max()), deep * (1 + TRAIL_OF_DEPTH)) + TRAIL + 10 * cell
    return at.face + max(top, 0.0), at.face + end


def _judged(
    record: ElementRecord, true: FloatArray, length: FloatArray, free: bool, measure: str
) -> tuple[BoolArray, BoolArray]:
    """Return the measure's verdict and whether the fish is detected, by ping."""
    cells: Grid = grid(record)
    stored: StoredArray = np.asarray(record.echo_level)
    count = len(stored)
    none = Bottom(np.full(count, np.nan), np.full(count, -1), np.full(count, np.nan))
    bottom = none if free else find(stored, cells)
    within, row = tolerance(cells, length), np.arange(count)
    verdicts = score(stored, cells, bottom, row, true[0], within)
    if measure == "separated_pair":
        pair = score_pair(stored, cells, bottom, row, true.T, np.stack([within, within], axis=1))
        return pair, verdicts.detected
    return (verdicts.separated if measure == "separated" else verdicts.detected), verdicts.detected
