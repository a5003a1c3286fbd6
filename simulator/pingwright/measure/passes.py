"""A pass of the boat: which pings belong to it, and when a fish counts as seen in it.

The rule is that of a screen that scrolls: one hit is chance, a row of hits is a mark. Fisheries acoustics joins single
echoes to tracks in the same way, with a least number of echoes and a largest number of missed pings between two (Ona &
Hansen 1991 and later trackers, from memory; the numbers 3 and 1 are common practice, no source).
"""

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import BeamPattern, ElementInfo
from pingwright.measure.cells import FloatArray

BoolArray = NDArray[np.bool_]

#: A fish is seen in a pass if at least so many pings show it (common practice, no source) ...
HITS = 3
#: ... with at most so many pings missed between two that do (common practice, no source).
MISSED = 1
#: A beam's main lobe ends at its first null, at most so far off its axis [deg].
WIDEST = 45.0
#: A dip of the pattern counts as its first null where it lies this far [dB] below the axis; assumed: the ripple on top
#: of a fan's beam is less deep, the first null of a disc or strip much deeper.
NULL_DEPTH = 10.0


def in_pass(detected: BoolArray, counted: BoolArray | None = None) -> BoolArray:
    """Return whether the rule is met (...), for pings in the order of the track along the last axis.

    detected (..., ping): pings that show the fish; counted (..., ping): those of them that count, such as the pings
    that separate it, all of them if left out. A row of detections ends where more than MISSED pings in turn are missed;
    the rule is met if HITS pings of one row count.
    """
    counts = detected if counted is None else counted & detected
    shape = detected.shape[:-1]
    row, gap = np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=np.int64)
    met = np.zeros(shape, dtype=bool)
    for k in range(detected.shape[-1]):
        shown = detected[..., k]
        gap = np.where(shown, 0, gap + 1)
        row = np.where(gap > MISSED, 0, row) + counts[..., k]
        met |= row >= HITS
    return np.asarray(met)


def sparse(ping: NDArray[np.int64]) -> BoolArray:
    """Return which pings (n) of a pass are enough to notice every row of HITS detections.

    ping: numbers along the pass. HITS - 1 pings in turn are left out, then MISSED + 1 are looked at: what is seen only
    in pings left out is never seen HITS times with at most MISSED pings missed between two.
    """
    return np.asarray(ping % (HITS + MISSED) >= HITS - 1)


def near(detected: BoolArray) -> BoolArray:
    """Return which pings (..., ping) may belong to one row with a ping that shows the fish: those within its gap."""
    found = detected.copy()
    for step in range(1, MISSED + 2):
        found[..., step:] |= detected[..., :-step]
        found[..., :-step] |= detected[..., step:]
    return found


def chance(detected: FloatArray, counted: FloatArray | None = None) -> FloatArray:
    """Return the probability (...) that the rule is met where pings are independent, exact.

    detected (..., ping): probability that a ping shows the fish; counted (..., ping): that it shows it and counts, the
    same if left out. A Markov chain over how many pings of the present row count and how many were missed since.
    """
    counts = detected if counted is None else np.minimum(counted, detected)
    shape = detected.shape[:-1]
    state = np.zeros((*shape, HITS, MISSED + 1))
    state[..., 0, 0] = 1.0
    met = np.zeros(shape)
    for k in range(detected.shape[-1]):
        hit, rest = counts[..., k, None, None], (detected - counts)[..., k, None, None]
        miss = 1.0 - hit - rest
        shown = state.sum(axis=-1)
        new = np.zeros_like(state)
        new[..., 0] += rest[..., 0] * shown
        new[..., 1:, 0] += hit[..., 0] * shown[..., :-1]
        new[..., 1:] += miss * state[..., :-1]
        new[..., 0, 0] += (miss[..., 0] * state[..., -1]).sum(axis=-1)
        met = met + hit[..., 0, 0] * shown[..., -1]
        state = new
    return np.asarray(met)


def main_lobe(info: ElementInfo, beam: BeamPattern | None) -> tuple[float, float]:
    """Return the half-angles [deg] of the main lobe along and across: to the first null at band centre, at most 45.

    Without a recorded pattern: 1.2 times the one-way -3 dB width, as for a disc (1.22 to 1.03 wavelengths over its
    diameter).
    """
    if beam is None or len(beam.angle) < 3:
        widths = (info.beamwidth_along, info.beamwidth_across)
        return min(1.2 * widths[0], WIDEST), min(1.2 * widths[1], WIDEST)
    middle = int(np.argmin(np.abs(beam.frequency - 0.5 * (info.band_low + info.band_high))))
    return _first_null(beam.angle, beam.along[middle]), _first_null(beam.angle, beam.across[middle])


def _first_null(angle: FloatArray, level: FloatArray) -> float:
    """Return the larger of the two angles [deg] at which the level has its first dip on either side of the axis."""
    nulls = []
    for side in (1.0, -1.0):
        order = np.flatnonzero(side * angle >= 0)
        order = order[np.argsort(side * angle[order])]
        one = level[order]
        dips = (one[1:-1] <= one[:-2]) & (one[1:-1] < one[2:]) & (one[1:-1] <= one[0] - NULL_DEPTH)
        nulls.append(float(abs(angle[order[1 + int(np.argmax(dips))]])) if dips.any() else WIDEST)
    return min(max(nulls), WIDEST)


def inside(lobe: tuple[float, float], u: FloatArray, v: FloatArray, w: FloatArray) -> BoolArray:
    """Return which directions lie in a main lobe of half-angles along, across [deg]: an ellipse of angles.

    u, v, w: direction cosines, or any multiple of them, in the element's own axes (along, across, out of the face).
    """
    side = np.hypot(u, v)
    off = np.degrees(np.arctan2(side, w))
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.where(side > 0, np.hypot(u / lobe[0], v / lobe[1]) / side, 0.0)
    return np.asarray(off * part <= 1.0)
