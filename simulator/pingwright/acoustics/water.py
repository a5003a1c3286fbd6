"""Sound speed, pressure and density of sea, brackish and fresh water.

Temperatures in degC (ITS-90), depths in m below the surface, salinities on the practical scale. The scenario's g/kg is
taken as that number: absolute salinity is 0.5 % higher, which shifts sound speed by 0.2 m/s and density by 0.13 kg/m3
at 35. All functions broadcast their arguments.
"""

import numpy as np
from numpy.polynomial.polynomial import polyval, polyval2d
from numpy.typing import ArrayLike

from pingwright.acoustics.arrays import FloatArray, floats, formula

# Wong & Zhu 1995, row by power of pressure [bar], column by power of temperature.
_PURE = (
    (1402.388, 5.03830, -5.81090e-2, 3.3432e-4, -1.47797e-6, 3.1419e-9),
    (0.153563, 6.8999e-4, -8.1829e-6, 1.3632e-7, -6.1260e-10, 0.0),
    (3.1260e-5, -1.7111e-6, 2.5986e-8, -2.5353e-10, 1.0415e-12, 0.0),
    (-9.7729e-9, 3.8513e-10, -2.3654e-12, 0.0, 0.0, 0.0),
)
_LINEAR_IN_SALINITY = (
    (1.389, -1.262e-2, 7.166e-5, 2.008e-6, -3.21e-8),
    (9.4742e-5, -1.2583e-5, -6.4928e-8, 1.0515e-8, -2.0142e-10),
    (-3.9064e-7, 9.1061e-9, -1.6009e-10, 7.994e-12, 0.0),
    (1.100e-10, 6.651e-12, -3.391e-13, 0.0, 0.0),
)
_THREE_HALVES = ((-1.922e-2, -4.42e-5), (7.3637e-5, 1.7950e-7))
_SQUARE = (1.727e-3, -7.9836e-6)

_BILANIUK_WONG = (1402.38744, 5.03836171, -5.81172916e-2, 3.34638117e-4, -1.48259672e-6, 3.16585020e-9)
_MARCZAK = (1402.385, 5.038813, -5.799136e-2, 3.287156e-4, -1.398845e-6, 2.787860e-9)

# EOS-80, Fofonoff & Millard 1983, temperature on IPTS-68, columns by power of temperature.
_RHO_PURE = (999.842594, 6.793952e-2, -9.095290e-3, 1.001685e-4, -1.120083e-6, 6.536332e-9)
_RHO_SALT = (0.824493, -4.0899e-3, 7.6438e-5, -8.2467e-7, 5.3875e-9)
_RHO_THREE_HALVES = (-5.72466e-3, 1.0227e-4, -1.6546e-6)
_RHO_SQUARE = 4.8314e-4
_BULK = (19652.21, 148.4206, -2.327105, 1.360477e-2, -5.155288e-5)
_BULK_SALT = (54.6746, -0.603459, 1.09987e-2, -6.1670e-5)
_BULK_THREE_HALVES = (7.944e-2, 1.6483e-2, -5.3009e-4)
_BULK_P = (3.239908, 1.43713e-3, 1.16092e-4, -5.77905e-7)
_BULK_P_SALT = (2.2838e-3, -1.0981e-5, -1.6078e-6)
_BULK_P_THREE_HALVES = 1.91075e-4
_BULK_PP = (8.50935e-5, -6.12293e-6, 5.2787e-8)
_BULK_PP_SALT = (-9.9348e-7, 2.0816e-8, 9.1697e-10)


@formula(temperature=(-2.0, 40.0), salinity=(0.0, 45.0), depth=(0.0, 1000.0))
def sound_speed(temperature: ArrayLike, salinity: ArrayLike, depth: ArrayLike) -> FloatArray:
    """Return the sound speed [m/s] that the simulator uses, for any water from fresh to salinity 45.

    temperature [degC], salinity [1, practical], depth [m]: arrays that broadcast. Valid -2..40 degC, 0..45, to 1000 m
    (published for 0..40 degC and 0..40; the rest is the same polynomial run on). Measured for 0..30 degC, 0..40:
    within 0.15 m/s of TEOS-10 at the surface, 0.24 m/s to 200 m, 0.57 m/s to 1000 m; at salinity 0 within 0.001 m/s of
    Bilaniuk & Wong and 0.024 m/s of Marczak to 40 degC.
    Source: `sound_speed_chen_millero` at the pressure of `pressure_leroy_parthiot`, latitude 45.
    """
    return sound_speed_chen_millero(temperature, salinity, pressure_leroy_parthiot(depth))


