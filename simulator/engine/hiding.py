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

#: Points looked at together, and so many triangles are tried without a tree: it pays from some four times as many on.
_BLOCK, _FEW = 256, 64

_jit = compiled()


@dataclass(frozen=True)
class Tree:
    """A box tree over triangles.

    boxes (node, 6): low x, y, z, high x, y, z. child (node, 2): children, or (-1 - first, count) of triangles in a
    leaf. triangles (t, 9): a corner and two edges.
    """

    boxes: FloatArray
    child: NDArray[np.int64]
    triangles: FloatArray


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
    return Tree(np.array(boxes), np.array(child, np.int64), edges)


@_jit
def _crosses(origin: Any, ray: Any, triangles: Any, number: Any, far: Any) -> bool:
    """Return whether origin + t ray, 0 < t < far, meets one of the triangles (corner, edge, edge)."""
    e1x, e1y, e1z = triangles[number, 3], triangles[number, 4], triangles[number, 5]
    e2x, e2y, e2z = triangles[number, 6], triangles[number, 7], triangles[number, 8]
    px, py, pz = ray[1] * e2z - ray[2] * e2y, ray[2] * e2x - ray[0] * e2z, ray[0] * e2y - ray[1] * e2x
    determinant = e1x * px + e1y * py + e1z * pz
    if determinant == 0.0:
        return False
    inverse = 1.0 / determinant
    tx, ty, tz = origin[0] - triangles[number, 0], origin[1] - triangles[number, 1], origin[2] - triangles[number, 2]
    a = (tx * px + ty * py + tz * pz) * inverse
    if a < 0.0 or a > 1.0:
        return False
    qx, qy, qz = ty * e1z - tz * e1y, tz * e1x - tx * e1z, tx * e1y - ty * e1x
    b = (ray[0] * qx + ray[1] * qy + ray[2] * qz) * inverse
    if b < 0.0 or a + b > 1.0:
        return False
    t = (e2x * qx + e2y * qy + e2z * qz) * inverse
    return bool(0.0 < t < far)


@_jit
def _blocked(origin: Any, ray: Any, inverse: Any, far: Any, boxes: Any, child: Any, triangles: Any, stack: Any) -> bool:
    """Return whether anything of the tree stands on origin + t ray, 0 < t < far; inverse: of the ray's components."""
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
            first = (boxes[node, axis] - origin[axis]) * inverse[axis]
            second = (boxes[node, axis + 3] - origin[axis]) * inverse[axis]
            enter = max(enter, min(first, second))
            leave = min(leave, max(first, second))
        if enter > leave:
            continue
        if child[node, 0] < 0:
            start = -1 - child[node, 0]
            for k in range(start, start + child[node, 1]):
                if _crosses(origin, ray, triangles, k, far):
                    return True
        else:
            stack[depth] = child[node, 0]
            stack[depth + 1] = child[node, 1]
            depth += 2
    return False


@_jit
def _plane(triangles: Any, number: Any, origin: Any) -> Any:
    """Return what a triangle looks like from origin: (normal, first, second (3 each), reach).

    A ray d meets it at t = reach / (d normal), at (d first, d second) / (d normal) along its edges.
    """
    e1x, e1y, e1z = triangles[number, 3], triangles[number, 4], triangles[number, 5]
    e2x, e2y, e2z = triangles[number, 6], triangles[number, 7], triangles[number, 8]
    tx, ty, tz = origin[0] - triangles[number, 0], origin[1] - triangles[number, 1], origin[2] - triangles[number, 2]
    qx, qy, qz = ty * e1z - tz * e1y, tz * e1x - tx * e1z, tx * e1y - ty * e1x
    normal = (e2y * e1z - e2z * e1y, e2z * e1x - e2x * e1z, e2x * e1y - e2y * e1x)
    first = (e2y * tz - e2z * ty, e2z * tx - e2x * tz, e2x * ty - e2y * tx)
    return normal, first, (qx, qy, qz), e2x * qx + e2y * qy + e2z * qz


@_jit
def _meet(normal: Any, first: Any, second: Any, reach: Any, rays: Any, far: Any, count: Any, met: Any) -> None:
    """Set met to 1 for rays (3, count) that meet a triangle, see `_plane`, at 0 < t < far. A loop of vectors."""
    for k in range(count):
        x, y, z = rays[0, k], rays[1, k], rays[2, k]
        across = x * normal[0] + y * normal[1] + z * normal[2]
        sign = 1.0 if across > 0.0 else -1.0
        size = abs(across)
        a = sign * (x * first[0] + y * first[1] + z * first[2])
        b = sign * (x * second[0] + y * second[1] + z * second[2])
        t = sign * reach
        inside = (a >= 0.0) & (b >= 0.0) & (a + b <= size) & (t > 0.0) & (t < far[k] * size)
        met[k] = max(met[k], 1.0 if inside else 0.0)


