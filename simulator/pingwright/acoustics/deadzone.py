"""Where the bottom hides fish, and how wide a beam searches: geometry over a flat or sloping bottom.

Depths are from the transducer. A beam's half angle is half its full one-way -3 dB width.
"""

import numpy as np
from numpy.typing import ArrayLike

from pingwright.acoustics.arrays import FloatArray, floats, formula


@formula()
def height_at_angle(depth: ArrayLike, angle: ArrayLike) -> FloatArray:
    """Return the least height above a flat bottom of a fish not hidden by it [m], d (1 - cos angle).

    depth d [m], angle of the fish off the vertical [deg]. Exact: it is hidden where its range is not below d.
    Source: Ona & Mitson 1996, ICES JMS 53, 677-690.
    """
    return floats(floats(depth) * 2.0 * np.sin(np.radians(floats(angle)) / 2.0) ** 2)


@formula()
def dead_height(depth: ArrayLike, half_angle: ArrayLike, smear: ArrayLike) -> FloatArray:
    """Return the dead zone's height at the edge of the beam [m], d (1 - cos) plus the pulse's smear.

    depth [m], half_angle [deg], smear [m]: the pulse's range resolution, see `pulse`. Valid over a flat bottom. Source:
    Ona & Mitson 1996, ICES JMS 53, 677-690.
    """
    return floats(height_at_angle(depth, half_angle) + floats(smear))


def cone_volume(depth: ArrayLike, half_angle: ArrayLike) -> FloatArray:
    """Return the volume between a flat bottom and the sphere that touches it, in a cone [m3].

    depth d [m], half_angle t [deg]: pi/3 d^3 (tan^2 t - 2 (1 - cos t)). Exact below 90 deg.
    Source: Ona & Mitson 1996, ICES JMS 53, 677-690.
    """
    t = np.radians(floats(half_angle))
    return floats(np.pi / 3.0 * floats(depth) ** 3 * (np.tan(t) ** 2 - 4.0 * np.sin(t / 2.0) ** 2))


def mean_height(depth: ArrayLike, half_angle: ArrayLike) -> FloatArray:
    """Return the mean height of the dead volume over the beam's footprint [m], about d t^2 / 4.

    depth [m], half_angle [deg]. Exact for a cone over a flat bottom. Source: `cone_volume` over its base.
    """
    t = np.radians(floats(half_angle))
    return floats(cone_volume(depth, half_angle) / (np.pi * (floats(depth) * np.tan(t)) ** 2))


def nearest_bottom_range(depth: ArrayLike, slope: ArrayLike, half_angle: ArrayLike) -> FloatArray:
    """Return the range of the first bottom echo [m] over an even slope.

    depth straight below [m], slope [deg], half_angle of the beam [deg]: d cos(slope) while the slope is within the
    beam, else d cos(slope) / cos(slope - half_angle). Exact for an even slope. Source: plane geometry.
    """
    slope, half = np.radians(np.abs(floats(slope))), np.radians(floats(half_angle))
    return floats(floats(depth) * np.cos(slope) / np.cos(np.maximum(slope - half, 0.0)))


def slope_height(depth: ArrayLike, slope: ArrayLike, half_angle: ArrayLike) -> FloatArray:
    """Return the dead height on the axis over an even slope [m]: depth less the range of the first bottom echo.

    depth straight below [m], slope [deg], half_angle of the beam [deg]. Exact for an even slope.
    Source: `nearest_bottom_range`.
    """
    return floats(floats(depth) - nearest_bottom_range(depth, slope, half_angle))


@formula()
def footprint(depth: ArrayLike, width: ArrayLike) -> FloatArray:
    """Return the diameter of a beam's footprint on a flat bottom [m], 2 d tan(width / 2).

    depth [m], width: full [deg], below 180. Valid for a vertical axis. Source: plane geometry.
    """
    return floats(2.0 * floats(depth) * np.tan(np.radians(floats(width)) / 2.0))


@formula()
def swath(depth: ArrayLike, height: ArrayLike) -> FloatArray:
    """Return the widest width in which a fish above a flat bottom shows ahead of it [m], 2 sqrt(2 d h - h^2).

    depth d of the bottom [m], height h of the fish above it [m], 0 <= h <= d; by geometry alone, for any beam.
    Valid for a point fish and a pulse of no length. Source: Pythagoras: its range equals d at the edge.
    """
    d, h = floats(depth), floats(height)
    return floats(2.0 * np.sqrt(np.maximum(2.0 * d * h - h**2, 0.0)))
