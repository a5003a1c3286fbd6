"""Flat faces in a rigid baffle: the interface of every face, the disc, the rectangle and the ellipse.

Directions are direction cosines in the element's own axes: u along, v across, w = sqrt(1 - u^2 - v^2) out of the
face. A pattern is one-way pressure over that on the acoustic axis. Phase follows exp(+j 2 pi f t): a part of the
face at p radiates with exp(+j k p.d) towards d.

Source: L. E. Kinsler et al., Fundamentals of Acoustics, 4th ed. 2000, ch. 7 (piston in a rigid baffle); the
rectangle is the product of two uniform lines (R. J. Urick, Principles of Underwater Sound, 3rd ed. 1983, ch. 3).
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from pingwright.acoustics import beam
from pingwright.acoustics.arrays import ComplexArray, FloatArray


class Face(Protocol):
    """A radiating face.

    radial: the pattern depends on u^2 + v^2 only. real: it is real at every frequency. even: it is the same for -u and
    for -v. area: radiating area [m2] (nan where not known). extent: projected size along and across [m]. axis:
    direction cosines (u, v) of the acoustic axis, where the pattern is 1. virtual_depth: distance behind the face from
    which the waves seem to come [m]; phases are relative to a wave from there that leaves early by the time for that
    distance, so the delay on the axis is zero. near_field(wavelength [m]): distance beyond which the far-field pattern
    holds [m].
    """

    def __hash__(self) -> int: ...

    @property
    def radial(self) -> bool: ...  # noqa: D102

    @property
    def real(self) -> bool: ...  # noqa: D102

    @property
    def even(self) -> bool: ...  # noqa: D102

    @property
    def area(self) -> float: ...  # noqa: D102

    @property
    def extent(self) -> tuple[float, float]: ...  # noqa: D102

    @property
    def axis(self) -> tuple[float, float]: ...  # noqa: D102

    @property
    def virtual_depth(self) -> float: ...  # noqa: D102

    def near_field(self, wavelength: float) -> float: ...  # noqa: D102

    def pattern(self, u: FloatArray, v: FloatArray, frequency: FloatArray, sound_speed: float) -> ComplexArray:
        """Return pressure (direction, frequency) towards u, v (direction) at frequency [Hz] (frequency)."""
        ...


def rayleigh_distance(width: float, wavelength: float) -> float:
    """Return the distance [m] beyond which a flat face of a width [m] is in its far field, as a disc is."""
    return float(beam.near_field_distance(width / 2.0, wavelength))


@dataclass(frozen=True)
class Disc:
    """A round piston of one diameter [m]: 2 J1(x) / x with x = k a sin(angle)."""

    diameter: float
    radial: bool = True
    real: bool = True
    even: bool = True
    axis: tuple[float, float] = (0.0, 0.0)
    virtual_depth: float = 0.0

    @property
    def area(self) -> float:
        """Radiating area [m2]."""
        return float(np.pi * self.diameter**2 / 4.0)

    @property
    def extent(self) -> tuple[float, float]:
        """Size along and across [m]."""
        return self.diameter, self.diameter

    def near_field(self, wavelength: float) -> float:
        """Return the Rayleigh distance [m]."""
        return rayleigh_distance(self.diameter, wavelength)

    def pattern(self, u: FloatArray, v: FloatArray, frequency: FloatArray, sound_speed: float) -> ComplexArray:
        """Return pressure (direction, frequency), see Face."""
        ka = np.pi * self.diameter * frequency / sound_speed
        return beam.piston(np.multiply.outer(np.hypot(u, v), ka)).astype(complex)


@dataclass(frozen=True)
class Oblong:
    """What flat faces of two sizes share: along, across [m]."""

    along: float
    across: float
    radial: bool = False
    real: bool = True
    even: bool = True
    axis: tuple[float, float] = (0.0, 0.0)
    virtual_depth: float = 0.0

    @property
    def extent(self) -> tuple[float, float]:
        """Size along and across [m]."""
        return self.along, self.across

    def near_field(self, wavelength: float) -> float:
        """Return the Rayleigh distance of the longer size [m]."""
        return rayleigh_distance(max(self.extent), wavelength)


@dataclass(frozen=True)
class Rectangle(Oblong):
    """A rectangular piston, along x across [m]: sinc(along u / wavelength) sinc(across v / wavelength)."""

    @property
    def area(self) -> float:
        """Radiating area [m2]."""
        return self.along * self.across

    def pattern(self, u: FloatArray, v: FloatArray, frequency: FloatArray, sound_speed: float) -> ComplexArray:
        """Return pressure (direction, frequency), see Face."""
        wavelength = sound_speed / frequency[None, :]
        return beam.rectangle_amplitude(u[:, None], v[:, None], self.along, self.across, wavelength).astype(complex)


@dataclass(frozen=True)
class Ellipse(Oblong):
    """An elliptic piston of axes along x across [m]: 2 J1(x) / x, x = pi hypot(along u, across v) / wavelength."""

    @property
    def area(self) -> float:
        """Radiating area [m2]."""
        return float(np.pi * self.along * self.across / 4.0)

    def pattern(self, u: FloatArray, v: FloatArray, frequency: FloatArray, sound_speed: float) -> ComplexArray:
        """Return pressure (direction, frequency), see Face."""
        wavelength = sound_speed / frequency[None, :]
        return beam.ellipse_amplitude(u[:, None], v[:, None], self.along, self.across, wavelength).astype(complex)
