"""One fish to a ping: worlds drawn afresh, every element shown the same ones, each ping judged.

All runs of a claim are pings of one world, SPACING apart along the depth contour: the seabed's echo is another one
after half a face's length. Elements ping alone, over the same world and with the same random numbers for their noise,
so nothing but the element differs. Some runs have a twin: the same ping without the fish, for the false rate.
"""

from collections.abc import Generator
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator import seeds
from simulator.claims.question import Place, Quarry
from simulator.echograms.record import ElementRecord
from simulator.measure.bottom import Bottom, find
from simulator.measure.cells import Grid, StoredArray, grid
from simulator.measure.parted import score, score_pair, tolerance
from simulator.recording import Prepared, prepare

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: Distance between pings [m]: many times the length of a face, after which the bottom's echo is another.
SPACING = 3.0
#: Pings judged at a time: whole jobs of the engine.
ROUND = 128
#: Water kept above the fish [m and cells of the coarsest element]: guard and reference cells of the detector.
LEAD, LEAD_CELLS = 0.5, 30.0
#: Depth kept below the bottom [m, and of the depth]: its echo's maximum lies there.
TRAIL, TRAIL_OF_DEPTH = 1.5, 0.03
#: A fish further ahead of the bottom than this [m] is judged without it: water alone lies between.
FREE_WATER = 12.0


