"""The foot of a bottom echo: its weak first part, off the nearest point of a slope or the side of a wave.

There the beam is off its axis, so the echo may begin 30 dB below its level, as far ahead of its strong part as the
ground stands nearer there. It fades as Rayleigh power does, and single maxima of it look like fish.
"""

import numpy as np
from numpy.typing import NDArray

from simulator.measure.cells import FloatArray, Grid, StoredArray, highest_within, to_level, to_stored
from simulator.measure.leak import leak_ahead

#: The foot is followed down to this far [dB] below the bottom level ...
FOOT_DROP = 35.0
#: ... or to this far [dB] above the mean of the noise and of what the filter's side lobes carry there: two cells of
#: either never exceed it all along.
QUIET_OVER = 10.0
#: It reaches at most this share of range ahead, 1 - cos 23 deg; what goes on further without a gap is no foot: a wreck
#: that stands on the bottom.
LONGEST = 0.08


def begin(stored: StoredArray, cells: Grid, level: FloatArray, drop: FloatArray, pick: FloatArray) -> FloatArray:
    """Return the range [m] (ping) where the bottom echo begins: `pick`, or ahead of that where a foot lies before it.

    level [dB re 1 uPa]: bottom level; drop [dB] (ping): how far below it `pick` was found, nan where by no rise; pick
    [m]: range of the rise. The foot is what has no two cells under `drop` and FOOT_DROP, or QUIET_OVER, between it and
    the pick; one shorter than two cells is the filter's own flank and does not count. Measured on 60 or 180 pings each
    at 40 m: on slopes of 10 to 15 degrees the rate of bare bottom told as a parted fish under the high pencil falls
    from 5 to 9 % to 0 to 1.5 %, over rough rock from 3 % to none; at 20 degrees it stays at 6 to 11 %, for the foot
    lies deeper than FOOT_DROP and has true gaps in it. A shoal that touches a bottom of its own strength is foot.
    """
    known = np.isfinite(drop) & np.isfinite(pick)
    if not known.any():
        return pick
    rows = np.arange(len(stored))
    at = np.where(known, np.floor(cells.index(pick) + 1e-6), np.nan)
    earliest = np.ceil(cells.index((1 - LONGEST) * pick))
    low = max(cells.blank, int(earliest[known].min()))
    last = np.where(known, at, low).astype(np.int64)
    place = np.arange(low, int(last.max()) + 1)
    limit = _quiet(stored, cells, level, drop, last, place)
    over = stored[:, place].astype(np.int32) - to_stored(limit)
    runs = highest_within(np.clip(over, -1, 1).astype(np.int16), cells.gap)
    ends = np.arange(runs.shape[1]) + cells.gap - 1
    begins = low + ends - cells.gap + 1
    quiet = (runs <= 0) & (ends + low <= last[:, None]) & (begins >= earliest[:, None])
    if runs.shape[1] == 0:
        return pick
    end = ends[runs.shape[1] - 1 - np.argmax(quiet[:, ::-1], axis=1)]
    a, b = to_level(stored[rows, low + end]), to_level(stored[rows, np.minimum(low + end + 1, stored.shape[1] - 1)])
    part = np.clip((limit[rows, end] - a) / np.maximum(b - a, 1e-3), 0, 1)
    longer = known & quiet.any(axis=1) & (last - low - end > cells.gap)
    return np.where(longer, cells.range[low + end] + part * cells.step, pick)


def _quiet(
    stored: StoredArray,
    cells: Grid,
    level: FloatArray,
    drop: FloatArray,
    last: NDArray[np.int64],
    place: NDArray[np.int64],
) -> FloatArray:
    """Return the level [dB re 1 uPa] (ping, place) under which the water ahead of the foot lies."""
    leaks = leak_ahead(stored, cells, last)
    away = np.clip(last[:, None] - place, 0, leaks.shape[1] - 1)
    power = 10 ** (0.1 * cells.noise) + np.take_along_axis(leaks, away, axis=1)
    water = 10 * np.log10(np.maximum(power, 1e-30))  # a world without noise is allowed
    deepest = np.maximum(water + QUIET_OVER, (level - FOOT_DROP)[:, None])
    return np.nan_to_num(np.minimum(deepest, (level - drop)[:, None]), nan=0.0)
