"""The spreading kernel: flat arrays in, one grid out; arithmetic only, no physics and no random draw.

A kernel is made for the shape of its tables (node pairs; beam tabulated over the angle off axis or over both direction
cosines; real or complex beam), because numbers known when compiling let LLVM unroll the tap loop.
`plain.spread_plain` is the same arithmetic in numpy, compared with this one by the tests.
"""

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numba
import numpy as np

from pingwright.engine.kernels.compiled import compiled
from pingwright.engine.kernels.noise import gaussian
from pingwright.engine.kernels.sight import room, seer
from pingwright.engine.kernels.vectors import fill, load, mirror, splat, store

_BLOCK = 256
#: How far rounding may put a direction cosine beyond 1.
_BEYOND = np.float32(1.0 + 1e-5)
_ROW = 16
_HALF, _ONE, _TWO, _ZERO, _HUGE = (np.float32(c) for c in (0.5, 1.0, 2.0, 0.0, 1e30))

_inline = numba.njit(nogil=True, inline="always", error_model="numpy")


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
def loss_row(table: Any, layers: Any, row: Any, part: Any, layer: Any, deep: Any) -> Any:
    """Return the loss, bilinear in the path's length and in the depth it ends at: rows, and how far beyond them."""
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
    """Return two functions that read the real and the imaginary row of the beam table.

    In direction (u, v), or where the table goes over the angle off the axis, at its row and how far beyond it.
    """
    stride = parts * _ROW

    def radial(shift: int) -> Callable[..., Any]:
        @_inline
        def read(beam: Any, knots_u: Any, knots_v: Any, mirrored: Any, u: Any, v: Any, row: Any, part: Any) -> Any:
            return lerp(beam, row * stride + shift, stride, part)

        return read

    def both(shift: int) -> Callable[..., Any]:
        @_inline
        def read(beam: Any, knots_u: Any, knots_v: Any, mirrored: Any, u: Any, v: Any, row: Any, part: Any) -> Any:
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


def _make_taps(half: int, slope_pairs: tuple[int, ...]) -> Callable[..., Any]:
    """Return the function that turns paired node amplitudes into their even (real) and odd (imaginary) taps.

    `part`: the rest of the delay in steps, -1/2 to 1/2; the slope pairs carry the change with it (see `nodes`).
    """
    few = len(slope_pairs)

    @_inline
    def taps_of(rows: Any, at: Any, taps: Any, offset: Any, part: Any) -> Any:
        # Four independent sums.
        real, imaginary = splat(_ZERO), splat(_ZERO)
        real_slope, imaginary_slope = splat(_ZERO), splat(_ZERO)
        for j in range(half):
            here = offset + j * 2 * _ROW
            real = real + fill(rows, at + j) * load(taps, here)
            imaginary = imaginary + fill(rows, at + _ROW + j) * load(taps, here + _ROW)
        for n in range(few):
            here, j = offset + (half + n) * 2 * _ROW, slope_pairs[n]
            real_slope = real_slope + fill(rows, at + j) * load(taps, here)
            imaginary_slope = imaginary_slope + fill(rows, at + _ROW + j) * load(taps, here + _ROW)
        way = splat(part)
        return real + way * real_slope, imaginary + way * imaginary_slope

    return taps_of


def _make_lay(half: int, slope_pairs: tuple[int, ...], parts: int) -> Callable[..., Any]:
    """Return the function that adds scatterers, their paired node amplitudes given, to the grid."""
    taps_of = _make_taps(half, slope_pairs)
    complex_beam, size, stride = parts == 2, parts * 2 * _ROW, (half + len(slope_pairs)) * 2 * _ROW

    @_inline
    def lay(
        grid: Any, rows: Any, heard: Any, kept: Any, taps: Any, here: Any, lines: Any, between: Any, carriers: Any
    ) -> None:
        for j in range(heard):
            k = kept[j]
            offset, part = np.int64(lines[4, k]) * stride, between[4, k]
            real, imaginary = taps_of(rows, j * size, taps.ctypes.data, offset, part)
            if complex_beam:
                more, less = taps_of(rows, j * size + 2 * _ROW, taps.ctypes.data, offset, part)
                real, imaginary = real - less, imaginary + more
            put(grid.ctypes.data, grid.shape[1], np.int64(here[k]), real, imaginary, carriers[0, k], carriers[1, k])

    return lay


def _make_node(plane: bool, parts: int) -> Callable[..., Any]:
    """Return the function that stores one scatterer's paired node amplitudes."""
    beam_real, beam_imaginary = _make_beam(plane, parts)
    complex_beam = parts == 2

    @_inline
    def node_of(
        rows: Any, at: Any, gain: Any, strength: Any, loss: Any, layers: Any, beam: Any, knots: Any,
        lines: Any, between: Any, cosines: Any, k: Any,
    ) -> None:  # fmt: skip
        node = gain * lerp(strength, np.int64(lines[0, k]) * _ROW, _ROW, between[0, k])
        row, layer = np.int64(lines[1, k]), np.int64(lines[2, k])
        node = node * loss_row(loss, layers, row, between[1, k], layer, between[2, k])
        u, v, row, part = cosines[0, k], cosines[1, k], np.int64(lines[3, k]), between[3, k]
        pair(rows, at, node * beam_real(beam, knots[0], knots[1], knots[2], u, v, row, part))
        if complex_beam:
            pair(rows, at + 2 * _ROW, node * beam_imaginary(beam, knots[0], knots[1], knots[2], u, v, row, part))

    return node_of


