"""The seabed as scatterers: patches of its surface, of buried layers and of the sediment's inside, tile by tile."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.world import volume
from pingwright.world.scatterers import FloatArray, Scatterers, StrengthLaw, Track
from pingwright.world.slopes import sloped
from pingwright.world.terrain import Ground
from pingwright.world.volume import Layer, Stratum

PATCHES_A_CELL = 8.0  # enough for Rayleigh statistics
VOLUME_A_CELL = 3.0  # in the tail, which is weaker and shares its cells with the surface's echo
PATCHES_A_TILE = 500
STEEPEST_GAIN = 8.0  # how much denser than a flat bottom a slope is sown at most
DENSEST = 400.0  # patches a square metre: below about 1 m of water cells hold fewer than they should
DENSEST_VOLUME = 600.0


@dataclass(frozen=True)
class Look:
    """How finely one element looks at the seabed.

    range_resolution c / 2B [m]; beam_width: one-way -3 dB, the narrower of its two [deg]; reach: angle off the vertical
    beyond which its beam has fallen off [deg]; tilt off the vertical [deg]; band [Hz].
    """

    range_resolution: float
    beam_width: float
    reach: float
    tilt: float
    band: tuple[float, float]


@dataclass(frozen=True)
class Seabed:
    """Seabed scatterers on demand (world.scatterers.SeabedSource); laws are numbered from 0 in `laws`."""

    seed: int
    ground: Ground
    looks: tuple[Look, ...]
    transducer_depth: float
    speed_ratio: float
    strata: tuple[Stratum, ...]
    buried: tuple[float, ...]
    laws: tuple[StrengthLaw, ...]
    tile_edge: float
    corridor: "Corridor"
    _edges: FloatArray = field(repr=False)

    def tile(self, ix: int, iy: int) -> Scatterers:
        """Return all scatterers of a tile: surface, then buried layers, then the sediment's inside."""
        rng = seeds.stream(self.seed, "seabed", ix, iy)
        height, slope = self._height_and_slope(ix, iy)
        density = patch_density(self.looks, height, slope)
        distance = self.corridor.distance(ix, iy, self.tile_edge)
        inside = self._inside(distance, height, density) if self.strata else None
        count = max(4, round(density * self.tile_edge**2))
        merged = len(self.strata) > 0 and inside is None
        parts = [self._surface(rng, ix, iy, count, int(merged))]
        first = 2 if self.strata else 1
        parts += [self._surface(rng, ix, iy, count, first + i, below) for i, below in enumerate(self.buried)]
        if inside is not None:
            parts.append(self._volume(rng, ix, iy, inside, first + len(self.buried)))
        return parts[0] if len(parts) == 1 else _joined(parts)

    def _height_and_slope(self, ix: int, iy: int) -> tuple[float, float]:
        """Return the least height of the transducer over the tile [m] and its steepest slope [1]."""
        x = (ix + _NINE[0]) * self.tile_edge
        y = (iy + _NINE[1]) * self.tile_edge
        depth, along, across = self.ground.surface(x, y)
        steepest = float(np.sqrt(np.max(along**2 + across**2)))
        return max(float(depth.min()) - self.transducer_depth, 0.5), steepest

    def _surface(
        self, rng: np.random.Generator, ix: int, iy: int, count: int, law: int, below: float = 0.0
    ) -> Scatterers:
        """Return patches of an interface that lies `below` the seabed [m]."""
        position, along, across = self._places(rng, ix, iy, count)
        position[2] += below
        stretch = np.sqrt(1.0 + along**2 + across**2)
        amplitude = (self.tile_edge * np.sqrt(stretch / count)).astype(np.float32)
        return _scatterers(rng, position, along, across, amplitude, np.full(count, law, dtype=np.int32))

    def _places(
        self, rng: np.random.Generator, ix: int, iy: int, count: int
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return random places on the seabed in a tile (3, n) [m] and the slopes there [1]."""
        position = np.empty((3, count))
        rng.random(out=position[:2].reshape(-1))
        position[0] += ix
        position[1] += iy
        position[:2] *= self.tile_edge
        position[2], along, across = self.ground.surface(position[0], position[1])
        return position, along, across

    def _inside(self, distance: float, height: float, most: float) -> FloatArray | None:
        """Return scatterers a square metre for each stratum, or None where no beam sees the sediment's inside."""
        angle = np.degrees(np.arctan2(distance, height))
        needed = np.zeros(len(self.strata))
        for look in self.looks:
            if angle > look.reach:
                continue
            tops, thickness = self._edges[:-1], np.diff(self._edges)
            spot = np.pi * (height * np.tan(np.radians(look.beam_width / 2.0))) ** 2
            density = VOLUME_A_CELL * thickness / (spot * look.range_resolution * self.speed_ratio)
            heard = tops * self._loss(look.band[0]) < volume.DEAF_DB
            needed = np.maximum(needed, density * heard)
        if not needed.any():
            return None
        return np.asarray(needed * min(1.0, max(DENSEST_VOLUME, most) / float(needed.sum())))

    def _loss(self, frequency: float) -> float:
        """Return the two-way loss a metre [dB/m] of the top layer, from its attenuation per Hz."""
        return self.corridor.loss_per_hertz * frequency

    def _volume(self, rng: np.random.Generator, ix: int, iy: int, density: FloatArray, first: int) -> Scatterers:
        """Return scatterers below the seabed; `first` is the law of the first stratum."""
        counts = rng.poisson(density * self.tile_edge**2)
        which = np.repeat(np.arange(len(density)), counts)
        position, along, across = self._places(rng, ix, iy, len(which))
        top, thickness = self._edges[which], np.diff(self._edges)[which]
        position[2] += (top + thickness * rng.random(len(which))) / self.speed_ratio
        stretch = np.sqrt(1.0 + along**2 + across**2)
        amplitude = np.sqrt(stretch / np.maximum(density, 1e-30)[which]).astype(np.float32)
        return _scatterers(rng, position, along, across, amplitude, (which + first).astype(np.int32))


@dataclass(frozen=True)
class Corridor:
    """The strip under the track where the sediment's inside is drawn: places of the track (2, n) [m], thinned."""

    places: FloatArray
    loss_per_hertz: float

    def distance(self, ix: int, iy: int, edge: float) -> float:
        """Return the horizontal distance [m] between the track and the nearest point of a tile of side edge [m]."""
        middle = (np.array([[ix], [iy]]) + 0.5) * edge
        gap = np.maximum(np.abs(self.places - middle) - edge / 2.0, 0.0)
        return float(np.sqrt(np.min(gap[0] ** 2 + gap[1] ** 2)))


def patch_density(looks: Sequence[Look], height: float, slope: float) -> float:
    """Return the patches a square metre that fill each look's smallest cell with `PATCHES_A_CELL`.

    height above the seabed [m], slope [1]. On a flat bottom a cell is a ring of area 2 pi h dr. On a slope or off
    vertical the ring about the nearest point is only partly in the beam: the share 2/pi arcsin(w / 4 b) of it, w the
    beam's width and b its angle from that point; beyond 8 times the flat bottom's density is not gone (a slope of about
    12 degrees under a beam of 8): steeper ground has fewer to a cell.
    """
    most = 0.0
    for look in looks:
        off = np.arctan(slope) + np.radians(look.tilt)
        share = 1.0 if off <= 0.0 else 2.0 / np.pi * np.arcsin(min(1.0, np.radians(look.beam_width) / (4.0 * off)))
        share = max(share, 1.0 / STEEPEST_GAIN)
        most = max(most, PATCHES_A_CELL / (2.0 * np.pi * height * look.range_resolution * share))
    return min(most, DENSEST)


def build(
    seed: int, ground: Ground, layers: Sequence[Layer], looks: Sequence[Look], track: Track, sound_speed: float
) -> Seabed:
    """Return the seabed's scatterers and laws.

    layers: from the top down; sound_speed [m/s] of the water above; looks: one an element. The laws of all interfaces
    are averaged over the natural slopes of the top sediment. Buried interfaces follow the seabed; their own volume is
    merged into them.
    """
    top = layers[0]
    low, high = min(look.band[0] for look in looks), max(look.band[1] for look in looks)
    strata = volume.strata(top, low, high)
    faces = [volume.surface_law(top, sound_speed, with_volume=not strata)]
    if strata:
        faces.append(volume.surface_law(top, sound_speed, with_volume=True))
    faces += [volume.buried_law(layers, i, sound_speed) for i in range(1, len(layers))]
    laws = [sloped(law, top.sediment.slope_rms_deg) for law in faces]
    laws += [stratum.law for stratum in strata]
    depth, along, across = ground.surface(track.x, track.y)
    face = float(np.median(track.depth + track.heave))
    height = np.maximum(float(np.median(depth)) - face, 0.5)
    density = patch_density(looks, float(height), float(np.sqrt(np.median(along**2 + across**2))))
    edge = float(np.sqrt(PATCHES_A_TILE / density))
    return Seabed(
        seed=seed,
        ground=ground,
        looks=tuple(looks),
        transducer_depth=face,
        speed_ratio=top.sediment.speed_ratio,
        strata=strata,
        buried=tuple(volume.apparent_depth(layers, i) for i in range(1, len(layers))),
        laws=tuple(laws),
        tile_edge=edge,
        corridor=Corridor(_thinned(track, edge), 2.0 * top.sediment.attenuation / 1e3),
        _edges=np.array([s.top for s in strata] + [strata[-1].bottom]) if strata else np.zeros(1),
    )


_NINE = np.stack([a.ravel() for a in np.meshgrid([0.0, 0.5, 1.0], [0.0, 0.5, 1.0])])


def _thinned(track: Track, step: float) -> FloatArray:
    """Return places of the track no denser than half a step [m]."""
    keys = np.round(np.stack([track.x, track.y]) / (step / 2.0)).astype(np.int64)
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
