"""Reach, smallest fish and searched width: probabilities along an axis, and where they pass one half."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from simulator import seeds
from simulator.claims import bench, lots, theory
from simulator.claims.answers import Chart, Line
from simulator.claims.lots import FloatArray, Stage
from simulator.claims.question import Place, Question
from simulator.measure import intervals
from simulator.measure.detect import IntArray
from simulator.measure.limits import Limit, monotone, passing

#: Runs at each point of an axis, and how many more at a time at the bound.
RUNS, MORE = 128, 512
#: Points of an axis, relative to the closed form.
REACH = (0.4, 0.55, 0.7, 0.8, 0.9, 1.0, 1.15, 1.4)
LENGTH = (0.35, 0.5, 0.7, 0.85, 1.0, 1.25, 1.6, 2.2, 3.2)
OFFSET = (0.0, 0.25, 0.45, 0.6, 0.75, 0.85, 0.95, 1.05, 1.2, 1.4)
AXIS = {"reach": "depth", "smallest_fish": "length", "searched_width": "across"}
NAME = {"reach": "depth", "smallest_fish": "length of the fish", "searched_width": "distance from the axis"}


@dataclass(frozen=True)
class Found:
    """One element's hits along an axis: points (point) [m], hits, of (point), and where they pass one half."""

    points: FloatArray
    hits: IntArray
    of: IntArray
    limit: Limit


def find(question: Question, at: Stage, runs: int, confidence: float, seed: int, threads: int | None = None) -> Found:
    """Return the limit of the question's only element, trying the bound itself up to `runs` times."""
    closed = theory.of_element(at, question, 0)
    points = _points(question, at, closed if closed is not None and np.isfinite(closed) else None)
    bound = None if question.bound is None else _on_axis(question, question.bound)
    if bound is not None:
        points = np.unique(np.append(points, bound))
    hits, of = _hits(question, at, points, seed, min(RUNS, runs), threads)
    found = _found(question, points, hits, of, confidence)
    batch = 0
    while bound is not None and not _certain(question, found.limit) and of[points == bound][0] < runs:
        batch += 1
        more = min(MORE, runs - int(of[points == bound][0]))
        extra, tried = _hits(
            question, at, np.array([bound]), seeds.key(seed, "placement", -3, batch) & (2**63 - 1), more, threads
        )
        hits = hits + np.where(points == bound, extra[0], 0)
        of = of + np.where(points == bound, tried[0], 0)
        found = _found(question, points, hits, of, confidence)
    return found


def _on_axis(question: Question, value: float) -> float:
    return value / 2 if question.measure == "searched_width" else value


def _points(question: Question, at: Stage, closed: float | None) -> FloatArray:
    if question.measure == "reach":
        return np.array(REACH) * (closed or 300.0)
    if question.measure == "smallest_fish":
        return np.unique(np.clip(np.array(LENGTH) * (closed or 0.1), 0.01, 4.0))
    deep = theory.fish_depth(at, question.quarry)
    half = [np.tan(np.radians(e.info.beamwidth_across / 2)) * deep for e in at.prepared.header.elements]
    return np.asarray(np.array(OFFSET) * max([(closed or 0.0) / 2, *half]))


def _hits(
    question: Question, at: Stage, points: FloatArray, seed: int, runs: int, threads: int | None
) -> tuple[Any, Any]:
    place = question.place or Place(0.0, 0.0)
    if question.measure == "reach":
        each = [_at_depth(question, at, place, float(depth), seed, runs, threads) for depth in points]
        return np.array(each), np.full(len(points), runs)
    axis = AXIS[question.measure]
    laid = lots.spread(at, _quarry(question), place, seed, runs, axis, points)
    seabed = question.measure == "searched_width"
    hit = _all(bench.rounds(at, _quarry(question), laid, seed, "detected", seabed=seabed, threads=threads))
    return hit.reshape(runs, len(points)).sum(axis=0), np.full(len(points), runs)


def _quarry(question: Question) -> Any:
    quarry = question.quarry
    return quarry if quarry.length > 0 else replace(quarry, length=0.1)


def _all(rounds: Any) -> Any:
    return np.concatenate([r.hit[0] for r in rounds])


def _at_depth(
    question: Question, at: Stage, place: Place, depth: float, seed: int, runs: int, threads: int | None
) -> int:
    quarry = replace(question.quarry, above_bottom=None, depth=depth + at.face)
    deep = deepened(at, depth + at.face)
    laid = lots.lay(deep, quarry, place, seed, runs)
    return int(_all(bench.rounds(deep, quarry, laid, seed, "detected", seabed=False, threads=threads)).sum())


def deepened(at: Stage, depth: float) -> Stage:
    """Return a stage whose water reaches below a depth [m]: its bottom is lowered where it must be."""
    scenario = at.scenario
    seabed = scenario.seabed.model_copy(update={"depth": max(1.2 * depth, 0.3), "grid": None, "relief": None})
    window = scenario.window.model_copy(update={"depth": (0.0, 1.2 * depth)})
    lowered = scenario.model_copy(update={"seabed": seabed, "window": window})
    return Stage(replace(at.prepared, scenario=lowered))


def _found(question: Question, points: FloatArray, hits: Any, of: Any, confidence: float) -> Found:
    limit = passing(points, hits, of, question.measure == "smallest_fish", confidence=confidence)
    if question.measure == "searched_width":
        limit = Limit(2 * limit.value, 2 * max(limit.low, 0.0), 2 * limit.high)
    return Found(points, hits, of, limit)


def _certain(question: Question, limit: Limit) -> bool:
    return intervals.verdict(limit.low, limit.high, question.at_least, question.at_most) != "undecided"


def chart(question: Question, found: list[Found]) -> Chart:
    """Return the figure's data: the share detected along the axis of the first element, all elements on its points."""
    lines = []
    for name, one in zip(question.elements, found, strict=True):
        rising = question.measure == "smallest_fish"
        spans = [intervals.clopper_pearson(int(h), int(n)) for h, n in zip(one.hits, one.of, strict=True)]
        smooth = monotone(one.hits, one.of, rising)
        grid = found[0].points
        lines.append(
            Line(
                name,
                tuple(np.interp(grid, one.points, smooth).tolist()),
                tuple(np.interp(grid, one.points, [low for low, _ in spans]).tolist()),
                tuple(np.interp(grid, one.points, [high for _, high in spans]).tolist()),
            )
        )
    return Chart(NAME[question.measure], tuple(found[0].points.tolist()), tuple(lines), 0.5)
