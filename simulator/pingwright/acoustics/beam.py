"""Patterns, widths and directivity of apertures, and their near field.

Angles are from the aperture's axis in degrees. Patterns are amplitudes, one way, 1 on the axis, real (negative where
the phase is reversed). Widths are full widths.
"""

import math

import numpy as np
from numpy.typing import ArrayLike

from pingwright.acoustics.arrays import ComplexArray, FloatArray, decibels, floats

LINE_HALF_POWER = 0.44294647  # (L / lambda) sin(theta) where sinc^2 = 1/2
HALF_POWER = 10.0 * math.log10(0.5)  # dB, what "-3 dB" means here
_QUADRATURE = 512


def piston(argument: ArrayLike) -> FloatArray:
    """Return 2 J1(x) / x [1], 1 at x = 0: the amplitude pattern of a circular piston over x = ka sin(theta).

    argument x [1], any shape. Exact. Source: Kinsler et al., Fundamentals of Acoustics, 4th ed., section 7.4.
    """
    from scipy.special import j1

    x = floats(argument)
    small = np.abs(x) < 1e-6
    safe = np.where(small, 1.0, x)
    return floats(np.where(small, 1.0, 2.0 * j1(safe) / safe))


def piston_amplitude(angle: ArrayLike, wavenumber_radius: ArrayLike) -> FloatArray:
    """Return the amplitude pattern of a circular piston, 2 J1(x) / x with x = ka sin(theta) [1].

    angle [deg], wavenumber_radius ka [1]. Valid in the far field of a baffled uniform disc, 0..90 deg.
    Source: Kinsler et al., Fundamentals of Acoustics, 4th ed., section 7.4.
    """
    return piston(floats(wavenumber_radius) * np.sin(np.radians(floats(angle))))


def piston_argument(level: float) -> float:
    """Return x = ka sin(theta) [1] at which a piston's main lobe has fallen to a one-way level.

    level [dB re axis, below 0]. Valid within the main lobe (x below 3.8317). Source: root of `piston_amplitude`.
    """
    from scipy.optimize import brentq
    from scipy.special import j1

    amplitude = 10.0 ** (level / 20.0)
    return float(brentq(lambda x: 2.0 * j1(x) / x - amplitude, 1e-9, 3.8317059702, xtol=1e-13))


def piston_width(wavenumber_radius: ArrayLike, level: float = HALF_POWER) -> FloatArray:
    """Return the full width [deg] of a circular piston's main lobe between points of a one-way level.

    wavenumber_radius ka [1], level [dB re axis]; 180 where the lobe never falls so far. Valid for a baffled disc.
    The two-way half power width is the one at half that level. Source: `piston_argument`.
    """
    sine = piston_argument(level) / floats(wavenumber_radius)
    return floats(2.0 * np.degrees(np.arcsin(np.minimum(sine, 1.0))))


def piston_wavenumber_radius(width: ArrayLike, level: float = HALF_POWER) -> FloatArray:
    """Return ka [1] of the piston whose main lobe is that wide between points of a one-way level.

    width [deg, full, up to 180], level [dB re axis]. Valid for a baffled disc. Source: inverse of `piston_width`.
    """
    return floats(piston_argument(level) / np.sin(np.radians(floats(width)) / 2.0))


def piston_nulls(count: int) -> FloatArray:
    """Return x = ka sin(theta) [1] of the first nulls of a circular piston, (count).

    Valid for a uniform disc. Source: zeros of J1, Abramowitz & Stegun table 9.5.
    """
    from scipy.special import jn_zeros

    return floats(jn_zeros(1, count))


def piston_sidelobe(number: int) -> tuple[float, float]:
    """Return x = ka sin(theta) [1] and one-way level [dB re axis] of a side lobe of a circular piston.

    number counts side lobes from 1. Valid for a uniform disc. Source: extrema of 2 J1(x)/x are the zeros of J2.
    """
    from scipy.special import j1, jn_zeros

    x = float(jn_zeros(2, number)[-1])
    return x, float(decibels((2.0 * j1(x) / x) ** 2))


def piston_directivity_factor(wavenumber_radius: ArrayLike) -> FloatArray:
    """Return the directivity factor [1] of a baffled circular piston, (ka)^2 / (1 - J1(2ka) / ka).

    wavenumber_radius ka [1], above 0. Exact. Source: Kinsler et al., Fundamentals of Acoustics, 4th ed., section 7.6.
    """
    from scipy.special import j1

    ka = floats(wavenumber_radius)
    return floats(ka**2 / (1.0 - j1(2.0 * ka) / ka))


