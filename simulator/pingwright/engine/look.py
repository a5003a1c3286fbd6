"""How finely an element samples the seabed, and where its beam needs full detail."""

import numpy as np
from numpy.typing import NDArray

from pingwright.element.model import Element
from pingwright.engine.remembered import face_key, remembered
from pingwright.world.looks import Look

FloatArray = NDArray[np.float64]

#: One-way level below which a direction counts as outside the beam [dB re axis]: 40 dB both ways.
FAINT = -20.0
#: Cells of the map of a beam's lobes, along each direction cosine.
_CELLS = 65


def look(element: Element) -> Look:
    """Return how finely an element resolves the seabed [m, deg]; the world samples the seabed accordingly."""
    low, high = element.band
    narrow, wide = min(element.beamwidth(high)), max(element.beamwidth(low))
    tilt = element.spec.tilt
    off = float(np.degrees(np.arctan(np.hypot(*np.tan(np.radians([tilt.along, tilt.across]))))))
    resolution = element.sound_speed / (2.0 * (high - low))
    if element.signal.is_tone:
        resolution = max(resolution, element.sound_speed * element.pulse_length / 2.0)
    return Look(resolution, narrow, min(wide + off, 80.0), off, (low, high))


def lobes(element: Element) -> FloatArray:
    """Return how far each direction lies outside the beam [1]: (u, v), both from -1 to 1, 0 where a lobe is inside.

    A direction is inside if its level is above `FAINT` anywhere in the band; distances are differences of direction
    cosines.
    """

    def made() -> tuple[FloatArray]:
        cosine = np.linspace(-1, 1, _CELLS)
        u, v = (g.ravel() for g in np.meshgrid(cosine, cosine, indexing="ij"))
        front = u * u + v * v <= 1
        level = np.zeros(len(u))
        level[front] = np.abs(element.beam(u[front], v[front], np.linspace(*element.band, 3))).max(axis=1)
        bright = level >= 10 ** (FAINT / 20)
        return (_distance(bright.reshape(_CELLS, _CELLS), cosine),)

    return remembered(("lobes", face_key(element), element.band), made)[0]


def _distance(bright: NDArray[np.bool_], cosine: FloatArray) -> FloatArray:
    """Return the distance [1] of each cell (u, v) to the nearest bright one; cosine: of the cells, along both."""
    apart = np.abs(cosine[:, None] - cosine)
    # The nearest bright cell of each row comes first: of two cells in a row the nearer one is the nearer everywhere.
    within_row = np.where(bright[:, None, :], apart[None], np.inf).min(axis=2)
    return np.asarray(np.hypot(apart[:, :, None], within_row[None]).min(axis=1))
