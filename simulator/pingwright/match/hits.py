"""Results of the trials: hits by element; a candidate hits if at least one of its elements does."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from pingwright.echograms.record import FloatArray


@dataclass(frozen=True)
class Hits:
    """All passes of a trip; every element met the same fish, places, bottoms and postures.

    elements: names. edges (depth + 1) [m]: of the bottom, where the slices of the day begin and end, ascending.
    species: names; share (species), sum 1. detected, separated (element, depth, species, run): 1 or 0 a pass;
    probabilities where quick, nothing simulated. fish_depth (depth, species, run) [m]. false_alarms (element): share of
    passes without a fish that separate one. swath (element, depth, run): detections at offsets over `width` (depth), a
    multiple of the fish's depth; `offsets` says for which part of it each run stands. smallest (element, depth) [m],
    reach (element, depth) over the bottom's depth: closed forms; resolution (element) [m]. reach_band (louder |
    quieter, element, depth): reach with own noise 10 dB higher and lower, None if not known.
    """

    elements: tuple[str, ...]
    edges: FloatArray
    species: tuple[str, ...]
    share: FloatArray
    detected: FloatArray
    separated: FloatArray
    fish_depth: FloatArray
    false_alarms: FloatArray
    swath: FloatArray
    width: FloatArray
    smallest: FloatArray
    reach: FloatArray
    resolution: FloatArray
    quick: bool = False
    reach_band: FloatArray | None = None

    @property
    def runs(self) -> int:
        """Number of runs for each species, all depths together."""
        return int(self.detected.shape[1] * self.detected.shape[3])


def candidates(count: int, pairs: bool) -> tuple[tuple[int, ...], ...]:
    """Return the candidates as indices of elements: all singles, then all pairs if wanted."""
    singles = [(i,) for i in range(count)]
    return tuple(singles + (list(combinations(range(count), 2)) if pairs else []))


def seen_by(hits: FloatArray, members: tuple[int, ...]) -> FloatArray:
    """Return the share of each trial at least one member of a candidate hits: hits (element, ...) to (...).

    For hits of 1 and 0: whether either hits; for probabilities: for elements whose echoes fade independently.
    """
    return np.asarray(1.0 - np.prod(1.0 - hits[list(members)], axis=0))