@dataclass(frozen=True)
class Stage:
    """A scenario ready for trials: its own fish gone, one ping at anchor laid out, elements built, as `prepared`."""

    prepared: Prepared

    @property
    def scenario(self) -> Any:
        """The resolved scenario."""
        return self.prepared.scenario

    @property
    def face(self) -> float:
        """Depth of the transducers [m]."""
        return float(self.scenario.boat.transducer_depth)

    def depth(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Depth of the seabed [m] at x, y [m] (n)."""
        return np.asarray(self.prepared.world.terrain.depth(x, y))

    def widest(self) -> tuple[float, float]:
        """Return half the one-way -3 dB widths [deg] along and across of the element with the larger footprint."""
        infos = [element.info for element in self.prepared.header.elements]
        half = [(i.beamwidth_along / 2, i.beamwidth_across / 2) for i in infos]
        return max(half, key=lambda w: float(np.tan(np.radians(w[0])) * np.tan(np.radians(w[1]))))


@dataclass(frozen=True)
class Fish:
    """Fish, one a ping: offsets from the boat along, across [m], depth, length [m], tilt, yaw [deg] (n).

    spacing (n) [m]: of a second fish above each, all 0 where there is none.
    """

    along: FloatArray
    across: FloatArray
    depth: FloatArray
    length: FloatArray
    tilt: FloatArray
    yaw: FloatArray
    spacing: FloatArray

    @property
    def is_pair(self) -> bool:
        """Whether there is a second fish."""
        return bool(np.any(self.spacing > 0))


@dataclass(frozen=True)
class Laid:
    """All pings of a claim: track, fish of every ping, run (n): its number; empty (n): a twin without its fish."""

    track: Any
    fish: Fish
    run: NDArray[np.int64]
    empty: BoolArray


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


def stage(scenario: Any, keep_structures: bool = False) -> Stage:
    """Return a scenario (inputs.scenario.Scenario) ready for trials. Raises ScenarioError where it cannot be built."""
    boat = scenario.boat.model_copy(
        update={"speed": 0.0, "start": 0.0, "pings": 1, "in_turn": False, "ping_interval": None}
    )
    changes: dict[str, Any] = {"fish": (), "school": (), "target": (), "boat": boat}
    if not keep_structures:
        changes["structure"] = ()
    return Stage(prepare(scenario.model_copy(update=changes)))


def single(at: Stage, index: int) -> Stage:
    """Return a stage with one of its elements only."""
    prepared = at.prepared
    header = replace(prepared.header, elements=prepared.header.elements[index : index + 1])
    scenario = prepared.scenario.model_copy(update={"element": prepared.scenario.element[index : index + 1]})
    return Stage(replace(prepared, elements=prepared.elements[index : index + 1], header=header, scenario=scenario))


def lay(at: Stage, quarry: Quarry, place: Place | None, seed: int, runs: int, twins: int = 0) -> Laid:
    """Return all pings of a claim: runs, and after every 16 of the first `twins` their twins without fish.

    The same seed gives all claims of a file the same places, postures and motion.
    """
    number = np.arange(runs)
    order, empty = [], []
    for start in range(0, runs, 16):
        some = number[start : start + 16]
        order.append(some)
        empty.append(np.zeros(len(some), dtype=bool))
        if start < twins:
            order.append(some)
            empty.append(np.ones(len(some), dtype=bool))
    run = np.concatenate(order)
    track = poses(at, seed, runs)
    fish = draw(at, quarry, place, track, seed)
    again = replace(track, **{f.name: getattr(track, f.name)[run] for f in fields(track)})
    again = replace(again, time=np.arange(len(run), dtype=np.float64))
    return Laid(again, Fish(*(getattr(fish, f.name)[run] for f in fields(fish))), run, np.concatenate(empty))


def spread(at: Stage, quarry: Quarry, place: Place | None, seed: int, runs: int, axis: str, points: FloatArray) -> Laid:
    """Return pings for each of `runs` fish at every point of an axis, run by run.

    axis: height above the bottom, depth, across, length or spacing [m]; points (point). The run's number is its place
    in the sweep: point + points x run.
    """
    count = len(points)
    track = poses(at, seed, runs * count)
    one = draw(at, quarry, place, poses(at, seed, runs), seed)
    fish = Fish(*(np.repeat(getattr(one, f.name), count) for f in fields(one)))
    value = np.tile(points, runs)
    ground = at.depth(track.x + fish.along, track.y + fish.across)
    if quarry.above_bottom is not None:
        fish = replace(fish, depth=ground - quarry.above_bottom)
    if axis == "height":
        fish = replace(fish, depth=ground - value)
    elif axis == "across":
        side = np.where(np.arange(runs * count) // count % 2 == 0, 1.0, -1.0)
        fish = replace(fish, along=np.zeros(runs * count), across=side * value)
        if quarry.above_bottom is not None:
            fish = replace(fish, depth=at.depth(track.x, track.y + fish.across) - quarry.above_bottom)
    else:
        fish = replace(fish, **{axis: value})
    return Laid(track, fish, np.arange(runs * count), np.zeros(runs * count, dtype=bool))


def poses(at: Stage, seed: int, count: int) -> Any:
    """Return one ping a run: along the contour of the depth at the origin, the boat in motion at random times."""
    from simulator.world import track

    rng = seeds.stream(seed, "motion")
    slope = at.scenario.seabed.slope
    down = np.tan(np.radians([slope.along, slope.across]))
    way = np.array([1.0, 0.0]) if not down.any() else np.array([-down[1], down[0]]) / np.hypot(*down)
    # Jittered, so that relief of any wavelength is met at all its phases.
    place = SPACING * (np.arange(count) + 0.5 * rng.random(count))
    order = 1.0 if way[0] >= 0 else -1.0
    level = track.still(order * way[0] * place, order * way[1] * place, at.face)
    phase = {name: rng.random(count) for name in ("roll", "pitch", "heave")}
    swing = {name: _swing(getattr(at.scenario.boat, name), phase[name]) for name in phase}
    return replace(level, depth=level.depth - swing["heave"], **swing)


def _swing(motion: Any, phase: FloatArray) -> FloatArray:
    return np.zeros(len(phase)) if motion is None else float(motion.amplitude) * np.sin(2 * np.pi * phase)


def draw(at: Stage, quarry: Quarry, place: Place | None, track: Any, seed: int) -> Fish:
    """Return one fish for each run: places uniform by area over the wider footprint at the fish's depth, or fixed.

    The unit disc, lengths, tilts and yaws come from the seed alone: compared elements and claims share them.
    """
    from simulator.world import fish

    count = len(track.x)
    rng = seeds.stream(seed, "placement")
    radius, turn = np.sqrt(rng.random(count)), 2 * np.pi * rng.random(count)
    length = fish.lengths(rng, quarry.length, quarry.length_sd, count)
    tilt = np.clip(rng.normal(*quarry.tilt, count), -90.0, 90.0)
    yaw = rng.uniform(0.0, 360.0, count)
    under = at.depth(track.x, track.y)
    down = under - quarry.above_bottom if quarry.above_bottom is not None else np.full(count, quarry.depth or 0.0)
    if place is None:
        half_along, half_across = np.tan(np.radians(at.widest()))
        lean = np.tan(np.radians([at.scenario.element[0].tilt.along, at.scenario.element[0].tilt.across]))
        deep = np.maximum(down - at.face, 0.0)
        along = deep * (half_along * radius * np.cos(turn) + lean[0])
        across = deep * (half_across * radius * np.sin(turn) + lean[1])
    else:
        along, across = np.full(count, place.along), np.full(count, place.across)
    if quarry.above_bottom is not None:
        down = at.depth(track.x + along, track.y + across) - quarry.above_bottom
    return Fish(along, across, down, length, tilt, yaw, np.full(count, quarry.spacing or 0.0))


def rounds(
    at: Stage,
    quarry: Quarry,
    laid: Laid,
    seed: int,
    measure: str = "parted",
    *,
    seabed: bool = True,
    first: int = 0,
    threads: int | None = None,
) -> Generator[Round, None, None]:
    """Yield what every element saw, ROUND pings at a time; the caller stops when it knows enough.

    measure: parted, detected or parted_pair. seabed: whether there is one. first: ping to go on at, a multiple of
    ROUND. The same arguments but threads: the same rounds.
    """
    world = _world(at, quarry, laid, seed)
    true = true_range(at, world, laid.track, laid.fish)
    ground = at.depth(laid.track.x, laid.track.y)
    free = not seabed or bool(np.all(laid.fish.depth + _slant_excess(at, laid.fish) + FREE_WATER < ground))
    if free:
        world = replace(world, seabed=None, bounce=None)
    streams = records(at, world, _window(at, true, ground, free), seed, first, threads)
    for start, found in streams:
        part = slice(start, start + len(found[0].ping_time))
        sights = [_judged(r, true[:, part], laid.fish.length[part], free, measure) for r in found]
        real = ~laid.empty[part]
        hit = np.array([h for h, _ in sights])
        detected = np.array([d for _, d in sights])
        yield Round(part.stop, laid.run[part][real], hit[:, real], detected[:, real], hit[:, ~real])


def records(
    at: Stage, world: Any, window: tuple[float, float], seed: int, first: int, threads: int | None
) -> Generator[tuple[int, list[ElementRecord]], None, None]:
    """Yield the first ping and each element's record of ROUND pings at a time."""
    from simulator.engine.settings import from_scenario
    from simulator.engine.simulate import PINGS, ranges
    from simulator.engine.simulate import simulate as pings

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


def _world(at: Stage, quarry: Quarry, laid: Laid, seed: int) -> Any:
    from simulator.world import build
    from simulator.world.fish import Placed

    group = group_of((quarry.swimbladder, quarry.tilt, quarry.strength_model))
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
    ranges = []
    for rise in (np.zeros(len(fish.depth)), fish.spacing)[: 1 + fish.is_pair]:
        depth = fish.depth - rise
        slant = np.sqrt(fish.along**2 + fish.across**2 + (depth - track.depth) ** 2)
        slowness = world.water.mean_slowness(at.face, depth)
        ranges.append(slant * slowness * float(at.scenario.water.assumed_sound_speed))
    return np.array(ranges)


def _window(at: Stage, true: FloatArray, ground: FloatArray, free: bool) -> tuple[float, float]:
    """Return the depths [m] the records must hold for detector and bottom, nothing more."""
    cell = max(element.info.range_resolution for element in at.prepared.header.elements)
    top = float(true.min()) - LEAD - LEAD_CELLS * cell
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
    if measure == "parted_pair":
        pair = score_pair(stored, cells, bottom, row, true.T, np.stack([within, within], axis=1))
        return pair, verdicts.detected
    return (verdicts.parted if measure == "parted" else verdicts.detected), verdicts.detected
