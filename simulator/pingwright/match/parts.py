"""The parts of a score, each 0 to 1, as the trip file's contract defines them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from pingwright.match.hits import BoolArray, FloatArray, Hits, seen_by
from pingwright.measure.limits import monotone

#: Order of the parts everywhere.
NAMES = ("separated", "detected", "swath", "detail", "small_fish", "reach")

#: What each part is, in one sentence.
DEFINITIONS: Mapping[str, str] = MappingProxyType(
    {
        "separated": (
            "Probability that one ping parts a fish from the bottom, the fish anywhere in the narrowest footprint of"
            " all candidates; a pair parts it if either element does, counted run by run."
        ),
        "detected": "Probability that one ping detects the same fish, at the same places, ahead of the bottom echo.",
        "swath": (
            "Width across the track in which one ping detects the fish with probability of at least 0.5, over the"
            " depth at which the fish swims, at most 1."
        ),
        "detail": (
            "log(0.10 m / resolution) / log 10, cut to 0..1; resolution: the full width at -3 dB of a single point's"
            " echo behind the element's matched filter, in range."
        ),
        "small_fish": (
            "log(0.5 m / length) / log 10, cut to 0..1; length: of the fish that one ping detects with probability 0.5"
            " at the same places."
        ),
        "reach": (
            "Depth at which one ping detects the fish on the axis with probability 0.5 without a seabed, over 1.5"
            " times the depth of the bottom, at most 1."
        ),
    }
)


@dataclass(frozen=True)
class Weighted:
    """Weights of runs: one resampling of all trials, or all of them alike.

    spot (depth, species, run); width, small, reach (depth, point, run): how often each run counts.
    """

    spot: FloatArray
    width: FloatArray
    small: FloatArray
    reach: FloatArray


def alike(hits: Hits) -> Weighted:
    """Return weights of 1 for every run."""
    shape = hits.detected.shape[1:]
    return Weighted(np.ones(shape), *(np.ones(axis.hits.shape[1:]) for axis in (hits.width, hits.small, hits.reach)))


def at_depth(weights: Weighted, index: int) -> Weighted:
    """Return the same weights for the runs of one slice of depth, and none for the others."""
    keep = np.zeros(weights.spot.shape[0])
    keep[index] = 1.0
    parts = (weights.spot, weights.width, weights.small, weights.reach)
    return Weighted(*(part * keep[:, None, None] for part in parts))


def of_candidate(hits: Hits, members: tuple[int, ...], weights: Weighted) -> FloatArray:
    """Return the six parts of one candidate (6), each 0 to 1, dimensionless, in the order of NAMES."""
    return np.array([part(hits, members, weights) for part in _PARTS])


def score(hits: Hits, members: tuple[int, ...], weights: Weighted, vector: FloatArray) -> float:
    """Return the mean of one candidate's parts, 0 to 1, dimensionless, weighted by vector (6), which sums to 1."""
    return sum(float(v) * part(hits, members, weights) for v, part in zip(vector, _PARTS, strict=True) if v)


def _separated(hits: Hits, members: tuple[int, ...], weights: Weighted) -> float:
    return _probability(seen_by(hits.separated, members), weights.spot, hits.share)


def _detected(hits: Hits, members: tuple[int, ...], weights: Weighted) -> float:
    return _probability(seen_by(hits.detected, members), weights.spot, hits.share)


def _width(hits: Hits, members: tuple[int, ...], weights: Weighted) -> float:
    return min(1.0, 2 * _falling(hits.width.points, seen_by(hits.width.hits, members), weights.width))


def _detail(hits: Hits, members: tuple[int, ...], weights: Weighted) -> float:
    return detail(float(hits.resolution[list(members)].min()))


def _small(hits: Hits, members: tuple[int, ...], weights: Weighted) -> float:
    return small_fish(smallest(hits, members, weights))


def _reach(hits: Hits, members: tuple[int, ...], weights: Weighted) -> float:
    return min(1.0, _falling(hits.reach.points, seen_by(hits.reach.hits, members), weights.reach) / 1.5)


_PARTS: tuple[Callable[[Hits, tuple[int, ...], Weighted], float], ...] = (
    _separated, _detected, _width, _detail, _small, _reach,
)  # fmt: skip


def detail(resolution: float) -> float:
    """Return the part "detail", 0 to 1, dimensionless, of a range resolution [m]."""
    return float(np.clip(np.log10(0.10 / resolution), 0.0, 1.0))


def small_fish(length: float) -> float:
    """Return the part "small_fish", 0 to 1, dimensionless, of a length [m]; inf gives 0."""
    return float(np.clip(np.log10(0.5 / length), 0.0, 1.0)) if np.isfinite(length) else 0.0


def smallest(hits: Hits, members: tuple[int, ...], weights: Weighted) -> float:
    """Return the length [m] detected with probability 0.5; the shortest tried if all are, inf if none is."""
    fit = _fit(seen_by(hits.small.hits, members), weights.small, rising=True)
    points = np.log(hits.small.points)
    if fit[-1] < 0.5:
        return float("inf")
    above = int(np.argmax(fit >= 0.5))
    return float(np.exp(points[0] if above == 0 else _cross(points, fit, above)))


def _probability(seen: BoolArray, weights: FloatArray, share: FloatArray) -> float:
    total = weights.sum(axis=(0, 2))
    return float(np.sum(share * (seen * weights).sum(axis=(0, 2)) / total))


def _fit(seen: BoolArray, weights: FloatArray, rising: bool) -> FloatArray:
    """Return monotone probabilities (point) of hits and weights (depth, point, run)."""
    hit, of = (seen * weights).sum(axis=(0, 2)), weights.sum(axis=(0, 2))
    return monotone(hit, of, rising)  # weighted counts are as good as whole ones


def _falling(points: FloatArray, seen: BoolArray, weights: FloatArray) -> float:
    """Return where a falling probability passes one half: 0 if it starts below, the last point if it never does."""
    fit = _fit(seen, weights, rising=False)
    if fit[0] < 0.5:
        return 0.0
    if fit[-1] >= 0.5:
        return float(points[-1])
    return _cross(points, fit, int(np.argmax(fit < 0.5)))


def _cross(points: FloatArray, fit: FloatArray, index: int) -> float:
    """Return where the line between two points, the second at index, passes one half."""
    share = (0.5 - fit[index - 1]) / (fit[index] - fit[index - 1])
    return float(points[index - 1] + share * (points[index] - points[index - 1]))
