"""Reach, smallest fish and swath: probabilities along an axis, and where they pass one half.

Every point of an axis is tried with the same fish, bottoms and noise. Where one point decides, it is tried again and
again; where two elements are compared, the points about both limits are, until the verdict is certain.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pingwright import seeds
from pingwright.claims import bench, lots, theory
from pingwright.claims.answers import Chart, Line
from pingwright.claims.lots import FloatArray, Stage
from pingwright.claims.question import Place, Question
from pingwright.claims.trials import Course
from pingwright.measure import intervals
from pingwright.measure.detect import IntArray
from pingwright.measure.limits import Limit, monotone, passing

#: Runs at each point of an axis at first, and how many more at a time.
RUNS, MORE = 128, 512
#: Points of an axis, over the closed form.
REACH = (0.4, 0.55, 0.7, 0.8, 0.9, 1.0, 1.15, 1.4)
LENGTH = (0.35, 0.5, 0.7, 0.85, 1.0, 1.25, 1.6, 2.2, 3.2)
OFFSET = (0.0, 0.25, 0.5, 0.7, 0.85, 1.0, 1.15, 1.4, 1.8, 2.5)
#: Where two elements are compared: points kept for later between each two of these.
BETWEEN = 3
AXIS = {"reach": "depth", "smallest_fish": "length", "swath": "across"}
NAME = {"reach": "depth", "smallest_fish": "length of the fish", "swath": "distance from the axis"}


@dataclass(frozen=True)
class Axis:
    """The points an element may be tried at: points (point) [m], first (point): those tried in any case."""

    points: FloatArray
    first: Any


@dataclass(frozen=True)
class Found:
    """One element's hits along an axis: hits, of (point), and where they pass one half."""

    axis: Axis
    hits: IntArray
    of: IntArray
    limit: Limit

    @property
    def tried(self) -> Any:
        """Which points were tried (point)."""
        return self.of > 0


def find(question: Question, at: Stage, course: Course) -> list[Found]:
    """Return the limit of each of the question's elements, no point tried more than the course's runs."""
    runs, kept = course.runs, course.kept
    count = len(question.elements)
    stages = [lots.single(at, i) for i in range(count)]
    axes = [axis_of(question, at)] * count
    zero = [[0] * len(axis.points) for axis in axes]
    hits = [np.array(h, dtype=np.int64) for h in (kept["hits"] if kept else zero)]
    of = [np.array(n, dtype=np.int64) for n in (kept["of"] if kept else zero)]
    each = 1 - (1 - course.confidence) / count

    def found() -> list[Found]:
        return [_found(question, *row, each) for row in zip(axes, hits, of, strict=True)]

    while (step := _next(question, found(), runs)) is not None:
        element, point = step
        more = min(MORE if of[element][point] else RUNS, runs - int(of[element][point]))
        where, batch = float(axes[element].points[point]), int(of[element][point])
        hits[element][point] += _hits(question, stages[element], where, _seed(course.seed, batch), more, course.threads)
        of[element][point] += more
        if course.keep:
            course.keep({"hits": [h.tolist() for h in hits], "of": [n.tolist() for n in of]})
        if course.tell:
            course.tell(int(sum((n > 0).sum() for n in of)), int(sum(a.first.sum() for a in axes)))
    return found()


def _seed(seed: int, batch: int) -> int:
    return seed if batch == 0 else int(seeds.key(seed, "placement", -3, batch) & (2**63 - 1))


def _next(question: Question, found: list[Found], runs: int) -> tuple[int, int] | None:
    """Return element and point to try next, or None where all is known or used up."""
    for element, one in enumerate(found):
        missing = np.flatnonzero(one.axis.first & (one.of == 0))
        if len(missing):
            return element, int(missing[0])
    if question.bound is None or _outcome(question, found) != "undecided":
        return None
    if not question.is_difference:
        point = int(np.flatnonzero(found[0].axis.points == _on_axis(question, question.bound))[0])
        return (0, point) if found[0].of[point] < runs else None
    # The wider interval first: of its points that may still tell, the one about the limit tried least.
    for element in sorted(range(len(found)), key=lambda i: -(found[i].limit.high - found[i].limit.low)):
        one, factor = found[element], _factor(question)
        inside = (factor * one.axis.points > one.limit.low) & (factor * one.axis.points < one.limit.high)
        able = np.flatnonzero(inside & (one.of < runs))
        if len(able):
            away = np.abs(factor * one.axis.points[able] - one.limit.value)
            return element, int(able[np.lexsort((away, one.of[able]))[0]])
    return None


