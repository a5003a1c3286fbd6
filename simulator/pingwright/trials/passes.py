"""The pings of each trial: one ping, or a pass of the boat past the fish at the sounder's own interval.

The boat runs straight along x at its speed. A pass has the pings from which the fish lies in the main lobe of an
element (`measure.passes`). Passes lie apart along the depth contour, each on its own ground. The places of the pings do
not depend on the fish, so one ground serves many questions (`trials.ground`).
"""

from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.echograms.record import FloatArray
from pingwright.element.model import Element
from pingwright.inputs.claims import Over
from pingwright.measure import passes as rule
from pingwright.trials import budget
from pingwright.trials.placement import LEAST_HEIGHT, BoolArray, Fish, Span, Species, whole
from pingwright.trials.scene import Scene
from pingwright.world.scatterers import Track

IntArray = NDArray[np.int64]

#: Distance between the ends of two trials [m]: many times the length of a face, after which the bottom's echo is
#: another, and more than the long waves of a natural bottom.
APART = 10.0
#: Time between two trials [s].
LATER = 1000.0
#: Most pings in a pass: the middle ones.
MOST_PINGS = 2001
#: Largest angle off the vertical [deg] within which a pass is judged.
FARTHEST = 60.0


@dataclass(frozen=True)
class Route:
    """Places of the pings in all trials of one batch, one trial after the other, independent of the fish.

    first (trial + 1): where each trial's pings begin; x, y (trial) [m]: where the boat is at a trial's middle. name:
    the inputs of the route, the same for the same route of one scene.
    """

    track: Track
    first: IntArray
    x: FloatArray
    y: FloatArray
    name: tuple[object, ...]


@dataclass(frozen=True)
class Pings:
    """The pings of some trials, the first of a route, one trial after the other.

    first (trial + 1): where each trial's pings begin; position (3, trial): of each fish [m]; heard (element, ping):
    whether the fish lies in the element's main lobe and can show at all; off (element, ping) [deg]: off its axis.
    track: of these pings.
    """

    route: Route
    track: Track
    fish: Fish
    first: IntArray
    position: FloatArray
    heard: BoolArray
    off: FloatArray

    @cached_property
    def trial(self) -> IntArray:
        """Trial of each ping (ping)."""
        return np.repeat(np.arange(len(self.fish)), np.diff(self.first))

    def way(self) -> FloatArray:
        """Return the vector from the boat to the fish (3, ping) [m]."""
        place = np.stack([self.track.x, self.track.y, self.track.depth])
        return np.asarray(self.position[:, self.trial] - place)


def lay_out(
    at: Scene, species: Species, fish: Fish, seed: int, batch: int, over: Over = "pass", *, alone: bool = False,
    room: float = 0.0,
) -> Pings:  # fmt: skip
    """Return the pings of the first trials of a batch. over: "pass", or "ping": one each.

    alone: the route ends with these trials: less to work out where no ground is shared, as in closed forms. room [m]:
    least way ahead and astern of the fish, so that different fish can share a route.

    Passes of one scene, seed and batch over fish of one depth have one route, for any number of passes and any
    question: their grounds can be shared.
    """
    route = route_of(at, species, fish, seed, batch, over, alone=alone, room=room)
    first = route.first[: len(fish) + 1]
    track, middle = cut(route.track, int(first[-1])), (route.x[: len(fish)], route.y[: len(fish)])
    none = np.zeros((0, int(first[-1])))
    return _heard(at, species, Pings(route, track, fish, first, _stand(at, fish, *middle), none > 0, none), over)


def cut(track: Track, count: int) -> Track:
    """Return the first `count` pings of a track."""
    return Track(**{field.name: getattr(track, field.name)[:count] for field in fields(track)})


def route_of(
    at: Scene, species: Species, fish: Fish, seed: int, batch: int, over: Over, *, alone: bool = False,
    room: float = 0.0,
) -> Route:  # fmt: skip
    """Return the route of a batch: as many trials as there are fish, or whole worlds of them unless alone.

    If fish stay beside a structure, the fish determines the middle of each trial.
    """
    rng, beside = seeds.stream(seed, "motion", batch), species.beside is not None and at.around is not None
    count, most = len(fish) if beside else whole(len(fish)), (MOST_PINGS - 1) // 2
    room = max(reach_of(at, species, fish), room) if over == "pass" else 0.0
    side = int(min(np.ceil(room / at.step), most))
    first = np.arange(count + 1, dtype=np.int64) * (2 * side + 1)
    jitter, turns = rng.random((2, count)), {name: rng.random(count) for name in ("roll", "pitch", "heave")}
    middle = _beside(at, species.beside, fish, rng) if beside and species.beside else None
    middle = middle or _middles(at, np.full(count, 2.0 * side * at.step), jitter[0], rng)
    if alone:
        count, first, middle = len(fish), first[: len(fish) + 1], (middle[0][: len(fish)], middle[1][: len(fish)])
    trial = np.repeat(np.arange(count), 2 * side + 1)
    step = np.tile(np.arange(-side, side + 1), count) + (jitter[1][trial] - 0.5 if over == "pass" else 0.0)
    x, y = middle[0][trial] + at.step * step, middle[1][trial]
    moved = {name: _swing(at, name, turns[name][trial], step * at.interval) for name in turns}
    track = Track(
        time=LATER * trial + step * at.interval, x=x, y=y, depth=at.face - moved["heave"], heave=moved["heave"],
        roll=moved["roll"], pitch=moved["pitch"], heading=np.zeros(len(x)),
    )  # fmt: skip
    named = (seed, batch, over, side, middle[0].tobytes() if beside else count)
    return Route(track, first, middle[0], middle[1], named)


