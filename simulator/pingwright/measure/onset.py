"""The onset of a bottom echo: its weak first part, off the nearest point of a slope or the side of a wave.

There the beam is off its axis, so the echo may begin 30 dB below its level, as far ahead of its strong part as the
ground stands nearer there. It fades as Rayleigh power does, and single maxima of it look like fish.
"""

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ADD_OFFSET, SCALE_FACTOR
from pingwright.measure.cells import FloatArray, Grid, StoredArray, highest_within, to_level, to_stored
from pingwright.measure.leak import leak_ahead

#: The onset is followed down to this far [dB] below the bottom level: this many pairs of lower cells end it ...
ONSET_DROP, PAIRS = 35.0, 2
#: ... or one pair of cells this far [dB] below it, what leaks within two cells of the edge not counted: an onset fades
#: as Rayleigh power does, and two cells in a row are both 10 dB below its mean in one place of a hundred, 20 dB in one
#: of ten thousand; water is as quiet as that all along ...
GAP_DROP = 45.0
#: An echo of at most this many cells is one fish, not an onset: before it, two cells under ONSET_DROP are water.
SHORT = 8.0
#: ... or cells this far [dB] at most above the mean of the noise, or of the water further ahead, and of what the
#: filter's side lobes carry there: two cells of either hardly ever exceed it all along.
QUIET_OVER = 10.0
#: It reaches at most this share of range ahead, 1 - cos 23 deg; what goes on further without a gap is no onset: a high
#: wreck that stands on the bottom.
LONGEST = 0.08
#: The water further ahead is looked at over this share of the range where an onset may begin: what is there (layer,
#: fish) is no onset nearer by.
FURTHER = 0.02
#: Mean of the levels of Rayleigh power under the level of their mean [dB] (10 log10 of exp of Euler's constant).
LOG_MEAN = 2.507


def begin(stored: StoredArray, cells: Grid, level: FloatArray, drop: FloatArray, pick: FloatArray) -> FloatArray:
    """Return the range [m] (ping) where the bottom echo begins: `pick`, or ahead of it where it has an onset.

    level [dB re 1 uPa]: bottom level; drop [dB] (ping): how far below it `pick` was found, nan where by no rise; pick
    [m]: range of the rise. The onset is what has no two cells under `drop` and GAP_DROP and no four under `drop` and
    ONSET_DROP (or QUIET_OVER) between it and the pick; one shorter than two cells is the filter's own flank and does
    not count.

    Measured on 100 pings each at 40 m: of pings without fish 0 to 2.1 % show a separated fish at one height on slopes
    of 12 degrees (with two cells under ONSET_DROP alone 0.5 to 2.6 %), 4 % on 15 degrees of gravel (11 %); the pick
    steps by 0.16 m at most over sand waves of 2 m and by 0.14 m over rock of 1.5 m (0.68 and 0.60 m), in one draw of
    rock of three by 0.49 m (1.1 m). One ping cannot tell an onset from fish that stand
    on the bottom without such a gap: a shoal there counts as onset down to some 28 dB below the bottom level, with its
    top as the pick, and so does a wreck beside the beam that is lower than LONGEST of range.
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
    still, leaks = _further(stored, cells, earliest), leak_ahead(stored, cells, last)
    away = np.clip(last[:, None] - place, 0, leaks.shape[1] - 1)
    water, quiet = _water(cells, away, still, leaks)
    limit = _limit(water, level, drop, ONSET_DROP)
    # What leaks within two cells of the edge does not count here.
    deep = _limit(np.where(away <= cells.gap, quiet[:, None], water), level, drop, GAP_DROP)
    ahead, span = stored[:, low : low + len(place)], (last - low, earliest - low)
    over, deeper = _over(ahead, limit), _over(ahead, deep)
    end = np.maximum(_last_quiet(deeper, cells.gap, *span), _last_quiet(over, PAIRS * cells.gap, *span))
    near = _last_quiet(over, cells.gap, *span)
    end = np.where((end >= 0) & (near - cells.gap - end <= SHORT * cells.per_cell), np.maximum(end, near), end)
    longer = known & (end >= 0) & (last - low - end > cells.gap)
    end = np.maximum(end, 0)
    a, b = to_level(stored[rows, low + end]), to_level(stored[rows, np.minimum(low + end + 1, stored.shape[1] - 1)])
    part = np.clip((limit[rows, end] - a) / np.maximum(b - a, 1e-3), 0, 1)
    return np.where(longer, cells.range[low + end] + part * cells.step, pick)


def _over(stored: StoredArray, limit: FloatArray) -> StoredArray:
    """Return 1 where stored levels lie over a limit [dB re 1 uPa] (ping, sample), 0 or less elsewhere."""
    return np.asarray(np.clip(stored.astype(np.int32) - to_stored(limit), -1, 1).astype(np.int16))


def _last_quiet(over: StoredArray, width: int, last: NDArray[np.int64], earliest: FloatArray) -> NDArray[np.int64]:
    """Return the end (ping) of the last run of `width` samples under their limit, -1 where there is none.

    over (ping, sample): see `_over`. Runs begin at `earliest` or later and end at `last` or earlier (ping).
    """
    if over.shape[1] < width:
        return np.full(len(over), -1)
    runs = highest_within(over, width)
    begins = np.arange(runs.shape[1])
    quiet = (runs <= 0) & (begins + width - 1 <= last[:, None]) & (begins >= earliest[:, None])
    return np.where(quiet.any(axis=1), runs.shape[1] - 1 - np.argmax(quiet[:, ::-1], axis=1) + width - 1, -1)


def _water(
    cells: Grid, away: NDArray[np.int64], further: FloatArray, leaks: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the level [dB re 1 uPa] (ping, place) of the water ahead of the edge: noise, what is there, what leaks.

    And that without what leaks (ping). away (ping, place): samples ahead of the edge; further [uPa2] (ping): see
    `_further`; leaks [uPa2] (ping, samples ahead of the edge).
    """
    still = np.maximum(10 ** (0.1 * cells.noise), further)
    power = still[:, None] + np.take_along_axis(leaks, away, axis=1)
    # A world without noise is allowed.
    whole, quiet = (10 * np.log10(np.maximum(p, 1e-30)) for p in (power, still))
    return whole, quiet


