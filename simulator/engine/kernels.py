"""The spreading kernel: flat arrays in, one grid out; arithmetic only, no physics and no random draw.

A kernel is made for the shape of its tables (node pairs; beam tabulated over the angle off axis or over both direction
cosines; real or complex beam), because numbers known when compiling let LLVM unroll the tap loop.
`twins.spread_plain` is the same arithmetic in numpy, compared with this one by the tests.
"""

import math
from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numba
import numpy as np

from simulator.engine.compiled import compiled
from simulator.engine.noise import gaussian
from simulator.engine.scalars import cosine_turn, sine_turn
from simulator.engine.vectors import fill, load, mirror, splat, store

_BLOCK = 256
_NEAREST = 1.5 * 2.0**52
_ROW = 16
_HALF, _ONE, _TWO, _ZERO = (np.float32(c) for c in (0.5, 1.0, 2.0, 0.0))

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
        turn = delay * clock[7]
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
def lerp(table: Any, offset: Any, step: Any, part: Any) -> Any:
    """Return the row between table[offset] and table[offset + step], `part` of the way."""
    low = load(table, offset)
    return low + splat(part) * (load(table, offset + step) - low)


@_inline
def spline(part: Any) -> Any:
    """Return the four cubic B-spline weights at `part` between the second and third knot."""
    rest = _ONE - part
    sixth = _ONE / np.float32(6)
    square, cube = part * part, part * part * part
    first = rest * rest * rest * sixth
    second = (np.float32(4) - np.float32(6) * square + np.float32(3) * cube) * sixth
    third = (_ONE + np.float32(3) * (part + square - cube)) * sixth
    return first, second, third, cube * sixth


@_inline
def four(table: Any, line: Any, stride: Any, weights: Any) -> Any:
    """Return the weighted sum of four rows, stride apart."""
    total = splat(weights[0]) * load(table, line)
    total = total + splat(weights[1]) * load(table, line + stride)
    total = total + splat(weights[2]) * load(table, line + 2 * stride)
    return total + splat(weights[3]) * load(table, line + 3 * stride)


@_inline
def strength_row(table: Any, rows: Any, place: Any) -> Any:
    """Return a law's row at a place between its rows."""
    row = min(np.int64(place), rows - 2)
    return lerp(table, row * _ROW, _ROW, place - np.float32(row))


@_inline
def loss_row(table: Any, rows: Any, layers: Any, place: Any, deep: Any) -> Any:
    """Return the loss, bilinear in the path's length and in the depth it ends at (both in table rows)."""
    row = min(np.int64(place), rows - 2)
    part = place - np.float32(row)
    layer = min(np.int64(deep), layers - 2)
    deep = min(deep - np.float32(layer), _ONE)
    line = (row * layers + layer) * _ROW
    near = lerp(table, line, layers * _ROW, part)
    far = lerp(table, line + _ROW, layers * _ROW, part)
    return near + splat(deep) * (far - near)


@_inline
def put(grid: Any, width: Any, here: Any, real: Any, imaginary: Any, cosine: Any, sine: Any) -> None:
    """Add taps, turned by a carrier phase, to the real and the imaginary row of a grid of some width."""
    below = grid + 4 * width
    c, s = splat(cosine), splat(sine)
    store(grid, here, load(grid, here) + (real * c - imaginary * s))
    store(below, here, load(below, here) + (real * s + imaginary * c))