def piston_equivalent_beam_angle(wavenumber_radius: float) -> float:
    """Return the equivalent two-way beam angle [sr] of a circular piston, the integral of b^2 over the half space.

    wavenumber_radius ka [1]. Valid for a baffled disc with ka up to 500 (quadrature error below 1e-6).
    Source: definition, Simmonds & MacLennan 2005, Fisheries Acoustics, 2nd ed., section 2.3.
    """
    node, weight = np.polynomial.legendre.leggauss(_QUADRATURE)
    angle = (node + 1.0) * 45.0
    pattern = piston_amplitude(angle, wavenumber_radius) ** 4
    return float(2.0 * np.pi * np.sum(weight * pattern * np.sin(np.radians(angle))) * np.pi / 4.0)


def equivalent_beam_angle_narrow(wavenumber_radius: ArrayLike) -> FloatArray:
    """Return the equivalent two-way beam angle [sr] of a narrow circular piston, 5.78 / (ka)^2.

    wavenumber_radius ka [1]. Valid for ka above 10: 0.8 % low at 10, 3.6 % low at 5.
    Source: Simmonds & MacLennan 2005, section 2.3.
    """
    return floats(5.78 / floats(wavenumber_radius) ** 2)


def aperture_directivity_factor(area: ArrayLike, wavelength: ArrayLike) -> FloatArray:
    """Return the directivity factor [1] of a large plane uniform aperture, 4 pi A / lambda^2.

    area [m2], wavelength [m]. Valid for sides of several wavelengths. Source: Urick 1983, section 3.2.
    """
    return floats(4.0 * np.pi * floats(area) / floats(wavelength) ** 2)


def near_field_distance(radius: ArrayLike, wavelength: ArrayLike) -> FloatArray:
    """Return the distance [m] from which a disc radiates as from a point, pi a^2 / lambda.

    radius [m], wavelength [m]. Valid for discs wider than a wavelength; there the pressure is still 0.37 dB below the
    far field's law, at twice that 0.09 dB. Source: Kinsler et al., section 7.4 (Rayleigh distance).
    """
    return floats(np.pi * floats(radius) ** 2 / floats(wavelength))


def last_maximum_distance(radius: ArrayLike, wavelength: ArrayLike) -> FloatArray:
    """Return the distance [m] of the outermost maximum on a disc's axis, a^2 / lambda - lambda / 4.

    radius [m], wavelength [m]. Exact for a radius above half a wavelength. Source: Kinsler et al., section 7.4.
    """
    a, wavelength = floats(radius), floats(wavelength)
    return floats(a**2 / wavelength - wavelength / 4.0)


def on_axis_amplitude(distance: ArrayLike, radius: ArrayLike, wavelength: ArrayLike) -> FloatArray:
    """Return the pressure on a disc's axis [1, re 2 rho c u], |sin(k/2 (sqrt(z^2 + a^2) - z))|.

    distance z [m], radius a [m], wavelength [m]. Exact for a baffled piston at all distances.
    Source: Kinsler et al., section 7.4.
    """
    z, a, k = floats(distance), floats(radius), 2.0 * np.pi / floats(wavelength)
    path = a**2 / (np.sqrt(z**2 + a**2) + z)  # = sqrt(z^2 + a^2) - z without loss of digits far off
    return floats(np.abs(np.sin(0.5 * k * path)))


def line_amplitude(angle: ArrayLike, length: ArrayLike, wavelength: ArrayLike) -> FloatArray:
    """Return the amplitude pattern of a uniform line, sinc(L sin(theta) / lambda) [1].

    angle [deg, from the normal], length [m], wavelength [m]. Valid in the far field. Source: Urick 1983, section 3.4.
    """
    return floats(np.sinc(floats(length) * np.sin(np.radians(floats(angle))) / floats(wavelength)))


def rectangle_amplitude(
    sine_along: ArrayLike, sine_across: ArrayLike, along: ArrayLike, across: ArrayLike, wavelength: ArrayLike
) -> FloatArray:
    """Return the amplitude pattern of a uniform rectangle over direction cosines [1].

    sine_along, sine_across: direction cosines to the two sides [1], along, across: sides [m], wavelength [m].
    Valid in the far field. Source: product of two lines, Urick 1983, section 3.4.
    """
    wavelength = floats(wavelength)
    first = np.sinc(floats(along) * floats(sine_along) / wavelength)
    return floats(first * np.sinc(floats(across) * floats(sine_across) / wavelength))


def ellipse_amplitude(
    sine_along: ArrayLike, sine_across: ArrayLike, along: ArrayLike, across: ArrayLike, wavelength: ArrayLike
) -> FloatArray:
    """Return the amplitude pattern of a uniform ellipse over direction cosines [1], 2 J1(x) / x.

    x = pi hypot(along sine_along, across sine_across) / wavelength; sine_along, sine_across: direction cosines to the
    two axes [1], along, across: whole axes [m], wavelength [m]. Valid in the far field. Source: the disc's pattern
    (`piston`) with one axis stretched, exact for the transform of a uniform ellipse.
    """
    sides = np.hypot(floats(along) * floats(sine_along), floats(across) * floats(sine_across))
    return piston(np.pi * sides / floats(wavelength))


