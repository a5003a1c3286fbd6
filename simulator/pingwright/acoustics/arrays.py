"""Array types of the room, and the decibel."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


def floats(value: ArrayLike) -> FloatArray:
    """Return the value as a float64 array of the same shape [unit of the value]. Source: none, a conversion."""
    return np.asarray(value, dtype=np.float64)


def decibels(power_ratio: ArrayLike) -> FloatArray:
    """Return 10 log10 of a power ratio [dB]; minus infinity for zero, without a warning. Source: ISO 18405 (2017)."""
    with np.errstate(divide="ignore"):
        return floats(10.0 * np.log10(floats(power_ratio)))


def power_ratio(level: ArrayLike) -> FloatArray:
    """Return the power ratio [1] of a level [dB]. Source: ISO 18405 (2017), inverse of `decibels`."""
    return floats(10.0 ** (floats(level) / 10.0))
