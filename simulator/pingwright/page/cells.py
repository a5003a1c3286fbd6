"""Echo strength reduced to cells by their maximum, quantised and packed for the page."""

import base64
import zlib
from dataclasses import dataclass
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import FILL_VALUE, ElementRecord, FloatArray

#: echo strength = BASE + STEP * code [dB re 1 m2]; code 0 means no data. 0 to 65534 covers -400 to 6153 dB.
STEP = 0.1
BASE = -400.0

#: Cells of all pictures of a page together. Two bytes a cell, four thirds for base64: at worst 5.9 MB, mostly half.
CELLS_PER_PAGE = 2_200_000

#: Samples handled at once, to keep memory bounded [count].
_CHUNK = 4_000_000


@dataclass(frozen=True)
class Cells:
    """A picture as cells: codes (column, row), 0 where there is no data, else 1 + (level - BASE) / STEP.

    A column covers `pings` pings and a row `samples` samples, the last of each perhaps fewer, and holds their
    largest echo strength. left, width: first column's edge and a column's width [m along the track, or pings];
    top, height: likewise for rows [m of depth]. ping_count, sample_count: numbers before the reduction.
    """

    codes: NDArray[np.uint16]
    pings: int
    samples: int
    left: float
    width: float
    top: float
    height: float
    ping_count: int
    sample_count: int

    def packed(self) -> dict[str, Any]:
        """Return the picture as JSON: numbers, and the codes as base64 of zlib of high bytes, then low bytes."""
        codes = np.ascontiguousarray(self.codes).reshape(-1)
        planes = np.concatenate([(codes >> 8).astype(np.uint8), (codes & 255).astype(np.uint8)])
        return {
            "columns": int(self.codes.shape[0]),
            "rows": int(self.codes.shape[1]),
            "pings": self.pings,
            "samples": self.samples,
            "left": self.left,
            "width": self.width,
            "top": self.top,
            "height": self.height,
            "pingCount": self.ping_count,
            "sampleCount": self.sample_count,
            "data": base64.b64encode(zlib.compress(planes.tobytes(), 3)).decode("ascii"),
        }


def along_track(element: ElementRecord) -> tuple[float, float, bool]:
    """Return the left edge and width of one ping on the picture's x axis, and whether that axis is metres.

    For a boat that does not move forward, the picture is drawn over the ping number.
    """
    count = element.pings
    if count > 1:
        step = float(element.x[-1] - element.x[0]) / (count - 1)
        if step > 1e-9:
            return float(element.x[0]) - step / 2, step, True
    return -0.5, 1.0, False


def reduction(pings: int, samples: int, budget: int) -> tuple[int, int]:
    """Return how many pings and how many samples go into a cell so that at most `budget` cells remain.

    Depth is reduced first, down to 1000 rows, because there are fewer pings; then both, evenly.
    """
    per_ping, per_sample = 1, max(1, ceil(pings * samples / budget))
    while ceil(pings / per_ping) * ceil(samples / per_sample) > budget or (
        per_sample > 1 and samples // per_sample < 1000 and ceil(pings / per_ping) > 1000
    ):
        per_ping += 1
        per_sample = max(1, ceil(ceil(pings / per_ping) * samples / budget))
    return per_ping, per_sample


def encode(level: NDArray[np.float32]) -> NDArray[np.uint16]:
    """Return codes of echo strength [dB re 1 m2]; nan becomes 0."""
    code = np.rint((level.astype(np.float64) - BASE) / STEP) + 1
    return np.where(np.isnan(code), 0, np.clip(code, 1, 65535)).astype(np.uint16)


def echogram(element: ElementRecord, budget: int) -> Cells:
    """Return one element's picture, at most `budget` cells, of the largest echo strength in each cell."""
    pings, samples = element.pings, len(element.range)
    per_ping, per_sample = reduction(pings, samples, budget)
    columns, rows = ceil(pings / per_ping), ceil(samples / per_sample)
    codes = np.zeros((columns, rows), np.uint16)
    block = max(1, _CHUNK // (samples * per_ping))
    for first in range(0, columns, block):
        last = min(columns, first + block)
        level = strength(element, slice(first * per_ping, min(pings, last * per_ping)))
        codes[first:last] = encode(largest(level, per_ping, per_sample))
    left, width, _ = along_track(element)
    step = float(element.range[1] - element.range[0]) if samples > 1 else 1.0
    top = float(element.range[0]) - step / 2 + element.info.transducer_depth
    return Cells(codes, per_ping, per_sample, left, width * per_ping, top, step * per_sample, pings, samples)


def of_chip(level: NDArray[np.float32], across: FloatArray, down: FloatArray, pings: int, samples: int) -> Cells:
    """Return cells of an enlarged row: level (row, column) [dB re 1 m2], even edges across and down [m].

    Heights run down, so a row's height is negative where down holds heights over the ground.
    """
    codes = np.ascontiguousarray(encode(level).T)
    wide, tall = (float(edges[-1] - edges[0]) / (len(edges) - 1) for edges in (across, down))
    columns, rows = codes.shape
    return Cells(codes, pings, samples, float(across[0]), wide, float(down[0]), tall, columns * pings, rows * samples)


def strength(element: ElementRecord, pings: slice, samples: slice = slice(None)) -> NDArray[np.float32]:
    """Return echo strength [dB re 1 m2] (ping, sample), nan where the file holds no value."""
    missing = np.asarray(element.echo_level[pings, samples]) == FILL_VALUE
    return np.where(missing, np.float32(np.nan), element.echo_strength(pings, samples))


def largest(level: NDArray[np.float32], per_ping: int, per_sample: int) -> NDArray[np.float32]:
    """Return the maximum of each cell of (ping, sample); nan only where all of a cell is nan."""
    filled = np.where(np.isnan(level), np.float32(-np.inf), level)
    rows = np.maximum.reduceat(filled, np.arange(0, level.shape[1], per_sample), axis=1)
    both = np.maximum.reduceat(rows, np.arange(0, level.shape[0], per_ping), axis=0)
    return np.where(np.isneginf(both), np.float32(np.nan), both)
