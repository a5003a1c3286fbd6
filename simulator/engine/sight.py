"""What a block of scatterers looks like from a pose: distances, angles, delays, phases and places in the tables.

Loops over flat arrays that LLVM turns into vectors, compiled into the kernels of `kernels`. Rows: x, y, z [m] of the
scatterers, n their axes; pose (12): position of the face, then rows u, v, w of its rotation.
"""

import math
from typing import Any

import numba
import numpy as np

from simulator.engine.scalars import cosine_turn, sine_turn

_HALF, _ONE, _ZERO = (np.float32(c) for c in (0.5, 1.0, 0.0))
#: Added and taken off again, it leaves a float64 rounded to a whole number.
_NEAREST = 1.5 * 2.0**52

_inline = numba.njit(nogil=True, inline="always", error_model="numpy")


@_inline
def look(
    x: Any, y: Any, z: Any, nx: Any, ny: Any, nz: Any, pose: Any, ranges: Any, cosines: Any, spreading: Any
) -> None:
    """Fill ranges [m], cosines (u, v, w, incidence) and spreading [1/m2] of scatterers at x, y, z with axis n."""
    for k in range(x.shape[0]):
        dx = x[k] - pose[0]
        dy = y[k] - pose[1]
        dz = z[k] - pose[2]
        r = math.sqrt(dx * dx + dy * dy + dz * dz)
        ranges[k] = r
        inverse = 1.0 / r
        spreading[k] = np.float32(inverse * inverse)
        dx *= inverse
        dy *= inverse
        dz *= inverse
        cosines[0, k] = np.float32(pose[3] * dx + pose[4] * dy + pose[5] * dz)
        cosines[1, k] = np.float32(pose[6] * dx + pose[7] * dy + pose[8] * dz)
        cosines[2, k] = np.float32(pose[9] * dx + pose[10] * dy + pose[11] * dz)
        cosines[3, k] = -(np.float32(dx) * nx[k] + np.float32(dy) * ny[k] + np.float32(dz) * nz[k])


@_inline
def time(z: Any, phase: Any, slowness: Any, clock: Any, ranges: Any, turns: Any, at: Any) -> None:
    """Fill grid positions `at` [samples] and carrier phases `turns` of scatterers at depths z and ranges [m].

    slowness (2, m): mean slowness from the face to each depth [s/m] and its slope; clock: see `tables.Tables.timing`.
    """
    last = float(slowness.shape[1] - 1)
    value, slope = slowness[0], slowness[1]
    # A look-up keeps LLVM from making vectors of a loop: it has one of its own.
    for k in range(z.shape[0]):
        place = min(max((z[k] - clock[0]) * clock[1], 0.0), last)
        knot = np.int64(place)
        at[k] = value[knot] + slope[knot] * (place - knot)
    for k in range(z.shape[0]):
        delay = 2.0 * ranges[k] * at[k] * clock[2] + clock[3]
        at[k] = (delay - clock[5]) * clock[6]
        turn = delay * clock[7] - clock[11]
        turns[k] = np.float32((turn + _NEAREST) - _NEAREST - turn) + phase[k]


@_inline
def find(z: Any, clock: Any, laws: Any, ranges: Any, cosines: Any, places: Any) -> None:
    """Fill places (incidence, whole path, depth) in the tables of strength and loss, in rows.

    Rows of strength are uniform in sqrt(1 - cosine) from 0 to 1; an incidence from behind counts as from before.
    """
    scale, top, layers = np.float32(clock[8]), clock[9], np.float32(clock[10])
    for k in range(z.shape[0]):
        places[0, k] = math.sqrt(max(_ONE - abs(cosines[3, k]), _ZERO)) * laws
        places[1, k] = np.float32(ranges[k] * clock[2] + clock[4]) * scale
        places[2, k] = max(np.float32(z[k] - top) * layers, _ZERO)


@_inline
def carry(turns: Any, count: Any, carriers: Any) -> Any:
    """Fill carriers (cos, sin) of phases in turns."""
    for k in range(count):
        x = turns[k]
        x -= np.float32(math.floor(x + _HALF))
        carriers[0, k] = cosine_turn(x)
        carriers[1, k] = sine_turn(x)


@_inline
def see(
    xyz: Any, axis: Any, phase: Any, start: Any, stop: Any, pose: Any, clock: Any, slowness: Any, laws: Any,
    ranges: Any, cosines: Any, spreading: Any, turns: Any, at: Any, places: Any, carriers: Any,
) -> None:  # fmt: skip
    """Fill everything that the scatterers start .. stop need before their tables are read."""
    x, y, z = xyz[0, start:stop], xyz[1, start:stop], xyz[2, start:stop]
    nx, ny, nz = axis[0, start:stop], axis[1, start:stop], axis[2, start:stop]
    look(x, y, z, nx, ny, nz, pose, ranges, cosines, spreading)
    time(z, phase[start:stop], slowness, clock, ranges, turns, at)
    find(z, clock, np.float32(laws - 1), ranges, cosines, places)
    carry(turns, stop - start, carriers)
