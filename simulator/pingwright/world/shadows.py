"""Steep ground hides things behind it: the faces of ledges and humps are surfaces that no sound passes."""

import numpy as np

from pingwright.world.scatterers import FloatArray, Occluder
from pingwright.world.terrain import Ground, Line, Net

STEEP = 0.2  # least slope of a face that hides [1]: gentler ones hide only from beams more than 79 deg off the vertical
WIDE = 6.0  # how far a profile's faces go to either side, in depths of the deepest sounding


def faces(ground: Ground, margin: float) -> Occluder | None:
    """Return the steep faces of a profile or grid, None where there are none.

    They lie `margin` [m] below the seabed, so that relief and roughness on top do not hide themselves: shadows are
    shorter by about this length. A point in a shadow lies behind a face that falls away from the boat, and the ray to
    it leaves that face; so the steep faces alone are enough. Waves and rough rock of `relief` cast no shadows.
    """
    typed = ground.typed()
    vertices: list[FloatArray] = []
    for shape in typed.shapes:
        if isinstance(shape, Line):
            side = WIDE * float(shape.depth.max()) + 100.0
            vertices.append(_steep(shape.x, np.array([-side, side]), np.tile(shape.depth, (2, 1)), typed, margin))
        elif isinstance(shape, Net):
            vertices.append(_steep(shape.x, shape.y, shape.depth, typed, margin))
    corners = np.concatenate(vertices) if vertices else np.zeros((0, 3, 3))
    if not len(corners):
        return None
    return Occluder("seabed", corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3))


def _steep(x: FloatArray, y: FloatArray, depth: FloatArray, ground: Ground, margin: float) -> FloatArray:
    """Return the triangles (t, 3, 3) [m] of the cells between soundings, depth (y, x), that are steep somewhere."""
    wide, high = np.diff(x)[None, :], np.diff(y)[:, None]
    along, across = np.abs(np.diff(depth, axis=1)) / wide, np.abs(np.diff(depth, axis=0)) / high
    steepest = np.hypot(np.maximum(along[1:], along[:-1]), np.maximum(across[:, 1:], across[:, :-1]))
    j, i = np.nonzero(steepest > STEEP)
    corners = []
    for di, dj in ((0, 0), (1, 0), (1, 1), (0, 1)):
        cx, cy = x[i + di], y[j + dj]
        corners.append(np.stack([cx, cy, ground.depth(cx, cy) + margin], axis=1))
    a, b, c, d = corners
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
