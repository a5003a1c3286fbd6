"""Places of fish in a school: a denser core, clumps and holes, an uneven edge, a few streamers.

All numbers are assumed. The mean density over the school's ellipsoid is the stated one, and no more than some 0.3 dB
higher along a line through its middle.
"""

import numpy as np

from pingwright.world.scatterers import FloatArray
from pingwright.world.texture import Field, field

CLUMPS = 3.0  # dB, standard deviation of the density from place to place
CLUMP = 0.35  # of the shortest semi-axis: the correlation length
HOLE_FROM, HOLE = -1.2, 0.1  # standard deviations below which there is a hole, and the density left in it
CORE = 0.15  # largest difference in density between middle and edge
UNEVEN = 0.08  # rms of the edge's wandering [semi-axes], alike over a third of the way round
STREAMERS, IN_STREAMERS, LONG, THIN = 6, 0.04, 0.5, 0.05  # their number, share of the fish, length, rms thickness
_POOL = 4  # places tried for each fish


def places(rng: np.random.Generator, count: int, semi: FloatArray) -> FloatArray:
    """Return where fish lie (3, count) [m] from the middle of a school of semi-axes along, across, upright (3) [m]."""
    if count < 10:
        return _ball(rng, count, 1.0) * semi[:, None]
    clump = CLUMP * float(semi.min())
    clumps, edge = field(rng, clump, clump), field(rng, 0.6, 0.6)
    tried = _ball(rng, _POOL * count, 1.25)
    weight = _weight(tried, semi, clumps, edge)
    # The smallest of exponential waiting times at these rates: a draw without replacement.
    wait = rng.exponential(size=len(weight)) / np.maximum(weight, 1e-9)
    chosen = np.argpartition(wait, count - 1)[:count]
    place = tried[:, np.sort(chosen)]
    strung = rng.random(count) < IN_STREAMERS
    place[:, strung] = _streamers(rng, int(strung.sum()))
    return np.asarray(place * semi[:, None])


def _weight(tried: FloatArray, semi: FloatArray, clumps: Field, edge: Field) -> FloatArray:
    """Return the density at places (3, n) in the unit ball, up to a factor [1]."""
    radius = np.linalg.norm(tried, axis=0)
    outward = tried / np.maximum(radius, 1e-9)
    here, there = tried * semi[:, None], edge.at(*outward)
    level = clumps.at(*here)
    density = np.exp(CLUMPS * np.log(10.0) / 10.0 * level)
    density = np.where(level < HOLE_FROM, HOLE * density, density)
    return np.asarray(density * (1.0 - CORE * np.minimum(radius, 1.0) ** 2) * (radius < 1.0 + UNEVEN * there))


def _streamers(rng: np.random.Generator, count: int) -> FloatArray:
    """Return places (3, count) in strings that leave the unit ball, mostly level."""
    way = rng.standard_normal((3, STREAMERS)) * np.array([[1.0], [1.0], [0.4]])
    way /= np.linalg.norm(way, axis=0)
    which = rng.integers(0, STREAMERS, count)
    out = 0.8 + LONG * rng.random(count)
    return np.asarray(way[:, which] * out + THIN * rng.standard_normal((3, count)))


def _ball(rng: np.random.Generator, count: int, radius: float) -> FloatArray:
    """Return places (3, count), evenly spread in a ball."""
    way = rng.standard_normal((3, count))
    way /= np.linalg.norm(way, axis=0)
    return np.asarray(way * rng.random(count) ** (1.0 / 3.0) * radius)
