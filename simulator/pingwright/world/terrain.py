"""The seabed's shape as typed: a plane, a profile or a grid of soundings, with sand waves or rough rock on top.

Depth grows downwards; the outward normal, into the water, is (dz/dx, dz/dy, -1) made unit.
"""

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.world import ground
from pingwright.world.ground import Boxes
from pingwright.world.scatterers import FloatArray, Terrain

if TYPE_CHECKING:
    from pingwright.inputs.sections import Relief, Seabed

Surface = tuple[FloatArray, FloatArray, FloatArray]

ROCKY = ("rock", "cobble")  # sediments with rough relief instead of waves
ROCK_PERIOD = 24  # wavelengths after which a rough rock bottom repeats
_HAIR = 1e-6  # m
ROCK_NODES = 720  # of its table, a side: 12 to its shortest wave, whose slopes then read within 3 %


#: Where the nearest point of the seabed is closer than this share of the depth below, the ground is steep: slopes from
#: 6 degrees on, ledges, high waves (assumed).
STEEP = 0.995
#: Directions that are searched for it: angles off straight down [deg] and headings [deg].
_OFF, _ROUND = np.linspace(4.0, 60.0, 15), np.arange(0.0, 360.0, 45.0)


class Shape(Protocol):
    """A part of the seabed's shape."""

    def surface(self, x: FloatArray, y: FloatArray) -> Surface:
        """Return depth [m] and its slopes dz/dx, dz/dy [1] at x, y [m] (any one shape)."""
        ...


@dataclass(frozen=True)
class Ground:
    """The seabed as a sum of shapes (world.scatterers.Terrain), and its patches of other ground."""

    shapes: tuple[Shape, ...]
    patches: Boxes = field(default_factory=Boxes)

    def surface(self, x: FloatArray, y: FloatArray) -> Surface:
        """Return depth [m] and its slopes dz/dx, dz/dy [1] at x, y [m] (any one shape)."""
        depth, along, across = self.shapes[0].surface(x, y)
        for shape in self.shapes[1:]:
            more = shape.surface(x, y)
            depth, along, across = depth + more[0], along + more[1], across + more[2]
        return depth, along, across

    def depth(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Return depth below mean surface [m] at x, y [m] (any one shape)."""
        return self.surface(np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))[0]

    def normal(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Return the unit outward normals (3, n) at x, y [m] (n)."""
        _, along, across = self.surface(x, y)
        return np.stack([along, across, np.full_like(along, -1.0)]) / np.sqrt(1.0 + along**2 + across**2)

    def region(self, x: FloatArray, y: FloatArray) -> NDArray[np.int64]:
        """Return the number of the ground at x, y [m]: 0 the seabed's own, k the k-th patch."""
        return self.patches.which(x, y)

    def breaks(self, x0: float, x1: float) -> FloatArray:
        """Return where straight pieces meet between x0 and x1 [m], rising; at an edge of a patch both sides of it."""
        return self._between(0, x0, x1)

    def breaks_across(self, y0: float, y1: float) -> FloatArray:
        """Return where straight pieces meet between y0 and y1 [m], rising."""
        return self._between(1, y0, y1)

    def _between(self, axis: int, low: float, high: float) -> FloatArray:
        places = self._broken[axis]
        return places[(places >= low) & (places <= high)]

    @cached_property
    def _broken(self) -> tuple[FloatArray, FloatArray]:
        """Where straight pieces meet along x, and along y [m], rising."""
        result = []
        for axis in (0, 1):
            edges = self.patches.edges(axis)
            nodes = [(shape.x, shape.y)[axis] for shape in self.shapes if isinstance(shape, Net)]
            nodes += [shape.x for shape in self.shapes if isinstance(shape, Line) and axis == 0]
            result.append(np.unique(np.concatenate([*nodes, edges - _HAIR, edges + _HAIR])))
        return result[0], result[1]

    def typed(self) -> "Ground":
        """Return the soundings and slopes alone, without relief."""
        return Ground(tuple(shape for shape in self.shapes if isinstance(shape, Plane | Line | Net)))


@dataclass(frozen=True)
class Patchwork:
    """Reliefs by region: reliefs[0] outside all patches, reliefs[k] in the k-th, None where there is none."""

    patches: Boxes
    reliefs: tuple[Shape | None, ...]

    def surface(self, x: FloatArray, y: FloatArray) -> Surface:
        """Return the depth below the mean level [m] and its slopes [1] at x, y [m]."""
        x, y = np.broadcast_arrays(np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))
        region, rise = self.patches.which(x, y), np.zeros((3, *x.shape))
        for k, relief in enumerate(self.reliefs):
            inside = region == k
            if relief is not None and inside.any():
                rise[:, inside] = np.stack(relief.surface(x[inside], y[inside]))
        return rise[0], rise[1], rise[2]


