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

from pingwright.engine.kernels.beams import beam_reader, lerp
from pingwright.engine.kernels.compiled import compiled
from pingwright.engine.kernels.sight import (
    ACROSS,
    ALONG,
    BEYOND,
    BLOCK,
    CARRIER,
    FACING,
    HERE,
    LINE,
    SINGLES,
    STRONG,
    WHOLES,
    seer,
)
from pingwright.engine.kernels.vectors import WIDTH, fill, load, mirror, single, splat, store, whole

#: How far rounding may put a direction cosine beyond 1.
_OUTSIDE = np.float32(1.0 + 1e-5)
_ROW = 16
_ZERO = np.float32(0.0)

_inline = numba.njit(nogil=True, inline="always", error_model="numpy")


@_inline
def loss_row(table: Any, layers: Any, line: Any, part: Any, deep: Any) -> Any:
    """Return the loss, bilinear in the path's length and in the depth it ends at: row, and how far beyond it."""
    near = lerp(table, line, layers * _ROW, part)
    far = lerp(table, line + _ROW, layers * _ROW, part)
    return near + deep * (far - near)


@_inline
def put(grid: Any, width: Any, here: Any, real: Any, imaginary: Any, c: Any, s: Any) -> None:
    """Add taps, turned by a carrier phase (cosine and sine in all lanes), to the two rows of a grid of some width."""
    below = grid + 4 * width
    store(grid, here, load(grid, here) + (real * c - imaginary * s))
    store(below, here, load(below, here) + (real * s + imaginary * c))


@_inline
def pair(rows: Any, at: Any, amplitude: Any) -> None:
    """Store a row of node amplitudes as the sums and the differences of its mirrored pairs: two rows of 16."""
    mirrored = mirror(amplitude)
    store(rows, at, amplitude + mirrored)
    store(rows, at + _ROW, amplitude - mirrored)


def make_taps(half: int, slope_pairs: tuple[int, ...]) -> Callable[..., Any]:
    """Return the function that turns paired node amplitudes into their even (real) and odd (imaginary) taps.

    `way` (in all lanes): the rest of the delay in steps, -1/2 to 1/2; the slope pairs carry the change with it (see
    `nodes`).
    """
    few, carrying = len(slope_pairs), slope_pairs or (0,)  # the compiler cannot index an empty tuple

    @_inline
    def taps_of(rows: Any, at: Any, taps: Any, offset: Any, way: Any) -> Any:
        # Four independent sums.
        real, imaginary = splat(_ZERO), splat(_ZERO)
        real_slope, imaginary_slope = splat(_ZERO), splat(_ZERO)
        for j in range(half):
            here = offset + j * 2 * _ROW
            real = real + fill(rows, at + j) * load(taps, here)
            imaginary = imaginary + fill(rows, at + _ROW + j) * load(taps, here + _ROW)
        for n in range(few):
            here, j = offset + (half + n) * 2 * _ROW, carrying[n]
            real_slope = real_slope + fill(rows, at + j) * load(taps, here)
            imaginary_slope = imaginary_slope + fill(rows, at + _ROW + j) * load(taps, here + _ROW)
        return real + way * real_slope, imaginary + way * imaginary_slope

    return taps_of


def _make_lay(half: int, slope_pairs: tuple[int, ...], parts: int) -> Callable[..., Any]:
    """Return the function that adds scatterers, their paired node amplitudes given, to the grid."""
    taps_of, complex_beam, each = make_taps(half, slope_pairs), parts == 2, parts * 2 * _ROW

    @_inline
    def lay(grid: Any, width: Any, rows: Any, heard: Any, kept: Any, taps: Any, floats: Any, ints: Any) -> None:
        for j in range(heard):
            k = np.int64(kept[j])
            offset, way = whole(ints, (LINE + 3) * BLOCK + k), fill(floats, (BEYOND + 4) * BLOCK + k)
            real, imaginary = taps_of(rows, j * each, taps, offset, way)
            if complex_beam:
                more, less = taps_of(rows, j * each + 2 * _ROW, taps, offset, way)
                real, imaginary = real - less, imaginary + more
            c, s = fill(floats, CARRIER * BLOCK + k), fill(floats, (CARRIER + 1) * BLOCK + k)
            put(grid, width, whole(ints, HERE * BLOCK + k), real, imaginary, c, s)

    return lay


