"""Packs levels to the stored 16-bit integers and back: the reference version of the engine's compiled kernel."""

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ADD_OFFSET, FILL_VALUE, LIMIT, SCALE_FACTOR, ElementRecord


def pack(echo: NDArray[np.complex64]) -> NDArray[np.int16]:
    """Return the stored level of a complex echo [uPa], any shape: (20 log10 |echo| - offset) / scale, whole steps.

    Levels outside -227.66 to 427.66 dB re 1 uPa are clipped, silence is stored as the lowest. The step is 0.01 dB, the
    error of single precision 2e-5 dB more. Raises ValueError on values that are not numbers.
    """
    power = np.square(echo.real, dtype=np.float32)
    power += np.square(echo.imag, dtype=np.float32)
    if np.isnan(power.sum(dtype=np.float64)):
        msg = "an echo is not a number"
        raise ValueError(msg)
    with np.errstate(divide="ignore"):
        level = np.log10(power, out=power)
    level *= np.float32(10 / SCALE_FACTOR)
    level -= np.float32(ADD_OFFSET / SCALE_FACTOR)
    np.clip(level, -LIMIT, LIMIT, out=level)
    return np.rint(level, out=level).astype(np.int16)


def blind_samples(element: ElementRecord) -> int:
    """Return the number of samples of a ping within the blanking range: they hold FILL_VALUE, their phase is nan."""
    return int(np.searchsorted(element.range, element.info.blank_range, side="right"))


def blanked(
    samples: int, level: NDArray[np.int16], echo: NDArray[np.complex64] | None
) -> tuple[NDArray[np.int16], NDArray[np.complex64] | None]:
    """Return stored levels and complex echo [uPa] (ping, sample), the first samples of each ping marked as blind."""
    if not samples:
        return level, echo
    level = np.array(level)
    level[:, :samples] = FILL_VALUE
    if echo is not None:
        echo = np.array(echo)
        echo[:, :samples] = complex(np.nan, np.nan)
    return level, echo


def unpack(stored: NDArray[np.int16]) -> NDArray[np.float32]:
    """Return levels [dB re 1 uPa] from stored integers, any shape."""
    return stored.astype(np.float32) * np.float32(SCALE_FACTOR) + np.float32(ADD_OFFSET)