@formula(temperature=(0.0, 40.0), salinity=(0.0, 40.0), pressure=(0.0, 1e8))
def sound_speed_chen_millero(temperature: ArrayLike, salinity: ArrayLike, pressure: ArrayLike) -> FloatArray:
    """Return the sound speed [m/s] by the UNESCO equation with the coefficients for ITS-90.

    temperature [degC], salinity [1, practical], pressure above atmospheric [Pa]. Valid 0..40 degC, 0..40, to 1e8 Pa.
    Source: Chen & Millero 1977, JASA 62, 1129-1135; coefficients Wong & Zhu 1995, JASA 97, 1732-1736.
    """
    t, s, p = np.broadcast_arrays(floats(temperature), floats(salinity), floats(pressure) / 1e5)
    pure = polyval2d(p, t, np.array(_PURE))
    linear = polyval2d(p, t, np.array(_LINEAR_IN_SALINITY))
    three_halves = polyval2d(p, t, np.array(_THREE_HALVES))
    return floats(pure + linear * s + three_halves * s**1.5 + polyval(p, _SQUARE) * s**2)


@formula(temperature=(2.0, 30.0), salinity=(25.0, 40.0), depth=(0.0, 8000.0))
def sound_speed_mackenzie(temperature: ArrayLike, salinity: ArrayLike, depth: ArrayLike) -> FloatArray:
    """Return the sound speed in sea water [m/s].

    temperature [degC], salinity [1, practical], depth [m]. Valid 2..30 degC, 25..40, to 8000 m; 0.6 to 0.8 m/s low in
    brackish and fresh water. Source: Mackenzie 1981, JASA 70(3), 807-812.
    """
    t, s, d = floats(temperature), floats(salinity) - 35.0, floats(depth)
    warm = 1448.96 + 4.591 * t - 5.304e-2 * t**2 + 2.374e-4 * t**3
    deep = 1.630e-2 * d + 1.675e-7 * d**2 - 7.139e-13 * t * d**3
    return floats(warm + 1.340 * s - 1.025e-2 * t * s + deep)


@formula(temperature=(-1.0, 30.0), salinity=(0.0, 42.0), depth=(0.0, 12e3))
def sound_speed_leroy(
    temperature: ArrayLike, salinity: ArrayLike, depth: ArrayLike, latitude: ArrayLike = 45.0
) -> FloatArray:
    """Return the sound speed in sea water [m/s].

    temperature [degC], salinity [1, practical], depth [m], latitude [deg]. Valid -1..30 degC, 0..42, to 12000 m, stated
    accuracy 0.2 m/s. Source: Leroy, Robinson & Goldsmith 2008, JASA 124(5), 2774-2782.
    """
    t, s, z, latitude = floats(temperature), floats(salinity), floats(depth), floats(latitude)
    warm = 1402.5 + 5.0 * t - 5.44e-2 * t**2 + 2.1e-4 * t**3
    salt = 1.33 * s - 1.23e-2 * s * t + 8.7e-5 * s * t**2
    deep = 1.56e-2 * z + 2.55e-7 * z**2 - 7.3e-12 * z**3 + 1.2e-6 * z * (latitude - 45.0)
    return floats(warm + salt + deep - 9.5e-13 * t * z**3 + 3e-7 * t**2 * z + 1.43e-5 * s * z)


@formula(temperature=(0.0, 100.0))
def sound_speed_fresh_bilaniuk_wong(temperature: ArrayLike) -> FloatArray:
    """Return the sound speed in pure water at the surface [m/s].

    temperature [degC]. Valid 0..100 degC (148 point fit). Source: Bilaniuk & Wong 1993, JASA 93, 1609-1612 and their
    erratum of 1996.
    """
    return floats(polyval(floats(temperature), _BILANIUK_WONG))


