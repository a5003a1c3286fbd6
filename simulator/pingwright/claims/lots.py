"""Where and how the fish of a claim's runs lie, and the stage they lie on.

All runs of a claim are pings of one world, SPACING apart along the depth contour: the seabed's echo is another one
after half a face's length. Some runs have a twin: the same ping without the fish, for the false rate.
"""

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.claims.question import Place, Species
from pingwright.recording import Prepared, prepare

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: Distance between pings [m]: many times the length of a face, after which the bottom's echo is another.
SPACING = 3.0


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

    @property
    def crest(self) -> float:
        """Depth of the highest point of the structures kept [m], infinite without any."""
        return min((float(s.side[:, 1].min()) for s in self.prepared.header.truth.structures), default=np.inf)

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


def lay(at: Stage, species: Species, place: Place | None, seed: int, runs: int, twins: int = 0) -> Laid:
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
    fish = draw(at, species, place, track, seed)
    again = replace(track, **{f.name: getattr(track, f.name)[run] for f in fields(track)})
    again = replace(again, time=np.arange(len(run), dtype=np.float64))
    return Laid(again, Fish(*(getattr(fish, f.name)[run] for f in fields(fish))), run, np.concatenate(empty))


def spread(
    at: Stage, species: Species, place: Place | None, seed: int, runs: int, axis: str, points: FloatArray
) -> Laid:
    """Return pings for each of `runs` fish at every point of an axis, run by run.

    axis: height above the bottom, depth, across, length or spacing [m]; points (point). The run's number is its place
    in the sweep: point + points x run.
    """
    count = len(points)
    track = poses(at, seed, runs * count)
    one = draw(at, species, place, poses(at, seed, runs), seed)
    fish = Fish(*(np.repeat(getattr(one, f.name), count) for f in fields(one)))
    value = np.tile(points, runs)
    ground = at.depth(track.x + fish.along, track.y + fish.across)
    if species.above_bottom is not None:
        fish = replace(fish, depth=ground - species.above_bottom)
    if axis == "height":
        fish = replace(fish, depth=ground - value)
    elif axis == "across":
        side = np.where(np.arange(runs * count) // count % 2 == 0, 1.0, -1.0)
        fish = replace(fish, along=np.zeros(runs * count), across=side * value)
        if species.above_bottom is not None:
            fish = replace(fish, depth=at.depth(track.x, track.y + fish.across) - species.above_bottom)
    else:
        fish = replace(fish, **{axis: value})
    return Laid(track, fish, np.arange(runs * count), np.zeros(runs * count, dtype=bool))


def scattered(at: Stage, species: Species, seed: int, runs: int, places: FloatArray) -> Laid:
    """Return pings for each of `runs` fish at every one of some places (2, point): along, across [m], run by run."""
    laid = spread(at, species, Place(0.0, 0.0), seed, runs, "along", places[0])
    track = laid.track
    fish = replace(laid.fish, across=np.tile(places[1], runs))
    if species.above_bottom is not None:
        ground = at.depth(track.x + fish.along, track.y + fish.across)
        fish = replace(fish, depth=ground - species.above_bottom)
    return replace(laid, fish=fish)


def poses(at: Stage, seed: int, count: int) -> Any:
    """Return one ping a run: along the contour of the depth at the origin, the boat in motion at random times.

    Where structures are kept, the boat is anywhere over the box around them instead: its pings then share their seabed,
    whose echo is another one only half a face's length away.
    """
    from pingwright.world import track

    rng = seeds.stream(seed, "motion")
    slope = at.scenario.seabed.slope
    down = np.tan(np.radians([slope.along, slope.across]))
    way = np.array([1.0, 0.0]) if not down.any() else np.array([-down[1], down[0]]) / np.hypot(*down)
    # Jittered, so that relief of any wavelength is met at all its phases.
    place = SPACING * (np.arange(count) + 0.5 * rng.random(count))
    order = 1.0 if way[0] >= 0 else -1.0
    x, y = order * way[0] * place, order * way[1] * place
    plans = [structure.plan for structure in at.prepared.header.truth.structures]
    if plans:
        low, high = np.min(np.concatenate(plans), axis=0), np.max(np.concatenate(plans), axis=0)
        x, y = rng.uniform(low[0], high[0], count), rng.uniform(low[1], high[1], count)
    level = track.still(x, y, at.face)
    phase = {name: rng.random(count) for name in ("roll", "pitch", "heave")}
    swing = {name: _swing(getattr(at.scenario.boat, name), phase[name]) for name in phase}
    return replace(level, depth=level.depth - swing["heave"], **swing)


def _swing(motion: Any, phase: FloatArray) -> FloatArray:
    return np.zeros(len(phase)) if motion is None else float(motion.amplitude) * np.sin(2 * np.pi * phase)


def draw(at: Stage, species: Species, place: Place | None, track: Any, seed: int) -> Fish:
    """Return one fish for each run: places uniform by area over the wider footprint at the fish's depth, or fixed.

    The unit disc, lengths, tilts and yaws come from the seed alone: compared elements and claims share them.
    """
    from pingwright.world import fish

    count = len(track.x)
    rng = seeds.stream(seed, "placement")
    radius, turn = np.sqrt(rng.random(count)), 2 * np.pi * rng.random(count)
    length = fish.lengths(rng, species.length, species.length_sd, count)
    tilt = np.clip(rng.normal(*species.tilt, count), -90.0, 90.0)
    yaw = rng.uniform(0.0, 360.0, count)
    under = at.depth(track.x, track.y)
    down = under - species.above_bottom if species.above_bottom is not None else np.full(count, species.depth or 0.0)
    if place is None:
        half_along, half_across = np.tan(np.radians(at.widest()))
        lean = np.tan(np.radians([at.scenario.element[0].tilt.along, at.scenario.element[0].tilt.across]))
        deep = np.maximum(down - at.face, 0.0)
        along = deep * (half_along * radius * np.cos(turn) + lean[0])
        across = deep * (half_across * radius * np.sin(turn) + lean[1])
    else:
        along, across = np.full(count, place.along), np.full(count, place.across)
    if species.above_bottom is not None:
        down = at.depth(track.x + along, track.y + across) - species.above_bottom
    return Fish(along, across, down, length, tilt, yaw, np.full(count, species.spacing or 0.0))
