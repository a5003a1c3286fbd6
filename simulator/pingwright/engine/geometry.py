"""Poses, and the part of the world from which a ping can receive echoes."""

import math
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import starmap
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from pingwright.element.model import Element
from pingwright.world.looks import Look
from pingwright.world.scatterers import Scatterers, SeabedSource, Track

FloatArray = NDArray[np.float64]

#: Tiles made at a time.
_AT_ONCE = 64
#: Least share of a tile that is used.
LEAST_SHARE = 2.0**-6

#: Numbers of tiles in order, and of looks (None: all of each tile).
_Asked = tuple[list[tuple[int, int]], tuple[int, ...] | None]


def attitude(roll: float, pitch: float, heading: float) -> FloatArray:
    """Return the rotation (3, 3) from boat axes (bow, starboard, down) to world axes (x, y, depth); angles in deg.

    Roll positive: starboard down. Pitch positive: bow up. Heading turns from +x to +y. Order: roll, pitch, heading.
    """
    r, p, h = math.radians(roll), math.radians(pitch), math.radians(heading)
    (sr, cr), (sp, cp), (sh, ch) = ((math.sin(angle), math.cos(angle)) for angle in (r, p, h))
    # Rotation about z by h, times that about y by p, times that about x by r, multiplied out.
    return np.array(
        [
            [ch * cp, ch * sp * sr - sh * cr, ch * sp * cr + sh * sr],
            [sh * cp, sh * sp * sr + ch * cr, sh * sp * cr - ch * sr],
            [-sp, cp * sr, cp * cr],
        ]
    )


def pose(track: Track, ping: int, element: Element) -> FloatArray:
    """Return the pose of a face for the kernel (12): its position [m], then its axes u, v, w in world axes."""
    boat = attitude(track.roll[ping], track.pitch[ping], track.heading[ping])
    axes = np.asarray(element.rotation) @ boat.T
    return np.concatenate([origin(track, ping), axes.ravel()])


def origin(track: Track, ping: int) -> FloatArray:
    """Return the position x, y, depth [m] (3) of the faces."""
    return np.array([track.x[ping], track.y[ping], track.depth[ping]])


@dataclass(frozen=True)
class Tile:
    """Scatterers of a part of a tile, middle (3), radius and shallowest depth [m] of it, and which share looks need.

    shares (look, 2): inside a look's beam, and outside.
    """

    points: Scatterers
    middle: FloatArray
    radius: float
    top: float
    shares: FloatArray


@dataclass(frozen=True)
class Stretch:
    """Seabed scatterers of all tiles within reach of a few pings, in tile order.

    A tile here is a part of one. slices (tile, 2): start and stop of each in points. corner (tile, 2): its low x, y
    [m]; top (tile): its shallowest depth [m]; edge: tile size [m]. middle (tile, 3), radius (tile) [m]; shares (tile,
    look, 2): see `Tile`. whole (tile, 2): as slices, but with the number of scatterers that the tile has in full, where
    points hold only the first of them.
    """

    points: Scatterers
    slices: NDArray[np.int64]
    corner: FloatArray
    top: FloatArray
    edge: float
    middle: FloatArray
    radius: FloatArray
    shares: FloatArray
    whole: NDArray[np.int64]

    def heard(self, place: FloatArray, reach: float) -> NDArray[np.int64]:
        """Return the segments (s, 2) of tiles within reach [m] of place (3); neighbours are joined."""
        return segments(self.slices[self.tiles(place, reach)])

    def tiles(self, place: FloatArray, reach: float) -> NDArray[np.int64]:
        """Return the numbers of tiles within reach [m] of place (3)."""
        half = self.edge / 2
        x, y = self._middles
        x = np.maximum(np.abs(x - place[0]) - half, 0)
        y = np.maximum(np.abs(y - place[1]) - half, 0)
        z = np.maximum(self.top - place[2], 0)
        return np.flatnonzero(x * x + y * y + z * z <= reach * reach)

    @cached_property
    def _middles(self) -> tuple[FloatArray, FloatArray]:
        """The middles of the tiles, x and y [m] (tile)."""
        return self.corner[:, 0] + self.edge / 2, self.corner[:, 1] + self.edge / 2


