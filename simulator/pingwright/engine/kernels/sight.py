"""A block of scatterers as seen from a pose: distances, angles, delays, phases and places in the tables.

Loops over flat arrays that LLVM turns into vectors, compiled into the kernels of `kernels`. Rows: x, y, z [m] of the
scatterers, n their axes; pose (12): position of the face, then rows u, v, w of its rotation.
"""

import math
from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numba
import numpy as np

from pingwright.engine.kernels.limits import NEAREST
from pingwright.engine.kernels.scalars import cosine_turn, sine_turn

_HALF, _ONE, _ZERO = (np.float32(c) for c in (0.5, 1.0, 0.0))
#: Added to a float64 and subtracted again, it rounds to a whole number.
_WHOLE = 1.5 * 2.0**52

_inline = numba.njit(nogil=True, inline="always", error_model="numpy")


@_inline
def look(
    x: Any, y: Any, z: Any, nx: Any, ny: Any, nz: Any, pose: Any, ranges: Any, cosines: Any, spreading: Any
) -> None:
    """Fill ranges [m], cosines (u, v, w, incidence) and spreading [1/m2] of scatterers at x, y, z with axis n.

    Spreading is 0 nearer than NEAREST, and for places that are not numbers: these scatterers are silent.
    """
    for k in range(x.shape[0]):
        dx = x[k] - pose[0]
        dy = y[k] - pose[1]
        dz = z[k] - pose[2]
        r = math.sqrt(dx * dx + dy * dy + dz * dz)
        ranges[k] = r
        inverse = 1.0 / max(NEAREST, r)
        spreading[k] = np.float32(inverse * inverse if r >= NEAREST else 0.0)
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
    # A look-up prevents LLVM from making vectors of a loop, so it has its own loop.
    for k in range(z.shape[0]):
        # The number comes first in `max`: if a depth is not a number, `max` returns the number.
        place = min(max(0.0, (z[k] - clock[0]) * clock[1]), last)
        knot = np.int64(place)
        at[k] = value[knot] + slope[knot] * (place - knot)
    for k in range(z.shape[0]):
        delay = 2.0 * ranges[k] * at[k] * clock[2] + clock[3]
        at[k] = (delay - clock[5]) * clock[6]
        turn = delay * clock[7] - clock[11]
        turns[k] = np.float32((turn + _WHOLE) - _WHOLE - turn) + phase[k]


@_inline
def find(z: Any, clock: Any, sizes: Any, ranges: Any, cosines: Any, lines: Any, parts: Any) -> None:
    """Fill lines (strength, path, depth, angle; all but the last row of the table) and how far beyond them (parts).

    sizes: rows of the strength table, of the loss table, its layers, and rows of a beam over the angle off its axis.
    Rows of strength are uniform in sqrt(1 - cosine) from 0 to 1; an incidence from behind counts as one from the front.
    """
    scale, top = np.float32(clock[8]), clock[9]
    one, two = np.int32(1), np.int32(2)
    laws, rows = np.int32(sizes[0]), np.int32(sizes[1])
    deepest, knots = np.int32(sizes[2]), np.int32(sizes[3])
    for k in range(z.shape[0]):
        place = math.sqrt(max(_ONE - abs(cosines[3, k]), _ZERO)) * np.float32(laws - one)
        lines[0, k] = min(np.int32(place), laws - two)
        parts[0, k] = place - np.float32(lines[0, k])
        place = np.float32(ranges[k] * clock[2] + clock[4]) * scale
        lines[1, k] = min(np.int32(place), rows - two)
        parts[1, k] = place - np.float32(lines[1, k])
        place = np.float32(max((z[k] - top) * clock[10], 0.0))
        lines[2, k] = min(np.int32(place), deepest - two)
        parts[2, k] = min(place - np.float32(lines[2, k]), _ONE)
        off_axis: Any = math.sqrt(cosines[0, k] * cosines[0, k] + cosines[1, k] * cosines[1, k])
        place = off_axis * np.float32(knots - one)
        lines[3, k] = min(np.int32(place), knots - two)
        parts[3, k] = min(place - np.float32(lines[3, k]), _ONE)


@_inline
def settle(at: Any, count: Any, steps: Any, here: Any, lines: Any, parts: Any) -> None:
    """Fill here (grid sample), and lines and parts 4 (step of delay, rest of it: -1/2 to 1/2 step) of positions."""
    for k in range(count):
        here[k] = np.int32(at[k])
        between = np.float32((at[k] - here[k]) * steps)
        lines[4, k] = np.int32(between + _HALF)
        parts[4, k] = between - np.float32(lines[4, k])


@_inline
def carry(turns: Any, count: Any, carriers: Any) -> Any:
    """Fill carriers (cos, sin) of phases in turns."""
    for k in range(count):
        x = turns[k]
        x -= np.float32(math.floor(x + _HALF))
        carriers[0, k] = cosine_turn(x)
        carriers[1, k] = sine_turn(x)


@_inline
def room(block: Any) -> Any:
    """Return the arrays that `see` fills: ranges, cosines, spreading, turns, at, here, lines, parts, carriers."""
    ranges, at, here = np.empty(block), np.empty(block), np.empty(block, np.int32)
    cosines, spreading = np.empty((4, block), np.float32), np.empty(block, np.float32)
    turns, carriers = np.empty(block, np.float32), np.empty((2, block), np.float32)
    lines, parts = np.empty((5, block), np.int32), np.empty((5, block), np.float32)
    return ranges, cosines, spreading, turns, at, here, lines, parts, carriers


@lru_cache
def seer(checked: bool = False) -> Callable[..., None]:
    """Return `see`, compiled by itself once a process: built into each kernel anew, it took half of their compiling.

    checked: every index into an array is checked. Its name differs, because machine code is linked by name.
    """

    def see(  # type: ignore[no-untyped-def]
        xyz, axis, phase, start, stop, pose, clock, slowness, sizes, steps,
        ranges, cosines, spreading, turns, at, here, lines, parts, carriers,
    ):  # fmt: skip
        """Fill all numbers of the scatterers start .. stop that are needed to read the tables."""
        x, y, z = xyz[0, start:stop], xyz[1, start:stop], xyz[2, start:stop]
        nx, ny, nz = axis[0, start:stop], axis[1, start:stop], axis[2, start:stop]
        look(x, y, z, nx, ny, nz, pose, ranges, cosines, spreading)
        time(z, phase[start:stop], slowness, clock, ranges, turns, at)
        find(z, clock, sizes, ranges, cosines, lines, parts)
        settle(at, stop - start, steps, here, lines, parts)
        carry(turns, stop - start, carriers)

    if checked:
        see.__name__, see.__qualname__ = "see_checked", "see_checked"
    built: Callable[..., None] = numba.njit(nogil=True, error_model="numpy", boundscheck=checked)(see)
    return built
