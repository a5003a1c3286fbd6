"""The power of a bottom echo in the water before it, through the side lobes of the filter."""

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ADD_OFFSET, SCALE_FACTOR
from pingwright.measure.cells import FloatArray, Grid, StoredArray
from pingwright.measure.filters import STEPS


def leak_ahead(stored: StoredArray, cells: Grid, first: NDArray[np.int64]) -> FloatArray:
    """Return the mean power [uPa2] that side lobes carry ahead of a bottom echo, (ping, samples ahead).

    first (ping): sample the echo begins at; at or beyond the end: none, and nothing leaks. Element j is for the sample
    j ahead of it; the last is zero, for all beyond one pulse length. The recorded power from there on leaks sample by
    sample through the side lobe at its distance, as if from independent points.
    """
    from scipy import fft

    lobes = cells.filtering.lobes
    reach = int(len(lobes) / STEPS * cells.per_cell)
    if reach == 0:  # a pulse shorter than a sample: nothing leaks
        return np.zeros((len(first), 1))
    ahead = np.zeros((len(first), reach + 1))
    rows = np.flatnonzero(first < stored.shape[1])
    if len(rows) == 0:
        return ahead
    place = first[rows, None] + np.arange(reach)
    level = stored[rows[:, None], np.minimum(place, stored.shape[1] - 1)]
    power = np.where(place < stored.shape[1], 10 ** (0.1 * (level * SCALE_FACTOR + ADD_OFFSET)), 0.0)
    away = np.arange(2 * reach) / cells.per_cell * STEPS
    share = np.interp(away, np.arange(len(lobes)), lobes, right=0.0) * STEPS / cells.per_cell
    # Sum over i of power[i] share[i + j]: a correlation, by FFT.
    length = fft.next_fast_len(3 * reach, real=True)
    spread = fft.irfft(np.conj(fft.rfft(power, length)) * fft.rfft(share, length), length)
    ahead[rows, :reach] = np.maximum(spread[:, :reach], 0.0)
    return ahead
