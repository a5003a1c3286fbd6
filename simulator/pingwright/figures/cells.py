"""Reduction of a recording to the cells of a picture by maximum, so that no echo is lost by averaging.

A cell shows the strongest echo strength of all samples whose centres lie in it; where the recording is coarser than
the picture, the nearest sample fills the cell. Long recordings are read block by block.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ElementRecord

FloatArray = NDArray[np.float64]

#: pings read at a time
BLOCK = 256


@dataclass(frozen=True)
class Cells:
    """Picture cells.

    level (row, column): strongest echo strength [dB re 1 m2], nan where nothing was recorded; row 0 is the top.
    across (column + 1), down (row + 1): edges, along-track coordinate [m or s] and depth or height [m].
    pings, samples: how many of either the fullest cell is the maximum of.
    """

    level: NDArray[np.float32]
    across: FloatArray
    down: FloatArray
    pings: int
    samples: int

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """Left, right, bottom, top."""
        return self.across[0], self.across[-1], self.down[-1], self.down[0]


def along(element: ElementRecord) -> tuple[FloatArray, str]:
    """Return the horizontal coordinate of each ping and its unit: x [m] of a moving boat, else time [s]."""
    if element.pings > 1 and np.all(np.diff(element.x) > 0):
        return element.x, "m"
    return element.ping_time, "s"


def edges_of(centres: FloatArray, count: int) -> FloatArray:
    """Return `count` + 1 even edges that span all centres and half a step beyond either end."""
    step = (centres[-1] - centres[0]) / (len(centres) - 1) if len(centres) > 1 else 1.0
    return np.linspace(centres[0] - step / 2, centres[-1] + step / 2, count + 1)


def spans(centres: FloatArray, edges: FloatArray) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return for each cell the first and one past the last index of the ascending centres in it; never empty.

    A cell without a centre takes the nearest one to its middle.
    """
    first = np.searchsorted(centres, edges[:-1], side="left")
    past = np.searchsorted(centres, edges[1:], side="left")
    empty = np.flatnonzero(past <= first)
    if len(empty):
        middle = (edges[empty] + edges[empty + 1]) / 2
        right = np.clip(np.searchsorted(centres, middle), 1, max(len(centres) - 1, 1))
        left = right - 1
        right = np.minimum(right, len(centres) - 1)
        first[empty] = np.where(middle - centres[left] <= centres[right] - middle, left, right)
        past[empty] = first[empty] + 1
    return first, past


def reduce_max(values: NDArray[Any], first: NDArray[np.intp], past: NDArray[np.intp]) -> NDArray[Any]:
    """Return maxima over values[..., first:past] for ascending, non-empty spans, on the last axis; nan is skipped."""
    single = values[..., first]
    if np.all(past - first == 1):
        return single
    pairs = np.empty(2 * len(first), dtype=np.intp)
    pairs[0::2], pairs[1::2] = first, np.minimum(past, values.shape[-1] - 1)
    full = np.fmax.reduceat(values, pairs, axis=-1)[..., 0::2]
    # reduceat cannot end at the last value: that span is reduced separately.
    for k in np.flatnonzero(past == values.shape[-1]):
        full[..., k] = np.fmax.reduce(values[..., first[k] : past[k]], axis=-1)
    return full


def echogram(element: ElementRecord, rows: int, columns: int) -> Cells:
    """Return the complete recording of an element as cells: depth as drawn by a sounder, at most rows x columns."""
    return between(
        element, slice(0, len(element.range)), edges_of(element.range, min(rows, len(element.range))), columns
    )


def box(
    element: ElementRecord,
    depths: tuple[float, float],
    rows: int,
    columns: int,
    window: tuple[float, float] | None = None,
) -> Cells:
    """Return the cells of an element between two depths [m], top first, and limits along the track [m or s]."""
    line = element.range + element.info.transducer_depth
    first, past = (int(i) for i in np.searchsorted(line, depths))
    first = min(max(first - 1, 0), max(len(line) - 2, 0))
    samples = slice(first, max(min(past + 1, len(line)), first + 2))
    edges = edges_of(element.range[samples], min(rows, len(line[samples])))
    return between(element, samples, edges, columns, window)


