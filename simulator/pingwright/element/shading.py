"""Velocity shadings of curved faces: the amplitude of the face's motion by angle from its middle."""

from collections.abc import Callable

import numpy as np

from pingwright.acoustics import beam
from pingwright.acoustics.arrays import FloatArray


def _cosine(power: int) -> Callable[[FloatArray, float], FloatArray]:
    return lambda angle, half: np.asarray(np.cos(np.pi / 2.0 * angle / half) ** power)


def _legendre(angle: FloatArray, half: float) -> FloatArray:
    return beam.legendre(np.rad2deg(angle), beam.cap_order(float(np.rad2deg(half))))


#: Shading [1] at an angle [rad] from the middle of a face of some half opening [rad], 1 in the middle.
SHADINGS: dict[str, Callable[[FloatArray, float], FloatArray]] = {
    "none": lambda angle, half: np.ones_like(angle),
    "cos": _cosine(1),
    "cos2": _cosine(2),
    "legendre": _legendre,
}


def shade(name: str, angle: FloatArray, half: float) -> FloatArray:
    """Return the shading [1] at angle [rad] of a face of half opening half [rad]; ValueError for an unknown name.

    cos and cos2 fall to zero at the edge; legendre is P_nu(cos angle) with its first zero there (Rogers & Van Buren
    1978, JASA 64, 38-43), which keeps its beam over frequency on a cap.
    """
    if name not in SHADINGS:
        message = f"shading {name!r} is not one of {', '.join(SHADINGS)}"
        raise ValueError(message)
    return SHADINGS[name](np.abs(angle), half)