@dataclass(frozen=True)
class Plane:
    """A tilted plane, hinged at x = y = 0: depth there [m], slopes dz/dx and dz/dy [1]."""

    depth: float
    along: float
    across: float

    def surface(self, x: FloatArray, y: FloatArray) -> Surface:
        """Return depth [m] and its slopes [1] at x, y [m]."""
        depth = self.depth + self.along * x + self.across * y
        return depth, np.full_like(depth, self.along), np.full_like(depth, self.across)


@dataclass(frozen=True)
class Waves:
    """Sand waves: half of crest to trough [m], wave numbers kx, ky [rad/m]; the crest of one at x = y = 0."""

    amplitude: float
    kx: float
    ky: float

    def surface(self, x: FloatArray, y: FloatArray) -> Surface:
        """Return the rise below the mean level [m] and its slopes [1] at x, y [m]."""
        angle = self.kx * x + self.ky * y
        falling = self.amplitude * np.sin(angle)
        return -self.amplitude * np.cos(angle), self.kx * falling, self.ky * falling


@dataclass(frozen=True)
class Rough:
    """Rough rock: a random relief that repeats after ROCK_PERIOD wavelengths, read linearly from a table.

    step [m] between nodes; table (n, n, 3) over y, x: depth below the mean level [m], dz/dx, dz/dy [1].
    """

    step: float
    table: NDArray[np.float32]

    def surface(self, x: FloatArray, y: FloatArray) -> Surface:
        """Return the depth below the mean level [m] and its slopes [1] at x, y [m]."""
        n = len(self.table)
        u, v = np.asarray(x) / self.step, np.asarray(y) / self.step
        i, j = np.floor(u), np.floor(v)
        fu, fv = (u - i).astype(np.float32)[..., None], (v - j).astype(np.float32)[..., None]
        i, j = i.astype(np.int64) % n, j.astype(np.int64) % n
        right, below = (i + 1) % n, (j + 1) % n
        flat = self.table.reshape(-1, 3)
        upper = flat[j * n + i] * (1 - fu) + flat[j * n + right] * fu
        lower = flat[below * n + i] * (1 - fu) + flat[below * n + right] * fu
        value = (upper * (1 - fv) + lower * fv).astype(np.float64)
        return value[..., 0], value[..., 1], value[..., 2]


@dataclass(frozen=True)
class Line:
    """Soundings along x, joined by straight lines and level beyond both ends: x rising, depth (n) [m]."""

    x: FloatArray
    depth: FloatArray

    def surface(self, x: FloatArray, y: FloatArray) -> Surface:
        """Return depth [m] and its slopes [1] at x, y [m]."""
        x = np.asarray(x, dtype=np.float64)
        i = np.clip(np.searchsorted(self.x, x, side="right") - 1, 0, len(self.x) - 2)
        inside = (x >= self.x[0]) & (x < self.x[-1])
        slope = np.where(inside, (np.diff(self.depth) / np.diff(self.x))[i], 0.0)
        return np.interp(x, self.x, self.depth), slope, np.zeros_like(slope)


@dataclass(frozen=True)
class Net:
    """A grid of soundings, linear along x and along y between neighbours, level beyond its edge.

    x (n), y (m) rising [m], depth (m, n) [m]. Between four soundings the surface is bilinear: a plane where the four
    lie in one, and never above or below all four.
    """

    x: FloatArray
    y: FloatArray
    depth: FloatArray

    def surface(self, x: FloatArray, y: FloatArray) -> Surface:
        """Return depth [m] and its slopes [1] at x, y [m]."""
        i, u, wide, beside = _cell(self.x, x)
        j, v, high, before = _cell(self.y, y)
        near, far = self.depth[j, i], self.depth[j + 1, i]
        along_near, along_far = self.depth[j, i + 1] - near, self.depth[j + 1, i + 1] - far
        upper, lower = near + u * along_near, far + u * along_far
        along, across = (along_near + v * (along_far - along_near)) / wide, (lower - upper) / high
        return upper + v * (lower - upper), np.where(beside, 0.0, along), np.where(before, 0.0, across)


def _cell(nodes: FloatArray, place: FloatArray) -> tuple[NDArray[np.int64], FloatArray, FloatArray, NDArray[np.bool_]]:
    """Return the cell of each place between rising nodes, the part of it passed, its width, and what lies outside."""
    place = np.asarray(place, dtype=np.float64)
    i = np.clip(np.searchsorted(nodes, place, side="right") - 1, 0, len(nodes) - 2)
    wide = nodes[i + 1] - nodes[i]
    part = np.clip((place - nodes[i]) / wide, 0.0, 1.0)
    return i, part, wide, (place < nodes[0]) | (place > nodes[-1])


