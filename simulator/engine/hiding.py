"""What stands in front hides what is behind; a school takes its share of what passes through it.

Rays against triangles through a tree of boxes (slab test: Kay & Kajiya 1986, SIGGRAPH; triangle test: Moeller &
Trumbore 1997, J. Graphics Tools 2, 21-28). A scatterer counts as hidden when anything stands on the straight line
to the face, more than a small tolerance in front of it. Diffraction round edges is left out: shadows are sharp.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.engine.compiled import compiled
from simulator.world.scatterers import Occluder, Veil

FloatArray = NDArray[np.float64]

_LEAF = 4
#: A surface does not hide points on itself: hits closer than this to the point do not count [m].
TOLERANCE = 0.03

_jit = compiled()


@dataclass(frozen=True)
class Tree:
    """A box tree over triangles.

    boxes (node, 6): low x, y, z, high x, y, z. child (node, 2): children, or (-1 - first, count) of triangles in a
    leaf. triangles (t, 9): a corner and two edges. sphere (4): centre and radius of all.
    """

    boxes: FloatArray
    child: NDArray[np.int64]
    triangles: FloatArray
    sphere: FloatArray


def build_tree(occluder: Occluder) -> Tree:
    """Build the box tree of an occluder by halving along the longest side."""
    corners = occluder.vertices[occluder.triangles]
    low, high, middle = corners.min(axis=1), corners.max(axis=1), corners.mean(axis=1)
    boxes: list[FloatArray] = []
    child: list[tuple[int, int]] = []
    order: list[NDArray[np.int64]] = []
    placed = 0
    todo: list[tuple[NDArray[np.int64], int, int]] = [(np.arange(len(corners)), -1, 0)]
    while todo:
        members, parent, side = todo.pop()
        here = len(boxes)
        boxes.append(np.concatenate([low[members].min(axis=0), high[members].max(axis=0)]))
        if parent >= 0:
            pair = list(child[parent])
            pair[side] = here
            child[parent] = (pair[0], pair[1])
        if len(members) <= _LEAF:
            child.append((-1 - placed, len(members)))
            order.append(members)
            placed += len(members)
            continue
        child.append((0, 0))
        axis = int(np.argmax(np.ptp(middle[members], axis=0)))
        ranked = members[np.argsort(middle[members, axis], kind="stable")]
        half = len(ranked) // 2
        todo.extend([(ranked[:half], here, 0), (ranked[half:], here, 1)])
    sorted_corners = corners[np.concatenate(order)]
    edges = np.concatenate(
        [
            sorted_corners[:, 0],
            sorted_corners[:, 1] - sorted_corners[:, 0],
            sorted_corners[:, 2] - sorted_corners[:, 0],
        ],
        axis=1,
    )
    centre = (low.min(axis=0) + high.max(axis=0)) / 2
    radius = np.sqrt(((occluder.vertices - centre) ** 2).sum(axis=1)).max()
    return Tree(np.array(boxes), np.array(child, np.int64), edges, np.append(centre, radius))


@_jit
def _crosses(origin: Any, ray: Any, triangle: Any, far: Any) -> bool:
    """Return whether origin + t ray, 0 < t < far, meets a triangle (corner, edge, edge)."""
    e1x, e1y, e1z = triangle[3], triangle[4], triangle[5]
    e2x, e2y, e2z = triangle[6], triangle[7], triangle[8]
    px, py, pz = ray[1] * e2z - ray[2] * e2y, ray[2] * e2x - ray[0] * e2z, ray[0] * e2y - ray[1] * e2x
    determinant = e1x * px + e1y * py + e1z * pz
    if determinant == 0.0:
        return False
    tx, ty, tz = origin[0] - triangle[0], origin[1] - triangle[1], origin[2] - triangle[2]
    a = (tx * px + ty * py + tz * pz) / determinant
    if a < 0.0 or a > 1.0:
        return False
    qx, qy, qz = ty * e1z - tz * e1y, tz * e1x - tx * e1z, tx * e1y - ty * e1x
    b = (ray[0] * qx + ray[1] * qy + ray[2] * qz) / determinant
    if b < 0.0 or a + b > 1.0:
        return False
    t = (e2x * qx + e2y * qy + e2z * qz) / determinant
    return bool(0.0 < t < far)


@_jit
def _blocked(origin: Any, ray: Any, far: Any, boxes: Any, child: Any, triangles: Any, stack: Any) -> bool:
    """Return whether anything of the tree stands on origin + t ray, 0 < t < far."""
    stack[0] = 0
    depth = 1
    while depth > 0:
        depth -= 1
        node = stack[depth]
        enter, leave = 0.0, far
        for axis in range(3):
            if ray[axis] == 0.0:
                if origin[axis] < boxes[node, axis] or origin[axis] > boxes[node, axis + 3]:
                    enter = far + 1.0
                continue
            first = (boxes[node, axis] - origin[axis]) / ray[axis]
            second = (boxes[node, axis + 3] - origin[axis]) / ray[axis]
            enter = max(enter, min(first, second))
            leave = min(leave, max(first, second))
        if enter > leave:
            continue
        if child[node, 0] < 0:
            start = -1 - child[node, 0]
            for k in range(start, start + child[node, 1]):
                if _crosses(origin, ray, triangles[k], far):
                    return True
        else:
            stack[depth] = child[node, 0]
            stack[depth + 1] = child[node, 1]
            depth += 2
    return False


@_jit
def hide(
    xyz: Any, segments: Any, origin: Any, sphere: Any, boxes: Any, child: Any, triangles: Any, gap: Any, weight: Any
) -> None:
    """Set weight to 0 for every scatterer of the segments that the tree hides from origin; gap: tolerance [m]."""
    cx, cy, cz = sphere[0] - origin[0], sphere[1] - origin[1], sphere[2] - origin[2]
    distance = math.sqrt(cx * cx + cy * cy + cz * cz)
    # Outside the bounding sphere only directions within its cone can be hidden.
    inside = distance <= sphere[3]
    edge = -1.0 if inside else math.sqrt(1.0 - (sphere[3] / distance) ** 2)
    nearest = 0.0 if inside else distance - sphere[3]
    stack = np.empty(128, np.int64)
    ray = np.empty(3)
    for s in range(segments.shape[0]):
        for k in range(segments[s, 0], segments[s, 1]):
            ray[0], ray[1], ray[2] = xyz[0, k] - origin[0], xyz[1, k] - origin[1], xyz[2, k] - origin[2]
            length = math.sqrt(ray[0] ** 2 + ray[1] ** 2 + ray[2] ** 2)
            if length <= nearest or ray[0] * cx + ray[1] * cy + ray[2] * cz < edge * length * distance:
                continue
            if _blocked(origin, ray, 1.0 - gap / length, boxes, child, triangles, stack):
                weight[k] = 0.0


def veil_path(veil: Veil, origin: FloatArray, points: FloatArray) -> FloatArray:
    """Return how far [m] the straight lines from origin (3) to points (3, n) run inside a veil's ellipsoid."""
    start = (origin - veil.centre) / veil.semi_axes
    ray = (points - origin[:, None]) / veil.semi_axes[:, None]
    length = np.sqrt(((points - origin[:, None]) ** 2).sum(axis=0))
    a = (ray**2).sum(axis=0)
    b = start @ ray
    inner = b**2 - a * (start @ start - 1)
    root = np.sqrt(np.maximum(inner, 0))
    enter, leave = np.clip((-b - root) / a, 0, 1), np.clip((-b + root) / a, 0, 1)
    return np.asarray((leave - enter) * length)


def dim(
    veils: tuple[Veil, ...], frequency: float, origin: FloatArray, points: FloatArray, weight: NDArray[np.float32]
) -> None:
    """Multiply weight (n) by the two-way amplitude exp(-n sigma_e path) of each veil, at one frequency [Hz].

    The extinction cross-section is taken at the band's centre: over a chirp band it changes by a few per cent of
    itself, and the whole loss through an ordinary school is under 1 dB.
    """
    for veil in veils:
        per_metre = float(veil.extinction(np.array([frequency]))[0])
        weight *= np.exp(-per_metre * veil_path(veil, origin, points)).astype(np.float32)
