"""The layer of bubbles that wind makes below the surface: its loss and its backscatter.

Stated for 10 to 100 kHz; above that the formulas are extrapolated. Others measured larger losses at lower winds under
echo sounders (Dalen & Lovik 1981, JASA 69, 1282-1288, abstract), so these losses are rather low. Source of all
formulas: APL-UW TR 9407 (1994), section II, as restated in the companion programs of an open textbook (the report
itself was not seen). It does not say how the number of bubbles decreases with depth: exponentially, over a metre, is
assumed.
"""

import numpy as np
from numpy.typing import ArrayLike

from pingwright.acoustics.arrays import FloatArray, floats, formula

#: Depth over which the density of bubbles falls to 1 / e [m]. Assumed (0.5 to 2 m is what is commonly measured).
THINNING = 1.0
_STRONG = 11.0  # m/s, above which bubbles grow as a power of wind
_RERADIATED = 0.0136  # damping of a bubble at resonance by reradiation
_DECIBELS = 20.0 * np.log10(np.e)  # of a neper of pressure


@formula(frequency=(10e3, 100e3), wind_speed=(0.0, 15.0))
def extinction(frequency: ArrayLike, wind_speed: ArrayLike) -> FloatArray:
    """Return the extinction by bubbles integrated over depth, one way, straight down [1, nepers of energy].

    frequency [Hz], wind_speed [m/s]. Valid 10 to 100 kHz, extrapolated above; to 15 m/s. Source: the module's:
    (f / 25 kHz)^0.85 10^(-5.2577 + 0.4701 U), from 11 m/s on its value there times (U / 11)^3.5.
    """
    f, wind = floats(frequency) / 25e3, floats(wind_speed)
    weak = 10.0 ** (-5.2577 + 0.4701 * np.minimum(wind, _STRONG))
    return floats(np.where(wind > 0.0, f**0.85 * weak * np.maximum(wind / _STRONG, 1.0) ** 3.5, 0.0))


@formula(frequency=(10e3, 100e3), wind_speed=(0.0, 15.0))
def two_way_loss(frequency: ArrayLike, wind_speed: ArrayLike, face_depth: ArrayLike = 0.0) -> FloatArray:
    """Return the two-way loss of what a face sends down through the bubbles below it [dB].

    frequency [Hz], wind_speed [m/s], face_depth [m]: share exp(-face_depth / 1 m) of the bubbles is below (assumed).
    Valid as `extinction`, for targets below the layer. Source: exp(-2 beta) in energy, see `extinction`.
    """
    return floats(_DECIBELS * extinction(frequency, wind_speed) * np.exp(-floats(face_depth) / THINNING))


@formula(frequency=(10e3, 100e3), wind_speed=(0.0, 15.0))
def volume_backscatter(frequency: ArrayLike, wind_speed: ArrayLike, depth: ArrayLike) -> FloatArray:
    """Return the volume backscattering coefficient of the bubbles at a depth [1/m].

    frequency [Hz], wind_speed [m/s], depth [m]: arrays that broadcast. Valid as `extinction`; integrated over depth it
    is beta delta_r / (4 pi delta), with delta_r = 0.0136 and delta = 0.0255 (f / kHz)^(1/3); that it falls
    exponentially over a metre is assumed. Source: the module's.
    """
    damping = 0.0255 * (floats(frequency) / 1e3) ** (1.0 / 3.0)
    whole = extinction(frequency, wind_speed) * _RERADIATED / (4.0 * np.pi * damping)
    return floats(whole * np.exp(-floats(depth) / THINNING) / THINNING)


@formula(frequency=(10e3, 100e3), wind_speed=(0.0, 15.0))
def layer_backscatter(frequency: ArrayLike, wind_speed: ArrayLike, grazing: ArrayLike = 90.0) -> FloatArray:
    """Return the backscattering coefficient of the whole layer and its mirror image, seen from below [1].

    frequency [Hz], wind_speed [m/s], grazing angle [deg]. Valid as `extinction`, for a sounder far below the layer.
    Source: the module's: beta delta_r / (4 pi delta) (1 + 8 b e^(-2b) - e^(-4b)) / (2b), b = beta / sin(grazing).
    """
    damping = 0.0255 * (floats(frequency) / 1e3) ** (1.0 / 3.0)
    beta = extinction(frequency, wind_speed)
    b = np.maximum(beta / np.sin(np.radians(floats(grazing))), 1e-12)
    paths = (8.0 * b * np.exp(-2.0 * b) - np.expm1(-4.0 * b)) / (2.0 * b)
    return floats(beta * _RERADIATED / (4.0 * np.pi * damping) * paths)