def _limit(water: FloatArray, level: FloatArray, drop: FloatArray, below: float) -> FloatArray:
    """Return the level [dB re 1 uPa] (ping, place) under which the water lies, `below` [dB] or `drop` below `level`."""
    deepest = np.maximum(water + QUIET_OVER, (level - below)[:, None])
    return np.nan_to_num(np.minimum(deepest, (level - drop)[:, None]), nan=0.0)


def _further(stored: StoredArray, cells: Grid, earliest: FloatArray) -> FloatArray:
    """Return the mean power [uPa2] (ping) of the water ahead of where an onset may begin, 0 where no sample is there.

    earliest (ping): that sample, nan where none. From the mean of the levels, so that one fish weighs little.
    """
    stop = np.nan_to_num(np.clip(earliest, 0, stored.shape[1]), nan=0.0).astype(np.int64)
    begin = np.rint(cells.index((1 - FURTHER) * cells.range[np.minimum(stop, stored.shape[1] - 1)])).astype(np.int64)
    start = np.minimum(np.maximum(begin, cells.blank), stop)
    return np.where(stop > start, 10 ** (0.1 * (_mean_level(stored, start, stop) + LOG_MEAN)), 0.0)


def _mean_level(stored: StoredArray, start: NDArray[np.int64], stop: NDArray[np.int64]) -> FloatArray:
    """Return the mean level [dB re 1 uPa] (ping) of samples start .. stop."""
    some = np.flatnonzero(stop > start)
    low = int(start[some].min(initial=stored.shape[1]))
    part = stored[:, low : int(stop[some].max(initial=0))]
    total = np.pad(np.cumsum(part, axis=1, dtype=np.int64), ((0, 0), (1, 0)))
    sums = np.zeros(len(stored))
    sums[some] = total[some, stop[some] - low] - total[some, start[some] - low]
    return np.asarray(sums / np.maximum(stop - start, 1) * SCALE_FACTOR + ADD_OFFSET)
