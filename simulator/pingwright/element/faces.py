"""Flat faces in a rigid baffle: what every face offers, the disc and the rectangle.

Directions are direction cosines in the element's own axes: u along, v across, w = sqrt(1 - u^2 - v^2) out of the
face. A pattern is one-way pressure over that on the acoustic axis. Phase follows exp(+j 2 pi f t): a part of the
face at p radiates with exp(+j k p.d) towards d.

Source: L. E. Kinsler et al., Fundamentals of Acoustics, 4th ed. 2000, ch. 7 (piston in a rigid baffle); the
rectangle is the product of two uniform lines (R. J. Urick, Principles of Underwater Sound, 3rd ed. 1983, ch. 3).
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


class Face(Protocol):
    """A radiating face.

    radial: the pattern depends on u^2 + v^2 only. real: it is real at every frequency. even: it is the same for
    -u and for -v. area: radiating area [m2] (nan where not known). extent: projected size along and across [m].
    axis: direction cosines (u, v) of the acoustic axis, where the pattern is 1.
    virtual_depth: how far behind the face the waves seem to come from [m]; phases are relative to a wave from there
    that leaves early by the same distance, so that the delay on the axis is zero.
    near_field(wavelength [m]): distance beyond which the far-field pattern holds [m].
    """

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


def piston(x: ArrayLike) -> FloatArray:
    """Return 2 J1(x) / x, any shape, 1 at x = 0 [1]."""
    from scipy.special import j1

    x = np.asarray(x, dtype=float)
    small = np.abs(x) < 1e-6
    safe = np.where(small, 1.0, x)
    return np.asarray(np.where(small, 1.0, 2.0 * j1(safe) / safe))


def rayleigh_distance(width: float, wavelength: float) -> float:
    """Return pi (width / 2)^2 / wavelength [m], beyond which a flat face of that width [m] is in its far field.

    Kinsler et al. 2000, sec. 7.4: there the axial pressure is 0.37 dB under the spherical law.
    """
    return float(np.pi * (width / 2.0) ** 2 / wavelength)


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
        return piston(np.hypot(u, v)[:, None] * ka[None, :]).astype(complex)


@dataclass(frozen=True)
class Rectangle:
    """A rectangular piston, along x across [m]: sinc(along u / wavelength) sinc(across v / wavelength)."""

    along: float
    across: float
    radial: bool = False
    real: bool = True
    even: bool = True
    axis: tuple[float, float] = (0.0, 0.0)
    virtual_depth: float = 0.0

    @property
    def area(self) -> float:
        """Radiating area [m2]."""
        return self.along * self.across

    @property
    def extent(self) -> tuple[float, float]:
        """Size along and across [m]."""
        return self.along, self.across

    def near_field(self, wavelength: float) -> float:
        """Return the Rayleigh distance of the longer side [m]."""
        return rayleigh_distance(max(self.extent), wavelength)

    def pattern(self, u: FloatArray, v: FloatArray, frequency: FloatArray, sound_speed: float) -> ComplexArray:
        """Return pressure (direction, frequency), see Face."""
        per_wavelength = frequency[None, :] / sound_speed
        product = np.sinc(self.along * u[:, None] * per_wavelength)
        return (product * np.sinc(self.across * v[:, None] * per_wavelength)).astype(complex)
