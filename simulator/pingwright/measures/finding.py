"""Finds where a probability passes a level along an axis: detection range, smallest fish, reach of the bottom.

Every point of an axis is tried with the same fish, grounds and noise. Then the points that still matter are tried again
and again, until the verdict is certain or the runs of each are used up.
"""

from abc import abstractmethod
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.measure import intervals
from pingwright.measure.limits import Limit, monotone, passing
from pingwright.measures.asked import Question
from pingwright.measures.base import Chart, Line, Measure, Result
from pingwright.trials.assumptions import NOISE, in_noise
from pingwright.trials.batch import Settings, Trials
from pingwright.trials.passes import IntArray
from pingwright.trials.placement import BoolArray

#: Runs at each point at first, and further runs at a time.
RUNS, MORE = 64, 256
#: Points between each two of the first, for later.
BETWEEN = 3
#: Most runs at all points together, as a multiple of the runs of one point.
POINTS_WORTH = 6


@dataclass
class Tried:
    """One element's hits along the axis: hits, of (point)."""

    hits: IntArray
    of: IntArray


class Found(Measure):
    """A measure that is the place on an axis where a probability passes a level.

    ladder: points tried first, over the closed form; usual: where there is none; rising: whether the probability grows
    along the axis; has_noise_band: whether it is a range, shown with the band of own noise.
    """

    unit = "m"
    ladder: ClassVar[tuple[float, ...]]
    usual: ClassVar[float]
    level: ClassVar[float] = 0.5
    rising: ClassVar[bool] = False
    bounds: ClassVar[tuple[float, float]] = (0.1, 2800.0)
    axis_name: ClassVar[str]
    has_noise_band: ClassVar[bool] = False

    @abstractmethod
    def trials(self, question: Question, index: int, point: float, settings: Settings, number: int, count: int) -> int:
        """Return how many of `count` trials of one element hit at a point of the axis [m]."""

    @abstractmethod
    def chances(self, question: Question, index: int, points: FloatArray) -> FloatArray:
        """Return the closed-form probability (point) of one element at points of the axis [m]."""

    @abstractmethod
    def closed(self, question: Question, index: int) -> float:
        """Return the closed-form limit of one element [m], nan where there is none."""

    def closed_form(self, question: Question) -> float:
        """Return the closed-form limit [m], first minus second for two elements."""
        values = [self.closed(question, i) for i in range(len(question.elements))]
        return values[0] - values[1] if question.is_difference else values[0]

    def result(self, question: Question, settings: Settings, *, curve: bool = True) -> Result:
        """Return the limit with an always-valid interval; no point is tried more than the settings' runs."""
        axis, first = self.points(question)
        count = len(question.elements)
        tried = self._begun(settings, count, len(axis))
        each = 1 - (1 - settings.confidence) / count
        left = POINTS_WORTH * settings.runs * count - int(sum(t.of.sum() for t in tried))
        while (step := self._next(question, axis, first, tried, settings, each)) is not None and left > 0:
            element, point = step
            done = int(tried[element].of[point])
            more = min(MORE if done else RUNS, settings.runs - done)
            hits = self.trials(question, element, float(axis[point]), settings, done, more)
            tried[element].hits[point] += int(hits)
            tried[element].of[point] += more
            left -= more
            if settings.keep:
                settings.keep({"hits": [t.hits.tolist() for t in tried], "of": [t.of.tolist() for t in tried]})
            if settings.tell:
                settings.tell(int(sum((t.of > 0).sum() for t in tried)), count * int(first.sum()))
        limits = [self._limit(axis, t, each) for t in tried]
        value, low, high = _difference(limits) if count == 2 else (limits[0].value, limits[0].low, limits[0].high)
        return Result(
            value, low, high, int(max(t.of.max() for t in tried)), self.closed_form(question), self.over_of(question),
            by_element=tuple(one.value for one in limits) if count == 2 else (),
            chart=self._chart(question, axis, tried) if curve else None,
        )  # fmt: skip

    def noise_band(self, question: Question) -> tuple[tuple[float, float], ...]:
        """Return by element the closed form [m] with own noise 10 dB higher and lower; empty without own noise."""
        louder, quieter = (in_noise(question.scenario, by) for by in (NOISE, -NOISE))
        if not self.has_noise_band or louder is None or quieter is None:
            return ()
        both = [replace(question, scenario=one) for one in (louder, quieter)]
        return tuple((self.closed(both[0], i), self.closed(both[1], i)) for i in range(len(question.elements)))

    def points(self, question: Question) -> tuple[FloatArray, BoolArray]:
        """Return the axis [m], and the points to try first: around the closed forms of all elements."""
        closed = [self.closed(question, i) for i in range(len(question.elements))]
        middle = [c if np.isfinite(c) and c > 0 else self.usual for c in closed]
        first = np.unique(np.clip(np.concatenate([np.array(self.ladder) * m for m in middle]), *self.bounds))
        place = np.arange((len(first) - 1) * (BETWEEN + 1) + 1)
        axis = np.interp(place / (BETWEEN + 1), np.arange(len(first)), first)
        is_first = place % (BETWEEN + 1) == 0
        if question.bound is not None and not question.is_difference and question.bound > 0:
            at = float(np.clip(question.bound, *self.bounds))
            axis, is_first = np.append(axis, at), np.append(is_first, True)
            axis, where = np.unique(axis, return_index=True)
            is_first = is_first[where] | (axis == at)
        return axis, is_first

    def _begun(self, settings: Settings, count: int, points: int) -> list[Tried]:
        stored = settings.kept or {"hits": [[0] * points] * count, "of": [[0] * points] * count}
        return [
            Tried(np.array(h, dtype=np.int64), np.array(n, dtype=np.int64))
            for h, n in zip(stored["hits"], stored["of"], strict=True)
        ]

    def _limit(self, axis: FloatArray, tried: Tried, confidence: float) -> Limit:
        return passing(axis, tried.hits, tried.of, self.rising, self.level, confidence)

    def _next(
        self,
        question: Question,
        axis: FloatArray,
        first: BoolArray,
        tried: list[Tried],
        settings: Settings,
        each: float,
    ) -> tuple[int, int] | None:  # fmt: skip
        """Return element and point to try next, or None if all is known or used up."""
        for element, one in enumerate(tried):
            missing = np.flatnonzero(first & (one.of == 0))
            if len(missing):
                return element, int(missing[0])
        limits = [self._limit(axis, t, each) for t in tried]
        if question.bound is not None:
            spans = _difference(limits) if question.is_difference else (0.0, limits[0].low, limits[0].high)
            if self.verdict(question, spans[1], spans[2]) != "undecided":
                return None
            if not question.is_difference and question.bound > 0:
                point = int(np.argmin(np.abs(axis - question.bound)))
                return (0, point) if tried[0].of[point] < settings.runs else None
        # The wider interval first: of its points that still matter, the one near the limit with fewest trials.
        for element in sorted(range(len(tried)), key=lambda i: -(limits[i].high - limits[i].low)):
            one, limit = tried[element], limits[element]
            able = np.flatnonzero((axis > limit.low) & (axis < limit.high) & (one.of < settings.runs))
            if len(able):
                away = np.abs(axis[able] - (limit.value if np.isfinite(limit.value) else axis[len(axis) // 2]))
                return element, int(able[np.lexsort((away, one.of[able]))[0]])
        return None

    def _chart(self, question: Question, axis: FloatArray, tried: list[Tried]) -> Chart:
        """Return the share of hits along the axis for each element, and its closed form."""
        some = np.any([t.of > 0 for t in tried], axis=0)
        points, lines = axis[some], []
        for index, (name, one) in enumerate(zip(question.elements, tried, strict=True)):
            there = one.of > 0
            hits, of = one.hits[there], one.of[there]
            spans = np.array([intervals.clopper_pearson(int(h), int(n)) for h, n in zip(hits, of, strict=True)])
            sides = (monotone(hits, of, self.rising), spans[:, 0], spans[:, 1])
            lines.append(Line(name, *(tuple(np.interp(points, axis[there], side).tolist()) for side in sides)))
            lines.append(Line(name, tuple(self.chances(question, index, points).tolist())))
        bound = None if question.is_difference else question.bound
        return Chart(self.axis_name, tuple(points.tolist()), tuple(lines), self.level, at=bound)

    def crossing(self, points: FloatArray, chance: FloatArray) -> float:
        """Return where closed-form probabilities (point) along the axis pass the level [m], nan if they do not."""
        beyond = (chance >= self.level) if self.rising else (chance < self.level)
        first = int(np.argmax(beyond))
        if not beyond.any() or first == 0:
            return float("nan")
        part = (self.level - chance[first - 1]) / (chance[first] - chance[first - 1])
        return float(points[first - 1] + part * (points[first] - points[first - 1]))


def _difference(limits: list[Limit]) -> tuple[float, float, float]:
    first, last = limits
    return first.value - last.value, first.low - last.high, first.high - last.low


def hits_of(trials: Trials, count: int) -> int:
    """Return how many of `count` trials hit, of the first element."""
    return int(trials.look(np.arange(count), np.arange(0)).hit[0].sum())