@formula(temperature=(0.0, 95.0))
def sound_speed_fresh_marczak(temperature: ArrayLike) -> FloatArray:
    """Return the sound speed in pure water at the surface [m/s].

    temperature [degC]. Valid 0..95 degC. Source: Marczak 1997, JASA 102, 2776-2779.
    """
    return floats(polyval(floats(temperature), _MARCZAK))


@formula(depth=(0.0, 12e3))
def pressure_leroy_parthiot(depth: ArrayLike, latitude: ArrayLike = 45.0) -> FloatArray:
    """Return the pressure above atmospheric [Pa] of sea water of the standard ocean (0 degC, 35).

    depth [m], latitude [deg]. Valid to 12000 m, within 0.004 dbar of TEOS-10 to 1000 m; fresh water of that depth
    presses 2.7 % less, which moves sound speed by 0.005 m/s at 10 m. No correction for a particular ocean: theirs for
    the common ones (1.0e-2 z/(z + 100) + 6.2e-6 z MPa) would shift sound speed by 0.02 m/s at most.
    Source: Leroy & Parthiot 1998, JASA 103, 1346-1352 (coefficients from memory, checked against TEOS-10).
    Some prints give the last term of gravity a minus: expanding the international formula of 1967 gives plus, and the
    error against TEOS-10 at the poles falls from 0.046 to 0.002 dbar at 1000 m.
    """
    z, sine_square = floats(depth), np.sin(np.radians(floats(latitude))) ** 2
    standard = 1.00818e-2 * z + 2.465e-8 * z**2 - 1.25e-13 * z**3 + 2.8e-19 * z**4
    gravity = 9.780318 * (1.0 + 5.2788e-3 * sine_square + 2.36e-5 * sine_square**2)
    return floats(1e6 * standard * (gravity - 2e-5 * z) / (9.80612 - 2e-5 * z))


@formula(temperature=(-2.0, 40.0), salinity=(0.0, 42.0), depth=(0.0, 10e3))
def density(temperature: ArrayLike, salinity: ArrayLike, depth: ArrayLike = 0.0) -> FloatArray:
    """Return the density of water [kg/m3] that the simulator uses.

    temperature [degC], salinity [1, practical], depth [m]. Valid -2..40 degC, 0..42, to 10000 m. Measured for 0..30
    degC, 0..40 and to 1000 m: within 0.008 kg/m3 of TEOS-10.
    Source: `density_millero_poisson` at the pressure of `pressure_leroy_parthiot`, latitude 45.
    """
    return density_millero_poisson(temperature, salinity, pressure_leroy_parthiot(depth))


@formula(temperature=(-2.0, 40.0), salinity=(0.0, 42.0), pressure=(0.0, 1e8))
def density_millero_poisson(temperature: ArrayLike, salinity: ArrayLike, pressure: ArrayLike = 0.0) -> FloatArray:
    """Return the density of water [kg/m3] by the international equation of state of 1980.

    temperature [degC], salinity [1, practical], pressure above atmospheric [Pa]. Valid -2..40 degC, 0..42, to 1e8 Pa.
    Source: Millero & Poisson 1981, Deep-Sea Res. 28A, 625-629; Fofonoff & Millard 1983, UNESCO technical paper 44
    (coefficients from memory, checked against that paper's check values).
    """
    t = floats(temperature) * 1.00024  # the equation takes IPTS-68
    s, p = floats(salinity), floats(pressure) / 1e5
    surface = polyval(t, _RHO_PURE) + polyval(t, _RHO_SALT) * s
    surface = surface + polyval(t, _RHO_THREE_HALVES) * s**1.5 + _RHO_SQUARE * s**2
    return floats(surface / (1.0 - p / _bulk_modulus(t, s, p)))


def _bulk_modulus(t: FloatArray, s: FloatArray, p: FloatArray) -> FloatArray:
    """Return the secant bulk modulus [bar] of EOS-80; t [degC, IPTS-68], s [1], p [bar]."""
    surface = polyval(t, _BULK) + polyval(t, _BULK_SALT) * s + polyval(t, _BULK_THREE_HALVES) * s**1.5
    first = polyval(t, _BULK_P) + polyval(t, _BULK_P_SALT) * s + _BULK_P_THREE_HALVES * s**1.5
    return floats(surface + first * p + (polyval(t, _BULK_PP) + polyval(t, _BULK_PP_SALT) * s) * p**2)
