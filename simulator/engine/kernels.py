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
from simulator.engine.vectors import lane, load, mirror, splat, store

_BLOCK = 256
_ROW = 16
_HALF, _ONE, _TWO, _ZERO = (np.float32(c) for c in (0.5, 1.0, 2.0, 0.0))

_inline = numba.njit(nogil=True, inline="always", error_model="numpy")


@_inline
def look(xyz: Any, axis: Any, pose: Any, start: Any, count: Any, ranges: Any, cosines: Any) -> Any:
    """Fill ranges [m] and cosines (u, v, w, incidence) of a block of scatterers seen from a pose."""
    for k in range(count):
        i = start + k
        dx = xyz[0, i] - pose[0]
        dy = xyz[1, i] - pose[1]
        dz = xyz[2, i] - pose[2]
        r = math.sqrt(dx * dx + dy * dy + dz * dz)
        ranges[k] = r
        inverse = 1.0 / r
        dx *= inverse
        dy *= inverse
        dz *= inverse
        cosines[0, k] = np.float32(pose[3] * dx + pose[4] * dy + pose[5] * dz)
        cosines[1, k] = np.float32(pose[6] * dx + pose[7] * dy + pose[8] * dz)
        cosines[2, k] = np.float32(pose[9] * dx + pose[10] * dy + pose[11] * dz)
        cosines[3, k] = -(np.float32(dx) * axis[0, i] + np.float32(dy) * axis[1, i] + np.float32(dz) * axis[2, i])


@_inline
def time(
    xyz: Any, phase: Any, slowness: Any, clock: Any, start: Any, count: Any, ranges: Any, turns: Any, at: Any
) -> Any:
    """Fill grid positions `at` [samples] and carrier phases `turns` of a block; ranges become the whole one-way path.

    slowness (2, m): mean slowness from the face to each depth [s/m] and its slope; clock: see `tables.Clock`.
    """
    last = slowness.shape[1] - 1
    for k in range(count):
        place = (xyz[2, start + k] - clock[0]) * clock[1]
        row = min(max(np.int64(place), 0), last)
        mean = slowness[0, row] + slowness[1, row] * (place - row)
        delay = 2.0 * ranges[k] * mean * clock[2] + clock[3]
        ranges[k] = ranges[k] * clock[2] + clock[4]
        at[k] = (delay - clock[5]) * clock[6]
        turn = delay * clock[7]
        turns[k] = np.float32(math.floor(turn + 0.5) - turn) + phase[start + k]


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
def strength_row(table: Any, rows: Any, cosine: Any) -> Any:
    """Return a law's row at an incidence: rows uniform in sqrt(1 - cosine)."""
    place = math.sqrt(max(_ONE - cosine, _ZERO)) * np.float32(rows - 1)
    row = min(np.int64(place), rows - 2)
    return lerp(table, row * _ROW, _ROW, place - np.float32(row))


@_inline
def loss_row(table: Any, rows: Any, layers: Any, place: Any, deep: Any) -> Any:
    """Return the loss, bilinear in the path's length and in the depth it ends at (both in table rows)."""
    row = min(np.int64(place), rows - 2)
    part = place - np.float32(row)
    deep = max(deep, _ZERO)
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


def _make_taps(half: int) -> Callable[..., Any]:
    """Return the function that turns one row of node amplitudes into its even (real) and odd (imaginary) taps."""

    @_inline
    def taps_of(amplitude: Any, mirrored: Any, taps: Any, offset: Any, part: Any) -> Any:
        even, odd = amplitude + mirrored, amplitude - mirrored
        real, imaginary = splat(_ZERO), splat(_ZERO)
        for j in range(half):
            here = offset + j * 2 * _ROW
            real = real + lane(even, j) * lerp(taps, here, half * 2 * _ROW, part)
            imaginary = imaginary + lane(odd, j) * lerp(taps, here + _ROW, half * 2 * _ROW, part)
        return real, imaginary

    return taps_of


