"""Curved faces: the cap, curved both ways, and the arc, curved across and flat along.

Each part of the face radiates as on a rigid convex body much larger than the wavelength: the local field is that of a
plane wave leaving along the normal, which Kirchhoff's integral turns into an obliquity of (1 + cos x) / 2, x the angle
between normal and direction. Against the exact series for a rigid sphere and a rigid cylinder (P. M. Morse & K. U.
Ingard, Theoretical Acoustics, 1968, ch. 7) the error is measured in tests/test_element_curved.py and stated there.

Phases are relative to a wave from the centre of curvature that leaves early by the time for one radius: then they
hardly change over the band inside the beam. Echoes arrive as if the element were at the centre, and one radius early.
The range of an echo at an angle a off the axis differs by radius (1 - cos a) from the range measured from the face:
under 3 cm for the faces of the catalogue.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pingwright.acoustics.arrays import ComplexArray, FloatArray
from pingwright.element.faces import rayleigh_distance
from pingwright.element.shading import shade
from pingwright.element.sphere import gauss

#: A wave from a centre of curvature falls as 1 / (radius + range): at this many radii, 0.8 dB from 1 / range.
RADII_AWAY = 10.0
#: For more directions than this, values are interpolated from a table.
_MANY = 4096


def _quadrature(half: float, longest: float) -> tuple[FloatArray, FloatArray]:
    """Return angles [rad] over 0..half and weights, eight nodes to a wavelength of an arc longest wavelengths long."""
    x, weight = gauss(int(24 + 8 * np.ceil(longest)))
    return (x + 1.0) * half / 2.0, weight * half / 2.0


class Curved:
    """What curved faces share: radius [m] and full opening [deg]."""

    radius: float
    opening: float

    @property
    def half(self) -> float:
        """Half opening [rad]."""
        return float(np.deg2rad(self.opening / 2.0))

    @property
    def virtual_depth(self) -> float:
        """The centre of curvature lies one radius behind the face [m]."""
        return self.radius


@dataclass(frozen=True)
class Cap(Curved):
    """A spherical cap of a radius [m] and full opening [deg], shaded by angle from its middle."""

    radius: float
    opening: float
    shading: str = "none"
    radial: bool = True
    real: bool = False
    even: bool = True
    axis: tuple[float, float] = (0.0, 0.0)

    @property
    def area(self) -> float:
        """Radiating area [m2], shading not counted."""
        return float(2.0 * np.pi * self.radius**2 * (1.0 - np.cos(self.half)))

    @property
    def extent(self) -> tuple[float, float]:
        """Projected size along and across [m]."""
        width = 2.0 * self.radius * float(np.sin(min(self.half, np.pi / 2.0)))
        return width, width

    def near_field(self, wavelength: float) -> float:
        """Return the distance [m] beyond which the waves fall with the range from the face."""
        return min(RADII_AWAY * self.radius, rayleigh_distance(self.extent[0], wavelength))

    def pattern(self, u: FloatArray, v: FloatArray, frequency: FloatArray, sound_speed: float) -> ComplexArray:
        """Return pressure (direction, frequency), see Face.

        The integral around the axis of the cap gives Bessel functions; the integral over the angle from it is a
        Gauss-Legendre sum.
        """
        kr = 2.0 * np.pi * self.radius * frequency / sound_speed
        polar = np.arcsin(np.minimum(np.hypot(u, v), 1.0))
        if len(polar) <= _MANY:
            return self._sum(polar, kr)
        from scipy.ndimage import map_coordinates, spline_filter

        # Many directions: the sum is made on an even grid of angles and read by cubic interpolation (error 1e-6).
        count = int(256 + 24 * kr.max(initial=0.0))
        nodes = self._sum(np.linspace(0.0, np.pi / 2.0, count), kr)
        where = [polar * (count - 1) / (np.pi / 2.0)]
        result = np.empty((len(polar), len(kr)), dtype=complex)
        for i, column in enumerate(nodes.T):
            parts = [spline_filter(part, mode="mirror") for part in (column.real, column.imag)]
            real, imag = (map_coordinates(part, where, mode="mirror", prefilter=False) for part in parts)
            result[:, i] = real + 1j * imag
        return result

    def _sum(self, polar: FloatArray, kr: FloatArray) -> ComplexArray:
        """Return the normalised sum at angles [rad] from the axis and k radius [1], (angle, frequency)."""
        from scipy.special import j0, j1

        node, weight = _quadrature(self.half, float(kr.max(initial=0.0)) * self.half / (2.0 * np.pi))
        strength = weight * np.sin(node) * shade(self.shading, node, self.half)
        result = np.empty((len(polar), len(kr)), dtype=complex)
        axis = np.array([(np.exp(1j * k * (np.cos(node) - 1.0)) * 0.5 * (1.0 + np.cos(node))) @ strength for k in kr])
        step = max(1, 1_000_000 // len(node))
        for start in range(0, len(polar), step):
            part = polar[start : start + step]
            straight, sideways = np.outer(np.cos(part), np.cos(node)), np.outer(np.sin(part), np.sin(node))
            lean, turn = 0.5 * (1.0 + straight), straight - 1.0
            for i, k in enumerate(kr):
                # Real and imaginary part apart: numpy's complex exponential is several times as slow.
                cosine, sine, argument = np.cos(k * turn), np.sin(k * turn), k * sideways
                even, odd = lean * j0(argument), 0.5 * sideways * j1(argument)
                result.real[start : start + step, i] = (cosine * even - sine * odd) @ strength
                result.imag[start : start + step, i] = (sine * even + cosine * odd) @ strength
        return np.asarray(result / axis)


@dataclass(frozen=True)
class Arc(Curved):
    """Part of a cylinder of a radius [m] and full opening [deg] across, width [m] along, shaded across."""

    radius: float
    opening: float
    width: float
    shading: str = "none"
    radial: bool = False
    real: bool = False
    even: bool = True
    axis: tuple[float, float] = (0.0, 0.0)

    @property
    def area(self) -> float:
        """Radiating area [m2], shading not counted."""
        return 2.0 * self.half * self.radius * self.width

    @property
    def extent(self) -> tuple[float, float]:
        """Projected size along and across [m]."""
        return self.width, 2.0 * self.radius * float(np.sin(min(self.half, np.pi / 2.0)))

    def near_field(self, wavelength: float) -> float:
        """Return the larger of the flat side's Rayleigh distance and the curved side's ten radii (or its own) [m]."""
        along, across = self.extent
        curved = min(RADII_AWAY * self.radius, rayleigh_distance(across, wavelength))
        return max(rayleigh_distance(along, wavelength), curved)

    def pattern(self, u: FloatArray, v: FloatArray, frequency: FloatArray, sound_speed: float) -> ComplexArray:
        """Return pressure (direction, frequency), see Face.

        Across, the sum over the arc depends on two numbers only: the angle around the cylinder and k radius times the
        sine of the angle from the cylinder's axis. It is tabulated over those once and read by cubic interpolation.
        """
        per_wavelength = frequency / sound_speed
        sine = np.sqrt(np.maximum(0.0, 1.0 - u**2))
        depth = np.sqrt(np.maximum(0.0, sine**2 - v**2))
        around = np.abs(np.arctan2(v, depth))
        kr = 2.0 * np.pi * self.radius * per_wavelength
        table = self._table(float(np.ceil(kr.max(initial=1.0) / 16.0) * 16.0))
        across = table.read(np.multiply.outer(sine, kr), around)
        # The table leaves out the phase of a wave from the cylinder's axis at grazing k: add the part of k itself
        # again.
        turn = np.exp(1j * np.multiply.outer(sine - 1.0, kr))
        straight = table.read(kr[None, :], np.zeros(1))
        return np.asarray(np.sinc(self.width * np.multiply.outer(u, per_wavelength)) * across * turn / straight)

    def _table(self, top: float) -> "_ArcTable":
        key = (self.radius, self.opening, self.shading, top)
        if key not in _TABLES:
            _TABLES[key] = _ArcTable(self.half, self.shading, top)
        return _TABLES[key]


@dataclass(frozen=True)
class _ArcTable:
    """Sum over a shaded arc without the phase of a wave from the centre, by k radius (0..top) and angle (0..pi/2)."""

    half: float
    shading: str
    top: float

    @cached_property
    def _spline(self) -> tuple[ComplexArray, float, float]:
        from scipy.ndimage import spline_filter

        # Fourteen nodes to a turn of phase (by 1 - cos and by sin) leave cubic interpolation an error below 4e-6.
        fastest = 1.0 - np.cos(min(np.pi, np.pi / 2.0 + self.half))
        rows = int(np.ceil(self.top * fastest * 14.0 / (2.0 * np.pi))) + 8
        columns = int(np.ceil(self.top * np.pi / 2.0 * 14.0 / (2.0 * np.pi))) + 32
        kr, angle = np.linspace(0.0, self.top, rows), np.linspace(0.0, np.pi / 2.0, columns)
        values = arc_sum(kr, angle, self.half, self.shading)
        filtered = spline_filter(values.real, mode="mirror") + 1j * spline_filter(values.imag, mode="mirror")
        return filtered, kr[1], angle[1]

    def read(self, kr: FloatArray, angle: FloatArray) -> ComplexArray:
        """Return the sum at kr (direction, frequency) and angle [rad] (direction)."""
        from scipy.ndimage import map_coordinates

        filtered, step_kr, step_angle = self._spline
        where = np.array([kr / step_kr, np.broadcast_to(angle[:, None] / step_angle, kr.shape)])
        real = map_coordinates(filtered.real, where, mode="mirror", prefilter=False)
        return np.asarray(real + 1j * map_coordinates(filtered.imag, where, mode="mirror", prefilter=False))


_TABLES: dict[tuple[float, float, str, float], _ArcTable] = {}


def arc_sum(kr: FloatArray, angle: FloatArray, half: float, shading: str) -> ComplexArray:
    """Return the integral over an arc of shading, obliquity and exp(j kr (cos(angle - place) - 1)), (kr, angle).

    kr: k radius sin(angle from the cylinder's axis) [1], in even steps from 0; angle around the cylinder [rad]; half
    opening [rad].
    """
    node, weight = _quadrature(half, float(kr.max(initial=0.0)) * half / (2.0 * np.pi))
    strength = weight * shade(shading, node, half)
    facing = np.cos(np.subtract.outer(angle, np.concatenate([node, -node])))
    term = np.concatenate([strength, strength]) * 0.5 * (1.0 + facing) + 0j
    # One step of kr turns each term by the same angle, so a product takes the place of an exponential.
    turn = np.exp(1j * (kr[1] - kr[0]) * (facing - 1.0))
    result = np.empty((len(kr), len(angle)), dtype=complex)
    for row in range(len(kr)):
        result[row] = term.sum(axis=1)
        term *= turn
    return result
