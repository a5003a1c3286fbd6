"""Reads the beam table: over the angle off the axis by straight lines, or over the plane by cubic splines."""

from collections.abc import Callable
from typing import Any

import numba
import numpy as np

from pingwright.engine.kernels.sight import ACROSS, ALONG, BEYOND, BLOCK, LINE
from pingwright.engine.kernels.vectors import fill, load, single, splat, whole

_ROW = 16
_HALF, _ONE, _TWO = (np.float32(c) for c in (0.5, 1.0, 2.0))

_inline = numba.njit(nogil=True, inline="always", error_model="numpy")


@_inline
def lerp(table: Any, offset: Any, step: Any, part: Any) -> Any:
    """Return the row between table[offset] and table[offset + step], `part` (in all lanes) of the way."""
    low = load(table, offset)
    return low + part * (load(table, offset + step) - low)


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


def beam_reader(plane: bool, parts: int) -> tuple[Callable[..., Any], Callable[..., Any]]:
    """Return two functions that read the real and the imaginary row of the beam table for scatterer k of a block."""
    stride = parts * _ROW

    def radial(shift: int) -> Callable[..., Any]:
        @_inline
        def read(beam: Any, shape: Any, floats: Any, ints: Any, k: Any) -> Any:
            part = fill(floats, (BEYOND + 3) * BLOCK + k)
            return lerp(beam, whole(ints, (LINE + 2) * BLOCK + k) + shift, stride, part)

        return read

    def both(shift: int) -> Callable[..., Any]:
        @_inline
        def read(beam: Any, shape: Any, floats: Any, ints: Any, k: Any) -> Any:
            u, v = single(floats, ALONG * BLOCK + k), single(floats, ACROSS * BLOCK + k)
            knots_u, knots_v, mirrored = shape
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
