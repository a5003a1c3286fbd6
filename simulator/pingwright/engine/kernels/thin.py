"""Which tiles of the seabed an element needs in full, and which part of the others: one ping at a time.

`plain.thin_plain` is the same in numpy. In a scene of many tiles it took a sixth of a run, and kept other threads
waiting.
"""

import math
from typing import Any

import numpy as np

from pingwright.engine.kernels.compiled import compiled

#: Shares are rounded up to powers of the fourth root of 1/2, down to 1/64.
STEPS = 25
_LEAST = 2.0 ** -((STEPS - 1) / 4)


@compiled()
def thin(
    tiles: Any, middle: Any, radius: Any, shares: Any, element: Any, slices: Any, apart: Any, pose: Any, factor: Any,
    found: Any, strength: Any,
) -> Any:  # fmt: skip
    """Fill found (tile, 2) int64 with segments of patches, and strength (tile) with their amplitude factors.

    Returns how many they are; those of one share stand together, neighbours are joined. tiles (t) int64: numbers of
    tiles in reach; of all tiles: middle (n, 3), radius (n) [m], shares (n, element, 2) inside the beam and outside,
    slices (n, 2) int64; apart (cell, cell): see `look.lobes`; pose (12); factor (STEPS): the share of each step. A tile
    out of the beam needs h / r of its share, at height h and range r: rings of one range cell grow as r, so that even
    patches are r / h times as many in a cell as straight below.
    """
    count, cells = tiles.shape[0], apart.shape[0] - 1
    step = np.empty(count, np.int64)
    for i in range(count):
        t = tiles[i]
        x, y, z = middle[t, 0] - pose[0], middle[t, 1] - pose[1], middle[t, 2] - pose[2]
        away = math.sqrt(x * x + y * y + z * z)
        distance = max(away, 1e-6)
        x, y, z = x / distance, y / distance, z / distance
        u = pose[3] * x + pose[4] * y + pose[5] * z
        v = pose[6] * x + pose[7] * y + pose[8] * z
        w = pose[9] * x + pose[10] * y + pose[11] * z
        row = min(max(np.int64(np.rint((u + 1.0) / 2.0 * cells)), 0), cells)
        column = min(max(np.int64(np.rint((v + 1.0) / 2.0 * cells)), 0), cells)
        wide = radius[t] / distance
        if apart[row, column] <= wide + 2.0 / cells and w > -wide:
            need = shares[t, element, 0]
        else:
            high = abs(middle[t, 2] - pose[2])
            need = shares[t, element, 1] * min(high / max(away - radius[t], 1e-6), 1.0)
        step[i] = np.int64(math.floor(-4.0 * math.log2(min(max(need, _LEAST), 1.0)) + 1e-9))
    total = 0
    for s in range(STEPS):
        first, louder = total, np.float32(1.0 / math.sqrt(factor[s]))
        for i in range(count):
            if step[i] != s:
                continue
            start, stop = slices[tiles[i], 0], slices[tiles[i], 1]
            if s > 0:
                stop = start + max(np.int64(np.rint((stop - start) * factor[s])), 1)
            if total > first and found[total - 1, 1] == start:
                found[total - 1, 1] = stop
            else:
                found[total, 0], found[total, 1], strength[total] = start, stop, louder
                total += 1
    return total
