"""Adds things to stored echoes: many pings in one call."""

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np

from pingwright.engine.kernels.compiled import compiled
from pingwright.engine.kernels.noise import pack
from pingwright.engine.kernels.spread import spreader


@lru_cache
def many_spreader(half: int, slope_pairs: tuple[int, ...], plane: bool, parts: int) -> Callable[..., None]:
    """Return the kernel of `spread.spreader` for many pings at once.

    Arguments as there, but grids (ping, 2, n), bounds (ping, 2) int64: each ping's first scatterer and the one after
    its last, poses (ping, 12) and clocks (ping, 12).
    """
    spread = spreader(half, slope_pairs, plane, parts)

    @compiled((half, slope_pairs, plane, parts))
    def spread_many(
        grids, xyz, axis, amplitude, phase, law, weight, bounds, poses, clocks,
        slowness, beam, beam_shape, loss, loss_shape, strength, two_sided, gain, taps, tap_steps,
    ):  # fmt: skip
        whole = np.ones(1, np.float32)
        for p in range(grids.shape[0]):
            spread(
                grids[p], xyz, axis, amplitude, phase, law, weight, bounds[p : p + 1], whole, poses[p], clocks[p],
                slowness, beam, beam_shape, loss, loss_shape, strength, two_sided, gain, taps, tap_steps,
            )  # fmt: skip

    return spread_many


@compiled()
def add_patches(patches: Any, rows: Any, starts: Any, total: Any) -> None:
    """Add patches to the rows of total that they belong to; arguments as of `sum_over`."""
    length, count = patches.shape[1], total.shape[1]
    for m in range(rows.shape[0]):
        row, start = rows[m], starts[m]
        for k in range(max(start, 0), min(start + length, count)):
            total[row, k] += patches[m, k - start]


@compiled()
def sum_over(echo: Any, patches: Any, rows: Any, starts: Any, total: Any, ends: Any) -> None:
    """Add patches (m, n) to rows of echoes (ping, sample), both complex64; echo does not change.

    rows (m), rising: the ping of each patch; starts (m): the sample of its first value, which may lie outside. Written:
    total (ping, sample), valid between ends (ping, 2): first sample and the one after the last; 0, 0 without a patch.
    """
    length, count = patches.shape[1], echo.shape[1]
    ends[:] = 0
    for m in range(rows.shape[0]):
        row = rows[m]
        low, high = min(max(starts[m], 0), count), min(max(starts[m] + length, 0), count)
        if high > low:
            first, last = ends[row, 0], ends[row, 1]
            ends[row, 0] = low if last == 0 else min(first, low)
            ends[row, 1] = max(last, high)
    for row in range(echo.shape[0]):
        for k in range(ends[row, 0], ends[row, 1]):
            total[row, k] = echo[row, k]
    add_patches(patches, rows, starts, total)


@compiled()
def pack_between(echo: Any, ends: Any, scale: Any, offset: Any, limit: Any, level: Any) -> None:
    """Pack echoes (ping, sample) into levels as `noise.pack` does, each ping between its ends (ping, 2) only."""
    for row in range(echo.shape[0]):
        low, high = ends[row, 0], ends[row, 1]
        pack(echo[row, low:high], scale, offset, limit, level[row, low:high])
