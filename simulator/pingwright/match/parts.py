"""The parts of a score, each 0 to 1, as the trip file's contract defines them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.match import offsets
from pingwright.match.hits import Hits, seen_by

#: Order of the parts everywhere.
NAMES = ("separated", "detected", "swath", "detail", "small_fish", "reach")

#: The definition of each part.
DEFINITIONS: Mapping[str, str] = MappingProxyType(
    {
        "separated": (
            "Probability that a pass at the day's speed separates the fish from the bottom. The fish may be anywhere"
            " within the -3 dB width across the track of the narrowest candidate (a claim about that element means"
            " the same by anywhere). The swath counts fish further to the side. A pair separates a fish if either of"
            " its elements does, run by run."
        ),
        "detected": "Probability that a pass detects the same fish at the same places, at a shorter range than the"
        " bottom echo.",
        "swath": (
            "Swath divided by the depth at which the fish swims, at most 1. The swath is the width of water that a"
            " pass searches: the integral, over the distance to the side, of the probability that a pass detects the"
            " fish."
        ),
        "detail": (
            "log(0.10 m / resolution) / log 10, limited to 0..1. The resolution is the full width at -3 dB, in range,"
            " of the filtered echo of a single point."
        ),
        "small_fish": (
            "log(0.5 m / length) / log 10, limited to 0..1. The length is that of a fish straight below that a pass"
            " detects with probability 0.5, computed from formulas without the bottom."
        ),
        "reach": (
            "Depth at which one ping detects the fish on the axis with probability 0.5, divided by 1.5 times the"
            " depth of the bottom, at most 1; computed from formulas without a seabed."
        ),
    }
)


@dataclass(frozen=True)
class Weighted:
    """Weights of runs: one resampling of all trials, or equal weights.

    spot (..., depth, species, run), swath (..., depth, run): how often each run counts; depth (..., depth): and each
    slice. Many resamplings at once have one axis more, the first.
    """

    spot: FloatArray
    swath: FloatArray
    depth: FloatArray


def alike(hits: Hits) -> Weighted:
    """Return weights of 1 for every run."""
    shapes = hits.detected.shape[1:], hits.swath.shape[1:], hits.width.shape
    return Weighted(*(np.ones(shape) for shape in shapes))


def at_depth(weights: Weighted, index: int) -> Weighted:
    """Return the same weights for the runs of one slice of depth, and none for the others."""
    keep = np.zeros(weights.depth.shape[-1])
    keep[index] = 1.0
    return Weighted(weights.spot * keep[:, None, None], weights.swath * keep[:, None], weights.depth * keep)


def first(weights: Weighted, count: int) -> Weighted:
    """Return the first `count` of many resamplings."""
    return Weighted(weights.spot[:count], weights.swath[:count], weights.depth[:count])


def of_candidate(hits: Hits, members: tuple[int, ...], weights: Weighted) -> FloatArray:
    """Return the six parts of one candidate (6), each 0 to 1, dimensionless, in the order of NAMES."""
    return np.array([part(hits, members, weights) for part in _PARTS])


def score(hits: Hits, members: tuple[int, ...], weights: Weighted, vector: FloatArray) -> FloatArray:
    """Return the mean (...) of one candidate's parts, 0 to 1, dimensionless; vector (6): their weights, sum 1."""
    parts = [float(v) * part(hits, members, weights) for v, part in zip(vector, _PARTS, strict=True) if v]
    return np.asarray(np.sum(np.broadcast_arrays(*parts), axis=0))


def _separated(hits: Hits, members: tuple[int, ...], weights: Weighted) -> FloatArray:
    return _probability(seen_by(hits.separated, members), weights.spot, hits.share)


def _detected(hits: Hits, members: tuple[int, ...], weights: Weighted) -> FloatArray:
    return _probability(seen_by(hits.detected, members), weights.spot, hits.share)


def swath(hits: Hits, members: tuple[int, ...], weights: Weighted) -> FloatArray:
    """Return the swath (...) over the depth at which the fish swims, dimensionless."""
    seen = seen_by(hits.swath, members)
    runs = weights.swath * (seen.shape[-1] * offsets.cells(seen.shape[-1])[1])
    share, total = np.einsum("dr,...dr->...d", seen, runs), runs.sum(axis=(-2, -1))
    return np.asarray((hits.width * share).sum(axis=-1) / total)


def _swath(hits: Hits, members: tuple[int, ...], weights: Weighted) -> FloatArray:
    return np.minimum(1.0, swath(hits, members, weights))


def _detail(hits: Hits, members: tuple[int, ...], weights: Weighted) -> FloatArray:
    return np.asarray(detail(float(hits.resolution[list(members)].min())))


def _small(hits: Hits, members: tuple[int, ...], weights: Weighted) -> FloatArray:
    each = [small_fish(float(length)) for length in hits.smallest[list(members)].min(axis=0)]
    return _over_depth(np.array(each), weights)


def _reach(hits: Hits, members: tuple[int, ...], weights: Weighted) -> FloatArray:
    return _over_depth(np.minimum(1.0, hits.reach[list(members)].max(axis=0) / 1.5), weights)


def _over_depth(each: FloatArray, weights: Weighted) -> FloatArray:
    return np.asarray((each * weights.depth).sum(axis=-1) / weights.depth.sum(axis=-1))


_PARTS: tuple[Callable[[Hits, tuple[int, ...], Weighted], FloatArray], ...] = (
    _separated, _detected, _swath, _detail, _small, _reach,
)  # fmt: skip


def detail(resolution: float) -> float:
    """Return the part "detail", 0 to 1, dimensionless, of a range resolution [m]."""
    return float(np.clip(np.log10(0.10 / resolution), 0.0, 1.0))


def small_fish(length: float) -> float:
    """Return the part "small_fish", 0 to 1, dimensionless, of a length [m]; inf gives 0."""
    return float(np.clip(np.log10(0.5 / length), 0.0, 1.0)) if np.isfinite(length) else 0.0


def smallest(hits: Hits, members: tuple[int, ...], weights: Weighted) -> float:
    """Return the length [m] detected with probability 0.5, the geometric mean over depths; inf if none is."""
    return float(np.exp(np.average(np.log(hits.smallest[list(members)].min(axis=0)), weights=weights.depth)))


def _probability(seen: FloatArray, weights: FloatArray, share: FloatArray) -> FloatArray:
    total = weights.sum(axis=(-3, -1))
    return np.asarray((share * np.einsum("dsr,...dsr->...s", seen, weights) / total).sum(axis=-1))
