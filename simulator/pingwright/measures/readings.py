"""Numbers read from the echoes of a point, again and again: beam width and range resolution."""

from abc import abstractmethod
from dataclasses import replace

import numpy as np

from pingwright import seeds
from pingwright.echograms.record import ElementRecord, FloatArray
from pingwright.measure import intervals
from pingwright.measures.asked import Question
from pingwright.measures.base import Measure, Result
from pingwright.trials import passes
from pingwright.trials.batch import Settings
from pingwright.trials.ground import Bank
from pingwright.trials.passes import IntArray, Pings
from pingwright.trials.placement import Fish, Species
from pingwright.trials.scene import Scene, deepened, scene, single
from pingwright.trials.sight import Eye, view_of

#: Largest number of readings of each number.
READINGS = 128
#: The point: strength [dB re 1 m2], and its range as a share of the seabed's depth.
STRENGTH, SHARE = -20.0, 0.6
#: A point instead of a fish: the world in which it is placed gives its target strength.
POINT = Species("closed", 0.1, 0.0, None, (1.0, 1.0), (0.0, 1.0), "love-1971")


class Reading(Measure):
    """A number of the element itself; its value is the median of the readings."""

    overs = ("ping",)
    on_scene = False

    @abstractmethod
    def read(self, question: Question, at: Scene, settings: Settings, count: int) -> FloatArray:
        """Return `count` readings of one element, alone in its scene."""

    @abstractmethod
    def known(self, question: Question, at: Scene, index: int) -> float:
        """Return the closed form of one element."""

    def result(self, question: Question, settings: Settings, *, curve: bool = True) -> Result:
        """Return the median of readings, or of their differences, with an always-valid interval."""
        at, count = scene(question.scenario), min(settings.runs, READINGS)
        read = [self.read(question, single(at, i), settings, count) for i in range(len(at.names))]
        values = read[0] - read[1] if question.is_difference else read[0]
        values = values[np.isfinite(values)]
        low, high = intervals.median_sequence(values, settings.confidence)
        value = float(np.median(values)) if len(values) else float("nan")
        each = tuple(float(np.nanmedian(r)) for r in read) if question.is_difference else ()
        return Result(value, low, high, len(values), self.closed_form(question), "ping", by_element=each)

    def closed_form(self, question: Question) -> float:
        """Return the closed-form number, first minus second for two elements."""
        at = scene(question.scenario)
        values = [self.known(question, at, i) for i in range(len(at.names))]
        return values[0] - values[1] if question.is_difference else values[0]


def distance_of(at: Scene, count: int, seed: int) -> tuple[float, np.random.Generator]:
    """Return the range of the point [m], clear of the blanking range and the near field, and the random stream."""
    info = at.headers[0].info
    deep = max(SHARE * (at.bottom - at.face), 1.5 * info.blank_range, 2 * info.number("near_field", 0.0))
    return deep, seeds.stream(seed, "target", count)


def record_of_point(
    at: Scene, slant: FloatArray, angle: FloatArray, plane: str, settings: Settings
) -> tuple[ElementRecord, IntArray]:
    """Return the record of one ping for each point, and where its strongest sample near the point is (n).

    slant [m], angle [deg] (n): off the element's axis in a plane, "along" or "across"; the boat level.
    """
    from pingwright.world import target
    from pingwright.world.gather import Gathering

    count, turn = len(slant), np.radians(angle)
    own = np.zeros((3, count))
    own[1 if plane == "across" else 0], own[2] = np.sin(turn), np.cos(turn)
    way = slant * (at.elements[0].rotation.T @ own)
    scenario = deepened(at.scenario, at.face + float(slant.max()))
    still = scenario.boat.model_copy(update={"roll": None, "pitch": None, "heave": None})
    scenario = scenario.model_copy(update={"boat": still})
    deep = replace(at, prepared=replace(at.prepared, scenario=scenario))
    zero = np.zeros(count)
    fish = Fish(way[0], way[1], np.full(count, np.nan), way[2] + at.face, zero + 0.1, zero, zero, zero)
    pings = passes.lay_out(deep, POINT, fish, settings.seed, 0, "ping")
    pings = _at_places(pings, way, at.face)
    view = view_of(deep, pings, np.ones(count, dtype=bool), seabed=False)
    ground = Bank(settings.threads).ground(deep, pings.route, view, settings.seed)
    eye = Eye(deep, POINT, pings, ground, view, threads=settings.threads)
    gathering = Gathering()
    up, size = np.repeat(target.UP, count, axis=1), np.full(count, 10 ** (STRENGTH / 20))
    gathering.add(pings.position, up, size, zero, 0, ping=np.arange(count))
    eye.hold((target.point_law(),), gathering.discrete())
    record = eye.record(np.arange(count))
    stored = np.asarray(record.echo_level)
    near = np.abs(record.range[None, :] / slant[:, None] - 1) < 0.02
    value = np.where(near, stored, np.iinfo(np.int16).min)
    return record, np.clip(np.argmax(value, axis=1), 1, stored.shape[1] - 2)


def _at_places(pings: Pings, way: FloatArray, face: float) -> Pings:
    """Return the pings with their fish exactly at vectors (3, n) [m] from the boat."""
    track = pings.track
    place = np.stack([track.x, track.y, np.full(len(track.x), face)]) + way
    return replace(pings, position=place)