def pings_of(element: ElementRecord, window: tuple[float, float] | None) -> tuple[int, int]:
    """Return the first ping and one past the last between limits along the track [m or s]; at least one."""
    across, _ = along(element)
    if window is None:
        return 0, element.pings
    chosen = np.flatnonzero((across >= window[0]) & (across <= window[1]))
    if not len(chosen):
        chosen = np.array([int(np.argmin(np.abs(across - np.mean(window))))])
    return int(chosen[0]), int(chosen[-1]) + 1


def between(
    element: ElementRecord,
    samples: slice,
    down: FloatArray,
    columns: int,
    window: tuple[float, float] | None = None,
) -> Cells:
    """Return some samples of an element as cells between edges of range, down (row + 1) [m], and along the track."""
    across, _ = along(element)
    first, past = spans(element.range[samples], down)

    def block(start: int, stop: int) -> NDArray[np.float32]:
        return reduce_max(element.echo_strength(slice(start, stop), samples), first, past)

    depth, most = down + element.info.transducer_depth, int((past - first).max())
    return _assemble(element, across, depth, columns, most, block, pings_of(element, window))


def filled(bottom: FloatArray) -> FloatArray:
    """Return a bottom pick [m] with its gaps filled by straight lines; if all are nan, it does not change."""
    good = np.isfinite(bottom)
    if not good.any():
        return bottom
    index = np.arange(len(bottom))
    return np.interp(index, index[good], bottom[good])


def strip(
    element: ElementRecord,
    bottom: FloatArray,
    above: float,
    below: float,
    rows: int,
    columns: int,
    window: tuple[float, float] | None = None,
) -> Cells:
    """Return the last metres above the bottom, flattened: down holds height above the picked bottom [m], top first.

    bottom: picked range (ping) [m]; above, below: heights shown [m]; window: along-track limits [m or s], else all. A
    ping is shifted by whole samples: the error is half a sample step, at most 1/4 of c/2B at the stored rate of 2 B.
    """
    across, _ = along(element)
    step = float(element.range[1] - element.range[0])
    picked = filled(bottom)
    picked = np.where(np.isfinite(picked), picked, element.range[-1] - below)
    start = np.rint((picked - above - element.range[0]) / step).astype(np.intp)
    length = max(int(np.ceil((above + below) / step)), 2)
    rows = min(rows, length)
    height = above - np.arange(length, dtype=np.float64) * step
    down = np.linspace(above, -below, rows + 1)
    first, past = spans(-height, -down)

    def block(begin: int, end: int) -> NDArray[np.float32]:
        return reduce_max(_window(element, begin, end, start[begin:end], length), first, past)

    span = pings_of(element, window)
    return _assemble(element, across, down, columns, int((past - first).max()), block, span)


def _window(element: ElementRecord, begin: int, end: int, start: NDArray[np.intp], length: int) -> NDArray[np.float32]:
    """Return echo strength (ping, length) from each ping's own start sample; nan outside the recording."""
    total = len(element.range)
    low, high = max(int(start.min()), 0), min(int(start.max()) + length, total)
    if high <= low:
        return np.full((end - begin, length), np.nan, dtype=np.float32)
    read = element.echo_strength(slice(begin, end), slice(low, high))
    index = start[:, None] + np.arange(length)[None] - low
    inside = (index >= 0) & (index < high - low)
    taken = np.take_along_axis(read, np.clip(index, 0, high - low - 1), axis=1)
    return np.where(inside, taken, np.float32(np.nan))


def _assemble(
    element: ElementRecord,
    across: FloatArray,
    down: FloatArray,
    columns: int,
    samples: int,
    block: Any,
    span: tuple[int, int] | None = None,
) -> Cells:
    """Reduce blocks of pings, already reduced along range, to at most `columns` columns; span: first, past ping."""
    start, stop = span or (0, element.pings)
    columns = max(min(columns, stop - start), 1)
    edges = edges_of(across[start:stop], columns)
    first, past = (index + start for index in spans(across[start:stop], edges))
    level = np.full((len(down) - 1, columns), np.nan, dtype=np.float32)
    for begin in range(start, stop, BLOCK):
        end = min(begin + BLOCK, stop)
        rows = block(begin, end)
        for column in np.flatnonzero((first < end) & (past > begin)):
            part = rows[max(first[column] - begin, 0) : min(past[column], end) - begin]
            level[:, column] = np.fmax(level[:, column], np.fmax.reduce(part, axis=0))
    return Cells(level, edges, down, int((past - first).max()), samples)