def _make_beam(plane: bool, parts: int) -> tuple[Callable[..., Any], Callable[..., Any]]:
    """Return two functions that read the real and the imaginary row of the beam table in direction (u, v)."""
    stride = parts * _ROW

    def radial(shift: int) -> Callable[..., Any]:
        @_inline
        def read(beam: Any, knots_u: Any, knots_v: Any, mirrored: Any, u: Any, v: Any) -> Any:
            place = min(math.sqrt(u * u + v * v), _ONE) * np.float32(knots_u - 1)
            row = min(np.int64(place), knots_u - 2)
            return lerp(beam, row * stride + shift, stride, place - np.float32(row))

        return read

    def both(shift: int) -> Callable[..., Any]:
        @_inline
        def read(beam: Any, knots_u: Any, knots_v: Any, mirrored: Any, u: Any, v: Any) -> Any:
            # Two knots of margin on either side of [-1, 1], or of [0, 1] where mirrored.
            su = (abs(u) if mirrored else (u + _ONE) * _HALF) * np.float32(knots_u - 5) + _TWO
            sv = (abs(v) if mirrored else (v + _ONE) * _HALF) * np.float32(knots_v - 5) + _TWO
            iu, iv = min(np.int64(su), knots_u - 3), min(np.int64(sv), knots_v - 3)
            along, across = spline(su - np.float32(iu)), spline(sv - np.float32(iv))
            line = ((iu - 1) * knots_v + iv - 1) * stride + shift
            total = splat(along[0]) * four(beam, line, stride, across)
            total = total + splat(along[1]) * four(beam, line + knots_v * stride, stride, across)
            total = total + splat(along[2]) * four(beam, line + 2 * knots_v * stride, stride, across)
            return total + splat(along[3]) * four(beam, line + 3 * knots_v * stride, stride, across)

        return read

    make = both if plane else radial
    return make(0), make((parts - 1) * _ROW)


@_inline
def pair(rows: Any, at: Any, amplitude: Any) -> None:
    """Store a row of node amplitudes as the sums and the differences of its mirrored pairs: two rows of 16."""
    mirrored = mirror(amplitude)
    store(rows, at, amplitude + mirrored)
    store(rows, at + _ROW, amplitude - mirrored)


def _make_taps(half: int) -> Callable[..., Any]:
    """Return the function that turns paired node amplitudes into their even (real) and odd (imaginary) taps."""
    stride = half * 2 * _ROW

    @_inline
    def taps_of(rows: Any, at: Any, taps: Any, offset: Any, part: Any) -> Any:
        # Four sums that do not wait for each other; `part` of the way from one tap row to the next comes last.
        real, imaginary = splat(_ZERO), splat(_ZERO)
        real_next, imaginary_next = splat(_ZERO), splat(_ZERO)
        for j in range(half):
            here = offset + j * 2 * _ROW
            even, odd = fill(rows, at + j), fill(rows, at + _ROW + j)
            real = real + even * load(taps, here)
            real_next = real_next + even * load(taps, here + stride)
            imaginary = imaginary + odd * load(taps, here + _ROW)
            imaginary_next = imaginary_next + odd * load(taps, here + stride + _ROW)
        way = splat(part)
        return real + way * (real_next - real), imaginary + way * (imaginary_next - imaginary)

    return taps_of


def _make_lay(half: int, parts: int) -> Callable[..., Any]:
    """Return the function that adds a scatterer, its paired node amplitudes given, to the grid."""
    taps_of = _make_taps(half)
    complex_beam = parts == 2
    stride = half * 2 * _ROW

    @_inline
    def lay(grid: Any, width: Any, rows: Any, at: Any, taps: Any, place: Any, steps: Any, turn: Any) -> None:
        here = np.int64(place)
        between = np.float32((place - here) * steps)
        step = min(np.int64(between), steps - 1)
        part = between - np.float32(step)
        real, imaginary = taps_of(rows, at, taps, step * stride, part)
        if complex_beam:
            more, less = taps_of(rows, at + 2 * _ROW, taps, step * stride, part)
            real, imaginary = real - less, imaginary + more
        put(grid, width, here, real, imaginary, turn[0], turn[1])

    return lay