@_jit
def _towards(xyz: Any, start: Any, stop: Any, origin: Any, box: Any, maybe: Any) -> None:
    """Set maybe to 1 for points start .. stop whose line to origin crosses a box (6), else to 0. A loop of vectors.

    A component of 0 makes infinities, which compare well. Only a line that grazes the box in the very plane of a side
    may be counted either way.
    """
    x, y, z = xyz[0, start:stop], xyz[1, start:stop], xyz[2, start:stop]
    lx, ly, lz = box[0] - origin[0], box[1] - origin[1], box[2] - origin[2]
    hx, hy, hz = box[3] - origin[0], box[4] - origin[1], box[5] - origin[2]
    for k in range(stop - start):
        rx, ry, rz = 1.0 / (x[k] - origin[0]), 1.0 / (y[k] - origin[1]), 1.0 / (z[k] - origin[2])
        enter = max(min(lx * rx, hx * rx), min(ly * ry, hy * ry), min(lz * rz, hz * rz))
        leave = min(max(lx * rx, hx * rx), max(ly * ry, hy * ry), max(lz * rz, hz * rz), 1.0)
        maybe[k] = 1.0 if (enter <= leave) & (leave >= 0.0) else 0.0


@_jit
def _aim(
    xyz: Any, axis: Any, law: Any, two_sided: Any, start: Any, stop: Any, origin: Any, gap: Any, weight: Any,
    maybe: Any, rays: Any, far: Any, whose: Any,
) -> Any:  # fmt: skip
    """Fill rays from origin and how far along them counts for the points that maybe are hidden; return how many.

    What faces away and has one side is silent anyway: half the facets of a structure need no ray.
    """
    count = 0
    for k in range(start, stop):
        if maybe[k - start] == 0.0:
            continue
        x, y, z = xyz[0, k] - origin[0], xyz[1, k] - origin[1], xyz[2, k] - origin[2]
        away = (two_sided[law[k]] == 0) & (x * axis[0, k] + y * axis[1, k] + z * axis[2, k] > 0.0)
        weight[k] = np.float32(0.0) if away else weight[k]
        # Always written, and kept only where counted: a branch here would be foreseen half the time.
        rays[0, count], rays[1, count], rays[2, count], whose[count] = x, y, z, k
        count += 1 if weight[k] != 0.0 else 0
    for k in range(count):
        far[k] = 1.0 - gap / math.sqrt(rays[0, k] * rays[0, k] + rays[1, k] * rays[1, k] + rays[2, k] * rays[2, k])
    return count


@_jit
def hide(
    xyz: Any, axis: Any, law: Any, two_sided: Any, segments: Any, origin: Any,
    boxes: Any, child: Any, triangles: Any, gap: Any, weight: Any,
) -> None:  # fmt: skip
    """Set weight to 0 for every scatterer of the segments that the tree hides from origin; gap: tolerance [m].

    A few triangles are tried all, many rays at a time; of many the tree finds those that matter to each ray.
    """
    maybe, far, met = np.empty(_BLOCK), np.empty(_BLOCK), np.empty(_BLOCK)
    rays, whose, stack, ray, inverse = (
        np.empty((3, _BLOCK)),
        np.empty(_BLOCK, np.int64),
        np.empty(128, np.int64),
        np.empty(3),
        np.empty(3),
    )
    for s in range(segments.shape[0]):
        for start in range(segments[s, 0], segments[s, 1], _BLOCK):
            stop = min(start + _BLOCK, segments[s, 1])
            _towards(xyz, start, stop, origin, boxes[0], maybe)
            count = _aim(xyz, axis, law, two_sided, start, stop, origin, gap, weight, maybe, rays, far, whose)
            if triangles.shape[0] <= _FEW:
                met[:count] = 0.0
                for number in range(triangles.shape[0]):
                    normal, first, second, reach = _plane(triangles, number, origin)
                    _meet(normal, first, second, reach, rays, far, count, met)
            else:
                for k in range(count):
                    for n in range(3):
                        ray[n], inverse[n] = rays[n, k], 1.0 / rays[n, k]
                    met[k] = 1.0 if _blocked(origin, ray, inverse, far[k], boxes, child, triangles, stack) else 0.0
            for k in range(count):
                if met[k] > 0.0:
                    weight[whose[k]] = 0.0


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
