"""A measured pattern: levels over frequency and two angles, read by linear interpolation in dB.

angle_along is atan2(u, w) and angle_across atan2(v, w): the angles a direction makes with the axis when it is projected
on the along and on the across plane. A table that starts at 0 deg is mirrored. Outside the angles of the table the
element is silent; outside its frequencies the values of the nearest one are used. Only magnitudes are measured, so the
pattern is real.
"""

from dataclasses import dataclass

import numpy as np

from pingwright.acoustics import beam
from pingwright.acoustics.arrays import ComplexArray, FloatArray
from pingwright.element.faces import rayleigh_distance


@dataclass(frozen=True, eq=False)
class Table:
    """Levels [dB re axis] (frequency, along, across) over frequency [Hz] and angles [deg], each rising.

    axis: direction cosines of the highest level at the middle frequency. size: along and across [m] of the flat face
    with the same width of main lobe, only for numbers of nodes and the near field.
    """

    frequency: FloatArray
    along: FloatArray
    across: FloatArray
    level: FloatArray
    size: tuple[float, float]
    axis: tuple[float, float] = (0.0, 0.0)
    radial: bool = False
    real: bool = True
    virtual_depth: float = 0.0

    @property
    def area(self) -> float:
        """Unknown [m2]."""
        return float("nan")

    @property
    def even(self) -> bool:
        """Whether the table is mirrored both ways."""
        return bool(self.along[0] >= 0.0 and self.across[0] >= 0.0)

    @property
    def extent(self) -> tuple[float, float]:
        """Size along and across [m] that sets the number of nodes."""
        return self.size

    def near_field(self, wavelength: float) -> float:
        """Return the Rayleigh distance of the equivalent face [m]: an estimate from the beam's width."""
        return rayleigh_distance(max(self.size), wavelength)

    def pattern(self, u: FloatArray, v: FloatArray, frequency: FloatArray, sound_speed: float) -> ComplexArray:
        """Return pressure (direction, frequency), see Face; sound_speed plays no part."""
        u0, v0 = (np.array([a]) for a in self.axis)
        level = self._level(u, v, frequency) - self._level(u0, v0, frequency)
        return np.asarray(10.0 ** (level / 20.0), dtype=complex)

    def _level(self, u: FloatArray, v: FloatArray, frequency: FloatArray) -> FloatArray:
        from scipy.ndimage import map_coordinates

        w = np.sqrt(np.maximum(0.0, 1.0 - u**2 - v**2))
        angles, outside = [], np.zeros(len(u), dtype=bool)
        for cosine, axis in ((u, self.along), (v, self.across)):
            angle = np.rad2deg(np.arctan2(cosine, w))
            angle = np.abs(angle) if axis[0] >= 0.0 else angle
            outside |= (angle < axis[0] - 1e-9) | (angle > axis[-1] + 1e-9)
            angles.append(np.interp(angle, axis, np.arange(len(axis))))
        row = np.interp(frequency, self.frequency, np.arange(len(self.frequency)))
        shape = (len(u), len(row))
        where = [np.broadcast_to(row, shape), *(np.broadcast_to(a[:, None], shape) for a in angles)]
        level = map_coordinates(self.level, where, order=1, mode="nearest")
        return np.asarray(np.where(outside[:, None], -np.inf, level))


def table(
    frequency: FloatArray, along: FloatArray, across: FloatArray, level: FloatArray, centre: float, sound_speed: float
) -> Table:
    """Return the face of a measured pattern.

    Either a grid over three rising axes, level (frequency, along, across) or (frequency, along x across), or four
    columns of one length that fill such a grid. frequency [Hz], angles [deg], level [dB]. centre [Hz]: frequency at
    which the acoustic axis is determined. ValueError for columns with gaps.
    """
    frequency, along, across, level = (np.asarray(a, dtype=float) for a in (frequency, along, across, level))
    if level.ndim == 1:
        frequency, along, across, level = _gridded(frequency, along, across, level)
    level = level.reshape(len(frequency), len(along), len(across))
    middle = level[int(np.argmin(np.abs(frequency - centre)))]
    i, j = np.unravel_index(int(np.argmax(middle)), middle.shape)
    here = middle[int(np.argmin(np.abs(along))), int(np.argmin(np.abs(across)))]
    steered = middle[i, j] > here + 0.1
    a, b = (np.tan(np.deg2rad(along[i])), np.tan(np.deg2rad(across[j]))) if steered else (0.0, 0.0)
    norm = float(np.sqrt(1.0 + a * a + b * b))
    size = tuple(
        _equivalent(axis, cut, sound_speed / centre) for axis, cut in ((along, middle[:, j]), (across, middle[i]))
    )
    return Table(frequency, along, across, level, (size[0], size[1]), (float(a) / norm, float(b) / norm))


def _gridded(
    frequency: FloatArray, along: FloatArray, across: FloatArray, level: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    axes, places = zip(*(np.unique(a, return_inverse=True) for a in (frequency, along, across)), strict=True)
    grid = np.full([len(a) for a in axes], np.nan)
    grid[places] = level
    if np.any(np.isnan(grid)):
        message = "a measured pattern has gaps: every frequency needs every pair of angles"
        raise ValueError(message)
    return axes[0], axes[1], axes[2], grid


def _equivalent(angle: FloatArray, cut: FloatArray, wavelength: float) -> float:
    """Return the length [m] of the line with the half-power width of one cut, at least a wavelength."""
    strong = angle[cut > cut.max() - 3.0]
    width = float(np.ptp(strong)) * (2.0 if angle[0] >= 0.0 else 1.0)
    return max(wavelength, float(beam.line_length(max(width, float(np.diff(angle).min())), wavelength)))
