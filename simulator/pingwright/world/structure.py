"""Wrecks and meshes: surfaces that echo and that hide things behind them."""

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, assert_never

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.acoustics.roughness import gaussian_slopes
from pingwright.acoustics.seabed import lambert
from pingwright.errors import Fault, ScenarioError
from pingwright.world import mesh, reef, solids
from pingwright.world.contents import Outline
from pingwright.world.gather import Gathering
from pingwright.world.materials import Material
from pingwright.world.scatterers import FloatArray, Occluder, StrengthLaw
from pingwright.world.terrain import Ground

if TYPE_CHECKING:
    from pingwright.inputs.bodies import Mesh, Structure
    from pingwright.inputs.scenario import Scenario

PATCHES_A_SQUARE_METRE = 16.0
FEWEST_PATCHES = 400  # of one structure, however small
MOST_PATCHES = 1_500_000
MOST_IN_ALL = 3_000_000  # patches of all structures, and triangles: refused beyond
EDGE_RADIUS = 0.02  # m: of a plate's or plank's edge with what grows on it; assumed
SHARP = 40.0  # degrees between two faces from which their border is an edge
EDGE_PATCHES_A_METRE = 16.0
MOST_EDGE_SHARE = 0.5  # of a structure's other patches: a rough mesh has edges everywhere
_CLEAR = 0.005  # m: edges stand off the surface by this, so that it does not hide them
_SLIVER = 1e-3  # m: a smaller drop behind an edge is due to rounding
LAMBERT_DB = -20.0  # dB, of any material's fine roughness: assumed
_COLUMNS = 96  # of an outline
_EDGE_ON = 1e-9  # m2: twice the area seen from above of a triangle that stands upright
_FAR_HULL = 4000  # triangles: above, inside means inside the convex hull
_AT_ONCE = 1 << 18  # points times triangles that are tried together


