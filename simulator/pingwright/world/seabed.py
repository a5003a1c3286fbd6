"""The seabed as scatterers: patches of its surface, of buried layers and of the sediment's inside, tile by tile."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.world import insides
from pingwright.world.looks import Look, patch_density
from pingwright.world.mixing import joined, mixed
from pingwright.world.roughness import Roughness
from pingwright.world.scatterers import FloatArray, Scatterers, StrengthLaw, Track
from pingwright.world.stacks import Stack, stack
from pingwright.world.terrain import Ground
from pingwright.world.volume import Layer

PATCHES_A_TILE = 500
UNEVEN = 1.5  # from this ratio of patches needed within one tile, gentler parts get fewer
MOST_BREAKS = 64  # of a tile's side that are checked
Index = tuple[int, int]


@dataclass(frozen=True)
class _Tile:
    """A tile to be filled: its number, least height of the faces above it [m], patches a square metre, and grounds."""

    ix: int
    iy: int
    height: float
    density: float
    uneven: bool
    grounds: tuple[int, ...]


@dataclass(frozen=True)
class _Sheet:
    """One filling of a tile: an interface, or the inside of one ground.

    laws: by ground; below: depth under the seabed [m]; only: the one ground it lies in, -1: all; density (stratum):
    scatterers of the inside a square metre, None for an interface.
    """

    laws: NDArray[np.int64]
    below: float = 0.0
    only: int = -1
    density: FloatArray | None = None


Streams = list[np.random.Generator]
Part = tuple[Scatterers, FloatArray]


@dataclass(frozen=True)
class Seabed:
    """Seabed scatterers on demand (world.scatterers.SeabedSource); laws are numbered from 0 in `laws`.

    stacks: the seabed's own ground, then that of each patch. places (2, n): the track [m], thinned, under which the
    sediment's inside is drawn.
    """

    seed: int
    ground: Ground
    looks: tuple[Look, ...]
    transducer_depth: float
    stacks: tuple[Stack, ...]
    laws: tuple[StrengthLaw, ...]
    tile_edge: float
    places: FloatArray = field(repr=False)
    roughness: Roughness | None = field(default=None, repr=False)

    def under(self, places: FloatArray) -> "Seabed":
        """Return the same seabed for pings at other places (2, n) [m]."""
        return replace(self, places=_thinned(places, self.tile_edge))

    def tile(self, ix: int, iy: int) -> Scatterers:
        """Return all scatterers of one tile: surface, then for each ground its buried interfaces, then its inside."""
        return joined([points for points, _ in self.tiles([(ix, iy)])[0]])

    def tiles(self, indices: Sequence[Index], looks: Sequence[Look] = ()) -> list[list[Part]]:
        """Return the scatterers of tiles in parts, and which share of each is enough for each look (look, 2).

        The first part is the surface with buried interfaces, see `_shares`; the others are the inside, see `insides`.
        Each tile draws from its own stream, so it is the same alone and among others.
        """
        height, slopes = self._heights_and_slopes(indices)
        tiles = self._looked_at(indices, height, slopes)
        sheets = [self._sheets(tile) for tile in tiles]
        streams = [seeds.stream(self.seed, "seabed", *index) for index in indices]
        parts: list[list[Scatterers]] = [[] for _ in tiles]
        for turn in range(max(map(len, sheets), default=0)):
            now = [i for i, of_tile in enumerate(sheets) if turn < len(of_tile)]
            faces = [i for i in now if sheets[i][turn].density is None]
            insides = [i for i in now if sheets[i][turn].density is not None]
            for some, fill in ((faces, self._interfaces), (insides, self._volumes)):
                if some:
                    made = fill([streams[i] for i in some], [tiles[i] for i in some], [sheets[i][turn] for i in some])
                    for i, points in zip(some, made, strict=True):
                        parts[i].append(points)
        shares = self._shares(height, slopes, looks)
        return [self._parts(*of_tile, looks) for of_tile in zip(tiles, sheets, parts, shares, strict=True)]

    def _parts(
        self, tile: _Tile, sheets: list[_Sheet], made: list[Scatterers], shares: FloatArray, looks: Sequence[Look]
    ) -> list[Part]:
        """Return what fills a tile, sheet by sheet, in parts; shares (look, 2): of its surface."""
        faces = [points for sheet, points in zip(sheets, made, strict=True) if sheet.density is None]
        result = [(faces[0] if len(faces) == 1 else mixed(joined(faces)), shares)]
        flat = np.array([float(patch_density([one], tile.height, np.zeros(()))) for one in looks])
        for sheet, points in zip(sheets, made, strict=True):
            if sheet.density is not None:
                stack = self.stacks[sheet.only]
                own = insides.needs(stack, tile.height, self._angle(tile), looks)
                own = np.array([insides.capped(one, tile.density) for one in own]).reshape(own.shape)
                result += insides.parts(
                    points, points.law.astype(np.int64) - stack.stratum_law, sheet.density, own, flat
                )
        return result

    def _shares(self, height: FloatArray, slopes: FloatArray, looks: Sequence[Look]) -> FloatArray:
        """Return which share of tiles is enough for each look (tile, look, 2): inside its beam, and outside.

        Any first part of a tile is a fair sample of it. Outside the beam, where side lobes all around receive the
        ground of a slope, rings of flat ground have as many patches as inside: `PATCHES_A_CELL` in each cell.
        """
        result = np.ones((len(height), len(looks), 2))
        whole, flat = patch_density(self.looks, height[:, None], slopes), np.zeros_like(slopes)
        for n, one in enumerate(looks):
            for side, need in enumerate(
                (
                    patch_density([one], height[:, None], slopes),
                    patch_density([replace(one, tilt=0.0)], height[:, None], flat),
                )
            ):
                result[:, n, side] = np.minimum(need / whole, 1.0).max(axis=1)
        return result

    def _looked_at(self, indices: Sequence[Index], height: FloatArray, slopes: FloatArray) -> list[_Tile]:
        """Return the needs of tiles, from their least height (tile) [m] and least and steepest slopes (tile, 2) [1]."""
        edge, tiles = self.tile_edge, []
        for (ix, iy), tall, (low, high) in zip(
            indices, height, patch_density(self.looks, height[:, None], slopes), strict=True
        ):
            near = (ix * edge, (ix + 1) * edge, iy * edge, (iy + 1) * edge)
            grounds = self.ground.patches.within(*near)
            tiles.append(_Tile(ix, iy, float(tall), float(high), bool(high > UNEVEN * low), grounds))
        return tiles

    def _heights_and_slopes(self, indices: Sequence[Index]) -> tuple[FloatArray, FloatArray]:
        """Return the least heights of the faces above tiles (tile) [m], and least and steepest slopes (tile, 2) [1].

        From their corners, middles, and whatever breaks within them.
        """
        nodes = []
        for ix, iy in indices:
            x = _between(ix, self.tile_edge, self.ground.breaks)
            y = _between(iy, self.tile_edge, self.ground.breaks_across)
            nodes.append((np.tile(x, len(y)), np.repeat(y, len(x))))
        first = _starts([len(x) for x, _ in nodes])
        depth, dx, dy = self.ground.surface(
            np.concatenate([x for x, _ in nodes]), np.concatenate([y for _, y in nodes])
        )
        slope = np.hypot(dx, dy)
        height = np.maximum(np.minimum.reduceat(depth, first) - self.transducer_depth, 0.5)
        return height, np.stack([np.minimum.reduceat(slope, first), np.maximum.reduceat(slope, first)], axis=1)

    def _sheets(self, tile: _Tile) -> list[_Sheet]:
        """Return the fillings of a tile, in order."""
        inside = {k: self._inside(self.stacks[k], tile) for k in tile.grounds}
        laws = np.array([s.first + (len(s.strata) > 0 and inside.get(k) is None) for k, s in enumerate(self.stacks)])
        result = [_Sheet(laws)]
        for k in tile.grounds:
            stack = self.stacks[k]
            for i, below in enumerate(stack.buried):
                result.append(_Sheet(np.full(len(laws), stack.buried_law + i), below, k))
            if inside[k] is not None:
                result.append(_Sheet(laws, only=k, density=inside[k]))
        return result

    def _interfaces(self, streams: Streams, tiles: list[_Tile], sheets: list[_Sheet]) -> list[Scatterers]:
        """Return patches of an interface in each tile."""
        edge = self.tile_edge
        counts = np.array([max(4, round(tile.density * edge**2)) for tile in tiles])
        position, along, across, region = self._places(streams, tiles, counts)
        of, only = np.repeat(np.arange(len(tiles)), counts), np.array([sheet.only for sheet in sheets])
        position[2] += np.array([sheet.below for sheet in sheets])[of]
        area = np.sqrt(1.0 + along**2 + across**2) * (edge**2 / counts)[of]
        keep = (only[of] < 0) | (region == only[of])
        law = np.array([sheet.laws for sheet in sheets])[of, region].astype(np.int32)
        for i, start in enumerate(_starts(counts)):
            tile, part = tiles[i], slice(start, start + counts[i])
            if tile.uneven:
                # Where the ground is gentler than at its steepest, there are fewer patches with more area each.
                slope = np.hypot(along[part], across[part])
                share = patch_density(self.looks, tile.height, slope) / tile.density
                keep[part] &= streams[i].random(counts[i]) < share
                area[part] /= share
        if not keep.all():
            position, along, across, area, law = position[:, keep], along[keep], across[keep], area[keep], law[keep]
            counts = np.bincount(of[keep], minlength=len(tiles))
        return _scatterers(streams, counts, position, along, across, np.sqrt(area).astype(np.float32), law)

    def _places(
        self, streams: Streams, tiles: list[_Tile], counts: NDArray[np.int64]
    ) -> tuple[FloatArray, FloatArray, FloatArray, NDArray[np.int64]]:
        """Return random places on the seabed, a given number in each tile (3, n) [m], with slopes [1] and grounds."""
        position = np.empty((3, int(counts.sum())))
        for rng, count, start in zip(streams, counts, _starts(counts), strict=True):
            position[:2, start : start + count] = rng.random((2, count))
        position[0] += np.repeat([tile.ix for tile in tiles], counts)
        position[1] += np.repeat([tile.iy for tile in tiles], counts)
        position[:2] *= self.tile_edge
        position[2], along, across = self.ground.surface(position[0], position[1])
        region = np.zeros(position.shape[1], dtype=np.int64)
        if len(self.stacks) > 1:
            region = self.ground.region(position[0], position[1])
        if self.roughness is not None:
            position[2] += self.roughness.deeper(position[0], position[1], region)
        return position, along, across, region

    def _distance(self, ix: int, iy: int) -> float:
        """Return the horizontal distance [m] between the track and the nearest point of a tile."""
        middle = (np.array([[ix], [iy]]) + 0.5) * self.tile_edge
        gap = np.maximum(np.abs(self.places - middle) - self.tile_edge / 2.0, 0.0)
        return float(np.sqrt(np.min(gap[0] ** 2 + gap[1] ** 2)))

    def _angle(self, tile: _Tile) -> float:
        """Return the angle off the vertical [deg] from the nearest ping to the nearest point of a tile."""
        return float(np.degrees(np.arctan2(self._distance(tile.ix, tile.iy), tile.height)))

    def _inside(self, stack: Stack, tile: _Tile) -> FloatArray | None:
        """Return scatterers in a square metre for each stratum, or None if no beam receives the sediment's inside."""
        if not stack.strata:
            return None
        needed = insides.needs(stack, tile.height, self._angle(tile), self.looks).max(axis=0)
        return insides.capped(needed, tile.density) if needed.any() else None

    def _volumes(self, streams: Streams, tiles: list[_Tile], sheets: list[_Sheet]) -> list[Scatterers]:
        """Return scatterers below the seabed inside one ground of each tile."""
        density = [np.zeros(0) if sheet.density is None else sheet.density for sheet in sheets]
        drawn = [rng.poisson(d * self.tile_edge**2) for rng, d in zip(streams, density, strict=True)]
        which = [np.repeat(np.arange(len(counts)), counts) for counts in drawn]
        counts = np.array([len(numbers) for numbers in which])
        position, along, across, region = self._places(streams, tiles, counts)
        stretch = np.sqrt(1.0 + along**2 + across**2)
        amplitude, law = np.empty(len(along), np.float32), np.empty(len(along), np.int32)
        keep = np.ones(len(along), dtype=np.bool_)
        for i, start in enumerate(_starts(counts)):
            stack, numbers, part = self.stacks[sheets[i].only], which[i], slice(start, start + counts[i])
            top, thickness = stack.edges[numbers], np.diff(stack.edges)[numbers]
            position[2, part] += (top + thickness * streams[i].random(counts[i])) / stack.speed_ratio
            amplitude[part] = np.sqrt(stretch[part] / np.maximum(density[i], 1e-30)[numbers])
            law[part] = numbers + stack.stratum_law
            if len(tiles[i].grounds) > 1:
                keep[part] = region[part] == sheets[i].only
        if not keep.all():
            counts = np.bincount(np.repeat(np.arange(len(tiles)), counts)[keep], minlength=len(tiles))
            position, along, across, amplitude, law = (
                position[:, keep], along[keep], across[keep], amplitude[keep], law[keep],
            )  # fmt: skip
        return _scatterers(streams, counts, position, along, across, amplitude, law)


