"""The receiver: noise at the input of the filter, saturation, word length.

Spectra are one-sided and referred to the pressure of a plane wave on the acoustic axis, so they compare with echoes.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.acoustics import noise
from pingwright.acoustics.arrays import FloatArray

NOTHING = -np.inf


def noise_density(
    frequency: FloatArray,
    directivity_factor: FloatArray,
    receive_efficiency: FloatArray | float,
    wind_speed: float,
    ambient: bool,
    own: float | None,
    noise_figure: float | None,
) -> FloatArray:
    """Return noise power per hertz [uPa2/Hz] at frequency [Hz], all arrays of one shape.

    Wind (Coates 1990), thermal agitation (Mellen 1952) and the boat's own noise come from all sides: divided by the
    directivity factor [1].
    Thermal noise of the lossy element itself makes the thermal part 1 / receive_efficiency [1] larger at the face;
    noise_figure [dB] of the receiver (None is a noiseless one) raises it further. ambient False leaves wind and
    thermal out. own: level around the hull [dB re 1 uPa2/Hz at 50 kHz], None for none. wind_speed [m/s].
    """
    total = np.zeros(np.shape(frequency))
    if ambient:
        wind = 10.0 ** (noise.wind_coates(frequency, wind_speed) / 10.0)
        heat = 10.0 ** ((noise.thermal(frequency) + (noise_figure or 0.0)) / 10.0) / receive_efficiency
        total = total + wind + heat
    if own is not None:
        total = total + 10.0 ** (noise.own(frequency, own) / 10.0)
    return np.asarray(total / directivity_factor)


def saturate(echo: NDArray[Any], saturation: float | None) -> NDArray[Any]:
    """Return complex echoes [uPa] (any shape), magnitudes limited to saturation [dB re 1 uPa], phases unchanged.

    None: no saturation. An approximation: a real receiver clips before its filter, which also spreads the pulse.
    """
    if saturation is None:
        return echo
    ceiling = 10.0 ** (saturation / 20.0)
    magnitude = np.abs(echo)
    return np.asarray(echo * (ceiling / np.maximum(magnitude, ceiling)), dtype=echo.dtype)


def quantise(echo: NDArray[Any], word_length: int | None, full_scale: float) -> NDArray[Any]:
    """Return complex echoes [uPa] (any shape) rounded to words of word_length bits.

    Real and imaginary part each take 2^word_length steps from -full_scale to +full_scale [dB re 1 uPa]. None: no
    rounding.
    """
    if word_length is None:
        return echo
    top = 10.0 ** (full_scale / 20.0)
    step = 2.0 * top / 2.0**word_length
    real = np.clip(np.round(echo.real / step) * step, -top, top - step)
    imag = np.clip(np.round(echo.imag / step) * step, -top, top - step)
    return np.asarray(real + 1j * imag, dtype=echo.dtype)
