"""Resolution cells on the sample grid of a recording: the unit of all other measures."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ADD_OFFSET, LIMIT, SCALE_FACTOR, ElementRecord
from pingwright.measure.filters import Filtering, filtering

FloatArray = NDArray[np.float64]
StoredArray = NDArray[np.int16]


#: Noise is taken to be at least this [dB re 1 uPa], so that a world without noise has thresholds.
QUIETEST = -100.0


@dataclass(frozen=True)
class Grid:
    """The relation of an element's samples to its resolution cells.

    step [m]: between samples; cell [m]: c/2B of a chirp, c T/2 of a tone; per_cell: samples in one cell; gap: number of
    samples that span two cells; blank: index of the first sample beyond the blind range; range [m] (sample);
    surface_gain [dB] (sample): 20 log10 r + 2 alpha r - SL, which leaves an extended surface at about one level at any
    depth; strength_gain [dB] (sample): 40 log10 r + 2 alpha r - SL; volume_gain [dB re 1 m]: equivalent beam angle
    times cell, by which what fills the beam stands over its volume backscattering strength once surface_gain is added;
    noise [dB re 1 uPa]: mean level of the noise after the filter; filtering: what the filter does to noise and to
    strong echoes.
    """

    step: float
    cell: float
    per_cell: float
    gap: int
    blank: int
    range: FloatArray
    surface_gain: FloatArray
    strength_gain: FloatArray
    volume_gain: float
    noise: float
    filtering: Filtering

    def index(self, range_m: FloatArray) -> FloatArray:
        """Return the fractional sample index of a range [m] (any shape)."""
        return np.asarray((range_m - self.range[0]) / self.step)


def grid(element: ElementRecord) -> Grid:
    """Return the relation of an element's samples to its resolution cells."""
    info, r = element.info, np.asarray(element.range, dtype=np.float64)
    step = float(r[-1] - r[0]) / (len(r) - 1)
    size = info.cell
    loss = 2 * info.absorption * r - info.source_level
    spread = 20 * np.log10(np.maximum(r, step))
    return Grid(
        step=step,
        cell=size,
        per_cell=size / step,
        gap=int(np.ceil(2 * size / step - 1e-6)) + 1,
        blank=int(np.searchsorted(r, info.blank_range, side="right")),
        range=r,
        surface_gain=spread + loss,
        strength_gain=2 * spread + loss,
        volume_gain=info.equivalent_beam_angle + 10 * float(np.log10(size)),
        noise=max(info.noise_level, QUIETEST),
        filtering=filtering(info),
    )


def to_stored(level: FloatArray | float) -> StoredArray:
    """Return levels [dB re 1 uPa] as the stored 16-bit integers, rounded down, clipped to their span."""
    scaled = np.floor((np.asarray(level, dtype=np.float64) - ADD_OFFSET) / SCALE_FACTOR + 1e-6)
    return np.clip(scaled, -LIMIT, LIMIT).astype(np.int16)


def to_level(stored: NDArray[np.int16]) -> FloatArray:
    """Return the level [dB re 1 uPa] of stored integers."""
    return stored.astype(np.float64) * SCALE_FACTOR + ADD_OFFSET


def highest_within(stored: StoredArray, width: int) -> StoredArray:
    """Return the maximum over every run of `width` samples, (ping, sample - width + 1), by doubling.

    Element j of the last axis covers samples j to j + width - 1.
    """
    out, covered = stored, 1
    while covered < width:
        shift = min(covered, width - covered)
        out = np.maximum(out[..., :-shift], out[..., shift:])
        covered += shift
    return out
