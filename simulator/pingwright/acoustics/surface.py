"""The sea surface under wind, seen from below: the loss of a reflection, and the backscatter of its facets."""

import numpy as np
from numpy.typing import ArrayLike

from pingwright.acoustics.arrays import FloatArray, floats, formula

_ROUGH = 6.0  # m/s, above which the loss is a power of wind


@formula(frequency=(10e3, 100e3), wind_speed=(0.0, 15.0))
def reflection_loss(frequency: ArrayLike, wind_speed: ArrayLike, grazing: ArrayLike = 90.0) -> FloatArray:
    """Return the loss at a reflection from the surface, by the bubbles below it [dB], 0 or more.

    frequency [Hz], wind_speed [m/s], grazing angle [deg]. Valid 10 to 100 kHz, extrapolated above; to 15 m/s.
    Source: APL-UW TR 9407 (1994), section II, as restated elsewhere: 1.26e-3 / sin(grazing) U^1.57 (f / kHz)^0.85 from
    6 m/s on; below, its value at 6 m/s times exp(1.2 (U - 6)) (one restatement has exp(U - 6)).
    """
    wind = floats(wind_speed)
    growth = np.maximum(wind, _ROUGH) ** 1.57 * np.exp(1.2 * np.minimum(wind - _ROUGH, 0.0))
    slant = np.sin(np.radians(floats(grazing)))
    return floats(np.where(wind > 0.0, 1.26e-3 / slant * growth * (floats(frequency) / 1e3) ** 0.85, 0.0))


@formula(wind_speed=(0.0, 15.0))
def slope_variance(wind_speed: ArrayLike) -> FloatArray:
    """Return the mean square slope of the sea surface [1], 4.6e-3 ln(2.1 U^2).

    wind_speed [m/s]. Valid 1 to 15 m/s; below 1 m/s 0.0034 (from memory). Source: APL-UW TR 9407 (1994), section II, as
    restated elsewhere.
    """
    wind = floats(wind_speed)
    return floats(np.where(wind >= 1.0, 4.6e-3 * np.log(2.1 * np.maximum(wind, 1.0) ** 2), 0.0034))


@formula(wind_speed=(0.0, 15.0))
def facet_backscatter(angle: ArrayLike, wind_speed: ArrayLike) -> FloatArray:
    """Return the backscattering coefficient of the surface's facets [1], sec^4(g) / (4 pi s^2) exp(-tan^2(g) / s^2).

    angle g from the vertical [deg], below 90; wind_speed [m/s]. Valid near vertical, 10 to 100 kHz; it has no frequency
    in it. Source: APL-UW TR 9407 (1994), section II, as restated elsewhere; s^2 by `slope_variance`.
    """
    variance = slope_variance(wind_speed)
    tangent = np.tan(np.radians(floats(angle)))
    return floats((1.0 + tangent**2) ** 2 / (4.0 * np.pi * variance) * np.exp(-(tangent**2) / variance))
