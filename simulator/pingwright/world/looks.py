"""How finely an element resolves the seabed, and how densely the seabed is sampled for it.

The caller that has the elements (recording.looks) passes the looks in.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

PATCHES_A_CELL = 8.0  # enough for Rayleigh statistics
STEEPEST_GAIN = 8.0  # largest density of patches on a slope of up to 45 degrees, over that on a flat bottom
DENSEST = 400.0  # patches a square metre: below about 1 m of water cells hold fewer than they should


@dataclass(frozen=True)
class Look:
    """How finely one element resolves the seabed.

    range_resolution c / 2B [m]; beam_width: one-way -3 dB, the narrower of its two [deg]; reach: angle off the vertical
    beyond which its beam has fallen off [deg]; tilt off the vertical [deg]; band [Hz].
    """

    range_resolution: float
    beam_width: float
    reach: float
    tilt: float
    band: tuple[float, float]


def patch_density(looks: Sequence[Look], height: float | FloatArray, slope: FloatArray) -> FloatArray:
    """Return the patches in a square metre that put `PATCHES_A_CELL` into each look's smallest cell, like slope.

    height above the seabed [m] and slope [1], of shapes that fit each other. On a flat bottom a cell is a ring of area
    2 pi h dr. On a slope or off vertical the ring about the nearest point is only partly in the beam: the share 2/pi
    arcsin(w / 4 b) of it, w the beam's width and b its angle from that point; the density is at most 8 times that of a
    flat bottom (a slope of about 12 degrees under a beam of 8), so steeper ground has fewer patches in a cell. Faces
    steeper than 45 degrees, which fill many cells on a small area, have more in proportion to their slope.
    """
    slope = np.asarray(slope, dtype=np.float64)
    most = np.zeros_like(slope)
    for look in looks:
        off = np.arctan(slope) + np.radians(look.tilt)
        part = np.radians(look.beam_width) / (4.0 * np.maximum(off, 1e-9))
        share = np.maximum(2.0 / np.pi * np.arcsin(np.minimum(1.0, part)), 1.0 / STEEPEST_GAIN)
        most = np.maximum(most, PATCHES_A_CELL / (2.0 * np.pi * height * look.range_resolution * share))
    return np.minimum(most * np.maximum(slope, 1.0), DENSEST)