def _make_node(plane: bool, parts: int) -> Callable[..., Any]:
    """Return the function that stores the paired node amplitudes of scatterer k of a block."""
    beam_real, beam_imaginary = beam_reader(plane, parts)
    complex_beam = parts == 2

    @_inline
    def node_of(
        rows: Any, at: Any, gain: Any, strength: Any, loss: Any, layers: Any, beam: Any, shape: Any,
        floats: Any, ints: Any, k: Any,
    ) -> None:  # fmt: skip
        node = gain * fill(floats, STRONG * BLOCK + k)
        node = node * lerp(strength, whole(ints, LINE * BLOCK + k), _ROW, fill(floats, BEYOND * BLOCK + k))
        far, deep = fill(floats, (BEYOND + 1) * BLOCK + k), fill(floats, (BEYOND + 2) * BLOCK + k)
        node = node * loss_row(loss, layers, whole(ints, (LINE + 1) * BLOCK + k), far, deep)
        pair(rows, at, node * beam_real(beam, shape, floats, ints, k))
        if complex_beam:
            pair(rows, at + 2 * _ROW, node * beam_imaginary(beam, shape, floats, ints, k))

    return node_of


@_inline
def check(laws: Any, sizes: Any, limit: Any, delays: Any, floats: Any, ints: Any, kind: Any, k: Any) -> None:
    """Raise IndexError where scatterer k of law `kind` would read or write outside a table or the grid.

    sizes: see `sight.find`; limit: samples of the grid; delays: floats up to the last row of taps.
    """
    inside = 0 <= kind < laws and 0 <= whole(ints, HERE * BLOCK + k) <= limit
    inside = inside and 0 <= whole(ints, LINE * BLOCK + k) <= (sizes[0] - 2) * _ROW
    inside = inside and 0 <= whole(ints, (LINE + 1) * BLOCK + k) <= ((sizes[1] - 1) * sizes[2] - 2) * _ROW
    inside = inside and 0 <= whole(ints, (LINE + 2) * BLOCK + k) <= (sizes[3] - 2) * sizes[4]
    inside = inside and 0 <= whole(ints, (LINE + 3) * BLOCK + k) <= delays
    inside = inside and abs(single(floats, ALONG * BLOCK + k)) <= _OUTSIDE
    if not (inside and abs(single(floats, ACROSS * BLOCK + k)) <= _OUTSIDE):
        raise IndexError("a scatterer lies outside a table")  # noqa: EM101


@_inline
def _trust(laws: Any, sizes: Any, limit: Any, delays: Any, floats: Any, ints: Any, kind: Any, k: Any) -> None:
    """Do nothing: used instead of `check` in the kernels of ordinary runs."""


@_inline
def copied(spare: Any, xyz: Any, axis: Any, phase: Any, amplitude: Any, weight: Any, start: Any, stop: Any) -> None:
    """Copy the scatterers start .. stop into spare: rows x, y, z (3, BLOCK) float64, six rows of float32 and more."""
    places, singles = spare
    for row in range(3):
        for k in range(start, stop):
            places[row, k - start] = xyz[row, k]
            singles[row, k - start] = axis[row, k]
    for k in range(start, stop):
        singles[3, k - start] = phase[k]
        singles[4, k - start] = amplitude[k]
    for k in range(start, min(stop, weight.shape[0])):
        singles[5, k - start] = weight[k]


def _make_nodes(plane: bool, parts: int, guard: Callable[..., None]) -> Callable[..., Any]:
    """Return the function that stores the paired node amplitudes of those of a block that are heard.

    It fills `kept` with their numbers in the block, and returns how many they are.
    """
    node_of, each = _make_node(plane, parts), parts * 2 * _ROW

    @_inline
    def nodes_of(
        rows: Any, kept: Any, first: Any, many: Any, law: Any, two_sided: Any, gain: Any, strength: Any, loss: Any,
        beam: Any, shape: Any, sizes: Any, limit: Any, delays: Any, floats: Any, ints: Any,
    ) -> Any:  # fmt: skip
        heard, laws = 0, strength.shape[0]
        for k in range(many):
            kind = law[first + k]
            seen = single(floats, FACING * BLOCK + k) >= _ZERO or two_sided[kind]
            if single(floats, STRONG * BLOCK + k) == _ZERO or not seen:
                continue
            guard(laws, sizes, limit, delays, floats, ints, kind, k)
            node_of(
                rows, heard * each, gain, strength.ctypes.data + 4 * kind * sizes[0] * _ROW, loss.ctypes.data,
                sizes[2], beam.ctypes.data, shape, floats, ints, k,
            )  # fmt: skip
            kept[heard] = k
            heard += 1
        return heard

    return nodes_of


