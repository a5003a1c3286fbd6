"""Backscatter of a rough elastic seabed by the small-slope approximation, roughness alone (no volume).

Jackson 2000, APL-UW TM 2-00; Jackson & Richardson 2007, High-Frequency Seafloor Acoustics, chapter 13 (texts not seen;
formulas as restated in public code). It is one law from vertical to grazing, for ground with shear waves, such as rock;
when the shear speed tends to 0, it becomes the law of a fluid. Its authors state it to about 100 kHz, because the power
law of relief was measured for that. Above, relief shorter than one or two centimetres decides, and nobody has measured
it. There, over rock and gravel, this law gives an echo at vertical that is 10 to 15 dB weaker than that of the usual
law with its assumed floors.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from pingwright.acoustics.arrays import ComplexArray, FloatArray, floats
from pingwright.acoustics.roughness import stable, structure_constant

_LEAST = 1e-6  # square of the least horizontal change of the wavenumber over k: the law at vertical is read there
_GRAZING = 1e-4  # smallest cosine of incidence evaluated


@dataclass(frozen=True)
class ElasticGround:
    """Rough ground relative to the water above it.

    density_ratio r; speed_ratio nu_p, loss delta_p of compressional, shear_ratio nu_t, shear_loss delta_t of shear
    waves, complex speeds nu / (1 + i delta) [1]; relief of spectrum w2 K^-exponent with K in rad/m, w2 [m^(4 -
    exponent)].
    """

    density_ratio: float
    speed_ratio: float
    loss: float
    shear_ratio: float
    shear_loss: float
    exponent: float
    w2: float


#: Parameters of the law's authors' public examples, by this program's names of sediments.
GROUNDS: Mapping[str, ElasticGround] = MappingProxyType(
    {
        "rough rock": ElasticGround(2.5, 2.3, 0.00174, 1.3, 0.085, 2.75, 1.0e-4),
        "rock": ElasticGround(2.5, 2.3, 0.00174, 1.31, 0.085, 3.0, 2.5e-4),
        "cobble": ElasticGround(2.5, 1.8, 0.01374, 1.01, 0.1, 3.0, 2.5e-4),
        "gravel": ElasticGround(2.492, 1.337, 0.01705, 0.156, 0.2, 3.0, 1.8e-4),
        "coarse sand": ElasticGround(2.231, 1.2503, 0.01638, 0.134, 0.075, 3.25, 2.2e-4),
        "medium sand": ElasticGround(1.845, 1.1782, 0.01624, 0.002, 1.0, 3.25, 1.406e-4),
        "fine sand": ElasticGround(1.451, 1.1072, 0.01602, 0.002, 1.0, 3.25, 8.6e-5),
        "silt": ElasticGround(1.149, 0.9873, 0.00386, 0.002, 1.0, 3.25, 1.64e-5),
    }
)


def fluid_ground(density_ratio: float, speed_ratio: float, loss: float, exponent: float, w2: float) -> ElasticGround:
    """Return ground without shear [ratios: 1] of a relief w2 [cm4, K in rad/cm], as the handbook gives sediments.

    Valid as the limit of no shear. Source: conversion; shear speed ratio 0.002, loss 1, as the law's authors take it.
    """
    return ElasticGround(density_ratio, speed_ratio, loss, 0.002, 1.0, exponent, w2 * 100.0**exponent * 1e-8)


def small_slope(
    ground: ElasticGround, cosine: ArrayLike, frequency: ArrayLike, sound_speed: float = 1500.0
) -> FloatArray:
    """Return the backscattering coefficient of rough elastic ground [1], (n, m).

    cosine of incidence (n) [1], frequency (m) [Hz], sound_speed of the water above [m/s]. Valid to about 100 kHz, see
    the module; exponents 2.7 to 3.9. Against reference output of another code (20 and 300 kHz): 0.1 dB from 45 deg up.
    Source: the module's.
    """
    s = np.maximum(np.atleast_1d(floats(cosine)), _GRAZING)[:, None]
    k = 2.0 * np.pi * np.atleast_1d(floats(frequency)) / sound_speed
    c2 = 1.0 - s**2
    q, q3 = k * np.sqrt(4.0 * c2 + _LEAST), 2.0 * k * s
    power = ground.exponent - 2.0
    p = 0.5 * structure_constant(ground.w2, ground.exponent) * q3**2 * q**-power
    scale = p ** (-1.0 / power)
    integral = scale**2 * stable(scale, power)
    amplitude = 0.5 * k**2 * _factor(ground, s)
    return floats(np.abs(amplitude) ** 2 * integral / (2.0 * np.pi * q**2 * q3**2))


@dataclass(frozen=True)
class _Waves:
    """Complex speeds ap, at over the water's, vertical wavenumbers pp, pt over k, cosine m of twice the shear angle."""

    ap: complex
    at: complex
    pp: ComplexArray
    pt: ComplexArray
    m: ComplexArray
    reflected: ComplexArray


def _waves(ground: ElasticGround, s: FloatArray) -> _Waves:
    c2 = 1.0 - s**2
    ap = ground.speed_ratio / (1.0 + 1j * ground.loss)
    at = ground.shear_ratio / (1.0 + 1j * ground.shear_loss)
    pp, pt = np.sqrt(ap**-2 - c2), np.sqrt(at**-2 - c2)
    m = np.asarray(2.0 * at**2 * c2 - 1.0, dtype=np.complex128)
    z = ground.density_ratio * s * (m**2 / pp + (1.0 - m**2) / pt)
    return _Waves(ap, at, pp, pt, m, (z - 1.0) / (z + 1.0))


def _factor(ground: ElasticGround, s: FloatArray) -> ComplexArray:
    """Return 2 A / k^2 of the law [1], like s, the sine of the grazing angle."""
    w, r, c2 = _waves(ground, s), ground.density_ratio, 1.0 - s**2
    ap, at, t = w.ap, w.at, -c2
    d1 = -1.0 + t + 1.0 / (ap**2 * r * w.m**2)
    d1 = d1 - at**2 * ((at**-2 - 4.0 * c2 + 2.0 * t) * t + 2.0 * c2**2) / (r * w.m**2)
    d2 = -4.0 * at**4 * s * w.pt / w.m**2 * (w.pp**2 * c2 + (c2 - t) * t)
    inner = 2.0 * (at**-2 - 2.0 * t) * t - 4.0 * c2**2 * (1.0 - 2.0 * at**2 / ap**2)
    d4 = 2.0 * at**6 * r * s**2 * w.pt**2 / w.m**2 * inner - (r - 1.0) * s**2
    up, down = 1.0 + w.reflected, 1.0 - w.reflected
    return np.asarray(d1 * up**2 + 2.0 * d2 * down * up + d4 * down**2, dtype=np.complex128)


def reflection_elastic(ground: ElasticGround, cosine: ArrayLike) -> ComplexArray:
    """Return the reflection coefficient of smooth elastic ground [1, complex], like cosine.

    cosine of incidence [1]. Exact for plane waves at a smooth boundary. Source: the module's, z = r s (c2^2 / P_p +
    s2^2 / P_t), R = (z - 1) / (z + 1).
    """
    return _waves(ground, np.maximum(floats(cosine), _GRAZING)).reflected
