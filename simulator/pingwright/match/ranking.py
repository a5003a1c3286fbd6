"""Scores with intervals, ties, dominated candidates, and the depths at which the answer changes.

Intervals: Bayesian bootstrap of the runs (Rubin 1981, Ann. Stat. 9, 130-134), with the same weights for all candidates,
so that common chance cancels in differences between them. The effect of one deviating run in every part that counts
runs is added, because a bootstrap of runs that all agree would miss it.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pingwright import seeds
from pingwright.echograms.record import FloatArray
from pingwright.match import parts
from pingwright.match.hits import Hits

#: Resamplings of the runs, of the whole day and of each slice of depth.
RESAMPLINGS, SLICE_RESAMPLINGS = 400, 100
#: Standard deviations of a difference within which two candidates are a tie: with some hundred pairs of candidates
#: compared at once, chance alone separates a true tie in fewer than one trip in four (normal law, two-sided 0.27 %).
TIE = 3.0
#: Standard deviations of the printed interval (normal law, 95 %).
INTERVAL = 1.96


@dataclass(frozen=True)
class Ranked:
    """One candidate with its score.

    members: indices of elements; score, low, high: 0 to 1; parts: by name; ties_with, dominated_by: places in the
    ranking, counted from 0. by_depth (depth): its score in each slice of depth; drawn_by_depth (resampling, depth): the
    same, resampled.
    """

    members: tuple[int, ...]
    score: float
    low: float
    high: float
    parts: Mapping[str, float]
    ties_with: tuple[int, ...]
    dominated_by: tuple[int, ...]
    by_depth: FloatArray
    drawn_by_depth: FloatArray


@dataclass(frozen=True)
class Change:
    """A depth at which another candidate takes the lead: depth [m] between two slices; places in the ranking."""

    depth: float
    before: int
    after: int


def weight_vector(weights: Mapping[str, float]) -> FloatArray:
    """Return the weights (6) in the order of the parts, sum 1, dimensionless; ValueError if none is above 0."""
    vector = np.array([float(weights.get(name, 1.0)) for name in parts.NAMES])
    if vector.min() < 0 or vector.sum() <= 0:
        msg = "weights must not be negative, and one must be above 0"
        raise ValueError(msg)
    return np.asarray(vector / vector.sum())


def rank(
    hits: Hits, candidates: tuple[tuple[int, ...], ...], weights: Mapping[str, float], seed: int
) -> tuple[Ranked, ...]:
    """Return all candidates, best first; equal scores keep the order in which they were given."""
    vector = weight_vector(weights)
    whole = parts.alike(hits)
    points = np.array([parts.of_candidate(hits, members, whole) for members in candidates])
    score = points @ vector
    draws = resamplings(hits, seed)
    spread = np.stack([np.broadcast_to(parts.score(hits, m, draws, vector), RESAMPLINGS) for m in candidates], axis=1)
    by_depth = _by_depth(hits, candidates, whole, vector)
    drawn_by_depth = np.moveaxis(_by_depth(hits, candidates, parts.first(draws, SLICE_RESAMPLINGS), vector), -1, 0)
    order = np.argsort(-score, kind="stable")
    least = _one_run(hits, vector)
    tied = _ties(score, spread, least)
    beaten = _dominated(points, candidates, vector, tied)
    place = {int(c): i for i, c in enumerate(order)}

    def places(mask: FloatArray) -> tuple[int, ...]:
        return tuple(sorted(place[int(c)] for c in np.flatnonzero(mask)))

    ranked = []
    for c in order:
        half = INTERVAL * float(np.hypot(spread[:, c].std(ddof=1), least))
        ranked.append(
            Ranked(
                candidates[c], float(score[c]), max(0.0, float(score[c]) - half), min(1.0, float(score[c]) + half),
                dict(zip(parts.NAMES, (float(p) for p in points[c]), strict=True)),
                places(tied[c]), places(beaten[c]), by_depth[c], drawn_by_depth[:, c],
            )
        )  # fmt: skip
    return tuple(ranked)


def resamplings(hits: Hits, seed: int) -> parts.Weighted:
    """Return Bayesian bootstrap weights of all runs, RESAMPLINGS at once: exponential, mean 1.

    Runs of one number in one slice, over any species and at offsets, stand on one ground (`simulated`): they are drawn
    together, as clusters are in a bootstrap. The probabilities of formulas have no ground: all are independent.
    """
    random = seeds.stream(seed, "placement", -1)
    spot, swath = hits.detected.shape[1:], hits.swath.shape[1:]
    depths = np.ones((RESAMPLINGS, len(hits.width)))
    if not hits.quick:
        drawn = random.exponential(size=(RESAMPLINGS, len(hits.width), max(spot[-1], swath[-1])))
        return parts.Weighted(np.repeat(drawn[:, :, None, : spot[-1]], spot[1], 2), drawn[:, :, : swath[-1]], depths)
    draws = [(random.exponential(size=spot), random.exponential(size=swath)) for _ in range(RESAMPLINGS)]
    spots, swaths = (np.stack(side) for side in zip(*draws, strict=True))
    return parts.Weighted(spots, swaths, depths)


def advised(ranked: tuple[Ranked, ...]) -> int:
    """Return the place of the best candidate, counted from 0: a pair only if it beats every single element."""
    alone = [p for p in (0, *ranked[0].ties_with) if len(ranked[p].members) == 1]
    return min(alone, default=0)


def leaders(ranked: tuple[Ranked, ...], among: tuple[int, ...]) -> tuple[int, ...]:
    """Return the leader in each slice of depth, by places in the ranking; among: the places compared, best first.

    Another takes the lead only if it is ahead by more than a tie, so that chance between slices does not change the
    advice. At first, the first of those compared leads.
    """
    result, leader = [], among[0]
    for k in range(len(ranked[0].by_depth)):
        ahead = [p for p in among if p != leader and _leads(ranked[p], ranked[leader], k)]
        leader = max(ahead, key=lambda p: ranked[p].by_depth[k], default=leader)
        result.append(leader)
    return tuple(result)


def changes(lead: tuple[int, ...], edges: FloatArray) -> tuple[Change, ...]:
    """Return where the leader changes; edges (depth + 1) [m]: of the slices."""
    return tuple(Change(float(edges[k]), lead[k - 1], lead[k]) for k in range(1, len(lead)) if lead[k] != lead[k - 1])


def _leads(one: Ranked, other: Ranked, k: int) -> bool:
    """Return whether one is ahead of the other in slice k by more than a tie."""
    apart = float((one.drawn_by_depth - other.drawn_by_depth)[:, k].std(ddof=1))
    return bool(one.by_depth[k] - other.by_depth[k] > TIE * apart)


def _by_depth(
    hits: Hits, candidates: tuple[tuple[int, ...], ...], weights: parts.Weighted, vector: FloatArray
) -> FloatArray:
    """Return the scores (candidate, depth, ...) in each slice of depth."""
    slices = [parts.at_depth(weights, k) for k in range(len(hits.edges) - 1)]
    many = weights.depth.shape[:-1]
    return np.array([[np.broadcast_to(parts.score(hits, m, w, vector), many) for w in slices] for m in candidates])


def _one_run(hits: Hits, vector: FloatArray) -> float:
    """Return the effect of one run on the score, dimensionless, over all parts that are probabilities."""
    return float(np.hypot(vector[0], vector[1]) / hits.runs)


def _ties(score: FloatArray, spread: FloatArray, least: float) -> FloatArray:
    """Return which candidates tie (candidate, candidate), never with themselves."""
    count = len(score)
    tied = np.zeros((count, count), bool)
    for a in range(count):
        apart = np.hypot((spread - spread[:, a : a + 1]).std(axis=0, ddof=1), least)
        tied[a] = np.abs(score - score[a]) <= TIE * apart
        tied[a, a] = False
    return tied


def _dominated(
    points: FloatArray, candidates: tuple[tuple[int, ...], ...], vector: FloatArray, tied: FloatArray
) -> FloatArray:
    """Return which candidate (second) dominates which (first): no more elements, no part worse, score better.

    Parts without a weight are left out; a score within a tie is not better.
    """
    counted = points[:, vector > 0]
    size = np.array([len(members) for members in candidates])
    no_worse = (counted[None] >= counted[:, None]).all(axis=2)
    better = (counted[None] > counted[:, None]).any(axis=2)
    return np.asarray(no_worse & better & ~tied.astype(bool) & (size[None] <= size[:, None]))