def _make_sight(stride: int) -> Callable[..., None]:
    """Return the function that fills floats and ints for the scatterers start .. stop, see `sight.seer`.

    Groups of 16 are read whole: the last scatterers of the arrays are copied, so that nothing beyond them is read.
    """
    see = seer()

    @_inline
    def sight(
        xyz: Any, axis: Any, phase: Any, amplitude: Any, weight: Any, start: Any, stop: Any, spare: Any, pose: Any,
        clock: Any, slowness: Any, sizes: Any, limit: Any, steps: Any, floats: Any, ints: Any,
    ) -> None:  # fmt: skip
        count, many, weighted, knots = xyz.shape[1], stop - start, weight.shape[0] > 0, slowness.shape[1]
        if stop + WIDTH > count:
            copied(spare, xyz, axis, phase, amplitude, weight, start, stop)
            at, row = spare[1].ctypes.data, 4 * BLOCK
            see(
                (spare[0].ctypes.data, BLOCK), (at, BLOCK), at + 3 * row, at + 4 * row, at + 5 * row if weighted else 0,
                many, pose, clock, slowness.ctypes.data, knots, sizes, limit, steps, stride, floats, ints,
            )  # fmt: skip
        else:
            see(
                (xyz.ctypes.data + 8 * start, xyz.strides[0] // 8),
                (axis.ctypes.data + 4 * start, axis.strides[0] // 4), phase.ctypes.data + 4 * start,
                amplitude.ctypes.data + 4 * start, weight.ctypes.data + 4 * start if weighted else 0, many, pose,
                clock, slowness.ctypes.data, knots, sizes, limit, steps, stride, floats, ints,
            )  # fmt: skip

    return sight


@_inline
def refuse_gaps(xyz: Any, axis: Any, phase: Any, amplitude: Any, weight: Any) -> None:
    """Raise ValueError where the numbers of a row do not stand side by side: they are read by address."""
    many = xyz.shape[1] > 1
    if many and (xyz.strides[1] != 8 or axis.strides[1] != 4 or phase.strides[0] != 4 or amplitude.strides[0] != 4):
        raise ValueError("the arrays of scatterers have gaps")  # noqa: EM101
    if weight.shape[0] > 1 and weight.strides[0] != 4:
        raise ValueError("the weights have gaps")  # noqa: EM101


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
    segments (s, 2) int64: which scatterers; shares (s) float32: amplitude factor of each segment; pose (12) float64:
    face position, then rows u, v, w of the rotation; then the tables of `tables.Tables.arguments()`. ValueError where
    the numbers of a row have gaps between them.
    """
    guard, each, stride = check if checked else _trust, parts * 2 * _ROW, (half + len(slope_pairs)) * 2 * _ROW
    sight, nodes_of = _make_sight(stride), _make_nodes(plane, parts, guard)
    lay_all = _make_lay(half, slope_pairs, parts)

    @compiled((half, slope_pairs, plane, parts), checked)
    def spread(
        grid, xyz, axis, amplitude, phase, law, weight, segments, shares, pose,
        clock, slowness, beam, beam_shape, loss, loss_shape, strength, two_sided, gain, taps, tap_steps,
    ):  # fmt: skip
        refuse_gaps(xyz, axis, phase, amplitude, weight)
        memory, numbers = np.empty((SINGLES + each) * BLOCK + 32, np.float32), np.empty(WHOLES * BLOCK + 32, np.int32)
        spare, kept = (np.empty((3, BLOCK)), np.empty((6, BLOCK), np.float32)), np.empty(BLOCK, np.int32)
        floats, ints = (memory.ctypes.data + 63) // 64 * 64, (numbers.ctypes.data + 63) // 64 * 64
        rows, shape = floats + 4 * SINGLES * BLOCK, (beam_shape[0], beam_shape[1], beam_shape[2] != 0)
        sizes = (strength.shape[1], loss_shape[0], loss_shape[1], beam_shape[0], parts * _ROW)
        limit, all_ = grid.shape[1] - _ROW, load(gain.ctypes.data, 0)
        for s in range(segments.shape[0]):
            for start in range(segments[s, 0], segments[s, 1], BLOCK):
                stop = min(start + BLOCK, segments[s, 1])
                sight(
                    xyz, axis, phase, amplitude, weight, start, stop, spare, pose, clock, slowness, sizes, limit,
                    tap_steps, floats, ints,
                )  # fmt: skip
                heard = nodes_of(
                    rows, kept, start, stop - start, law, two_sided, all_ * splat(shares[s]), strength, loss, beam,
                    shape, sizes, limit, tap_steps * stride, floats, ints,
                )  # fmt: skip
                lay_all(grid.ctypes.data, grid.shape[1], rows, heard, kept, taps.ctypes.data, floats, ints)
        # numba frees an array after its last use, even if its address is in use: this is the last.
        memory[0], numbers[0], spare[0][0, 0], spare[1][0, 0] = _ZERO, 0, 0.0, _ZERO

    return spread
