"""The seabed's shape: a plane or a grid of soundings, with sand waves or rough rock on top.

Depth grows downwards; the outward normal, into the water, is (dz/dx, dz/dy, -1) made unit.
"""

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.world.scatterers import FloatArray

Surface = tuple[FloatArray, FloatArray, FloatArray]

ROCK_PERIOD = 24  # wavelengths after which a rough rock bottom repeats
ROCK_NODES = 720  # of its table, a side: 12 to its shortest wave, whose slopes then read within 3 %


class Shape(Protocol):
    """A part of the seabed's shape."""

    def surface(self, x: FloatArray, y: FloatArray) -> Surface:
        """Return depth [m] and its slopes dz/dx, dz/dy [1] at x, y [m] (any one shape)."""
        ...


@dataclass(frozen=True)
class Ground:
    """The seabed as a sum of shapes (world.scatterers.Terrain)."""

    shapes: tuple[Shape, ...]

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
class Soundings:
    """A grid of soundings, smooth between its rows: tables refined by a cubic spline, then read linearly.

    x0, y0 [m]: first corner; step_x, step_y [m]; table (3, ny, nx): depth [m], dz/dx, dz/dy [1]. Outside the grid its
    rim is carried on level.
    """

    x0: float
    y0: float
    step_x: float
    step_y: float
    table: FloatArray

    def surface(self, x: FloatArray, y: FloatArray) -> Surface:
        """Return depth [m] and its slopes [1] at x, y [m]."""
        _, ny, nx = self.table.shape
        u, v = (x - self.x0) / self.step_x, (y - self.y0) / self.step_y
        inside_x, inside_y = (u >= 0) & (u <= nx - 1), (v >= 0) & (v <= ny - 1)
        u, v = np.clip(u, 0.0, nx - 1 - 1e-9), np.clip(v, 0.0, ny - 1 - 1e-9)
        i, j = u.astype(np.int64), v.astype(np.int64)
        fu, fv = u - i, v - j
        corner = self.table[:, j, i] * ((1 - fu) * (1 - fv)) + self.table[:, j, i + 1] * (fu * (1 - fv))
        depth, along, across = (
            corner + self.table[:, j + 1, i] * ((1 - fu) * fv) + self.table[:, j + 1, i + 1] * (fu * fv)
        )
        return depth, np.where(inside_x, along, 0.0), np.where(inside_y, across, 0.0)


def build(spec: Any, seed: int) -> Ground:
    """Return the terrain of a scenario's `seabed` section.

    spec: depth [m] or grid (x, y [m] increasing and even, depth (y, x) [m]); slope along, across [deg]; relief (height
    crest to trough [m], wavelength [m], heading [deg]) or None; layer: with rock or cobble on top the relief is rough
    rock, random and fixed by the seed, else sand waves. Rough rock has the rms height of the sand wave of that height.
    """
    slopes = np.tan(np.radians(spec.slope.along)), np.tan(np.radians(spec.slope.across))
    grid = getattr(spec, "grid", None)
    shapes: list[Shape] = [Plane(0.0 if grid is not None else float(spec.depth), float(slopes[0]), float(slopes[1]))]
    if grid is not None:
        shapes.append(_soundings(np.asarray(grid.x), np.asarray(grid.y), np.asarray(grid.depth, dtype=np.float64)))
    relief = getattr(spec, "relief", None)
    if relief is not None:
        rough = spec.layer[0].sediment in {"rock", "cobble"}
        shapes.append(_rock(relief, seed) if rough else _sand_waves(relief))
    return Ground(tuple(shapes))


def _sand_waves(relief: Any) -> Waves:
    """One sinusoid; crests across its heading."""
    heading, number = np.radians(getattr(relief, "heading", 0.0) or 0.0), 2.0 * np.pi / relief.wavelength
    return Waves(relief.height / 2.0, float(number * np.cos(heading)), float(number * np.sin(heading)))


def _rock(relief: Any, seed: int) -> Rough:
    """Random waves of lengths from 0.4 to 1.6 times the stated one, heights in proportion, in all directions.

    Its rms height is that of a sand wave of the same height. Built from whole waves in the period, by an inverse FFT.
    """
    rng = seeds.stream(seed, "relief")
    n = ROCK_NODES
    number = np.fft.fftfreq(n, 1.0 / n)
    kx, ky = np.meshgrid(number, number)
    size = np.hypot(kx, ky)
    band = (size > ROCK_PERIOD / 1.6) & (size < ROCK_PERIOD / 0.4)
    spectrum = np.zeros((n, n), dtype=np.complex128)
    count = int(band.sum())
    # Equal shares of variance an octave of wave number after the 1/k heights: 1/k^2 in the plane.
    spectrum[band] = (rng.standard_normal(count) + 1j * rng.standard_normal(count)) / size[band] ** 2
    scale = 2j * np.pi / (ROCK_PERIOD * relief.wavelength)
    fields = np.stack([np.fft.ifft2(s).real for s in (spectrum, spectrum * kx * scale, spectrum * ky * scale)], axis=-1)
    fields *= relief.height / np.sqrt(8.0) / fields[..., 0].std()
    return Rough(ROCK_PERIOD * relief.wavelength / n, fields.astype(np.float32))


def _soundings(x: FloatArray, y: FloatArray, depth: FloatArray) -> Soundings:
    """Refine a grid by a cubic spline (by lower order where it has fewer than four rows)."""
    from scipy.interpolate import RectBivariateSpline  # noqa: PLC0415  late: slow to import

    # A spline of first order has no derivative in the library: between two rows a third is put in half way.
    if len(y) == 2:
        y, depth = np.array([y[0], y.mean(), y[1]]), np.stack([depth[0], depth.mean(axis=0), depth[1]])
    if len(x) == 2:
        x, depth = np.array([x[0], x.mean(), x[1]]), np.stack([depth[:, 0], depth.mean(axis=1), depth[:, 1]], axis=1)
    spline = RectBivariateSpline(y, x, depth, kx=min(3, len(y) - 1), ky=min(3, len(x) - 1), s=0)
    fine = [int(np.clip(4 * (n - 1) + 1, 2, max(n, 1000))) for n in (len(x), len(y))]
    xs, ys = np.linspace(x[0], x[-1], fine[0]), np.linspace(y[0], y[-1], fine[1])
    table = np.stack([spline(ys, xs), spline(ys, xs, dy=1), spline(ys, xs, dx=1)])
    return Soundings(float(x[0]), float(y[0]), float(xs[1] - xs[0]), float(ys[1] - ys[0]), table)
