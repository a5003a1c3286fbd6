"""The pings of a pass: those with the fish inside the main lobe. When it is seen in them: `measure.rules`."""

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import BeamPattern, ElementInfo
from pingwright.measure.cells import FloatArray

BoolArray = NDArray[np.bool_]

#: The main lobe of a beam ends at its first null, at most this far off its axis [deg].
WIDEST = 45.0
#: A dip of the pattern counts as its first null where it lies this far [dB] below the axis; assumed: the ripple on top
#: of a fan's beam is less deep, the first null of a disc or strip much deeper.
NULL_DEPTH = 10.0


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
