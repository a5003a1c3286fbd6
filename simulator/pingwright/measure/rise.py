"""The rise of a bottom echo: where it last comes out of the water ahead of it."""

import numpy as np
from numpy.typing import NDArray

from pingwright.measure.cells import FloatArray, Grid, StoredArray, highest_within, to_level, to_stored
from pingwright.measure.strongest import LEAST_EXCESS, LEAST_STRENGTH

Edge = tuple[FloatArray, FloatArray]

#: How far below the bottom level [dB] the water ahead of the bottom must be; the second is tried where noise
#: forbids the first.
EDGE_DROPS = (15.0, 6.0)
#: Power averaged over 8, 16 and 32 cells that end with the water ahead of the edge must lie this far [dB] below the
#: bottom level: the edge is not where the echo fades within itself, nor where it is still weak, as off the crests of
#: sand waves. One fish ahead passes: in 8 cells it has a few strong ones. Chosen on scenes (see `edges`).
AHEAD_DROPS = (10.0, 13.0, 17.0)
#: Nor may 8 cells there be stronger than any one fish and denser than any school (LEAST_STRENGTH,
#: LEAST_VOLUME_STRENGTH) where they stand at least this far [dB] over 32 cells, assumed: off the nearest spots of a
#: rough bottom comes a short echo with a gap behind it: ground, no fish. A layer goes on and does not stand out.
STANDS_OUT = 3.0
#: Noise counts this many times its mean in the longer averages, so that what is only noise is calm.
NOISE_ALLOWED = 1.3
#: No fish or school, but the densest, has more volume backscattering strength [dB re 1 m-1]; assumed, see `bottom`.
LEAST_VOLUME_STRENGTH = -26.0
#: The rise is first sought in so many times 8 cells ahead of the nearest peak, where most pings have theirs.
CLOSE = 8


def edges(
    stored: StoredArray, mean: FloatArray, m: int, cells: Grid, most: FloatArray, level: FloatArray,
    peak: NDArray[np.int64],
) -> tuple[Edge, Edge]:  # fmt: skip
    """Return the range [m] where each ping last rises through its threshold ahead of a peak of its bottom echo.

    And how far below the level [dB] that threshold is, nan where the echo has no rise: then the peak is returned. Both
    for what lies ahead being weak enough, and again without the short echoes that only ground gives, see `_calm`.

    mean (ping, sample): power averaged over m samples from there on; most (ping): that of the bottom. Against the range
    where the mean echo first exceeds the threshold, over 148 runs of all sediments, flat, steep, with waves and rough
    rock, with fish, layers and shoals close above: off by more than 0.25 m in 0.6 % of pings, on the roughest in 13 %,
    where the first echo off a crest is about as weak as the threshold.
    """
    start = max(cells.blank, int(peak.min()) - CLOSE * m)
    found = _edges(start, stored, mean, m, cells, most, level, peak)
    if start > cells.blank:  # a rise under the first drop is the last one wherever the search begins
        rest = np.flatnonzero((found[0][1] != EDGE_DROPS[0]) | (found[1][1] != EDGE_DROPS[0]))
        if len(rest):
            again = _edges(cells.blank, stored[rest], mean[rest], m, cells, most[rest], level[rest], peak[rest])
            for old, new in zip(found, again, strict=True):
                old[0][rest], old[1][rest] = new
    return found


def _edges(
    start: int, stored: StoredArray, mean: FloatArray, m: int, cells: Grid, most: FloatArray, level: FloatArray,
    peak: NDArray[np.int64],
) -> tuple[Edge, Edge]:  # fmt: skip
    """Return what `edges` does, from sample `start` on."""
    end = int(peak.max()) + 1
    quietest = highest_within(stored[:, start:end], cells.gap)
    if quietest.shape[1] < 1:
        none = np.full(len(stored), np.nan)
        return (cells.range[peak], none), (cells.range[peak], none.copy())
    run = start + np.arange(quietest.shape[1])
    inside = run + cells.gap <= peak[:, None]
    quiets = [(quietest <= to_stored(level - drop)[:, None]) & inside for drop in EDGE_DROPS]
    # A run of `gap` samples and the averaged stretch are compared where they end.
    first = np.maximum(run + cells.gap - m, 0)
    begin = max(int(first[0]) - m * _LOOKS_BACK, 0)
    calm, water = _calm(mean[:, begin:end], begin, most, m, cells)
    first = np.minimum(first - begin, calm.shape[1] - 1)
    options = (stored, cells, level, peak, quiets, start)
    return _edge(*options, calm[:, first]), _edge(*options, water[:, first])


