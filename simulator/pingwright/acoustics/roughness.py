"""Backscatter of a rough surface whose relief has a power law spectrum, for a reflection coefficient of 1.

Kirchhoff's integral near vertical, small roughness perturbation at low grazing angles, and Gaussian slopes for hulls.
Incidence enters by its cosine (1 at vertical), the relief by w2 [cm4] and the exponent gamma2 of its spectrum
W(K) = w2 K^-gamma2 with K in rad/cm. Multiply by |R|^2.
"""

import math
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from pingwright.acoustics.arrays import FloatArray, floats

_FAR = 20.0  # argument beyond which the asymptotic series holds to 1e-6
_TERMS = 80  # of the table
_GRAZING = 1e-4  # smallest cosine evaluated; the law is flat there


def spectrum(wavenumber: ArrayLike, w2: ArrayLike, exponent: float = 3.25) -> FloatArray:
    """Return the relief spectrum [cm4], w2 K^-exponent with K in rad/cm.

    wavenumber [rad/m], w2 [cm4], exponent gamma2 [1]. Valid 2.4..3.9. Source: APL-UW TR 9407 (1994), section IV.
    """
    return floats(floats(w2) * (floats(wavenumber) / 100.0) ** -exponent)


def relief_variance(shortest: ArrayLike, longest: ArrayLike, w2: ArrayLike, exponent: float = 3.25) -> FloatArray:
    """Return the variance [m2] of the relief's waves between two wavelengths [m]: the spectrum over the plane.

    w2 [cm4], exponent gamma2 [1]: 2 pi w2 (K1^(2 - gamma2) - K2^(2 - gamma2)) / (gamma2 - 2), K1 of the longest wave.
    Valid as `spectrum`. Source: definition of the spectrum, APL-UW TR 9407 (1994), section IV.
    """
    far, near = (2.0 * math.pi / (100.0 * floats(wave)) for wave in (longest, shortest))
    total = far ** (2.0 - exponent) - near ** (2.0 - exponent)
    return floats(1e-4 * 2.0 * math.pi * floats(w2) * total / (exponent - 2.0))


def structure_constant(w2: ArrayLike, exponent: float = 3.25) -> FloatArray:
    """Return C_h^2 of the relief's structure function C_h^2 r^(2 alpha) [cm^(2 - 2 alpha)], alpha = exponent / 2 - 1.

    w2 [cm4], exponent gamma2 [1]. Valid for exponents above 2 and below 4.
    Source: Jackson, Winebrenner & Ishimaru 1986, JASA 79, 1410-1422.
    """
    a = exponent / 2.0 - 1.0
    gammas = math.gamma(2.0 - a) / (a * (1.0 - a) * math.gamma(1.0 + a))
    return floats(2.0 * math.pi * floats(w2) * 2.0 ** (-2.0 * a) * gammas)


def kirchhoff(cosine: ArrayLike, wavenumber: ArrayLike, w2: float, exponent: float = 3.25) -> FloatArray:
    """Return the Kirchhoff backscattering coefficient for |R| = 1 [1].

    cosine of incidence [1], wavenumber in water [rad/m]: arrays that broadcast; w2 [cm4], exponent gamma2 [1].
    Valid near vertical, exponents 2.7..3.9, else ValueError. The integral is tabulated over its one argument: relative
    error below 1e-5 against adaptive quadrature (0.00004 dB).
    Source: Jackson, Winebrenner & Ishimaru 1986, JASA 79, 1410-1422, eq. 9.
    """
    a, mu = exponent / 2.0 - 1.0, np.maximum(floats(cosine), _GRAZING)
    scale = (mu**2 * _roughness_parameter(wavenumber, w2, exponent)) ** (-1.0 / a)
    argument = np.sqrt(np.maximum(1.0 - mu**2, 0.0) * scale)
    return floats(scale * stable(argument, 2.0 * a) / (8.0 * np.pi * mu**2))


def kirchhoff_vertical(wavenumber: ArrayLike, w2: float, exponent: float = 3.25) -> FloatArray:
    """Return the Kirchhoff backscattering coefficient at vertical for |R| = 1 [1].

    wavenumber in water [rad/m], w2 [cm4], exponent gamma2 [1]. Exact limit, exponents above 2 and below 4.
    Source: Gamma(1/alpha) q^(-1/alpha) / (16 pi alpha), from eq. 9 of Jackson, Winebrenner & Ishimaru 1986.
    """
    a = exponent / 2.0 - 1.0
    scale = _roughness_parameter(wavenumber, w2, exponent) ** (-1.0 / a)
    return floats(math.gamma(1.0 / a) * scale / (16.0 * np.pi * a))


def kirchhoff_handbook(cosine: ArrayLike, wavenumber: ArrayLike, w2: float, exponent: float = 3.25) -> FloatArray:
    """Return the handbook's closed form near Kirchhoff's integral for |R| = 1 [1].

    cosine of incidence [1], wavenumber in water [rad/m], w2 [cm4], exponent gamma2 [1]. Valid within 1.1 dB of
    `kirchhoff` for grazing angles of 45..90 deg and 50..200 kHz, equal at vertical.
    Source: APL-UW TR 9407 (1994), section IV (a, b as in a textbook's companion code).
    """
    a, mu = exponent / 2.0 - 1.0, floats(cosine)
    q = _roughness_parameter(wavenumber, w2, exponent)
    upper = 8.0 * a**2 * math.gamma(0.5 + 0.5 / a)
    shape = (upper / (math.gamma(0.5) * math.gamma(1.0 / a) * math.gamma(0.5 / a))) ** (2.0 * a)
    power = (1.0 + a) / (2.0 * a)
    front = shape**power * math.gamma(1.0 / a) / (2.0 * a)
    sine = np.sqrt(np.maximum(1.0 - mu**2, 0.0))
    return floats(front * q / (8.0 * np.pi * (sine ** (4.0 * a) + shape * q**2 * mu**4) ** power))


