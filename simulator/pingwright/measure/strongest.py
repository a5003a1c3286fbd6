"""Where a ping's first strong stretch begins: that of the bottom, and not that of a fish close to the boat."""

import numpy as np
from numpy.typing import NDArray

from pingwright.measure.cells import FloatArray, Grid

#: The bottom must stand this far [dB] above the noise.
LEAST_EXCESS = 10.0
#: An averaged echo strength [dB re 1 m2] that no single fish has; assumed: one of 1 m gives -33 over 8 cells.
LEAST_STRENGTH = -30.0
#: The first stretch within this much [dB] of the highest is the bottom: what comes later may be its second echo, which
#: with spherical spreading removed lies 3 dB + bottom loss below the first over a rough bottom.
SECOND_ECHO_MARGIN = 6.0
#: But where a fish could send that stretch, something at so many times its range, beyond its second echo, or farther
#: may have this much [dB] more echo strength: then that is the bottom, and the first a fish. Spherical spreading
#: removed, a fish of -33 dB at 0.8 m is as strong as sand at 7 m. A third echo has at most 5 dB more echo strength than
#: the first, less two losses at the bottom.
BEYOND, STRONGER = 2.2, 6.0
#: Fish above each other that are passed over.
MOST_FISH = 3


def first(mean: FloatArray, m: int, cells: Grid) -> NDArray[np.int64]:
    """Return the first of the m samples (ping) of the first stretch that may be the bottom's.

    mean (ping, sample): power averaged over m samples from there on, spherical spreading and absorption removed.
    """
    result = _first(mean)
    width, middle = mean.shape[1], (m - 1) // 2
    lift = 10 ** (0.1 * (cells.strength_gain - cells.surface_gain)[middle : middle + width])
    noise = 10 ** (0.1 * (cells.noise + LEAST_EXCESS + cells.surface_gain[middle : middle + width]))
    rows = np.arange(len(mean))
    for _ in range(MOST_FISH):
        # The stretch begins below its own highest part, which lies within its length.
        own = np.max([mean[rows, np.minimum(result[rows] + k, width - 1)] for k in range(m)], axis=0)
        rows, own = _could_be_fish(rows, own * lift[result[rows]])
        if not len(rows):
            break
        away = np.ceil(cells.index(BEYOND * cells.range[result[rows]])).astype(np.int64)
        rest = np.where(np.arange(width) >= away[:, None], mean[rows], 0.0)
        later = np.max(np.where(rest >= noise, rest * lift, 0.0), axis=1)
        louder = later >= own * 10 ** (0.1 * STRONGER)
        rows = rows[louder]
        result[rows] = _first(rest[louder])
    return result


def _first(mean: FloatArray) -> NDArray[np.int64]:
    """Return the first sample (ping) within SECOND_ECHO_MARGIN of the highest."""
    return np.asarray(np.argmax(mean >= mean.max(axis=1, keepdims=True) * 10 ** (-SECOND_ECHO_MARGIN / 10), axis=1))


def _could_be_fish(rows: NDArray[np.int64], strength: FloatArray) -> tuple[NDArray[np.int64], FloatArray]:
    some = strength < 10 ** (0.1 * LEAST_STRENGTH)
    return rows[some], strength[some]
