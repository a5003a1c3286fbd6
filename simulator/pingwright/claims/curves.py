"""A claim's figure where it counts hits: the probability along the axis the claim is about, theory drawn in."""

from dataclasses import replace

import numpy as np

from pingwright.claims import bench, lots, theory
from pingwright.claims.answers import Chart, Line
from pingwright.claims.lots import FloatArray, Stage
from pingwright.claims.question import Place, Question
from pingwright.measure.intervals import clopper_pearson

#: Runs at each point of a curve; points.
RUNS, POINTS = 64, 11
NAME = {"height": "height above bottom", "across": "distance from the axis", "spacing": "distance of the two fish"}


def axis_of(question: Question, at: Stage) -> tuple[str, FloatArray]:
    """Return the axis a claim is drawn along and its points [m]: spacing of a pair, height, else offset across."""
    species = question.species
    if species.spacing is not None:
        return "spacing", np.linspace(0.2, 3.0, POINTS) * species.spacing
    if species.above_bottom is not None:
        top = max(3.0 * species.above_bottom, 1.0)
        return "height", np.linspace(0.0, 1.0, POINTS) ** 1.5 * (top - 0.02) + 0.02
    half = max(np.tan(np.radians(e.info.beamwidth_across / 2)) for e in at.prepared.header.elements)
    return "across", np.linspace(0.0, 1.6, POINTS) * half * theory.fish_depth(at, species)


def chart(question: Question, at: Stage, seed: int, threads: int | None = None, runs: int = RUNS) -> Chart:
    """Return the probability of each element along the claim's axis, with fixed-n intervals, and its closed form."""
    axis, points = axis_of(question, at)
    laid = lots.spread(at, question.species, question.place, seed, runs, axis, points)
    rounds = bench.rounds(at, question.species, laid, seed, question.measure, threads=threads)
    hit = np.concatenate([r.hit for r in rounds], axis=1).reshape(len(question.elements), runs, len(points))
    lines: list[Line] = []
    for index, name in enumerate(question.elements):
        found = hit[index].sum(axis=0)
        spans = [clopper_pearson(int(h), runs) for h in found]
        low, high = (tuple(side) for side in zip(*spans, strict=True))
        lines.append(Line(name, tuple((found / runs).tolist()), low, high))
        lines.append(Line(name, tuple(_theory(question, at, index, axis, float(p)) for p in points)))
    wanted = None if question.is_difference else question.bound
    return Chart(NAME[axis], tuple(points.tolist()), tuple(lines), wanted)


def _theory(question: Question, at: Stage, index: int, axis: str, point: float) -> float:
    species, deep = question.species, theory.fish_depth(at, question.species)
    if axis == "height":
        asked = replace(question, species=replace(species, above_bottom=point))
        return theory.probability(at, asked, index, theory.fish_depth(at, asked.species), fine=True)
    if axis == "spacing":
        asked = replace(question, species=replace(species, spacing=point))
        return theory.probability(at, asked, index, deep, fine=True)
    return theory.probability(at, replace(question, place=Place(0.0, point)), index, deep, fine=True)
