"""Scores with intervals, ties, what dominates what, and where the answer changes with depth.

Intervals: Bayesian bootstrap of the runs (Rubin 1981, Ann. Stat. 9, 130-134), the same weights for all candidates, so
that differences between candidates keep what they share. Added to it is the worth of one discordant run in every part
that counts runs, which a bootstrap of runs that all agree would miss.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from simulator import seeds
from simulator.match import parts
from simulator.match.hits import FloatArray, Hits

#: Resamplings of the runs.
RESAMPLINGS = 400
#: Standard deviations of a difference within which two candidates are a tie: with some hundred pairs of candidates
#: compared at once, chance alone separates a true tie in fewer than one trip in four (normal law, two-sided 0.27 %).
TIE = 3.0
#: Standard deviations of the printed interval (normal law, 95 %).
INTERVAL = 1.96


@dataclass(frozen=True)
class Ranked:
    """One candidate with its score.

    members: indices of elements; score, low, high: 0 to 1; parts: by name; ties_with, dominated_by: places in the
    ranking, counted from 0. by_depth (depth): its score in each slice of depth.
    """

    members: tuple[int, ...]
    score: float
    low: float
    high: float
    parts: Mapping[str, float]
    ties_with: tuple[int, ...]
    dominated_by: tuple[int, ...]
    by_depth: FloatArray


@dataclass(frozen=True)
class Change:
    """Where along depth another candidate takes the lead: depth [m] between two slices, and whether it is certain."""

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
    drawn = np.stack([[parts.of_candidate(hits, m, draw) for m in candidates] for draw in resamplings(hits, seed)])
    spread = drawn @ vector
    slices = range(len(hits.depth))
    by_depth = np.array(
        [[parts.of_candidate(hits, m, parts.at_depth(whole, k)) @ vector for k in slices] for m in candidates]
    )
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
                places(tied[c]), places(beaten[c]), by_depth[c],
            )
        )  # fmt: skip
    return tuple(ranked)


def resamplings(hits: Hits, seed: int) -> list[parts.Weighted]:
    """Return Bayesian bootstrap weights of all runs, RESAMPLINGS times: exponential, independent, mean 1."""
    random = seeds.stream(seed, "placement", -1)
    shapes = [hits.detected.shape[1:], *(axis.hits.shape[1:] for axis in (hits.width, hits.small, hits.reach))]
    return [parts.Weighted(*(random.exponential(size=shape) for shape in shapes)) for _ in range(RESAMPLINGS)]


def changes(ranked: tuple[Ranked, ...], depth: FloatArray) -> tuple[Change, ...]:
    """Return where along depth the leader changes, by places in the ranking, depths midway between two slices [m].

    A new leader is named only where it leads by more than the two candidates' intervals over all depths are wide in
    half, so that noise between slices makes no advice; a leader within that keeps the lead.
    """
    scores = np.array([r.by_depth for r in ranked])
    half = np.array([(r.high - r.low) / 2 for r in ranked])
    found, leader = [], int(np.argmax(scores[:, 0]))
    for k in range(1, len(depth)):
        best = int(np.argmax(scores[:, k]))
        if best != leader and scores[best, k] - scores[leader, k] > np.hypot(half[best], half[leader]):
            found.append(Change(float((depth[k - 1] + depth[k]) / 2), leader, best))
            leader = best
    return tuple(found)


def leader_at_first(ranked: tuple[Ranked, ...]) -> int:
    """Return the place in the ranking of the candidate that leads in the shallowest slice, a count from 0."""
    return int(np.argmax([r.by_depth[0] for r in ranked]))


def _one_run(hits: Hits, vector: FloatArray) -> float:
    """Return what one run more or less is worth in the score, dimensionless, the probabilities' parts together."""
    return float(np.hypot(vector[0], vector[1]) / hits.runs)


def _ties(score: FloatArray, spread: FloatArray, least: float) -> FloatArray:
    """Return which candidates cannot be told apart (candidate, candidate), never with themselves."""
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
