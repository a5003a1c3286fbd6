"""The pings of each trial: one ping, or a pass of the boat past the fish at the sounder's own interval.

The boat runs straight along x at its speed. A pass has the pings from which the fish lies in the main lobe of an
element (`measure.passes`). Passes lie apart along the depth contour, on ground of their own.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.echograms.record import FloatArray
from pingwright.element.model import Element
from pingwright.measure import passes as rule
from pingwright.trials import budget
from pingwright.trials.placement import LEAST_HEIGHT, BoolArray, Fish, Span, Species
from pingwright.trials.scene import Scene
from pingwright.world.scatterers import Track

IntArray = NDArray[np.int64]

#: Distance between the ends of two trials [m]: many times the length of a face, after which the bottom's echo is
#: another, and more than the long waves of a natural bottom.
APART = 10.0
#: Time between two trials [s].
LATER = 1000.0
#: At most so many pings in a pass: the middle ones.
MOST_PINGS = 2001
#: The farthest angle off the vertical [deg] at which a pass is looked at.
FARTHEST = 60.0


@dataclass(frozen=True)
class Pings:
    """All pings of some trials, one trial after the other.

    first (trial + 1): where each trial's pings begin; position (3, trial): of each fish [m]; heard (element, ping):
    whether the fish lies in the element's main lobe and can show at all; off (element, ping) [deg]: off its axis.
    """

    track: Track
    fish: Fish
    first: IntArray
    position: FloatArray
    heard: BoolArray
    off: FloatArray

    @property
    def trial(self) -> IntArray:
        """Trial of each ping (ping)."""
        return np.repeat(np.arange(len(self.fish)), np.diff(self.first))

    def way(self) -> FloatArray:
        """Return the way from the boat to the fish (3, ping) [m]."""
        place = np.stack([self.track.x, self.track.y, self.track.depth])
        return np.asarray(self.position[:, self.trial] - place)


def lay_out(
    at: Scene, species: Species, fish: Fish, seed: int, batch: int, over: str = "pass", room: FloatArray | None = None
) -> Pings:
    """Return the pings of some trials. over: "pass", or "ping": one each.

    room (trial) [m]: way ahead and astern of each fish, its own if left out; the same room gives the same track.
    """
    rng = seeds.stream(seed, "motion", batch)
    count, most = len(fish), (MOST_PINGS - 1) // 2
    reach = (reach_of(at, fish) if room is None else room) if over == "pass" else np.zeros(count)
    sides = np.minimum(np.ceil(reach / at.step), most).astype(np.int64)
    first = np.concatenate([[0], np.cumsum(2 * sides + 1)]).astype(np.int64)
    jitter, turns = rng.random((2, count)), {name: rng.random(count) for name in ("roll", "pitch", "heave")}
    middle = _beside(at, species.beside, fish, rng) if species.beside is not None and at.around is not None else None
    middle = middle or _middles(at, np.asarray(2.0 * sides * at.step, dtype=np.float64), jitter[0], rng)
    trial = np.repeat(np.arange(count), np.diff(first))
    step = np.arange(first[-1]) - first[trial] - sides[trial] + (jitter[1][trial] - 0.5 if over == "pass" else 0.0)
    x, y = middle[0][trial] + at.step * step, middle[1][trial]
    moved = {name: _swing(at, name, turns[name][trial], step * at.interval) for name in turns}
    track = Track(
        time=LATER * trial + step * at.interval, x=x, y=y, depth=at.face - moved["heave"], heave=moved["heave"],
        roll=moved["roll"], pitch=moved["pitch"], heading=np.zeros(len(x)),
    )  # fmt: skip
    position = _stand(at, fish, *middle)
    bare = Pings(track, fish, first, position, np.zeros((0, len(x)), bool), np.zeros((0, len(x))))
    return _heard(at, species, bare, over)


def reach_of(at: Scene, fish: Fish) -> FloatArray:
    """Return how far [m] (trial) ahead and astern of the fish any element's main lobe may reach it."""
    down = np.maximum(np.where(np.isnan(fish.depth), at.bottom - fish.height, fish.depth) - at.face, 0.1)
    widest = 0.0
    for element, header in zip(at.elements, at.headers, strict=True):
        lobe, tilt = rule.main_lobe(header.info, header.beam), element.spec.tilt
        lean = abs(float(tilt.along)) + _amplitude(at, "pitch")
        widest = max(widest, min(lobe[0] + lean, FARTHEST))
    return np.asarray(np.hypot(down, fish.across) * np.tan(np.radians(widest)))


def _amplitude(at: Scene, name: str) -> float:
    motion = getattr(at.scenario.boat, name)
    return 0.0 if motion is None else float(motion.amplitude)


def _swing(at: Scene, name: str, turn: FloatArray, time: FloatArray) -> FloatArray:
    """Return a motion at times [s] of trials that begin at random turns of it; 0 without one."""
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
    # Jittered, so that relief of any wavelength is met at all its phases.
    room = np.abs(way[0]) * length + APART * (1.0 + jitter)
    place = np.cumsum(room) - 0.5 * room
    order = 1.0 if way[0] >= 0 else -1.0
    return order * way[0] * place, order * way[1] * place


def _beside(at: Scene, span: Span, fish: Fish, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Return x, y [m] of the middle of each trial whose fish stands off the starboard side of what lies there."""
    low, high = at.around or (np.zeros(2), np.zeros(2))
    x, off = rng.uniform(low[0], high[0], len(fish)), rng.uniform(*span, len(fish))
    return x - fish.along, high[1] + off - fish.across


def _stand(at: Scene, fish: Fish, x: FloatArray, y: FloatArray) -> FloatArray:
    """Return where each fish stands (3, trial) [m]; heights count from the bottom under the fish itself."""
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


def _heard(at: Scene, species: Species, pings: Pings, over: str) -> Pings:
    """Return the pings with what each element may hear of the fish; single pings are judged wherever the fish is."""
    way = pings.way()
    heard, off = [], []
    for index, (element, header) in enumerate(zip(at.elements, at.headers, strict=True)):
        own = own_axes(element, pings.track, way)
        off.append(np.degrees(np.arctan2(np.hypot(own[0], own[1]), own[2])))
        lobe = rule.main_lobe(header.info, header.beam)
        within = rule.inside(lobe, *own) if over == "pass" else np.ones(own.shape[1], dtype=bool)
        if over == "pass":
            length = pings.fish.length[pings.trial]
            within &= budget.possible(at, index, species, pings.track, way, own, length)
        heard.append(within)
    return Pings(pings.track, pings.fish, pings.first, pings.position, np.array(heard), np.array(off))
