"""Echoes of unresolved scatterers, one complex Gaussian for each sample of a grid.

`plain.cells_plain` is the same in numpy.
"""

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from pingwright.engine.kernels.compiled import compiled
from pingwright.engine.kernels.noise import gaussian
from pingwright.engine.kernels.spread import make_taps, pair
from pingwright.engine.kernels.vectors import first_of, load, shifted, splat, store

_ROW = 16
#: Draws made at a time: a loop of their own runs on vectors.
_BLOCK = 256
_ZERO = np.float32(0.0)


@lru_cache
def cell_spreader(half: int, slope_pairs: tuple[int, ...]) -> Callable[..., None]:
    """Return the compiled kernel that adds complex Gaussian echoes, one a grid sample, to a grid (2, n).

    Arguments: grid; rows flat float32 (cell, 16): rms node amplitudes; first: grid position of the first cell; taps;
    key uint64 of the ping. A sample is complete when the cell that begins there is added: 16 sums move along the grid.
    Added in memory instead, each cell waited for the one before (12 ns for 3).
    """
    # Cells lie on the samples, so that the change with delay has no part in them.
    taps_of = make_taps(half, ())

    @compiled((half, slope_pairs))
    def spread_cells(grid, rows, first, taps, key):  # type: ignore[no-untyped-def]
        rows_at, taps_at, paired = rows.ctypes.data, taps.ctypes.data, np.empty(2 * _ROW, np.float32)
        cosine, sine, count = np.empty(_BLOCK, np.float32), np.empty(_BLOCK, np.float32), rows.shape[0] // _ROW
        real, imaginary = splat(_ZERO), splat(_ZERO)
        for start in range(0, count, _BLOCK):
            many = min(_BLOCK, count - start)
            for k in range(many):
                cosine[k], sine[k] = gaussian(key, start + k)
            for k in range(many):
                pair(paired.ctypes.data, 0, load(rows_at, (start + k) * _ROW))
                even, odd = taps_of(paired.ctypes.data, 0, taps_at, 0, splat(_ZERO))
                c, s = splat(cosine[k]), splat(sine[k])
                real, imaginary = real + (even * c - odd * s), imaginary + (even * s + odd * c)
                grid[0, first + start + k] += first_of(real)
                grid[1, first + start + k] += first_of(imaginary)
                real, imaginary = shifted(real), shifted(imaginary)
        last, below = first + count, grid.ctypes.data + 4 * grid.shape[1]
        store(grid.ctypes.data, last, load(grid.ctypes.data, last) + real)
        store(below, last, load(below, last) + imaginary)

    return spread_cells
