"""What the trials gave: hits by element, and candidates as elements of which at least one must see the fish."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Axis:
    """One experiment along an axis: hits (element, depth, point, run) at points (point), ascending.

    The points are offset across the track over bottom depth [1], length of the fish [m], or depth of the fish over
    bottom depth [1].
    """

    points: FloatArray
    hits: BoolArray


@dataclass(frozen=True)
class Hits:
    """All trials of a trip; every element was shown the same fish, places, bottoms and tilts.

    elements: names. edges (depth + 1) [m]: of the bottom, where the slices of the day begin and end, ascending.
    species: names; share (species), sum 1.
    detected, separated (element, depth, species, run). fish_depth (depth, species, run) [m].
    false_alarms (element): share of the same judgements that say "separated" without a fish.
    width, small, reach: detections along offset, length and depth (without a seabed). resolution (element) [m].
    """

    elements: tuple[str, ...]
    edges: FloatArray
    species: tuple[str, ...]
    share: FloatArray
    detected: BoolArray
    separated: BoolArray
    fish_depth: FloatArray
    false_alarms: FloatArray
    width: Axis
    small: Axis
    reach: Axis
    resolution: FloatArray

    @property
    def runs(self) -> int:
        """Number of runs for each species, all depths together."""
        return int(self.detected.shape[1] * self.detected.shape[3])


def candidates(count: int, pairs: bool) -> tuple[tuple[int, ...], ...]:
    """Return the candidates as indices of elements: all singles, then all pairs if wanted."""
    singles = [(i,) for i in range(count)]
    return tuple(singles + (list(combinations(range(count), 2)) if pairs else []))


def seen_by(hits: BoolArray, members: tuple[int, ...]) -> BoolArray:
    """Return which trials at least one member of a candidate hit: hits (element, ...) to (...)."""
    return np.asarray(hits[list(members)].any(axis=0))
