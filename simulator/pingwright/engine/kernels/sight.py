"""A block of scatterers as seen from a pose: distances, angles, delays, phases and places in the tables.

Sixteen scatterers are worked out together, see `vectors`. Memory is named by address. pose (12): position of the face,
then rows u, v, w of its rotation; clock (12): see `tables.Tables.timing`.
"""

from functools import lru_cache
from typing import Any

import numba
import numpy as np

from pingwright.engine.kernels.limits import NEAREST
from pingwright.engine.kernels.scalars import COSINE, SINE
from pingwright.engine.kernels.vectors import (
    WIDTH,
    above,
    gather,
    load,
    load_doubles,
    reaches,
    root,
    rounded_down,
    size,
    splat,
    splat_doubles,
    splat_wholes,
    store,
    to_doubles,
    to_singles,
    to_wholes,
)

#: Scatterers of a block: the rows that `see` fills are this long.
BLOCK = 256
#: Rows of floats that `see` fills: amplitude at 1 m over the square of the range, 0 where nothing is heard; cosine of
#: incidence; direction cosines u, v; how far beyond the rows of the tables for strength, path, depth, angle and delay
#: (-1/2 to 1/2 step); carrier.
STRONG, FACING, ALONG, ACROSS, BEYOND, CARRIER = 0, 1, 2, 3, 4, 9
SINGLES = 11
#: Rows of int32: where the rows of the tables for strength, path and depth, angle, and delay begin [floats]; sample.
LINE, HERE = 0, 4
WHOLES = 5

_ROW = 16
_HALF, _QUARTER, _ONE, _ZERO, _HUGE = (np.float32(c) for c in (0.5, 0.25, 1.0, 0.0, 1e30))
#: Added to a float64 and subtracted again, it rounds to a whole number.
_WHOLE = 1.5 * 2.0**52

_inline = numba.njit(nogil=True, inline="always", error_model="numpy")


@_inline
def larger(left: Any, right: Any) -> Any:
    """Return the larger of two, lane by lane; `right` if `left` is not a number."""
    return above(left, right, left, right)


@_inline
def smaller(left: Any, right: Any) -> Any:
    """Return the smaller of two, lane by lane; `right` if `left` is not a number."""
    return above(right, left, left, right)


@_inline
def look(xyz: Any, row: Any, k: Any, pose: Any) -> Any:
    """Return ranges [m], spreading [1/m2], unit vectors x, y, z to scatterers (doubles) and their depths [m].

    Spreading is 0 nearer than NEAREST, and for places that are not numbers: these scatterers are silent.
    """
    z = load_doubles(xyz, 2 * row + k)
    dx = load_doubles(xyz, k) - splat_doubles(pose[0])
    dy = load_doubles(xyz, row + k) - splat_doubles(pose[1])
    dz = z - splat_doubles(pose[2])
    r = root(dx * dx + dy * dy + dz * dz)
    nearest = splat_doubles(NEAREST)
    inverse = splat_doubles(1.0) / larger(r, nearest)
    spreading = to_singles(reaches(r, nearest, inverse * inverse, splat_doubles(0.0)))
    return r, spreading, dx * inverse, dy * inverse, dz * inverse, z


@_inline
def cosine_to(x: Any, y: Any, z: Any, pose: Any, first: Any) -> Any:
    """Return the cosines between directions and one axis of the face."""
    a, b, c = splat_doubles(pose[first]), splat_doubles(pose[first + 1]), splat_doubles(pose[first + 2])
    return to_singles(a * x + b * y + c * z)


@_inline
def time(z: Any, r: Any, slowness: Any, knots: Any, clock: Any) -> Any:
    """Return grid positions [samples] (doubles) and carrier phases [turns] of scatterers at depths z and ranges r [m].

    slowness (2, knots): mean slowness from the face to each depth [s/m] and its step.
    """
    last = splat_doubles(float(knots - 1))
    # If a depth is not a number, the surface is taken instead.
    place = smaller(larger((z - splat_doubles(clock[0])) * splat_doubles(clock[1]), splat_doubles(0.0)), last)
    knot = to_wholes(place)
    mean = gather(slowness, knot) + gather(slowness + 8 * knots, knot) * (place - to_doubles(knot))
    delay = splat_doubles(2.0) * r * mean * splat_doubles(clock[2]) + splat_doubles(clock[3])
    turn = delay * splat_doubles(clock[7]) - splat_doubles(clock[11])
    whole = (turn + splat_doubles(_WHOLE)) - splat_doubles(_WHOLE)
    return (delay - splat_doubles(clock[5])) * splat_doubles(clock[6]), to_singles(whole - turn)


@_inline
def line_of(place: Any, rows: Any) -> Any:
    """Return the number of the row before a place in a table of some rows, never the last, and how far beyond it."""
    last = splat_wholes(rows - 2)
    line = smaller(to_wholes(place), last)
    return line, place - to_singles(line)


