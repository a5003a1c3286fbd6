"""The texture of a scattering layer: patches, uneven edges, beds that end, and beds on the bottom.

Strengths vary from place to place by a lognormal field, and edges move up and down; both are fixed to the water or
ground for the run. Along a run the mean over all pings is the stated strength at every depth within the layer. All
lengths and sizes are assumed.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pingwright.world.scatterers import Track

FloatArray = NDArray[np.float64]

PATCHINESS = 3.0  # dB, standard deviation of the strength from patch to patch
PATCH = 15.0  # m, correlation length of patches, along and across
PATCHES_HIGH = 5.0  # patches in a layer's thickness
RAGGED, RAGGED_BED = 0.08, 0.2  # rms of an edge's wandering, of the thickness: in the water; the top of a bed of weed
MOST_RAGGED = 1.0  # m
EDGE = 8.0  # m, correlation length of an edge, along and across
REACHES = 2.5  # of the rms: how far beyond the stated depths an edge may come
_WAVES, _DEPTHS, _PLACES = 32, 33, 256


@dataclass(frozen=True)
class Field:
    """A smooth random field of mean 0 and variance 1: wave numbers (3, wave) [rad/m] and phases (wave) [rad]."""

    number: FloatArray
    phase: FloatArray

    def at(self, x: FloatArray, y: FloatArray, depth: FloatArray) -> FloatArray:
        """Return the field at places (n) [m], dimensionless."""
        turns = np.outer(x, self.number[0]) + np.outer(y, self.number[1]) + np.outer(depth, self.number[2])
        return np.asarray(np.cos(turns + self.phase).sum(axis=1) * np.sqrt(2.0 / len(self.phase)))


def field(rng: np.random.Generator, level: float, upright: float) -> Field:
    """Return a field with correlation lengths `level` [m] along and across and `upright` [m] in depth."""
    number = rng.standard_normal((3, _WAVES)) / np.array([[level], [level], [upright]])
    return Field(number, rng.uniform(0.0, 2.0 * np.pi, _WAVES))


@dataclass(frozen=True)
class Texture:
    """The strength of a layer at a place over its mean.

    span: stated depths [m]; patches, top, bottom: fields; ragged: rms of the up and down of top and bottom [m]; x, y:
    from, to [m], where the boat must be to receive it; level (depth) [1]: mean of the patches along the run at
    `depths`.
    """

    span: tuple[float, float]
    patches: Field
    top: Field
    bottom: Field
    ragged: tuple[float, float]
    x: tuple[float, float]
    y: tuple[float, float]
    depths: FloatArray
    level: FloatArray

    def __call__(self, x: float, y: float, depth: FloatArray) -> FloatArray:
        """Return the factor of the volume backscattering coefficient [1] at depths (n) [m] under a boat at x, y [m]."""
        if not (self.x[0] <= x <= self.x[1] and self.y[0] <= y <= self.y[1]):
            return np.zeros(len(depth))
        here, there, zero = np.array([x]), np.array([y]), np.zeros(1)
        top = self.span[0] + self.ragged[0] * float(self.top.at(here, there, zero)[0])
        end = self.span[1] + self.ragged[1] * float(self.bottom.at(here, there, zero)[0])
        inside = _soft(depth - top, self.ragged[0]) * _soft(end - depth, self.ragged[1])
        return np.asarray(inside * self._patch(x, y, depth) / np.interp(depth, self.depths, self.level))

    def _patch(self, x: float, y: float, depth: FloatArray) -> FloatArray:
        """Return the strength of the patches [1], read linearly over depth from a few."""
        one = np.ones(len(self.depths))
        spread = PATCHINESS * np.log(10.0) / 10.0
        values = np.exp(spread * self.patches.at(x * one, y * one, self.depths))
        return np.asarray(np.interp(depth, self.depths, values), dtype=np.float64)


def texture(
    rng: np.random.Generator,
    span: tuple[float, float],
    track: Track,
    *,
    x: tuple[float, float] | None = None,
    y: tuple[float, float] | None = None,
    bed: bool = False,
) -> Texture:
    """Return the texture of a layer between two depths [m], for a run; bed: it stands on the bottom, its lower edge."""
    endless = (-np.inf, np.inf)
    thick = span[1] - span[0]
    ragged = min((RAGGED_BED if bed else RAGGED) * thick, MOST_RAGGED)
    made = Texture(
        span=span,
        patches=field(rng, PATCH, thick / PATCHES_HIGH),
        top=field(rng, EDGE, 1.0),
        bottom=field(rng, EDGE, 1.0),
        ragged=(ragged if span[0] > 0.0 else 0.0, 0.0 if bed else ragged),
        x=x or endless,
        y=y or endless,
        depths=np.linspace(span[0] - REACHES * ragged, span[1] + REACHES * ragged, _DEPTHS),
        level=np.ones(_DEPTHS),
    )
    near = (track.x >= made.x[0]) & (track.x <= made.x[1]) & (track.y >= made.y[0]) & (track.y <= made.y[1])
    places = np.flatnonzero(near)
    if not len(places):
        return made
    places = places[:: max(1, len(places) // _PLACES)]
    rows = [made._patch(float(track.x[p]), float(track.y[p]), made.depths) for p in places]
    return replace(made, level=np.mean(rows, axis=0))


def _soft(inward: FloatArray, ragged: float) -> FloatArray:
    """Return 1 well inside an edge, 0 well outside [1]; inward [m]: from the edge."""
    if ragged == 0.0:
        return np.asarray(inward >= 0.0, dtype=np.float64)
    return np.asarray(np.clip(inward / ragged + 0.5, 0.0, 1.0))