def build(
    seed: int,
    ground: Ground,
    stacks: Sequence[Sequence[Layer]],
    looks: Sequence[Look],
    track: Track,
    sound_speed: float,
    roughness: Roughness | None = None,
    law: str = "kirchhoff",
) -> Seabed:
    """Return the seabed's scatterers and laws.

    stacks: layers from the top down, of the seabed's own ground and of each patch; sound_speed [m/s] of the water
    above; looks: one for each element; law: of rough bottoms (acoustics.seabed.LAWS). The laws of all interfaces of a
    stack are averaged over the natural slopes of its top sediment. Buried interfaces follow the seabed; their own
    volume is merged into them.
    """
    laws: list[StrengthLaw] = []
    made: dict[tuple[Layer, ...], Stack] = {}
    for layers in stacks:
        if tuple(layers) not in made:
            made[tuple(layers)], own = stack(layers, looks, sound_speed, len(laws), law)
            laws += own
    depth, along, across = ground.surface(track.x, track.y)
    face = float(np.median(track.depth + track.heave))
    height = np.maximum(float(np.median(depth)) - face, 0.5)
    density = patch_density(looks, float(height), np.sqrt(np.median(along**2 + across**2)))
    edge = float(np.sqrt(PATCHES_A_TILE / float(density)))
    return Seabed(
        seed=seed,
        ground=ground,
        looks=tuple(looks),
        transducer_depth=face,
        stacks=tuple(made[tuple(layers)] for layers in stacks),
        laws=tuple(laws),
        tile_edge=edge,
        places=_thinned(np.stack([track.x, track.y]), edge),
        roughness=roughness,
    )


