"""The effect of natural small slopes on backscatter: a law of incidence is averaged over the slopes."""

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from pingwright.acoustics.arrays import FloatArray

Coefficient = Callable[[FloatArray, FloatArray], FloatArray]

_ANGLES = 2001  # of the law's own table, 0.045 deg apart
_KNOTS = 385  # of the averaged law, closest together near vertical
_RINGS, _SPOKES = 48, 24  # slopes tried at each knot


def averaged(coefficient: Coefficient, slope_rms: float) -> Coefficient:
    """Return a backscattering coefficient averaged over Gaussian slopes of some total rms [deg], isotropic.

    coefficient(cosine of incidence (n), frequency [Hz] (m)) -> (n, m) [1]; the result is such a function, too. The
    error of quadrature and interpolation is below 0.05 dB for the sediments of the catalogue (tested). Valid for slopes
    to some 15 deg: shadowing is left out. Source: the mean over facets of a surface smooth between them (two-scale
    model), Brekhovskikh & Lysanov 2003, ch. 9.
    """
    if slope_rms <= 0.0:
        return coefficient
    tangent = np.tan(np.radians(slope_rms))

    def mean(cosine: FloatArray, frequency: FloatArray) -> FloatArray:
        angle = np.linspace(0.0, np.pi / 2, _ANGLES)
        own = np.asarray(coefficient(np.maximum(np.cos(angle), 1e-6), frequency))
        knots, weights = _weights(float(tangent))
        at_knots = weights @ own
        incidence = np.arccos(np.clip(cosine, 0.0, 1.0))
        return np.stack([np.interp(incidence, knots, column) for column in at_knots.T], axis=1)

    return mean


@lru_cache(maxsize=4)
def _weights(tangent: float) -> tuple[FloatArray, FloatArray]:
    """Return the incidences [rad] of the averaged law and each table row's weight in them; tangent: rms slope [1]."""
    knots = np.pi / 2 * np.linspace(0.0, 1.0, _KNOTS) ** 1.5
    return knots, _mean_of_table(_local_angles(knots, tangent))


def _local_angles(incidence: FloatArray, tangent: float) -> FloatArray:
    """Return the incidence [rad] on sloped facets (incidence, facet); tangent: the slopes' total rms [1]."""
    # The square of a two-dimensional Gaussian slope is exponential: rings of equal probability.
    ring = tangent * np.sqrt(-np.log1p(-(np.arange(_RINGS) + 0.5) / _RINGS))
    spoke = (np.arange(_SPOKES) + 0.5) * 2 * np.pi / _SPOKES
    towards, size = np.multiply.outer(ring, np.cos(spoke)).ravel(), np.repeat(ring, _SPOKES)
    upright = np.cos(incidence)[:, None] - np.sin(incidence)[:, None] * towards[None, :]
    return np.asarray(np.arccos(np.clip(upright / np.sqrt(1.0 + size**2), 0.0, 1.0)))


def _mean_of_table(local: FloatArray) -> FloatArray:
    """Return the weights (incidence, table angle) of a table's rows in its mean over local (incidence, facet) [rad]."""
    place = local * ((_ANGLES - 1) / (np.pi / 2))
    low = np.minimum(place.astype(int), _ANGLES - 2)
    first = low + _ANGLES * np.arange(len(local))[:, None]
    size = len(local) * _ANGLES
    weight = np.bincount(first.ravel(), (1.0 - (place - low)).ravel(), size)
    weight += np.bincount(first.ravel() + 1, (place - low).ravel(), size)
    return np.asarray(weight.reshape(len(local), _ANGLES) / local.shape[1])
