"""The seabed as scatterers: patches of its surface, of buried layers and of the sediment's inside, tile by tile."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.acoustics.seabed import two_way_attenuation
from pingwright.world import volume
from pingwright.world.looks import Look, patch_density
from pingwright.world.roughness import Roughness
from pingwright.world.scatterers import FloatArray, Scatterers, StrengthLaw, Track
from pingwright.world.slopes import sloped
from pingwright.world.terrain import Ground
from pingwright.world.volume import Layer, Stratum

VOLUME_A_CELL = 3.0  # in the tail, which is weaker and shares its cells with the surface's echo
PATCHES_A_TILE = 500
UNEVEN = 1.5  # ratio of patches needed within one tile from which gentler parts get fewer
MOST_BREAKS = 64  # of a tile's side that are looked at
DENSEST_VOLUME = 600.0
_KEPT_HEIGHTS = 256


@dataclass(frozen=True)
class Stack:
    """One ground from the top down: strata of its uppermost layer, buried interfaces, and its laws' first number.

    edges (stratum + 1): true depths of the strata's borders [m]; buried: apparent depths of the interfaces below [m].
    Laws in order: surface, the same with its volume merged in where there are strata, buried interfaces, strata.
    """

    strata: tuple[Stratum, ...]
    edges: FloatArray
    buried: tuple[float, ...]
    speed_ratio: float
    attenuation: float
    first: int

    @property
    def buried_law(self) -> int:
        """Number of the first buried interface's law, an index."""
        return self.first + (2 if self.strata else 1)

    @property
    def stratum_law(self) -> int:
        """Number of the first stratum's law, an index."""
        return self.buried_law + len(self.buried)


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
    _heights: dict[tuple[int, int], tuple[float, FloatArray]] = field(default_factory=dict, repr=False, compare=False)

    def under(self, places: FloatArray) -> "Seabed":
        """Return the same seabed as pings at other places (2, n) [m] hear it."""
        return replace(self, places=_thinned(places, self.tile_edge), _heights={})

    def tile(self, ix: int, iy: int) -> Scatterers:
        """Return all scatterers of a tile: surface, then for each ground what is buried, then its inside."""
        rng = seeds.stream(self.seed, "seabed", ix, iy)
        tile = self._look(ix, iy)
        distance = self._distance(ix, iy)
        inside = {k: self._inside(self.stacks[k], distance, tile) for k in tile.grounds}
        laws = np.array([s.first + (len(s.strata) > 0 and inside.get(k) is None) for k, s in enumerate(self.stacks)])
        parts = [self._surface(rng, tile, laws)]
        for k in tile.grounds:
            stack = self.stacks[k]
            for i, below in enumerate(stack.buried):
                parts.append(self._surface(rng, tile, np.array([stack.buried_law + i]), below, k))
            density = inside[k]
            if density is not None:
                parts.append(self._volume(rng, tile, density, k))
        return parts[0] if len(parts) == 1 else _mixed(_joined(parts))

    def shares(self, ix: int, iy: int, looks: Sequence[Look]) -> FloatArray:
        """Return which share of a tile's scatterers is enough for each look (look, 2): inside its beam, and outside.

        Any first part of a tile is a fair sample of it. Outside the beam, where the ground of a slope is met by side
        lobes all round, rings of flat ground are filled as well as inside: `PATCHES_A_CELL` to each cell.
        """
        height, slopes = self._height_and_slopes(ix, iy)
        whole, flat = patch_density(self.looks, height, slopes), np.zeros_like(slopes)
        pairs = [
            (patch_density([one], height, slopes), patch_density([replace(one, tilt=0.0)], height, flat))
            for one in looks
        ]
        return np.array([[float(np.max(np.minimum(need / whole, 1.0))) for need in pair] for pair in pairs])

    def _look(self, ix: int, iy: int) -> _Tile:
        """Return what a tile needs, from its corners, middles, and whatever breaks within it."""
        height, slopes = self._height_and_slopes(ix, iy)
        low, high = patch_density(self.looks, height, slopes)
        near = (ix * self.tile_edge, (ix + 1) * self.tile_edge, iy * self.tile_edge, (iy + 1) * self.tile_edge)
        return _Tile(ix, iy, height, float(high), bool(high > UNEVEN * low), self.ground.patches.within(*near))

    def _height_and_slopes(self, ix: int, iy: int) -> tuple[float, FloatArray]:
        """Return the least height of the faces above a tile [m], and its least and steepest slope (2) [1]; kept."""
        known = self._heights.get((ix, iy))
        if known is not None:
            return known
        x, y = (_between(i, self.tile_edge, f) for i, f in ((ix, self.ground.breaks), (iy, self.ground.breaks_across)))
        depth, dx, dy = self.ground.surface(np.tile(x, len(y)), np.repeat(y, len(x)))
        slope = np.hypot(dx, dy)
        found = max(float(depth.min()) - self.transducer_depth, 0.5), np.array([slope.min(), slope.max()])
        if len(self._heights) > _KEPT_HEIGHTS:
            self._heights.clear()
        self._heights[ix, iy] = found
        return found

    def _surface(
        self,
        rng: np.random.Generator,
        tile: _Tile,
        laws: NDArray[np.int64],
        below: float = 0.0,
        only: int | None = None,
    ) -> Scatterers:
        """Return patches of an interface that lies `below` the seabed [m]; laws by ground, or of `only` one ground."""
        count = max(4, round(tile.density * self.tile_edge**2))
        position, along, across, region = self._places(rng, tile, count)
        position[2] += below
        area = np.sqrt(1.0 + along**2 + across**2) * (self.tile_edge**2 / count)
        keep = np.ones(count, dtype=np.bool_) if only is None else region == only
        if tile.uneven:
            # Where the ground is gentler than at its steepest, fewer patches stand for more area each.
            share = patch_density(self.looks, tile.height, np.hypot(along, across)) / tile.density
            keep &= rng.random(count) < share
            area /= share
        law = laws[region if only is None else np.zeros_like(region)].astype(np.int32)
        if not keep.all():
            position, along, across, area, law = position[:, keep], along[keep], across[keep], area[keep], law[keep]
        return _scatterers(rng, position, along, across, np.sqrt(area).astype(np.float32), law)

    def _places(
        self, rng: np.random.Generator, tile: _Tile, count: int
    ) -> tuple[FloatArray, FloatArray, FloatArray, NDArray[np.int64]]:
        """Return random places on the seabed in a tile (3, n) [m], the slopes [1] and the grounds there."""
        position = np.empty((3, count))
        rng.random(out=position[:2].reshape(-1))
        position[0] += tile.ix
        position[1] += tile.iy
        position[:2] *= self.tile_edge
        position[2], along, across = self.ground.surface(position[0], position[1])
        region = np.zeros(count, dtype=np.int64)
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

    def _inside(self, stack: Stack, distance: float, tile: _Tile) -> FloatArray | None:
        """Return scatterers a square metre for each stratum, or None where no beam sees the sediment's inside."""
        if not stack.strata:
            return None
        angle = np.degrees(np.arctan2(distance, tile.height))
        needed = np.zeros(len(stack.strata))
        for look in self.looks:
            if angle > look.reach:
                continue
            tops, thickness = stack.edges[:-1], np.diff(stack.edges)
            spot = np.pi * (tile.height * np.tan(np.radians(look.beam_width / 2.0))) ** 2
            density = VOLUME_A_CELL * thickness / (spot * look.range_resolution * stack.speed_ratio)
            heard = tops * float(two_way_attenuation(stack.attenuation, look.band[0])) < volume.DEAF_DB
            needed = np.maximum(needed, density * heard)
        if not needed.any():
            return None
        return np.asarray(needed * min(1.0, max(DENSEST_VOLUME, tile.density) / float(needed.sum())))

    def _volume(self, rng: np.random.Generator, tile: _Tile, density: FloatArray, ground: int) -> Scatterers:
        """Return scatterers below the seabed inside one ground."""
        stack = self.stacks[ground]
        counts = rng.poisson(density * self.tile_edge**2)
        which = np.repeat(np.arange(len(density)), counts)
        position, along, across, region = self._places(rng, tile, len(which))
        top, thickness = stack.edges[which], np.diff(stack.edges)[which]
        position[2] += (top + thickness * rng.random(len(which))) / stack.speed_ratio
        stretch = np.sqrt(1.0 + along**2 + across**2)
        amplitude = np.sqrt(stretch / np.maximum(density, 1e-30)[which]).astype(np.float32)
        law = (which + stack.stratum_law).astype(np.int32)
        if len(tile.grounds) > 1:
            keep = region == ground
            position, along, across, amplitude, law = (
                position[:, keep], along[keep], across[keep], amplitude[keep], law[keep],
            )  # fmt: skip
        return _scatterers(rng, position, along, across, amplitude, law)


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
    above; looks: one an element; law: of rough bottoms (acoustics.seabed.LAWS). The laws of all interfaces of a stack
    are averaged over the natural slopes of its top sediment. Buried interfaces follow the seabed; their own volume is
    merged into them.
    """
    laws: list[StrengthLaw] = []
    made: dict[tuple[Layer, ...], Stack] = {}
    for layers in stacks:
        if tuple(layers) not in made:
            made[tuple(layers)], own = _stack(layers, looks, sound_speed, len(laws), law)
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


def _stack(
    layers: Sequence[Layer], looks: Sequence[Look], sound_speed: float, first: int, law: str
) -> tuple[Stack, list[StrengthLaw]]:
    """Return one ground and its laws, numbered from `first`."""
    top = layers[0]
    low, high = min(look.band[0] for look in looks), max(look.band[1] for look in looks)
    strata = volume.strata(top, low, high)
    faces = [volume.surface_law(top, sound_speed, with_volume=not strata, law=law)]
    if strata:
        faces.append(volume.surface_law(top, sound_speed, with_volume=True, law=law))
    faces += [volume.buried_law(layers, i, sound_speed, law) for i in range(1, len(layers))]
    laws = [sloped(face, top.sediment.slope_rms_deg) for face in faces] + [stratum.law for stratum in strata]
    stack = Stack(
        strata=strata,
        edges=np.array([s.top for s in strata] + [strata[-1].bottom]) if strata else np.zeros(1),
        buried=tuple(volume.apparent_depth(layers, i) for i in range(1, len(layers))),
        speed_ratio=top.sediment.speed_ratio,
        attenuation=top.sediment.attenuation,
        first=first,
    )
    return stack, laws


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
    keys = np.round(places / (step / 2.0)).astype(np.int64)
    return np.asarray(np.unique(keys, axis=1) * (step / 2.0), dtype=np.float64)


def _scatterers(
    rng: np.random.Generator,
    position: FloatArray,
    along: FloatArray,
    across: FloatArray,
    amplitude: NDArray[np.float32],
    law: NDArray[np.int32],
) -> Scatterers:
    """Give patches their normals and random phases."""
    axis = np.empty(position.shape, dtype=np.float32)
    scale = -1.0 / np.sqrt(1.0 + along**2 + across**2)
    axis[0], axis[1], axis[2] = -along * scale, -across * scale, scale
    return Scatterers(position, axis, amplitude, rng.random(len(law), dtype=np.float32), law)


def _joined(parts: Sequence[Scatterers]) -> Scatterers:
    """Join scatterers in order."""
    return Scatterers(
        np.concatenate([p.position for p in parts], axis=1),
        np.concatenate([p.axis for p in parts], axis=1),
        np.concatenate([p.amplitude for p in parts]),
        np.concatenate([p.phase for p in parts]),
        np.concatenate([p.law for p in parts]),
    )


def _mixed(points: Scatterers) -> Scatterers:
    """Return the same scatterers in an order of which every first part is a fair sample of all kinds."""
    order = _evenly(len(points))
    return Scatterers(
        np.ascontiguousarray(points.position[:, order]),
        np.ascontiguousarray(points.axis[:, order]),
        points.amplitude[order],
        points.phase[order],
        points.law[order],
    )


@lru_cache(maxsize=4096)
def _evenly(count: int) -> NDArray[np.int64]:
    """Return the numbers below `count` in an order that fills their span evenly at every moment: golden sections."""
    return np.argsort((np.arange(1, count + 1) * ((np.sqrt(5.0) - 1.0) / 2.0)) % 1.0)