def line_width(length: ArrayLike, wavelength: ArrayLike) -> FloatArray:
    """Return the full one-way half power width [deg] of a uniform line; 180 where it never falls so far.

    length [m], wavelength [m]. Exact. Source: sinc^2(0.44295) = 1/2, Urick 1983, section 3.4.
    """
    sine = LINE_HALF_POWER * floats(wavelength) / floats(length)
    return floats(2.0 * np.degrees(np.arcsin(np.minimum(sine, 1.0))))


def line_length(width: ArrayLike, wavelength: ArrayLike) -> FloatArray:
    """Return the length [m] of the uniform line of that full one-way half power width [deg].

    width [deg, 0..180], wavelength [m]. Exact. Source: inverse of `line_width`.
    """
    return floats(LINE_HALF_POWER * floats(wavelength) / np.sin(np.radians(floats(width)) / 2.0))


def rectangle_equivalent_beam_angle(area: ArrayLike, wavelength: ArrayLike) -> FloatArray:
    """Return the equivalent two-way beam angle [sr] of a large uniform rectangle, 4/9 lambda^2 / A.

    area [m2], wavelength [m]. Valid for sides of several wavelengths: 0.5 % low at 4 x 4.
    Source: the integral of sinc^4 is 2/3, twice.
    """
    return floats(4.0 / 9.0 * floats(wavelength) ** 2 / floats(area))


def line_array_factor(angle: ArrayLike, count: int, spacing: ArrayLike, wavelength: ArrayLike) -> FloatArray:
    """Return the array factor of equal sources on a line, sin(N psi) / (N sin psi), psi = pi d sin(theta) / lambda [1].

    angle [deg, from the normal], count N, spacing d [m], wavelength [m]. Exact. Source: Urick 1983, section 3.4.
    """
    psi = np.pi * floats(spacing) * np.sin(np.radians(floats(angle))) / floats(wavelength)
    turns = np.rint(psi / np.pi)
    rest = psi - turns * np.pi
    flat = np.abs(rest) < 1e-9
    ratio = np.sin(count * rest) / (count * np.sin(np.where(flat, 1.0, rest)))
    sign = np.where((turns * (count - 1)) % 2 == 0, 1.0, -1.0)  # at grating lobes of even arrays the phase turns
    return floats(sign * np.where(flat, 1.0, ratio))


def array_factor(
    direction: ArrayLike, position: ArrayLike, wavenumber: ArrayLike, weight: ArrayLike, delay_path: ArrayLike = 0.0
) -> ComplexArray:
    """Return the array factor of sources anywhere, normalised by the sum of |weight| [1, complex], (m, k).

    direction (m, 3): unit vectors towards the field; position (n, 3) [m]; wavenumber (k) [rad/m]; weight (n) [1];
    delay_path (n): delay times sound speed [m]. Valid in the far field. Source: product theorem, Urick 1983, 3.4.
    """
    k, weights = np.atleast_1d(floats(wavenumber)), floats(weight)
    lead = floats(direction) @ floats(position).T - floats(delay_path)
    total = np.zeros((len(lead), len(k)), dtype=np.complex128)
    for path, one in zip(lead.T, weights, strict=True):
        total += one * np.exp(1j * np.multiply.outer(path, k))
    return np.asarray(total / np.sum(np.abs(weights)))


def cap_order(half_angle: float) -> float:
    """Return the lowest order nu with P_nu(cos(half_angle)) = 0 [1], the shading of a constant beamwidth cap.

    half_angle of the cap [deg], 5..120. A cap of radial velocity P_nu(cos theta) keeps about that pattern in the far
    field at all frequencies above a cutoff; nu ~ (4.81 / alpha - 1) / 2 within 1 % to 1 rad.
    Valid for rigid caps. Source: Rogers & Van Buren 1978, JASA 64, 38-43.
    """
    from scipy.optimize import brentq

    guess = 0.5 * (4.81 / math.radians(half_angle) - 1.0)
    return float(brentq(lambda order: float(legendre(half_angle, order)), 0.5 * guess, 1.5 * guess, xtol=1e-12))


def legendre(angle: ArrayLike, order: float) -> FloatArray:
    """Return P_order(cos(angle)) [1], the shading of `cap_order`, 1 on the axis.

    angle [deg, below 180], order [1, any real]. Valid for 0..170 deg. Source: Abramowitz & Stegun 8.1.2.
    """
    from scipy.special import hyp2f1

    return floats(hyp2f1(-order, order + 1.0, 1.0, np.sin(np.radians(floats(angle)) / 2.0) ** 2))
