"""Things in front hide things behind; a school absorbs part of the sound that passes through it.

Rays against triangles through a tree of boxes (slab test: Kay & Kajiya 1986, SIGGRAPH; triangle test: Moeller &
Trumbore 1997, J. Graphics Tools 2, 21-28). A scatterer is hidden if anything stands on the straight line from it to the
face, more than a small tolerance in front of it. Diffraction around edges is left out, so shadows are sharp.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.engine.kernels.compiled import compiled
from pingwright.world.scatterers import Absorber, Occluder

FloatArray = NDArray[np.float64]

_LEAF = 8
#: A surface does not hide points on itself: hits closer than this to the point do not count [m].
TOLERANCE = 0.03

#: Points processed together; the deepest tree (halved each time, enough for 2^64 triangles).
_BLOCK, _DEEPEST = 256, 128

#: Added to a ray's components [m], so that none is 0: a box side in the ray's own plane would be 0 times infinity.
_HAIR = 1e-30

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
def _plane(triangles: Any, number: Any, origin: Any) -> Any:
    """Return a triangle as seen from origin: (normal, first, second (3 each), reach).

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
def _meet(
    normal: Any, first: Any, second: Any, reach: Any, rays: Any, far: Any, given: Any, count: Any, met: Any
) -> None:  # fmt: skip
    """Set met to 1 for those of the given rays that meet a triangle, see `_plane`, at 0 < t < far."""
    for n in range(count):
        k = given[n]
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
    """Set maybe to 1 for points start .. stop whose line to origin crosses a box (6), else to 0. A loop of vectors."""
    x, y, z = xyz[0, start:stop], xyz[1, start:stop], xyz[2, start:stop]
    lx, ly, lz = box[0] - origin[0], box[1] - origin[1], box[2] - origin[2]
    hx, hy, hz = box[3] - origin[0], box[4] - origin[1], box[5] - origin[2]
    for k in range(stop - start):
        rx = 1.0 / (x[k] - origin[0] + _HAIR)
        ry = 1.0 / (y[k] - origin[1] + _HAIR)
        rz = 1.0 / (z[k] - origin[2] + _HAIR)
        enter = max(min(lx * rx, hx * rx), min(ly * ry, hy * ry), min(lz * rz, hz * rz))
        leave = min(max(lx * rx, hx * rx), max(ly * ry, hy * ry), max(lz * rz, hz * rz), 1.0)
        maybe[k] = 1.0 if (enter <= leave) & (leave >= 0.0) else 0.0


@_jit
def _aim(
    xyz: Any, axis: Any, law: Any, two_sided: Any, start: Any, stop: Any, origin: Any, weight: Any, maybe: Any,
    rays: Any, whose: Any, count: Any,
) -> Any:  # fmt: skip
    """Add rays from origin to the points start .. stop that maybe are hidden to `count` others; return how many then.

    One-sided facets that face away are silent anyway, so half the facets of a structure need no ray.
    """
    for k in range(start, stop):
        if maybe[k - start] == 0.0:
            continue
        x, y, z = xyz[0, k] - origin[0], xyz[1, k] - origin[1], xyz[2, k] - origin[2]
        away = (two_sided[law[k]] == 0) & (x * axis[0, k] + y * axis[1, k] + z * axis[2, k] > 0.0)
        weight[k] = np.float32(0.0) if away else weight[k]
        # Always written, but counted only if needed: the processor could not predict a branch here.
        rays[0, count], rays[1, count], rays[2, count], whose[count] = x, y, z, k
        count += 1 if weight[k] != 0.0 else 0
    return count


@_jit
def _ready(rays: Any, gap: Any, count: Any, inverse: Any, far: Any, met: Any) -> None:
    """Fill the data of rays (3, count): inverse components, how far along them hits count, and that none is met."""
    for k in range(count):
        x, y, z = rays[0, k], rays[1, k], rays[2, k]
        inverse[0, k], inverse[1, k], inverse[2, k] = 1.0 / (x + _HAIR), 1.0 / (y + _HAIR), 1.0 / (z + _HAIR)
        far[k] = 1.0 - gap / math.sqrt(x * x + y * y + z * z)
        met[k] = 0.0


@_jit
def _enter(
    box: Any, origin: Any, inverse: Any, far: Any, met: Any, given: Any, count: Any, kept: Any
) -> Any:  # fmt: skip
    """Copy to kept those of the given rays that are not met yet and cross a box (6); return how many."""
    lx, ly, lz = box[0] - origin[0], box[1] - origin[1], box[2] - origin[2]
    hx, hy, hz = box[3] - origin[0], box[4] - origin[1], box[5] - origin[2]
    left = 0
    for n in range(count):
        k = given[n]
        rx, ry, rz = inverse[0, k], inverse[1, k], inverse[2, k]
        enter = max(min(lx * rx, hx * rx), min(ly * ry, hy * ry), min(lz * rz, hz * rz), 0.0)
        leave = min(max(lx * rx, hx * rx), max(ly * ry, hy * ry), max(lz * rz, hz * rz), far[k])
        kept[left] = k
        left += 1 if (enter <= leave) & (met[k] == 0.0) else 0
    return left