@lru_cache
def spreader(half: int, plane: bool, parts: int) -> Callable[..., None]:
    """Return the compiled kernel for `half` node pairs, a beam over the plane or the axis angle, 1 or 2 beam parts.

    The kernel adds the echoes of scatterers to a grid of two rows, real and imaginary.
    Arguments: grid (2, n) float32; xyz (3, n) float64; axis (3, n), amplitude, phase, float32; law int32;
    weight (n) float32, or length 0 for all ones; segments (s, 2) int64: which scatterers; pose (12) float64: face
    position, then rows u, v, w of the rotation; then the tables of `tables.Tables.arguments()`.
    """
    beam_real, beam_imaginary = _make_beam(plane, parts)
    lay = _make_lay(half, parts)
    complex_beam = parts == 2
    size = parts * 2 * _ROW

    @compiled((half, plane, parts))
    def spread(
        grid, xyz, axis, amplitude, phase, law, weight, segments, pose,
        clock, slowness, beam, beam_shape, loss, loss_shape, strength, two_sided, gain, taps, tap_steps,
    ):  # fmt: skip
        ranges, at, cosines = np.empty(_BLOCK), np.empty(_BLOCK), np.empty((4, _BLOCK), np.float32)
        turns, carriers = np.empty(_BLOCK, np.float32), np.empty((2, _BLOCK), np.float32)
        spreading, places = np.empty(_BLOCK, np.float32), np.empty((3, _BLOCK), np.float32)
        kept, paired = np.empty(_BLOCK, np.int64), np.empty(_BLOCK * size + _ROW, np.float32)
        rows = (paired.ctypes.data + 63) // 64 * 64
        knots, laws = (beam_shape[0], beam_shape[1], beam_shape[2] != 0), strength.shape[1]
        limit, weighted, gain_row = float(grid.shape[1] - _ROW), weight.shape[0] > 0, load(gain.ctypes.data, 0)
        for s in range(segments.shape[0]):
            for start in range(segments[s, 0], segments[s, 1], _BLOCK):
                stop = min(start + _BLOCK, segments[s, 1])
                x, y, z = xyz[0, start:stop], xyz[1, start:stop], xyz[2, start:stop]
                nx, ny, nz = axis[0, start:stop], axis[1, start:stop], axis[2, start:stop]
                look(x, y, z, nx, ny, nz, pose, ranges, cosines, spreading)
                time(z, phase[start:stop], slowness, clock, ranges, turns, at)
                find(z, clock, np.float32(laws - 1), ranges, cosines, places)
                carry(turns, stop - start, carriers)
                # First all node amplitudes, then all taps: in one loop each scatterer would wait for its own chain.
                heard = 0
                for k in range(stop - start):
                    kind, strong = law[start + k], amplitude[start + k] * spreading[k]
                    if weighted:
                        strong *= weight[start + k]
                    behind = cosines[2, k] <= _ZERO or (cosines[3, k] < _ZERO and not two_sided[kind])
                    if behind or strong == _ZERO or not 0.0 <= at[k] < limit:
                        continue
                    node = gain_row * strength_row(strength.ctypes.data + 4 * kind * laws * _ROW, laws, places[0, k])
                    node = node * loss_row(loss.ctypes.data, loss_shape[0], loss_shape[1], places[1, k], places[2, k])
                    node = node * splat(strong)
                    u, v = cosines[0, k], cosines[1, k]
                    way = beam_real(beam.ctypes.data, knots[0], knots[1], knots[2], u, v)
                    pair(rows, heard * size, node * way)
                    if complex_beam:
                        way = beam_imaginary(beam.ctypes.data, knots[0], knots[1], knots[2], u, v)
                        pair(rows, heard * size + 2 * _ROW, node * way)
                    kept[heard] = k
                    heard += 1
                for j in range(heard):
                    k = kept[j]
                    turn = (carriers[0, k], carriers[1, k])
                    lay(grid.ctypes.data, grid.shape[1], rows, j * size, taps.ctypes.data, at[k], tap_steps, turn)

    return spread


@lru_cache
def cell_spreader(half: int) -> Callable[..., None]:
    """Return the compiled kernel that adds complex Gaussian echoes, one a grid sample, to a grid (2, n).

    Arguments: grid; rows flat float32 (cell, 16): rms node amplitudes; first: grid position of the first cell; taps;
    key uint64 of the ping.
    """
    taps_of = _make_taps(half)

    @compiled(half)
    def spread_cells(grid, rows, first, taps, key):  # type: ignore[no-untyped-def]
        grid_at, width = grid.ctypes.data, grid.shape[1]
        rows_at, taps_at, paired = rows.ctypes.data, taps.ctypes.data, np.empty(2 * _ROW, np.float32)
        for k in range(rows.shape[0] // _ROW):
            a, b = gaussian(key, k)
            pair(paired.ctypes.data, 0, load(rows_at, k * _ROW))
            real, imaginary = taps_of(paired.ctypes.data, 0, taps_at, 0, _ZERO)
            put(grid_at, width, first + k, real, imaginary, a, b)

    return spread_cells