def reach_of(at: Scene, species: Species, fish: Fish) -> float:
    """Return the distance [m] ahead and astern of a fish within which any element's main lobe may include it.

    Of a school: its end. The depth is that of the bottom for fish over it, whatever their height.
    """
    deepest = float(np.max(fish.depth, initial=0.0)) if species.depth is None else species.depth[1]
    down = max((deepest if species.above_bottom is None else at.bottom) - at.face, 0.1)
    widest, side = 0.0, max(abs(tangent) for tangent in edges(at))
    for element, lobe in zip(at.elements, at.lobes, strict=True):
        tilt = element.spec.tilt
        lean = abs(float(tilt.along)) + _amplitude(at, "pitch")
        widest = max(widest, min(lobe[0] + lean, FARTHEST))
    across = max(side * down, float(np.abs(fish.across).max(initial=0.0)))
    end = 0.0 if species.school is None else 0.5 * species.school.along
    return float(np.hypot(down, across) * np.tan(np.radians(widest))) + end


def edges(at: Scene) -> tuple[float, float]:
    """Return the tangents of the angles across between which the main lobe of any element may lie."""
    lows, highs = [], []
    roll = _amplitude(at, "roll")
    for element, half in zip(at.elements, at.lobes, strict=True):
        lobe, tilt = half[1] + roll, float(element.spec.tilt.across)
        lows.append(max(tilt - lobe, -FARTHEST))
        highs.append(min(tilt + lobe, FARTHEST))
    return float(np.tan(np.radians(min(lows)))), float(np.tan(np.radians(max(highs))))


def _amplitude(at: Scene, name: str) -> float:
    motion = getattr(at.scenario.boat, name)
    return 0.0 if motion is None else float(motion.amplitude)


def _swing(at: Scene, name: str, turn: FloatArray, time: FloatArray) -> FloatArray:
    """Return a motion at times [s] of trials that begin at random phases of it; 0 without one."""
    motion = getattr(at.scenario.boat, name)
    if motion is None:
        return np.zeros(len(time))
    return np.asarray(float(motion.amplitude) * np.sin(2 * np.pi * (turn + time / float(motion.period))))


def _middles(
    at: Scene, length: FloatArray, jitter: FloatArray, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Return x, y [m] of the middle of each trial: along the contour of the depth at the origin, APART of each other.

    Where structures are kept or the bottom is a grid, anywhere over them instead: trials then share their seabed, whose
    echo is another one only half a face's length away.
    """
    seabed, count = at.scenario.seabed, len(length)
    if at.around is not None:
        low, high = at.around
        return rng.uniform(low[0], high[0], count), rng.uniform(low[1], high[1], count)
    down = np.tan(np.radians([seabed.slope.along, seabed.slope.across]))
    way = np.array([1.0, 0.0]) if not down.any() else np.array([-down[1], down[0]]) / np.hypot(*down)
    if getattr(seabed, "profile", None) is not None:
        way = np.array([0.0, 1.0])
    # With random shifts, so that all phases of a relief of any wavelength occur.
    room = np.abs(way[0]) * length + APART * (1.0 + jitter)
    place = np.cumsum(room) - 0.5 * room
    order = 1.0 if way[0] >= 0 else -1.0
    return order * way[0] * place, order * way[1] * place


def _beside(at: Scene, span: Span, fish: Fish, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Return x, y [m] of the middle of each trial whose fish is beside the starboard side of the structure."""
    low, high = at.around or (np.zeros(2), np.zeros(2))
    x, off = rng.uniform(low[0], high[0], len(fish)), rng.uniform(*span, len(fish))
    return x - fish.along, high[1] + off - fish.across


def _stand(at: Scene, fish: Fish, x: FloatArray, y: FloatArray) -> FloatArray:
    """Return the place of each fish (3, trial) [m]; heights are above the bottom under the fish itself."""
    x, y = x + fish.along, y + fish.across
    ground = at.depth(x, y)
    risen = np.where(np.isnan(fish.height), np.minimum(fish.depth, ground - LEAST_HEIGHT), ground - fish.height)
    return np.stack([x, y, risen])


def own_axes(element: Element, track: Track, way: FloatArray) -> FloatArray:
    """Return directions (3, ping) in an element's own axes (along, across, out), the boat leaning as it does.

    way (3, ping): world axes. Roll positive: starboard down; pitch positive: bow up; heading 0.
    """
    roll, pitch = np.radians(track.roll), np.radians(track.pitch)
    (sr, cr), (sp, cp) = (np.sin(roll), np.cos(roll)), (np.sin(pitch), np.cos(pitch))
    boat = np.stack([
        cp * way[0] - sp * way[2],
        sp * sr * way[0] + cr * way[1] + cp * sr * way[2],
        sp * cr * way[0] - sr * way[1] + cp * cr * way[2],
    ])  # fmt: skip
    return np.asarray(element.rotation @ boat)


def _heard(at: Scene, species: Species, pings: Pings, over: Over) -> Pings:
    """Return the pings with what each element may hear of the fish; single pings are judged wherever the fish is."""
    way = pings.way()
    heard, off = [], []
    for index, (element, lobe) in enumerate(zip(at.elements, at.lobes, strict=True)):
        own = own_axes(element, pings.track, way)
        off.append(np.degrees(np.arctan2(np.hypot(own[0], own[1]), own[2])))
        within = rule.inside(lobe, *own) if over == "pass" else np.ones(own.shape[1], dtype=bool)
        if over == "pass":
            length = pings.fish.length[pings.trial]
            within &= budget.possible(at, index, species, pings.track, way, own, length)
        heard.append(within)
    return replace(pings, heard=np.array(heard), off=np.array(off))