@_inline
def check(
    laws: Any, sizes: Any, here: Any, limit: Any, lines: Any, cosines: Any, steps: Any, kind: Any, k: Any
) -> None:
    """Raise IndexError where scatterer k would read or write outside a table or the grid."""
    inside = 0 <= kind < laws and 0 <= here[k] <= limit and 0 <= lines[4, k] <= steps
    inside = inside and abs(cosines[0, k]) <= _BEYOND and abs(cosines[1, k]) <= _BEYOND
    for table in range(4):
        inside = inside and 0 <= lines[table, k] <= sizes[table] - 2
    if not inside:
        raise IndexError("a scatterer lies outside a table")  # noqa: EM101


@_inline
def _trust(
    laws: Any, sizes: Any, here: Any, limit: Any, lines: Any, cosines: Any, steps: Any, kind: Any, k: Any
) -> None:
    """Do nothing: used instead of `check` in the kernels of ordinary runs."""


@lru_cache
def spreader(
    half: int, slope_pairs: tuple[int, ...], plane: bool, parts: int, checked: bool = False
) -> Callable[..., None]:
    """Return the compiled kernel for `half` node pairs, a beam over the plane or the axis angle, real or complex.

    Tables are read by address, so the test whether a scatterer is received must fail for values that are not numbers.
    With `checked`, every index is tested before it is used: IndexError if one lies outside (slow; for tests). The
    kernel adds the echoes of scatterers to a grid of two rows, real and imaginary: first all node amplitudes of a
    block, then all taps; in one loop each step would wait for the one before. Arguments: grid (2, n) float32; xyz (3,
    n) float64; axis (3, n), amplitude, phase, float32; law int32; weight (n) float32, or length 0 for all ones;
    segments (s, 2) int64: which scatterers; pose (12) float64: face position, then rows u, v, w of the rotation; then
    the tables of `tables.Tables.arguments()`.
    """
    node_of, lay_all, size = _make_node(plane, parts), _make_lay(half, slope_pairs, parts), parts * 2 * _ROW
    guard, see = check if checked else _trust, seer(checked)

    @compiled((half, slope_pairs, plane, parts), checked)
    def spread(
        grid, xyz, axis, amplitude, phase, law, weight, segments, pose,
        clock, slowness, beam, beam_shape, loss, loss_shape, strength, two_sided, gain, taps, tap_steps,
    ):  # fmt: skip
        ranges, cosines, spreading, turns, at, here, lines, between, carriers = room(_BLOCK)
        remaining, paired = np.empty(_BLOCK, np.int64), np.empty(_BLOCK * size + _ROW, np.float32)
        rows = (paired.ctypes.data + 63) // 64 * 64
        knots, laws = (beam_shape[0], beam_shape[1], beam_shape[2] != 0), strength.shape[1]
        sizes = (laws, loss_shape[0], loss_shape[1], beam_shape[0])
        limit, weighted, gain_row = float(grid.shape[1] - _ROW), weight.shape[0] > 0, load(gain.ctypes.data, 0)
        for s in range(segments.shape[0]):
            for start in range(segments[s, 0], segments[s, 1], _BLOCK):
                stop = min(start + _BLOCK, segments[s, 1])
                see(
                    xyz, axis, phase, start, stop, pose, clock, slowness, sizes, tap_steps,
                    ranges, cosines, spreading, turns, at, here, lines, between, carriers,
                )  # fmt: skip
                heard = 0
                for k in range(stop - start):
                    kind, strong = law[start + k], amplitude[start + k] * spreading[k]
                    strong *= weight[start + k] if weighted else _ONE
                    seen = cosines[2, k] > _ZERO and (cosines[3, k] >= _ZERO or two_sided[kind])
                    if not (seen and _ZERO < abs(strong) < _HUGE and 0.0 <= at[k] < limit):
                        continue
                    guard(strength.shape[0], sizes, here, limit, lines, cosines, tap_steps, kind, k)
                    node_of(
                        rows, heard * size, gain_row * splat(strong),
                        strength.ctypes.data + 4 * kind * laws * _ROW, loss.ctypes.data, loss_shape[1],
                        beam.ctypes.data, knots, lines, between, cosines, k,
                    )  # fmt: skip
                    remaining[heard] = k
                    heard += 1
                lay_all(grid, rows, heard, remaining, taps, here, lines, between, carriers)
        paired[0] = _ZERO  # numba frees an array after its last use, even if its address is in use: this is the last

    return spread


@lru_cache
def cell_spreader(half: int, slope_pairs: tuple[int, ...]) -> Callable[..., None]:
    """Return the compiled kernel that adds complex Gaussian echoes, one a grid sample, to a grid (2, n).

    Arguments: grid; rows flat float32 (cell, 16): rms node amplitudes; first: grid position of the first cell; taps;
    key uint64 of the ping.
    """
    taps_of = _make_taps(half, slope_pairs)

    @compiled((half, slope_pairs))
    def spread_cells(grid, rows, first, taps, key):  # type: ignore[no-untyped-def]
        grid_at, width = grid.ctypes.data, grid.shape[1]
        rows_at, taps_at, paired = rows.ctypes.data, taps.ctypes.data, np.empty(2 * _ROW, np.float32)
        for k in range(rows.shape[0] // _ROW):
            a, b = gaussian(key, k)
            pair(paired.ctypes.data, 0, load(rows_at, k * _ROW))
            real, imaginary = taps_of(paired.ctypes.data, 0, taps_at, 0, _ZERO)
            put(grid_at, width, first + k, real, imaginary, a, b)

    return spread_cells