@_jit
def _sift(
    rays: Any, inverse: Any, far: Any, count: Any, origin: Any, boxes: Any, child: Any, triangles: Any,
    stack: Any, lists: Any, met: Any,
) -> None:  # fmt: skip
    """Set met to 1 for rays (3, count) that meet any triangle of the tree; all rays go down the tree together.

    stack (n, 3): nodes to visit, and where in lists the rays stand that crossed the box above them.
    """
    for n in range(count):
        lists[n] = n
    stack[0, 0], stack[0, 1], stack[0, 2] = 0, 0, count
    depth = 1
    while depth > 0:
        depth -= 1
        node, first, many = stack[depth]
        mine = lists[first + many :]
        left = _enter(boxes[node], origin, inverse, far, met, lists[first:], many, mine)
        if left == 0:
            continue
        if child[node, 0] < 0:
            for number in range(-1 - child[node, 0], -1 - child[node, 0] + child[node, 1]):
                normal, across, along, reach = _plane(triangles, number, origin)
                _meet(normal, across, along, reach, rays, far, mine, left, met)
        else:
            for side in range(2):
                stack[depth, 0], stack[depth, 1], stack[depth, 2] = child[node, side], first + many, left
                depth += 1


@_jit
def hide(
    xyz: Any, axis: Any, law: Any, two_sided: Any, segments: Any, origin: Any,
    boxes: Any, child: Any, triangles: Any, gap: Any, weight: Any,
) -> None:  # fmt: skip
    """Set weight to 0 for every scatterer of the segments that the tree hides from origin; gap: tolerance [m]."""
    maybe, rays, far, whose = (
        np.empty(_BLOCK),
        np.empty((3, 2 * _BLOCK)),
        np.empty(2 * _BLOCK),
        np.empty(2 * _BLOCK, np.int64),
    )
    inverse, met = np.empty((3, 2 * _BLOCK)), np.empty(2 * _BLOCK)
    stack, lists = np.empty((_DEEPEST, 3), np.int64), np.empty(_DEEPEST * 2 * _BLOCK, np.int64)
    count, last = 0, segments.shape[0] - 1
    for s in range(segments.shape[0]):
        for start in range(segments[s, 0], segments[s, 1], _BLOCK):
            stop = min(start + _BLOCK, segments[s, 1])
            _towards(xyz, start, stop, origin, boxes[0], maybe)
            count = _aim(xyz, axis, law, two_sided, start, stop, origin, weight, maybe, rays, whose, count)
            # In most blocks few points need a ray: the search in the tree starts when there are enough rays.
            if count < _BLOCK and (s < last or stop < segments[s, 1]):
                continue
            _ready(rays, gap, count, inverse, far, met)
            _sift(rays, inverse, far, count, origin, boxes, child, triangles, stack, lists, met)
            for k in range(count):
                if met[k] > 0.0:
                    weight[whose[k]] = 0.0
            count = 0


def absorber_path(absorber: Absorber, origin: FloatArray, points: FloatArray) -> FloatArray:
    """Return how far [m] the straight lines from origin (3) to points (3, n) run inside an absorber's ellipsoid."""
    start = (origin - absorber.centre) / absorber.semi_axes
    ray = (points - origin[:, None]) / absorber.semi_axes[:, None]
    length = np.sqrt(((points - origin[:, None]) ** 2).sum(axis=0))
    a = (ray**2).sum(axis=0)
    b = start @ ray
    inner = b**2 - a * (start @ start - 1)
    root = np.sqrt(np.maximum(inner, 0))
    enter, leave = np.clip((-b - root) / a, 0, 1), np.clip((-b + root) / a, 0, 1)
    return np.asarray((leave - enter) * length)


@_jit
def absorber_loss(
    xyz: Any, segments: Any, origin: Any, centre: Any, semi_axes: Any, per_metre: Any, weight: Any
) -> None:  # fmt: skip
    """Multiply weight by exp(-per_metre path) for the scatterers of the segments; path [m]: see `absorber_path`."""
    path = np.empty(_BLOCK)
    sx, sy = (origin[0] - centre[0]) / semi_axes[0], (origin[1] - centre[1]) / semi_axes[1]
    sz = (origin[2] - centre[2]) / semi_axes[2]
    over = sx * sx + sy * sy + sz * sz - 1.0
    for s in range(segments.shape[0]):
        for start in range(segments[s, 0], segments[s, 1], _BLOCK):
            count = min(start + _BLOCK, segments[s, 1]) - start
            x, y, z = xyz[0, start : start + count], xyz[1, start : start + count], xyz[2, start : start + count]
            for k in range(count):
                dx, dy, dz = x[k] - origin[0], y[k] - origin[1], z[k] - origin[2]
                rx, ry, rz = dx / semi_axes[0], dy / semi_axes[1], dz / semi_axes[2]
                a, b = rx * rx + ry * ry + rz * rz, sx * rx + sy * ry + sz * rz
                root = math.sqrt(max(b * b - a * over, 0.0))
                enter, leave = min(max((-b - root) / a, 0.0), 1.0), min(max((-b + root) / a, 0.0), 1.0)
                path[k] = (leave - enter) * math.sqrt(dx * dx + dy * dy + dz * dz)
            for k in range(count):
                if path[k] > 0.0:
                    weight[start + k] *= np.float32(math.exp(-per_metre * path[k]))


def dim(
    absorbers: tuple[Absorber, ...], frequency: float, origin: FloatArray, points: FloatArray,
    segments: NDArray[np.int64], weight: NDArray[np.float32],
) -> None:  # fmt: skip
    """Multiply weight (n) by the two-way amplitude exp(-n sigma_e path) of each absorber, at one frequency [Hz].

    segments (s, 2): which of the points (3, n) count. The extinction cross-section is taken at the band's centre: over
    a chirp band it changes by a few per cent of itself, and the whole loss through an ordinary school is under 1 dB.
    """
    for absorber in absorbers:
        per_metre = float(absorber.extinction(np.array([frequency]))[0])
        absorber_loss(points, segments, origin, absorber.centre, absorber.semi_axes, per_metre, weight)
