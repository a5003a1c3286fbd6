"""Several discs side by side: the pattern of one disc times the array factor.

Product theorem, R. J. Urick, Principles of Underwater Sound, 3rd ed. 1983, sec. 3.4. All discs point the same way; z of
a disc is its distance in front of the face. Coupling between the discs is left out.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pingwright.acoustics import beam
from pingwright.acoustics.arrays import ComplexArray, FloatArray
from pingwright.element.faces import rayleigh_distance

#: The axis is placed off the normal only if the response there is this much larger [1].
_WORTH_STEERING = 1.001


@dataclass(frozen=True)
class DiscArray:
    """Discs of one diameter [m] at centres (x along, y across, z outwards) [m], with weights [1] and delays [s].

    Positions are relative to the centroid of the weights, which is the place of the element. A delay makes a disc send
    and receive later. axis: direction cosines of the strongest response at band centre; the pattern is 1 there.
    """

    diameter: float
    centres: tuple[tuple[float, float, float], ...]
    weights: tuple[float, ...]
    delays: tuple[float, ...]
    axis: tuple[float, float] = (0.0, 0.0)
    radial: bool = False
    virtual_depth: float = 0.0

    @property
    def area(self) -> float:
        """Radiating area [m2]."""
        return len(self.centres) * float(np.pi * self.diameter**2 / 4.0)

    @property
    def extent(self) -> tuple[float, float]:
        """Size along and across [m]."""
        spread = np.ptp(np.array(self.centres), axis=0) + self.diameter
        return float(spread[0]), float(spread[1])

    @property
    def even(self) -> bool:
        """Whether mirroring along, and mirroring across, changes nothing."""
        return self._same((-1.0, 1.0, 1.0)) and self._same((1.0, -1.0, 1.0))

    @property
    def real(self) -> bool:
        """Whether the face is flat, has no delays and is unchanged by half a turn."""
        flat = float(np.ptp(np.array(self.centres)[:, 2])) == 0.0
        return flat and not any(self.delays) and self._same((-1.0, -1.0, 1.0))

    def _same(self, mirror: tuple[float, float, float]) -> bool:
        rows = np.column_stack([self.centres, self.weights, np.array(self.delays) * 1500.0])
        mirrored = rows * np.array([*mirror, 1.0, 1.0])
        apart = np.abs(rows[:, None, :] - mirrored[None, :, :]).max(axis=2)
        return bool(np.all(apart.min(axis=0) < 1e-9))

    def near_field(self, wavelength: float) -> float:
        """Return the Rayleigh distance of the longer side [m]."""
        return rayleigh_distance(max(self.extent), wavelength)

    def pattern(self, u: FloatArray, v: FloatArray, frequency: FloatArray, sound_speed: float) -> ComplexArray:
        """Return pressure (direction, frequency), see Face."""
        u0, v0 = (np.array([a]) for a in self.axis)
        there = self._sum(u, v, frequency, sound_speed)
        return np.asarray(there / self._sum(u0, v0, frequency, sound_speed))

    def _sum(self, u: FloatArray, v: FloatArray, frequency: FloatArray, sound_speed: float) -> ComplexArray:
        w = np.sqrt(np.maximum(0.0, 1.0 - u**2 - v**2))
        k = 2.0 * np.pi * frequency / sound_speed
        delay_path = np.array(self.delays) * sound_speed
        factor = beam.array_factor(np.stack([u, v, w], axis=1), self.centres, k, self.weights, delay_path)
        return np.asarray(factor * beam.piston(np.multiply.outer(np.hypot(u, v), k * self.diameter / 2.0)))


def disc_array(
    diameter: float,
    centres: Sequence[Sequence[float]],
    weights: Sequence[float] | None,
    delays: Sequence[float] | None,
    frequency: float,
    sound_speed: float,
) -> DiscArray:
    """Return an array placed on its centroid with its acoustic axis found at frequency [Hz], see DiscArray.

    centres [m] may leave out z. Weights default to 1, delays [s] to 0. ValueError where the weights are all zero.
    """
    place = np.zeros((len(centres), 3))
    for row, centre in zip(place, centres, strict=True):
        row[: len(centre)] = centre
    weight = np.ones(len(place)) if weights is None or not len(weights) else np.array(weights, dtype=float)
    delay = np.zeros(len(place)) if delays is None or not len(delays) else np.array(delays, dtype=float)
    if not np.any(weight):
        message = "an array whose weights are all zero sends nothing"
        raise ValueError(message)
    place -= np.average(place, axis=0, weights=np.abs(weight))
    delay -= np.average(delay, weights=np.abs(weight))
    rows = tuple((float(x), float(y), float(z)) for x, y, z in place)
    face = DiscArray(diameter, rows, tuple(map(float, weight)), tuple(map(float, delay)))
    axis = strongest(face, frequency, sound_speed)
    return DiscArray(face.diameter, face.centres, face.weights, face.delays, axis)


def strongest(face: DiscArray, frequency: float, sound_speed: float) -> tuple[float, float]:
    """Return direction cosines of the strongest response at frequency [Hz]; (0, 0) if no other is clearly stronger."""
    f = np.array([frequency])

    def best(u: FloatArray, v: FloatArray) -> tuple[float, float, float]:
        inside = u**2 + v**2 < 1.0
        u, v = u[inside], v[inside]
        size = np.abs(face._sum(u, v, f, sound_speed)[:, 0])
        top = int(np.argmax(size))
        return float(u[top]), float(v[top]), float(size[top])

    here = best(np.zeros(1), np.zeros(1))[2]
    # First eight directions in each lobe, then closer and closer around the best of them.
    half = 1.0
    count = int(33 + 16 * max(face.extent) * frequency / sound_speed) | 1
    u0, v0, size = 0.0, 0.0, here
    for _ in range(6):
        grid = np.linspace(-half, half, count)
        u, v = np.meshgrid(u0 + grid, v0 + grid)
        candidate = best(u.ravel(), v.ravel())
        if candidate[2] > size:
            u0, v0, size = candidate
        half *= 4.0 / (count - 1)
        count = 9
    return (u0, v0) if size > here * _WORTH_STEERING else (0.0, 0.0)