def build(spec: "Seabed", seed: int) -> Ground:
    """Return the terrain of a scenario's `seabed` section.

    spec: depth [m], a profile (x, depth [m]) or a grid (x, y [m] rising, depth (y, x) [m]); slope along, across [deg];
    relief (height crest to trough [m], wavelength [m], heading [deg]) or None; patches with their own reliefs, which
    replace that of the seabed there (the last one that covers a place counts). Over rock and cobble a relief is rough
    rock, random and fixed by the seed, else sand waves. Rough rock has the rms height of the sand wave of that height.
    The centimetres of natural roughness are not here, but in the echoes (world.roughness).
    """
    slopes = np.tan(np.radians(spec.slope.along)), np.tan(np.radians(spec.slope.across))
    profile, grid = getattr(spec, "profile", None), getattr(spec, "grid", None)
    typed = profile is None and grid is None
    shapes: list[Shape] = [Plane(float(spec.depth or 0.0) if typed else 0.0, float(slopes[0]), float(slopes[1]))]
    if profile is not None:
        x, depth = np.asarray(profile, dtype=np.float64).T
        shapes.append(Line(x.copy(), depth.copy()))
    if grid is not None:
        shapes.append(Net(*(np.asarray(v, dtype=np.float64) for v in (grid.x, grid.y, grid.depth))))
    boxes = ground.boxes(spec)
    reliefs = _reliefs(spec, seed)
    if any(relief is not None for relief in reliefs):
        shapes.append(Patchwork(boxes, reliefs) if boxes else reliefs[0])  # type: ignore[arg-type]
    return Ground(tuple(shapes), boxes)


def _reliefs(spec: "Seabed", seed: int) -> tuple[Shape | None, ...]:
    """Return the relief of the seabed and of each patch; a patch that names none keeps the seabed's."""
    own = _relief(getattr(spec, "relief", None), spec.layer[0].sediment, seed, 0)
    patches = getattr(spec, "patch", ())
    return (
        own,
        *(_relief(p.relief, p.sediment, seed, k) if p.relief is not None else own for k, p in enumerate(patches, 1)),
    )


def _relief(relief: "Relief | None", sediment: str, seed: int, index: int) -> Shape | None:
    if relief is None:
        return None
    return _rock(relief, seed, index) if sediment in ROCKY else _sand_waves(relief)


def _sand_waves(relief: "Relief") -> Waves:
    """One sinusoid; crests across its heading."""
    heading, number = np.radians(getattr(relief, "heading", 0.0) or 0.0), 2.0 * np.pi / relief.wavelength
    return Waves(relief.height / 2.0, float(number * np.cos(heading)), float(number * np.sin(heading)))


def _rock(relief: "Relief", seed: int, index: int) -> Rough:
    """Random waves of lengths from 0.4 to 1.6 times the stated one, heights in proportion, in all directions.

    Its rms height is that of a sand wave of the same height. Built from whole waves in the period, by an inverse FFT.
    """
    rng = seeds.stream(seed, "relief", *([index] if index else []))
    n = ROCK_NODES
    number = np.fft.fftfreq(n, 1.0 / n)
    kx, ky = np.meshgrid(number, number)
    size = np.hypot(kx, ky)
    band = (size > ROCK_PERIOD / 1.6) & (size < ROCK_PERIOD / 0.4)
    spectrum = np.zeros((n, n), dtype=np.complex128)
    count = int(band.sum())
    # With heights over 1/k, each octave of wave number has the same variance: 1/k^2 in the plane.
    spectrum[band] = (rng.standard_normal(count) + 1j * rng.standard_normal(count)) / size[band] ** 2
    scale = 2j * np.pi / (ROCK_PERIOD * relief.wavelength)
    fields = np.stack([np.fft.ifft2(s).real for s in (spectrum, spectrum * kx * scale, spectrum * ky * scale)], axis=-1)
    fields *= relief.height / np.sqrt(8.0) / fields[..., 0].std()
    return Rough(ROCK_PERIOD * relief.wavelength / n, fields.astype(np.float32))


def nearest_if_steep(terrain: Terrain, x: FloatArray, y: FloatArray, face: FloatArray) -> FloatArray:
    """Return the range [m] (n) of the seabed's nearest point under a boat where the ground is steep, inf elsewhere.

    x, y [m], face: depth of the transducer [m] (n). Searched to 60 degrees off straight down, every 4 degrees in 8
    headings: on a plane of 12 degrees the result is 0.3 % too long at most.
    """
    below = terrain.depth(x, y) - face
    way = below[:, None, None] * np.tan(np.radians(_OFF))[:, None]
    angle = np.radians(_ROUND)
    there = terrain.depth(x[:, None, None] + way * np.cos(angle), y[:, None, None] + way * np.sin(angle))
    nearest = np.sqrt(way**2 + np.maximum(there - face[:, None, None], 0.0) ** 2).min(axis=(1, 2))
    return np.where(nearest < STEEP * below, nearest, np.inf)