def segments(slices: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return slices (n, 2) with neighbours joined."""
    if not len(slices):
        return np.zeros((0, 2), np.int64)
    starts = np.append(True, slices[1:, 0] != slices[:-1, 1])
    ends = np.append(starts[1:], True)
    return np.ascontiguousarray(np.stack([slices[starts, 0], slices[ends, 1]], axis=1))


def _tile(points: Scatterers, shares: FloatArray) -> Tile:
    if not len(points):
        return Tile(points, np.zeros(3), 0.0, 0.0, shares)
    low, high = points.position.min(axis=1), points.position.max(axis=1)
    return Tile(points, (low + high) / 2, float(np.sqrt(((high - low) ** 2).sum()) / 2), float(low[2]), shares)


class Tiles:
    """Stores the tiles used last; makes the others. Safe for threads: a tile does not depend on who makes it."""

    def __init__(self, source: SeabedSource, looks: tuple[Look, ...] = (), keep: int = 6000) -> None:
        self._source, self.looks, self._keep, self._lock = source, looks, keep, Lock()
        self._held: OrderedDict[tuple[int, int], list[Tile]] = OrderedDict()
        self._joined: list[tuple[_Asked, Stretch]] = []

    @property
    def edge(self) -> float:
        """Tile size [m]."""
        return self._source.tile_edge

    @property
    def bytes(self) -> int:
        """Memory of the stored tiles [bytes], if each is as large as the last."""
        with self._lock:
            last = next(reversed(self._held.values()), None)
            return 0 if last is None else len(self._held) * 48 * sum(len(part.points) for part in last)

    def get(self, indices: list[tuple[int, int]]) -> list[list[Tile]]:
        """Return the parts of some tiles; those that are not kept are made together: less work than one by one."""
        with self._lock:
            result = {index: self._held[index] for index in indices if index in self._held}
            for index in result:
                self._held.move_to_end(index)
        missing = [index for index in indices if index not in result]
        for start in range(0, len(missing), _AT_ONCE):
            some = missing[start : start + _AT_ONCE]
            made = (list(starmap(_tile, parts)) for parts in self._source.tiles(some, self.looks))
            result.update(zip(some, made, strict=True))
        with self._lock:
            self._held.update((index, result[index]) for index in missing)
            while len(self._held) > self._keep:
                self._held.popitem(last=False)
        return [result[index] for index in indices]

    def joined(self, order: list[tuple[int, int]], looks: Sequence[int] | None = None) -> Stretch:
        """Return some tiles as one Stretch; the last few are stored, because neighbouring jobs use mostly the same.

        looks: by their numbers; of each tile only the share that these need is there. None: all of it.
        """
        asked = (order, None if looks is None else tuple(looks))
        with self._lock:
            for known, found in self._joined:
                if known == asked:
                    return found
        stretch = _join(order, self.get(order), self.edge, asked[1])
        with self._lock:
            self._joined = [*self._joined[-1:], (asked, stretch)]
        return stretch


def stretch(tiles: Tiles | None, places: FloatArray, reach: float, looks: Sequence[int] | None = None) -> Stretch:
    """Return the seabed within reach [m] of any of places (3, ping), tiles in order of x, then y; looks: see `Tiles`.

    Copying what no look needs took a tenth of the passes in shallow water over mud.
    """
    if tiles is None:
        return _join([], [], 1.0, None)
    edge = tiles.edge
    needed: set[tuple[int, int]] = set()
    # Pings of a chunk need mostly the same tiles: get each tile once.
    for x, y in {(round(float(x) / edge * 4), round(float(y) / edge * 4)) for x, y in places[:2].T}:
        needed.update(_near(x / 4, y / 4, reach / edge + 0.25))
    return tiles.joined(sorted(needed), looks)


def _join(order: list[tuple[int, int]], made: list[list[Tile]], edge: float, looks: tuple[int, ...] | None) -> Stretch:
    every = [(index, tile, len(tile.points)) for index, parts in zip(order, made, strict=True) for tile in parts]
    remaining = [(index, tile) for index, tile, count in every if count]
    full = np.array([count for _, _, count in every if count], np.int64)
    shares = np.array([tile.shares for _, tile in remaining]) if remaining else np.ones((0, 0, 2))
    counts = full if looks is None or not remaining else shared(full, shares[:, list(looks)].max(axis=(1, 2)))
    ends = np.cumsum(counts)
    starts = ends - counts
    return Stretch(
        join(
            [
                tile.points if count == whole else first_of(tile.points, count)
                for (_, tile), count, whole in zip(remaining, counts.tolist(), full.tolist(), strict=True)
            ]
        ),
        np.stack([starts, ends], axis=1).reshape(-1, 2),
        np.array([index for index, _ in remaining], float).reshape(-1, 2) * edge,
        np.array([tile.top for _, tile in remaining]),
        edge,
        np.array([tile.middle for _, tile in remaining]).reshape(-1, 3),
        np.array([tile.radius for _, tile in remaining]),
        shares,
        np.stack([starts, starts + full], axis=1).reshape(-1, 2),
    )


def shared(counts: NDArray[np.int64], need: FloatArray) -> NDArray[np.int64]:
    """Return how many of the scatterers of tiles (tile) are enough where a share of them is needed (tile).

    Shares are rounded up to powers of the fourth root of 1/2, as `kernels.thin` does.
    """
    step = np.floor(-4.0 * np.log2(np.clip(need, LEAST_SHARE, 1.0)) + 1e-9)
    some = np.maximum(np.rint(counts * 2.0 ** (-step / 4)), 1)
    return np.where(step > 0, some, counts).astype(np.int64)


def first_of(points: Scatterers, count: int) -> Scatterers:
    """Return the first scatterers of a set, without a copy."""
    return Scatterers(
        points.position[:, :count], points.axis[:, :count], points.amplitude[:count], points.phase[:count],
        points.law[:count],
    )  # fmt: skip


def _near(x: float, y: float, reach: float) -> set[tuple[int, int]]:
    """Return tiles (in tile units) touched by a circle; cut along the tile lines."""
    low, high = int(np.floor(x - reach)), int(np.floor(x + reach))
    columns = np.arange(low, high + 1)
    gap = np.maximum(np.maximum(columns - x, x - columns - 1), 0)
    half = np.sqrt(np.maximum(reach**2 - gap**2, 0))
    return {
        (int(ix), iy)
        for ix, h in zip(columns, half, strict=True)
        for iy in range(int(np.floor(y - h)), int(np.floor(y + h)) + 1)
    }


def empty() -> Scatterers:
    """Return no scatterers."""
    return Scatterers(
        np.zeros((3, 0)), np.zeros((3, 0), np.float32), np.zeros(0, np.float32), np.zeros(0, np.float32),
        np.zeros(0, np.int32),
    )  # fmt: skip


def join(parts: list[Scatterers]) -> Scatterers:
    """Return several sets of scatterers as one, in order."""
    if not parts:
        return empty()
    return Scatterers(
        np.concatenate([p.position for p in parts], axis=1),
        np.concatenate([p.axis for p in parts], axis=1),
        np.concatenate([p.amplitude for p in parts]),
        np.concatenate([p.phase for p in parts]),
        np.concatenate([p.law for p in parts]),
    )


def take(points: Scatterers, chosen: NDArray[np.bool_] | NDArray[np.int64] | slice) -> Scatterers:
    """Return some of the scatterers as contiguous arrays."""
    if isinstance(chosen, np.ndarray):  # three times as fast as by an index in brackets
        rows = np.flatnonzero(chosen) if chosen.dtype == np.bool_ else chosen
        return Scatterers(
            points.position.take(rows, axis=1),
            points.axis.take(rows, axis=1),
            points.amplitude.take(rows),
            points.phase.take(rows),
            points.law.take(rows),
        )
    return Scatterers(
        np.ascontiguousarray(points.position[:, chosen]),
        np.ascontiguousarray(points.axis[:, chosen]),
        np.ascontiguousarray(points.amplitude[chosen]),
        np.ascontiguousarray(points.phase[chosen]),
        np.ascontiguousarray(points.law[chosen]),
    )


def within(points: Scatterers, low: float, high: float) -> Scatterers:
    """Return the scatterers with low <= x <= high [m]; points are sorted by x."""
    start, stop = np.searchsorted(points.position[0], [low, high])
    return take(points, slice(int(start), int(stop)))