def perturbation(cosine: ArrayLike, wavenumber: ArrayLike, w2: float, exponent: float = 3.25) -> FloatArray:
    """Return the small roughness backscattering coefficient for |Y| = 1 [1], 4 k^4 cos^4 W(2 k sin).

    cosine of incidence [1], wavenumber in water [rad/m], w2 [cm4], exponent gamma2 [1]. Valid for relief smaller than
    the wavelength and from 15 deg off vertical: it diverges at vertical (infinite there).
    Source: Jackson, Winebrenner & Ishimaru 1986, JASA 79, 1410-1422.
    """
    mu, k = floats(cosine), floats(wavenumber)
    with np.errstate(divide="ignore"):
        relief = spectrum(2.0 * k * np.sqrt(np.maximum(1.0 - mu**2, 0.0)), w2, exponent)
    return floats(4.0 * (k / 100.0) ** 4 * mu**4 * relief)


def gaussian_slopes(cosine: ArrayLike, slope_rms: float) -> FloatArray:
    """Return the backscattering coefficient of Gaussian slopes for |R| = 1 [1].

    cosine of incidence [1], slope_rms [deg]: s = tan(slope_rms), exp(-tan^2 / 2 s^2) / (8 pi s^2 cos^4). Valid for
    surfaces rough and smooth-cornered at the scale of the wavelength, no shadowing; 0 at grazing.
    Source: high frequency limit of Kirchhoff's integral, Brekhovskikh & Lysanov 2003, chapter 9.
    """
    mu, variance = np.maximum(floats(cosine), _GRAZING), math.tan(math.radians(slope_rms)) ** 2
    tangent_square = (1.0 - mu**2) / mu**2
    return floats(np.exp(-0.5 * tangent_square / variance) / (8.0 * np.pi * variance * mu**4))


def _roughness_parameter(wavenumber: ArrayLike, w2: float, exponent: float) -> FloatArray:
    """Return q_c = C_h^2 2^(1 - 2 alpha) k^(2 - 2 alpha) [1], k in rad/cm."""
    a = exponent / 2.0 - 1.0
    k = floats(wavenumber) / 100.0
    return floats(structure_constant(w2, exponent) * 2.0 ** (1.0 - 2.0 * a) * k ** (2.0 - 2.0 * a))


def stable(argument: ArrayLike, power: float) -> FloatArray:
    """Return the integral over v of exp(-v^power) J0(argument v) v [1]: a planar stable density, from its table.

    argument [1], 0 or more; power [1]. Valid 0.7..1.9, else ValueError; relative error below 1e-5.
    Source: definition, by quadrature and an asymptotic series.
    """
    argument = floats(argument)
    if not 0.7 <= power <= 1.9:
        message = f"roughness exponent {power + 2.0} is outside 2.7..3.9"
        raise ValueError(message)
    near = np.exp(_table(power)(np.arcsinh(np.minimum(argument, _FAR))))
    return floats(np.where(argument > _FAR, _stable_far(np.maximum(argument, _FAR), power), near))


def _stable_far(argument: FloatArray, power: float) -> FloatArray:
    """Return the asymptotic series of `stable` for large arguments [1]."""
    total = np.zeros_like(argument)
    for n in range(1, 6):
        s = n * power
        # 1 / Gamma(-s/2) by reflection, so that it is 0 where s/2 is whole
        inverse = -math.sin(math.pi * s / 2.0) * math.gamma(1.0 + s / 2.0) / math.pi
        front = (-1.0) ** n / math.factorial(n) * 2.0 ** (s + 1.0) * math.gamma(1.0 + s / 2.0) * inverse
        total += front * argument ** (-s - 2.0)
    return total


@lru_cache(maxsize=32)
def _table(power: float) -> np.polynomial.Chebyshev:
    """Return log `stable` over arcsinh(argument) as a series (error below 1e-7), from Gauss-Legendre panels."""
    from scipy.special import j0

    node, weight = np.polynomial.legendre.leggauss(48)
    node, weight = 0.5 * (node + 1.0), 0.5 * weight
    edge = np.linspace(0.0, 37.0 ** (1.0 / power), 41)
    edge = np.insert(edge, 1, edge[1] / 16.0)
    v = edge[1:-1, None] + np.diff(edge)[1:, None] * node
    dv = np.diff(edge)[1:, None] * weight
    # v^power is not smooth at 0: the first panel runs in the fourth root of v, and is short, as J0 swings faster there.
    v = np.concatenate([edge[1] * node**4, v.ravel()])
    dv = np.concatenate([4.0 * edge[1] * node**3 * weight, dv.ravel()])
    mass = np.exp(-(v**power)) * v * dv

    def logarithm(x: FloatArray) -> FloatArray:
        return floats(np.log(j0(np.sinh(x)[:, None] * v) @ mass))

    return np.polynomial.Chebyshev.interpolate(logarithm, _TERMS, (0.0, float(np.arcsinh(_FAR))))
