"""A pile of rocks: boulders in a mound, each a rough ball of flat faces."""

import numpy as np

from pingwright.world.scatterers import FloatArray
from pingwright.world.solids import Solid, joined

MOST_BOULDERS = 1_500  # boulders of one reef; above it they are larger than stated, just enough to cover the mound
_APART = 0.75  # of a boulder's size, between neighbours: they overlap
_UNEVEN = 0.22  # rms of a boulder's radius about its mean; assumed


def reef(length: float, width: float, height: float, boulder: float, rng: np.random.Generator) -> Solid:
    """Return a reef of some length along its heading, width, height and size of boulders [m], on up = 0.

    The mound is half an ellipsoid; its skin is boulders of 0.6 to 1.4 times the size. Its inside is hollow and does not
    matter: the boulders hide it. Rocks reach no farther than the mound's own length, width and height.
    """
    size = max(boulder, float(np.sqrt(length * width / MOST_BOULDERS)) / _APART)
    step = _APART * size
    x, y = (np.arange(-reach / 2 + size / 2, reach / 2 - size / 2 + step, step) for reach in (length, width))
    at = np.stack([g.ravel() for g in np.meshgrid(x, y)])
    at = at + rng.uniform(-0.25, 0.25, at.shape) * step
    inside = (2 * at[0] / length) ** 2 + (2 * at[1] / width) ** 2
    at, inside = at[:, inside < 1.0], inside[inside < 1.0]
    radius = size / 2 * rng.uniform(0.6, 1.4, len(inside))
    up = np.maximum(height * np.sqrt(1.0 - inside) - radius, 0.0)
    rocks = [_boulder(np.array([a, b, c]), r, rng) for a, b, c, r in zip(*at, up, radius, strict=True)]
    vertices, triangles = joined(rocks)
    bounds = np.array([length / 2, width / 2])
    vertices[:, :2] = np.clip(vertices[:, :2], -bounds, bounds)
    vertices[:, 2] = np.clip(vertices[:, 2], 0.0, height)
    return vertices, triangles


def _boulder(middle: FloatArray, radius: float, rng: np.random.Generator) -> Solid:
    """Return one rock: an icosahedron, turned, stretched and with uneven corners."""
    turn = np.linalg.qr(rng.standard_normal((3, 3)))[0]
    if np.linalg.det(turn) < 0.0:
        turn = -turn
    stretch = rng.uniform(0.75, 1.15, 3)
    uneven = 1.0 + _UNEVEN * np.clip(rng.standard_normal(12), -1.5, 1.0)
    return middle + radius * (_CORNERS * stretch @ turn.T) * uneven[:, None], _FACES


_GOLDEN = (1.0 + np.sqrt(5.0)) / 2.0
_CORNERS = np.array(
    [[-1, _GOLDEN, 0], [1, _GOLDEN, 0], [-1, -_GOLDEN, 0], [1, -_GOLDEN, 0], [0, -1, _GOLDEN], [0, 1, _GOLDEN],
     [0, -1, -_GOLDEN], [0, 1, -_GOLDEN], [_GOLDEN, 0, -1], [_GOLDEN, 0, 1], [-_GOLDEN, 0, -1], [-_GOLDEN, 0, 1]]
) / np.hypot(1.0, _GOLDEN)  # fmt: skip
_FACES = np.array(
    [[0, 11, 5], [0, 5, 1], [0, 1, 7], [0, 7, 10], [0, 10, 11], [1, 5, 9], [5, 11, 4], [11, 10, 2], [10, 7, 6],
     [7, 1, 8], [3, 9, 4], [3, 4, 2], [3, 2, 6], [3, 6, 8], [3, 8, 9], [4, 9, 5], [2, 4, 11], [6, 2, 10], [8, 6, 7],
     [9, 8, 1]], dtype=np.int64,
)  # fmt: skip