def _outcome(question: Question, found: list[Found]) -> str:
    _, low, high = number(question, found)
    return intervals.verdict(low, high, question.at_least, question.at_most)


def number(question: Question, found: list[Found]) -> tuple[float, float, float]:
    """Return value and interval of the question's number: a limit, or the first less the second."""
    first, last = found[0].limit, found[-1].limit
    if question.is_difference:
        return first.value - last.value, first.low - last.high, first.high - last.low
    return first.value, first.low, first.high


def _factor(question: Question) -> float:
    """Return the question's number over its place on the axis: a width has two sides."""
    return 2.0 if question.measure == "swath" else 1.0


def _on_axis(question: Question, value: float) -> float:
    return value / _factor(question)


def axis_of(question: Question, at: Stage) -> Axis:
    """Return the axis: about the closed forms of all elements, so that they are compared at the same points."""
    closed = [theory.of_element(at, question, i, fine=True) for i in range(len(question.elements))]
    ladder, usual = {
        "reach": (REACH, 300.0),
        "smallest_fish": (LENGTH, 0.1),
        "swath": (OFFSET, max(theory.fish_depth(at, question.species), 1.0)),
    }[question.measure]
    middle = [_on_axis(question, c) if np.isfinite(c) and c > 0 else usual for c in closed]
    points = np.unique(np.concatenate([np.array(ladder) * m for m in middle]))
    if question.measure == "smallest_fish":
        points = np.unique(np.clip(points, 0.01, 4.0))
    if question.bound is not None and not question.is_difference:
        points = np.unique(np.append(points, _on_axis(question, question.bound)))
    if not question.is_difference:
        return Axis(points, np.ones(len(points), dtype=bool))
    place = np.arange((len(points) - 1) * (BETWEEN + 1) + 1)
    return Axis(np.interp(place / (BETWEEN + 1), np.arange(len(points)), points), place % (BETWEEN + 1) == 0)


def _hits(question: Question, at: Stage, point: float, seed: int, runs: int, threads: int | None) -> int:
    """Return how many of some runs detect the fish at a point of the axis [m]."""
    place, species = question.place or Place(0.0, 0.0), question.species
    seabed = question.measure == "swath"
    if question.measure == "reach":
        species = replace(species, above_bottom=None, depth=point + at.face)
        at = deepened(at, point + at.face)
        laid = lots.lay(at, species, place, seed, runs)
    else:
        species = replace(species, length=species.length or point)
        laid = lots.spread(at, species, place, seed, runs, AXIS[question.measure], np.array([point]))
    rounds = bench.rounds(at, species, laid, seed, "detected", seabed=seabed, threads=threads)
    return int(sum(int(r.hit[0].sum()) for r in rounds))


def deepened(at: Stage, depth: float) -> Stage:
    """Return a stage whose water reaches below a depth [m]: its bottom is lowered where it must be."""
    scenario = at.scenario
    seabed = scenario.seabed.model_copy(update={"depth": max(1.2 * depth, 0.3), "grid": None, "relief": None})
    window = scenario.window.model_copy(update={"depth": (0.0, 1.2 * depth)})
    lowered = scenario.model_copy(update={"seabed": seabed, "window": window})
    return Stage(replace(at.prepared, scenario=lowered))


def _found(question: Question, axis: Axis, hits: IntArray, of: IntArray, confidence: float) -> Found:
    limit = passing(axis.points, hits, of, question.measure == "smallest_fish", confidence=confidence)
    if question.measure == "swath":
        limit = Limit(2 * limit.value, 2 * max(limit.low, 0.0), 2 * limit.high)
    return Found(axis, hits, of, limit)


def chart(question: Question, at: Stage, found: list[Found]) -> Chart:
    """Return the figure's data: the share detected along the axis for each element, and its closed form."""
    lines = []
    points = found[0].axis.points[found[0].axis.first]
    for index, (name, one) in enumerate(zip(question.elements, found, strict=True)):
        tried = one.tried
        where, hits, of = one.axis.points[tried], one.hits[tried], one.of[tried]
        spans = np.array([intervals.clopper_pearson(int(h), int(n)) for h, n in zip(hits, of, strict=True)])
        sides = (monotone(hits, of, question.measure == "smallest_fish"), spans[:, 0], spans[:, 1])
        lines.append(Line(name, *(tuple(np.interp(points, where, side).tolist()) for side in sides)))
        closed = theory.along(at, question, index, AXIS[question.measure], points, fine=True)
        lines.append(Line(name, tuple(closed.tolist())))
    return Chart(NAME[question.measure], tuple(points.tolist()), tuple(lines), 0.5)