def _edge(
    stored: StoredArray, cells: Grid, level: FloatArray, peak: NDArray[np.int64], quiets: list[NDArray[np.bool_]],
    start: int, calm: NDArray[np.bool_],
) -> Edge:  # fmt: skip
    """Return range and drop of the edge, see `edges`; quiets (ping, run of cells): one for each of EDGE_DROPS."""
    rows, (pick, used) = np.arange(len(stored)), np.full((2, len(stored)), np.nan)
    for drop, weak in zip(EDGE_DROPS, quiets, strict=True):
        quiet = weak & calm
        last = quiet.shape[1] - 1 - np.argmax(quiet[:, ::-1], axis=1)
        below = np.minimum(last + start + cells.gap - 1, stored.shape[1] - 2)
        a, b = to_level(stored[rows, below]), to_level(stored[rows, below + 1])
        part = np.clip((level - drop - a) / np.maximum(b - a, 1e-3), 0, 1)
        edge = cells.range[below] + part * cells.step
        new = np.isnan(pick) & quiet.any(axis=1)
        pick, used = np.where(new, edge, pick), np.where(new, drop, used)
        if not np.isnan(pick).any():
            break
    return np.where(np.isnan(pick), cells.range[peak], pick), used


#: Times m samples before each that `_calm` looks at: twice as many for each doubling.
_LOOKS_BACK = (1 << (len(AHEAD_DROPS) - 1)) - 1


def _calm(
    mean: FloatArray, begin: int, most: FloatArray, m: int, cells: Grid
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return where the m samples from there on, and those before them, are weak enough to lie ahead of the bottom.

    mean (ping, sample): power averaged over m samples from there on, from sample `begin` on; most (ping): the bottom's.
    The second answer leaves out a short echo that only ground gives: under the high pencil 58 m over flat gravel of
    natural roughness 10 of 192 passes without a fish counted as one separated 0.3 m off the bottom where it was taken
    for water, none where it is not; of 64 passes with a fish 63 did both times.
    """
    place = slice(begin + (m - 1) // 2, begin + (m - 1) // 2 + mean.shape[1])
    noise = 10 ** (0.1 * (cells.noise + cells.surface_gain[place]))
    calm = mean <= most[:, None] * 10 ** (-AHEAD_DROPS[0] / 10)
    least = _least_ground(cells, slice(begin, begin + mean.shape[1]))
    ground = mean >= np.maximum(least, noise * 10 ** (LEAST_EXCESS / 10))
    alone = mean * 10 ** (-STANDS_OUT / 10)
    noise *= NOISE_ALLOWED
    for doublings, drop in enumerate(AHEAD_DROPS[1:]):
        before, longer = m << doublings, mean / 2
        longer[:, before:] += mean[:, :-before] / 2
        mean = longer
        calm &= mean <= most[:, None] * 10 ** (-drop / 10) + noise
    return np.asarray(calm), np.asarray(calm & ~(ground & (mean <= alone)))


def _least_ground(cells: Grid, place: slice) -> FloatArray:
    """Return the power averaged over 8 cells (sample) from which on an echo is stronger than any fish or school.

    As a ratio to the source's, with spherical spreading and absorption removed.
    """
    single_fish = LEAST_STRENGTH - (cells.strength_gain[place] - cells.surface_gain[place])
    return np.asarray(10 ** (0.1 * np.maximum(single_fish, cells.volume_gain + LEAST_VOLUME_STRENGTH)))