def _make_echo(half: int, plane: bool, parts: int) -> Callable[..., Any]:
    """Return the function that adds one scatterer, its node row but for the beam given, to the grid."""
    beam_real, beam_imaginary = _make_beam(plane, parts)
    taps_of = _make_taps(half)
    complex_beam = parts == 2

    @_inline
    def echo(node: Any, beam: Any, knots: Any, way: Any, taps: Any, between: Any, last: Any, to: Any) -> Any:
        # between: how far the delay is past its grid sample, in tap rows; last: the last of them.
        step = min(np.int64(between), last)
        row, part = step * half * 2 * _ROW, between - np.float32(step)
        direct = node * beam_real(beam, knots[0], knots[1], knots[2], way[0], way[1])
        real, imaginary = taps_of(direct, mirror(direct), taps, row, part)
        if complex_beam:
            turned = node * beam_imaginary(beam, knots[0], knots[1], knots[2], way[0], way[1])
            more, less = taps_of(turned, mirror(turned), taps, row, part)
            real, imaginary = real - less, imaginary + more
        put(to[0], to[1], to[2], real, imaginary, to[3], to[4])

    return echo


@lru_cache
def spreader(half: int, plane: bool, parts: int) -> Callable[..., None]:
    """Return the compiled kernel for `half` node pairs, a beam over the plane or the axis angle, 1 or 2 beam parts.

    The kernel adds the echoes of scatterers to a grid of two rows, real and imaginary.
    Arguments: grid (2, n) float32; xyz (3, n) float64; axis (3, n), amplitude, phase, float32; law int32;
    weight (n) float32, or length 0 for all ones; segments (s, 2) int64: which scatterers; pose (12) float64: face
    position, then rows u, v, w of the rotation; then the tables of `tables.Tables.arguments()`.
    """
    echo = _make_echo(half, plane, parts)

    @compiled((half, plane, parts))
    def spread(
        grid, xyz, axis, amplitude, phase, law, weight, segments, pose,
        clock, slowness, beam, beam_shape, loss, loss_shape, strength, two_sided, gain, taps, tap_steps,
    ):  # fmt: skip
        ranges, at, cosines = np.empty(_BLOCK), np.empty(_BLOCK), np.empty((4, _BLOCK), np.float32)
        turns, carriers = np.empty(_BLOCK, np.float32), np.empty((2, _BLOCK), np.float32)
        knots = (beam_shape[0], beam_shape[1], beam_shape[2] != 0)
        loss_scale, layer_top, layer_scale = np.float32(clock[8]), clock[9], np.float32(clock[10])
        limit, weighted, gain_row = float(grid.shape[1] - _ROW), weight.shape[0] > 0, load(gain.ctypes.data, 0)
        for s in range(segments.shape[0]):
            for start in range(segments[s, 0], segments[s, 1], _BLOCK):
                count = min(_BLOCK, segments[s, 1] - start)
                look(xyz, axis, pose, start, count, ranges, cosines)
                time(xyz, phase, slowness, clock, start, count, ranges, turns, at)
                carry(turns, count, carriers)
                for k in range(count):
                    cosine, kind, strong = cosines[3, k], law[start + k], amplitude[start + k]
                    if two_sided[kind]:
                        cosine = abs(cosine)
                    if weighted:
                        strong *= weight[start + k]
                    if cosines[2, k] <= _ZERO or cosine < _ZERO or strong == _ZERO or not 0.0 <= at[k] < limit:
                        continue
                    table = strength.ctypes.data + 4 * kind * strength.shape[1] * _ROW
                    node = gain_row * strength_row(table, strength.shape[1], cosine)
                    deep = np.float32(xyz[2, start + k] - layer_top) * layer_scale
                    loss_at = np.float32(ranges[k]) * loss_scale
                    node = node * loss_row(loss.ctypes.data, loss_shape[0], loss_shape[1], loss_at, deep)
                    # Spreading is that of the straight way to the scatterer; the gain holds the rest of a bounce.
                    node = node * splat(strong / np.float32(((ranges[k] - clock[4]) / clock[2]) ** 2))
                    here = np.int64(at[k])
                    between = np.float32((at[k] - here) * tap_steps)
                    to = (grid.ctypes.data, grid.shape[1], here, carriers[0, k], carriers[1, k])
                    way = (cosines[0, k], cosines[1, k])
                    echo(node, beam.ctypes.data, knots, way, taps.ctypes.data, between, tap_steps - 1, to)

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
        rows_at, taps_at = rows.ctypes.data, taps.ctypes.data
        for k in range(rows.shape[0] // _ROW):
            a, b = gaussian(key, k)
            node = load(rows_at, k * _ROW)
            real, imaginary = taps_of(node, mirror(node), taps_at, 0, _ZERO)
            put(grid_at, width, first + k, real, imaginary, a, b)

    return spread_cells