def _between(number: int, edge: float, breaks: Callable[[float, float], FloatArray]) -> FloatArray:
    """Return places along one side of a tile: ends, middle, and the middles of straight pieces within it [m]."""
    ends = np.array([0.0, 0.5, 1.0])
    places = (number + ends) * edge
    inner = breaks(places[0], places[-1])
    if not len(inner):
        return places
    inner = inner[:: max(1, len(inner) // MOST_BREAKS)]
    nodes = np.unique(np.concatenate([places, inner]))
    return np.unique(np.concatenate([nodes, (nodes[1:] + nodes[:-1]) / 2.0]))


def _thinned(places: FloatArray, step: float) -> FloatArray:
    """Return places (2, n) no denser than half a step [m]."""
    x, y = np.round(places / (step / 2.0))
    found = np.unique(x + 1j * y)  # as single numbers, because numpy takes five times as long to sort columns
    return np.stack([found.real, found.imag]) * (step / 2.0)


def _starts(counts: NDArray[np.int64] | list[int]) -> NDArray[np.int64]:
    """Return the starts of parts that follow each other, from their lengths."""
    return np.asarray(np.cumsum(counts) - counts, dtype=np.int64)


def _scatterers(
    streams: Streams,
    counts: NDArray[np.int64],
    position: FloatArray,
    along: FloatArray,
    across: FloatArray,
    amplitude: NDArray[np.float32],
    law: NDArray[np.int32],
) -> list[Scatterers]:
    """Give patches their normals and random phases, and return them tile by tile, a given number in each."""
    axis = np.empty(position.shape, dtype=np.float32)
    scale = -1.0 / np.sqrt(1.0 + along**2 + across**2)
    axis[0], axis[1], axis[2] = -along * scale, -across * scale, scale
    result = []
    for rng, start, stop in zip(streams, _starts(counts), np.cumsum(counts), strict=True):
        part, phase = slice(start, stop), rng.random(stop - start, dtype=np.float32)
        # Copies: a stored tile should not hold the memory of the others.
        result.append(
            Scatterers(position[:, part].copy(), axis[:, part].copy(), amplitude[part].copy(), phase, law[part].copy())
        )
    return result