@dataclass(frozen=True)
class Placed:
    """A structure in the world: its triangles as an occluder, whether closed (else it echoes on both sides).

    pile: it is a heap of rounded bodies that overlap, so it has no edges.
    """

    name: str
    occluder: Occluder
    closed: bool
    pile: bool = False

    def corners(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the three corners of each triangle, (t, 3) [m] each."""
        t = self.occluder.triangles
        return tuple(self.occluder.vertices[t[:, k]] for k in range(3))  # type: ignore[return-value]

    def contains(self, position: FloatArray) -> NDArray[np.bool_]:
        """Return which positions (3, n) [m] lie inside: an odd number of surfaces above them.

        For an open or a very fine mesh, and for a pile, the inside is that of its convex hull.
        """
        low, high = self.occluder.vertices.min(axis=0), self.occluder.vertices.max(axis=0)
        inside = np.all((position >= low[:, None]) & (position <= high[:, None]), axis=0)
        near = np.flatnonzero(inside)
        if len(near):
            fine = self.pile or not self.closed or len(self.occluder.triangles) > _FAR_HULL
            test = _inside_hull if fine else _inside_parity
            inside[near] = test(self, position[:, near].T)
        return np.asarray(inside, dtype=np.bool_)

    def top(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Return the depth of its highest point straight above or below x, y (n) [m], infinite beside it."""
        highest = np.full(len(x), np.inf)
        low, high = self.occluder.vertices.min(axis=0), self.occluder.vertices.max(axis=0)
        near = np.flatnonzero((x >= low[0]) & (x <= high[0]) & (y >= low[1]) & (y <= high[1]))
        a, b, c = self.corners()
        some = max(_AT_ONCE // len(a), 1)
        for start in range(0, len(near), some):
            part = near[start : start + some]
            hit, depth = _over(a, b, c, x[part][:, None], y[part][:, None])
            highest[part] = np.where(hit, depth, np.inf).min(axis=1)
        return highest


def place(spec: "Structure", ground: Ground, scenario: "Scenario", index: int = 0) -> Placed:
    """Return a `[[structure]]` in its place: on the seabed's mean under its footprint, unless at.depth is given.

    at.depth is the depth of its lowest point; index: of the structure, for its random parts. Raises ScenarioError for a
    file that is not a mesh.
    """
    (vertices, triangles), closed = _solid(spec, scenario, index)
    turn = np.radians(float(spec.heading))
    along, across, up = vertices.T
    x = float(spec.at.x) + along * np.cos(turn) - across * np.sin(turn)
    y = float(spec.at.y) + along * np.sin(turn) + across * np.cos(turn)
    base = spec.at.depth
    if base is None:
        base = float(ground.depth(x, y).mean())
    # Up becomes minus depth: a mirror, so the triangles turn over.
    world = np.stack([x, y, float(base) - up], axis=1)
    occluder = Occluder(str(spec.name), world, triangles[:, ::-1].copy())
    return Placed(str(spec.name), occluder, closed, pile=spec.shape.kind == "reef")


def add(gathering: Gathering, placed: Placed, material: Material, ground: Ground, rng: np.random.Generator) -> int:
    """Cover the surface and its edges with patches, keep those above the seabed; return how many."""
    position, normal, area = (
        np.concatenate(both, axis=-1) for both in zip(sample_faces(placed, rng), sample_edges(placed, rng), strict=True)
    )
    if not placed.closed:
        position, normal, area = np.tile(position, 2), np.concatenate([normal, -normal], axis=1), np.tile(area, 2)
    bare = position[2] < ground.depth(position[0], position[1])
    position, normal, area = position[:, bare], normal[:, bare], area[bare]
    law = gathering.law(surface_law(material))
    gathering.add(position, normal, np.sqrt(area), rng.random(len(area)), law)
    return len(area)


def added(amount: tuple[int, int], placed: Placed, scenario: "Scenario", index: int) -> tuple[int, int]:
    """Return patches and triangles of all structures so far, with one more, which has this index from 0.

    Raises ScenarioError beyond MOST_IN_ALL, before any patch is made.
    """
    length = float(np.linalg.norm(_edges(placed)[1], axis=1).sum())
    count = patches(placed) + _edge_patches(placed, length)
    total = (amount[0] + count, amount[1] + len(placed.occluder.triangles))
    for number, what in zip(total, ("patches (16 to a square metre)", "triangles"), strict=True):
        if number > MOST_IN_ALL:
            words = (
                f"found {number:,} {what} of structures up to this one; allowed: {MOST_IN_ALL:,} of all structures;"
                " make them fewer or smaller"
            )
            raise ScenarioError(
                [Fault(str(getattr(scenario, "name", "scenario")), 0, f"structure[{index + 1}]", words)]
            )
    return total


def sample_faces(placed: Placed, rng: np.random.Generator) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return places (3, n) [m] spread evenly by area over a surface, normals (3, n) there, and areas (n) [m2]."""
    a, b, c = placed.corners()
    cross = np.cross(b - a, c - a)
    size = np.linalg.norm(cross, axis=1) / 2.0
    total, count = float(size.sum()), patches(placed)
    # One place in each equal share of the area, triangles in a row.
    at = (np.arange(count) + rng.random(count)) * (total / count)
    which = np.minimum(np.searchsorted(np.cumsum(size), at), len(size) - 1)
    u, v = rng.random(count), rng.random(count)
    over = u + v > 1.0
    u, v = np.where(over, 1.0 - u, u), np.where(over, 1.0 - v, v)
    position = a[which] + u[:, None] * (b - a)[which] + v[:, None] * (c - a)[which]
    normal = cross[which] / (2.0 * size[which, None])
    return position.T.copy(), normal.T.copy(), np.full(count, total / count)


def sample_edges(placed: Placed, rng: np.random.Generator) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return places (3, n) [m] along the sharp outer edges of a closed structure, normals (3, n) there, areas (n) [m2].

    An edge is a strip of EDGE_RADIUS whose normals turn from one face to the other. So some part of it always faces an
    element that looks across it, and glints under the same law as the faces: geometrical acoustics of a cylinder (its
    echo is that of the facets met squarely). Diffraction by edges sharper than a wavelength (Keller 1962, J. Opt. Soc.
    Am. 52, 116-130) is left out; with the assumed radius a metre of steel edge gives some -20 dB re 1 m2.
    """
    start, along, one, other = _edges(placed)
    length = np.linalg.norm(along, axis=1)
    total = float(length.sum())
    if total == 0.0:
        return np.zeros((3, 0)), np.zeros((3, 0)), np.zeros(0)
    count = _edge_patches(placed, total)
    at = (np.arange(count) + rng.random(count)) * (total / count)
    which = np.minimum(np.searchsorted(np.cumsum(length), at), len(length) - 1)
    between = np.arccos(np.clip(np.sum(one * other, axis=1), -1.0, 1.0))[which]
    part = rng.random(count)
    # Evenly in angle from one normal to the other (spherical interpolation).
    normal = np.sin((1 - part) * between)[:, None] * one[which] + np.sin(part * between)[:, None] * other[which]
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    position = start[which] + rng.random(count)[:, None] * along[which] + _CLEAR * normal
    return position.T.copy(), normal.T.copy(), EDGE_RADIUS * between * (total / count)


def _edges(placed: Placed) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return the start of each sharp outer edge, the way to its end, and the normals of its faces, (e, 3) each.

    An open surface has none.
    """
    if not placed.closed or placed.pile:
        return (np.zeros((0, 3)),) * 4
    a, b, c = placed.corners()
    normal = np.cross(b - a, c - a)
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-30)[:, None]
    triangles, count = placed.occluder.triangles, len(placed.occluder.triangles)
    sides = np.sort(np.concatenate([triangles[:, [k, (k + 1) % 3]] for k in range(3)]), axis=1)
    opposite, face = np.concatenate([triangles[:, 2], triangles[:, 0], triangles[:, 1]]), np.tile(np.arange(count), 3)
    order = np.lexsort(sides.T)
    sides, opposite, face = sides[order], opposite[order], face[order]
    pair = np.flatnonzero(np.all(sides[:-1] == sides[1:], axis=1))
    points, one, other = placed.occluder.vertices, normal[face[pair]], normal[face[pair + 1]]
    start, end = points[sides[pair, 0]], points[sides[pair, 1]]
    sharp = np.sum(one * other, axis=1) < np.cos(np.radians(SHARP))
    # Outer edges only: the other face falls away behind the first.
    # (By more than rounding, so that slivers of a mesh, whose normals are chance, make none.)
    depth = np.sum((points[opposite[pair + 1]] - start) * one, axis=1)
    outer = depth < -np.maximum(1e-4 * np.linalg.norm(end - start, axis=1), _SLIVER)
    keep = sharp & outer & (np.sum((one + other) ** 2, axis=1) > 1e-6)
    return start[keep], (end - start)[keep], one[keep], other[keep]


def _edge_patches(placed: Placed, length: float) -> int:
    """Return the number of patches for edges of a total length [m]."""
    return int(min(np.ceil(length * EDGE_PATCHES_A_METRE), np.ceil(MOST_EDGE_SHARE * patches(placed))))


def patches(placed: Placed) -> int:
    """Return the number of patches for a surface."""
    a, b, c = placed.corners()
    total = float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()) / 2.0
    return int(np.clip(np.ceil(total * PATCHES_A_SQUARE_METRE), FEWEST_PATCHES, MOST_PATCHES))


def surface_law(material: Material) -> StrengthLaw:
    """Return a material's law: |R|^2 exp(-tan^2 / 2 s^2) / (8 pi s^2 cos^4), plus Lambert -20 dB (assumed).

    Gaussian slopes of rms s, no shadowing, reflection as at vertical incidence.
    """

    def amplitude(cosine: FloatArray, frequency: FloatArray) -> FloatArray:
        mu = np.maximum(cosine, 0.0)
        lobe = material.reflection**2 * gaussian_slopes(mu, material.slope_rms_deg)
        total = np.where(cosine > 0.0, lobe + lambert(mu, LAMBERT_DB), 0.0)
        return np.repeat(np.sqrt(total)[:, None], len(frequency), axis=1)

    return StrengthLaw(f"surface of {material.name}", amplitude)


def outline(placed: Placed, material: str) -> Outline:
    """Return a structure's silhouettes from the side, ahead and above."""
    vertices, triangles = placed.occluder.vertices, placed.occluder.triangles
    make = _silhouettes if len(triangles) <= _FAR_HULL else _silhouettes.__wrapped__
    return Outline(placed.name, material, *make(vertices.tobytes(), triangles.astype(np.int64).tobytes()))


@lru_cache(maxsize=32)
def _silhouettes(vertices: bytes, triangles: bytes) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the outlines of a surface, its arrays given as bytes: a changed scene mostly has the same structures."""
    rng = np.random.Generator(np.random.SFC64(0))  # used only for drawing: the same for all seeds
    corners = np.frombuffer(vertices).reshape(-1, 3)
    placed = Placed("", Occluder("", corners, np.frombuffer(triangles, np.int64).reshape(-1, 3)), closed=True)
    few = len(corners) <= 8
    points = corners if few else np.concatenate([corners, sample_faces(placed, rng)[0].T])
    draw = _convex if few else _envelope
    side, ahead, plan = (draw(points[:, axes]) for axes in ((0, 2), (1, 2), (0, 1)))
    return side, ahead, plan


def _solid(spec: "Structure", scenario: "Scenario", index: int) -> tuple[solids.Solid, bool]:
    shape = spec.shape
    if shape.kind == "box":
        return solids.box(shape.length, shape.width, shape.height), True
    if shape.kind == "cylinder":
        return solids.cylinder(shape.length, shape.diameter), True
    if shape.kind == "hull":
        return solids.hull(shape.length, shape.width, shape.height, float(shape.list or 0.0), bool(shape.broken)), True
    if shape.kind == "reef":
        rng = seeds.stream(int(scenario.seed), "structure", index, 1)
        return reef.reef(shape.length, shape.width, shape.height, shape.boulder, rng), True
    if shape.kind != "mesh":
        assert_never(shape)
    content = scenario.inputs.get(shape.file)
    if content is None:
        raise ScenarioError([Fault(str(shape.file), 0, "", "found no such file beside the scenario")])
    return mesh.load(content, str(shape.file), _metres(shape))


def _metres(shape: "Mesh") -> float:
    unit = shape.unit
    return float(getattr(shape, "scale", None) or 1.0) * (mesh.UNITS[unit] if isinstance(unit, str) else float(unit))


def _inside_parity(placed: Placed, points: FloatArray) -> NDArray[np.bool_]:
    """Count surfaces straight above each point (n, 3): odd is inside."""
    a, b, c = placed.corners()
    some = max(_AT_ONCE // len(a), 1)
    odd = np.zeros(len(points), dtype=np.bool_)
    for start in range(0, len(points), some):
        x, y, depth = points[start : start + some].T[:, :, None]
        hit, height = _over(a, b, c, x, y)
        odd[start : start + some] = np.count_nonzero(hit & (height < depth), axis=1) % 2 == 1
    return odd


def _over(
    a: FloatArray, b: FloatArray, c: FloatArray, x: FloatArray, y: FloatArray
) -> tuple[NDArray[np.bool_], FloatArray]:
    """Return which vertical lines at x, y (n, 1) [m] pass through which triangles, and their depths there."""
    # Barycentric coordinates of the vertical line in each triangle seen from above.
    area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    area = np.where(np.abs(area) < _EDGE_ON, np.nan, area)
    with np.errstate(invalid="ignore"):
        u = ((x - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (y - a[:, 1])) / area
        v = ((b[:, 0] - a[:, 0]) * (y - a[:, 1]) - (x - a[:, 0]) * (b[:, 1] - a[:, 1])) / area
        return (u >= 0.0) & (v >= 0.0) & (u + v < 1.0), a[:, 2] + u * (b[:, 2] - a[:, 2]) + v * (c[:, 2] - a[:, 2])


def _inside_hull(placed: Placed, points: FloatArray) -> NDArray[np.bool_]:
    from scipy.spatial import ConvexHull, QhullError

    try:
        faces = ConvexHull(placed.occluder.vertices).equations
    except QhullError:  # all corners in one plane: a sheet has no inside
        return np.zeros(len(points), dtype=np.bool_)
    return np.asarray(np.all(points @ faces[:, :3].T + faces[:, 3] <= 0.0, axis=1))


def _convex(points: FloatArray) -> FloatArray:
    """Return the convex hull of a few points (n, 2), closed; of points in one line its ends.

    Source: the monotone chain of A. M. Andrew 1979, Information Processing Letters 9, 216-219 (from memory).
    """

    def half(ordered: list[list[float]]) -> list[list[float]]:
        hull: list[list[float]] = []
        for x, y in ordered:
            while len(hull) > 1:
                (ax, ay), (bx, by) = hull[-2:]
                if (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0.0:
                    break
                hull.pop()
            hull.append([x, y])
        return hull[:-1]

    ordered = np.unique(points, axis=0).tolist()
    corners = np.array(half(ordered) + half(ordered[::-1]))
    return np.concatenate([corners, corners[:1]])


def _envelope(points: FloatArray) -> FloatArray:
    """Return the upper and lower edge of points (n, 2) by columns, closed."""
    edges = np.linspace(points[:, 0].min(), points[:, 0].max(), _COLUMNS + 1)
    column = np.clip(np.searchsorted(edges, points[:, 0], side="right") - 1, 0, _COLUMNS - 1)
    low, high = np.full(_COLUMNS, np.inf), np.full(_COLUMNS, -np.inf)
    np.minimum.at(low, column, points[:, 1])
    np.maximum.at(high, column, points[:, 1])
    used = np.isfinite(low)
    middle = ((edges[:-1] + edges[1:]) / 2.0)[used]
    upper, lower = np.stack([middle, low[used]], axis=1), np.stack([middle, high[used]], axis=1)[::-1]
    return np.concatenate([upper, lower, upper[:1]])