@_inline
def find(z: Any, r: Any, u: Any, v: Any, facing: Any, clock: Any, sizes: Any, floats: Any, ints: Any, k: Any) -> None:
    """Store where the rows for strength, path and depth, and angle begin, and how far beyond them a scatterer is.

    sizes: rows of the strength table, of the loss table, its layers, rows of a beam over the angle off its axis, and
    floats of one of them. Rows of strength are uniform in sqrt(1 - cosine) from 0 to 1; an incidence from behind
    counts as one from the front.
    """
    one, zero = splat(_ONE), splat(_ZERO)
    line, part = line_of(root(larger(one - size(facing), zero)) * splat(np.float32(sizes[0] - 1)), sizes[0])
    store(ints, LINE * BLOCK + k, line * splat_wholes(_ROW))
    store(floats, BEYOND * BLOCK + k, part)
    path = to_singles(r * splat_doubles(clock[2]) + splat_doubles(clock[4])) * splat(np.float32(clock[8]))
    line, part = line_of(path, sizes[1])
    store(floats, (BEYOND + 1) * BLOCK + k, part)
    deep = to_singles(larger((z - splat_doubles(clock[9])) * splat_doubles(clock[10]), splat_doubles(0.0)))
    layer, part = line_of(deep, sizes[2])
    store(ints, (LINE + 1) * BLOCK + k, (line * splat_wholes(sizes[2]) + layer) * splat_wholes(_ROW))
    store(floats, (BEYOND + 2) * BLOCK + k, smaller(part, one))
    line, part = line_of(root(u * u + v * v) * splat(np.float32(sizes[3] - 1)), sizes[3])
    store(ints, (LINE + 2) * BLOCK + k, line * splat_wholes(sizes[4]))
    store(floats, (BEYOND + 3) * BLOCK + k, smaller(part, one))


@_inline
def settle(at: Any, steps: Any, stride: Any, floats: Any, ints: Any, k: Any) -> None:
    """Store samples, where the rows of taps begin, and how far beyond them positions on the grid are."""
    here = to_wholes(at)
    between = to_singles((at - to_doubles(here)) * splat_doubles(float(steps)))
    step = to_wholes(between + splat(_HALF))
    store(ints, HERE * BLOCK + k, here)
    store(ints, (LINE + 3) * BLOCK + k, step * splat_wholes(stride))
    store(floats, (BEYOND + 4) * BLOCK + k, between - to_singles(step))


@_inline
def sine(x: Any) -> Any:
    """Return sin(2 pi x), |x| <= 1/2 [turns]."""
    # Fold to a quarter turn: sin(pi - y) = sin y.
    y = above(x, splat(_QUARTER), splat(_HALF) - x, x)
    y = above(splat(-_QUARTER), x, splat(-_HALF) - x, y)
    s = y * y
    total = splat(SINE[4]) + s * splat(SINE[5])
    total = splat(SINE[2]) + s * (splat(SINE[3]) + s * total)
    return y * (splat(SINE[0]) + s * (splat(SINE[1]) + s * total))


@_inline
def cosine(x: Any) -> Any:
    """Return cos(2 pi x), |x| <= 1/2 [turns]."""
    y = size(x)
    sign = above(y, splat(_QUARTER), splat(-_ONE), splat(_ONE))
    y = above(y, splat(_QUARTER), splat(_HALF) - y, y)
    s = y * y
    total = splat(COSINE[5]) + s * splat(COSINE[6])
    total = splat(COSINE[3]) + s * (splat(COSINE[4]) + s * total)
    return sign * (splat(COSINE[0]) + s * (splat(COSINE[1]) + s * (splat(COSINE[2]) + s * total)))


@lru_cache
def seer() -> Any:
    """Return `see`, compiled by itself once a process: built into each kernel anew, it took half of their compiling."""

    def see(  # type: ignore[no-untyped-def]
        places, axes, phase, amplitude, weight, count, pose, clock, slowness, knots, sizes, limit, steps, stride,
        floats, ints,
    ):  # fmt: skip
        """Fill floats (SINGLES, BLOCK) and ints (WHOLES, BLOCK) with all that is needed to read the tables.

        Addresses: places and axes, each with the length of its rows x, y, z; phase, amplitude, weight (0: all ones),
        slowness, floats, ints. What is read and filled ends with a whole group of 16. limit: first sample that is not
        heard; steps of delay in a sample, and floats from one to the next.
        """
        (xyz, row), (normal, normal_row) = places, axes
        zero = splat(_ZERO)
        for k in range(0, count, WIDTH):
            r, strong, x, y, z, deep = look(xyz, row, k, pose)
            strong = load(amplitude, k) * strong
            if weight != 0:
                strong = strong * load(weight, k)
            u, v = cosine_to(x, y, z, pose, 3), cosine_to(x, y, z, pose, 6)
            facing = to_singles(x) * load(normal, k) + to_singles(y) * load(normal, normal_row + k)
            facing = zero - (facing + to_singles(z) * load(normal, 2 * normal_row + k))
            at, turns = time(deep, r, slowness, knots, clock)
            # Each of these tests fails for what is not a number.
            strong = above(cosine_to(x, y, z, pose, 9), zero, strong, zero)
            strong = above(splat(_HUGE), size(strong), strong, zero)
            strong = reaches(at, splat_doubles(0.0), above(splat_doubles(limit), at, strong, zero), zero)
            store(floats, STRONG * BLOCK + k, strong)
            store(floats, FACING * BLOCK + k, facing)
            store(floats, ALONG * BLOCK + k, u)
            store(floats, ACROSS * BLOCK + k, v)
            find(deep, r, u, v, facing, clock, sizes, floats, ints, k)
            settle(at, steps, stride, floats, ints, k)
            turns = turns + load(phase, k)
            turns = turns - rounded_down(turns + splat(_HALF))
            store(floats, CARRIER * BLOCK + k, cosine(turns))
            store(floats, (CARRIER + 1) * BLOCK + k, sine(turns))

    return numba.njit(nogil=True, error_model="numpy")(see)
