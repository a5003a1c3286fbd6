"""Shapes of wrecks as closed triangle surfaces: vertices (v, 3), triangles (t, 3), outward by the right hand.

Local axes: along, across (starboard), up, metres; the shape stands on up = 0 with its middle over the origin.
"""

import numpy as np
from numpy.typing import NDArray

from pingwright.world.scatterers import FloatArray

Solid = tuple[FloatArray, NDArray[np.int64]]

SEGMENTS = 72  # round a cylinder: facets of 5 deg, finer than the lobe of any material
STATIONS = 33  # along a hull
WATERLINES = 9  # from keel to deck
#: Shape of a hull, assumed: fullness of its plan and its sections; the deckhouse in parts of length, width, height.
_PLAN_FULLNESS, _SECTION_FULLNESS = 3.0, 0.4
_HOUSE = (-0.25, 0.18, 0.6, 0.5)
_GAP, _SWING, _LEAN = 0.12, 14.0, 22.0  # of a hull broken in two: gap [lengths], turn and list of the stern [deg]


def box(length: float, width: float, height: float) -> Solid:
    """Return a box."""
    corners = np.array([[x, y, z] for z in (0.0, 1.0) for y in (-0.5, 0.5) for x in (-0.5, 0.5)])
    quads = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    return corners * [length, width, height], _split(quads)


def cylinder(length: float, diameter: float) -> Solid:
    """Return a cylinder lying along its axis."""
    angle = 2.0 * np.pi * np.arange(SEGMENTS) / SEGMENTS
    ring = np.stack([np.zeros(SEGMENTS), np.cos(angle), 1.0 + np.sin(angle)], axis=1) * diameter / 2.0
    return _loft(np.stack([ring + [x, 0.0, 0.0] for x in (-length / 2.0, length / 2.0)]))


def hull(length: float, width: float, height: float, list_deg: float = 0.0, broken: bool = False) -> Solid:
    """Return a ship: a hull with full midship sections and a deckhouse aft (bow towards + along).

    list_deg: starboard down. broken: the stern half lies apart, turned and listing more. It rests on its lowest point.
    """
    if not broken:
        parts = [_half(length, width, height, -0.5, 0.5), _house(length, width, height)]
        return _resting(_turned(joined(parts), 0.0, list_deg))
    bow = _resting(_turned(_half(length, width, height, 0.02, 0.5), 0.0, list_deg))
    stern = joined([_half(length, width, height, -0.5, 0.02), _house(length, width, height)])
    stern = _resting(_turned(stern, _SWING, list_deg + _LEAN))
    return joined([bow, (stern[0] - [_GAP * length, 0.0, 0.0], stern[1])])


def joined(parts: list[Solid]) -> Solid:
    """Return several solids as one."""
    starts = np.cumsum([0] + [len(vertices) for vertices, _ in parts[:-1]])
    triangles = [triangles + start for (_, triangles), start in zip(parts, starts, strict=True)]
    return np.concatenate([vertices for vertices, _ in parts]), np.concatenate(triangles)


def _half(length: float, width: float, height: float, start: float, end: float) -> Solid:
    """Return the hull between two stations, in lengths from the middle, closed by bulkheads."""
    along = np.linspace(start, end, STATIONS)
    # Blunt ends, so that the last section is not a point.
    breadth = np.maximum(1.0 - np.abs(2.0 * along) ** _PLAN_FULLNESS, 0.03) * width / 2.0
    up = np.linspace(0.0, 1.0, WATERLINES)
    side = np.maximum(up, 1e-3) ** _SECTION_FULLNESS
    port, starboard = np.stack([-side, up], axis=1)[::-1], np.stack([side, up], axis=1)
    section = np.concatenate([starboard, port])
    rings = [
        np.stack([np.full(len(section), x * length), section[:, 0] * b, section[:, 1] * height], axis=1)
        for x, b in zip(along, breadth, strict=True)
    ]
    return _loft(np.stack(rings))


def _house(length: float, width: float, height: float) -> Solid:
    middle, long, wide, high = _HOUSE
    vertices, triangles = box(long * length, wide * width, high * height)
    return vertices + [middle * length, 0.0, height], triangles


def _loft(rings: FloatArray) -> Solid:
    """Join rings (ring, point, 3), each counter-clockwise from + along, by a surface, and close both ends."""
    count, around, _ = rings.shape
    here = np.arange(around)
    after = (here + 1) % around
    skin = []
    for i in range(count - 1):
        a, b = i * around, (i + 1) * around
        skin += [np.stack([a + here, b + here, b + after], axis=1), np.stack([a + here, b + after, a + after], axis=1)]
    middles = rings[[0, -1]].mean(axis=1)
    first, last = count * around, count * around + 1
    back = np.stack([np.full(around, first), here, after], axis=1)
    front = np.stack([np.full(around, last), (count - 1) * around + after, (count - 1) * around + here], axis=1)
    vertices, triangles = np.concatenate([rings.reshape(-1, 3), middles]), np.concatenate([*skin, back, front])
    return _outward((vertices, triangles))


def _outward(solid: Solid) -> Solid:
    """Turn all triangles over if they enclose a negative volume."""
    vertices, triangles = solid
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    enclosed = float(np.sum(np.cross(a, b) * c))
    return (vertices, triangles) if enclosed > 0.0 else (vertices, triangles[:, ::-1].copy())


def _turned(solid: Solid, heading: float, list_deg: float) -> Solid:
    """Heel to starboard by list [deg], then turn by heading [deg] from + along to + across."""
    vertices, triangles = solid
    heel, turn = np.radians([list_deg, heading])
    along, across, up = vertices.T
    across, up = across * np.cos(heel) + up * np.sin(heel), up * np.cos(heel) - across * np.sin(heel)
    along, across = along * np.cos(turn) - across * np.sin(turn), along * np.sin(turn) + across * np.cos(turn)
    return np.stack([along, across, up], axis=1), triangles


def _resting(solid: Solid) -> Solid:
    vertices, triangles = solid
    return vertices - [0.0, 0.0, float(vertices[:, 2].min())], triangles


def _split(quads: list[tuple[int, int, int, int]]) -> NDArray[np.int64]:
    return np.array([t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))], dtype=np.int64)
