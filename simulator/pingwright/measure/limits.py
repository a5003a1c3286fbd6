"""Limits from hits: the depth, length or offset at which the probability of a hit passes one half."""

from dataclasses import dataclass

import numpy as np

from pingwright.measure.cells import FloatArray
from pingwright.measure.detect import IntArray
from pingwright.measure.intervals import probability_sequence


@dataclass(frozen=True)
class Limit:
    """Where the probability passes the level: value, and an interval low..high that is always valid.

    In the unit of the axis. value is nan and the interval is open (the axis' end or infinite) if the hits do not
    enclose it.
    """

    value: float
    low: float
    high: float


def monotone(hits: IntArray, of: IntArray, rising: bool) -> FloatArray:
    """Return the best monotone probabilities for hits out of trials along an axis (pool adjacent violators).

    Points without a trial have the value of a neighbour; 0 if there is no trial at all.
    Ayer, Brunk, Ewing, Reid & Silverman 1955, Ann. Math. Stat. 26, 641-647.
    """
    order = slice(None) if rising else slice(None, None, -1)
    blocks: list[list[float]] = []  # hits, trials, places
    for hit, trials in zip(hits[order].tolist(), of[order].tolist(), strict=True):
        blocks.append([hit, trials, 1])
        while len(blocks) > 1 and blocks[-2][0] * blocks[-1][1] >= blocks[-1][0] * blocks[-2][1]:
            last = blocks.pop()
            blocks[-1] = [a + b for a, b in zip(blocks[-1], last, strict=True)]
    values = np.concatenate([np.full(int(n), h / t if t else 0.0) for h, t, n in blocks])
    return np.asarray(values[order])


def passing(
    axis: FloatArray, hits: IntArray, of: IntArray, rising: bool, level: float = 0.5, confidence: float = 0.95
) -> Limit:
    """Return where along an axis (point, ascending) the probability of a hit passes a level.

    hits, of (point): hits out of trials. rising: whether the probability grows along the axis; it is assumed monotone.
    The value interpolates the best monotone fit to the points tried. The interval runs from the last point certainly on
    the near side to the first certainly on the far side, each point, tried or not, having its share of the error
    (Bonferroni).
    """
    each = 1 - (1 - confidence) / len(axis)
    spans = np.array([probability_sequence(int(h), int(n), each) for h, n in zip(hits, of, strict=True)])
    above, below = spans[:, 0] > level, spans[:, 1] < level
    near, far = (below, above) if rising else (above, below)
    low = float(axis[np.flatnonzero(near)[-1]]) if near.any() else -np.inf
    beyond = np.flatnonzero(far & (axis > low))
    high = float(axis[beyond[0]]) if len(beyond) else np.inf
    tried = of > 0
    fit = monotone(hits[tried], of[tried], rising) if tried.any() else np.zeros(0)
    return Limit(_value(axis[tried], fit, rising, level), low, high)


def _value(axis: FloatArray, fit: FloatArray, rising: bool, level: float) -> float:
    side = fit >= level if rising else fit < level
    if not side.any() or side[0]:
        return float("nan")
    i = int(np.argmax(side))
    part = (level - fit[i - 1]) / (fit[i] - fit[i - 1])
    return float(axis[i - 1] + part * (axis[i] - axis[i - 1]))
