"""Detection: peaks above a threshold of stated false alarm over noise plus local reverberation.

The local level is the mean of the decibels of the cells around the one under test (log/CFAR: Hansen & Ward 1972, IEEE
Trans. Aerosp. Electron. Syst. 8, 648-652), in pairs at equal distance on both sides, so that a level that rises evenly
in decibels towards the bottom is estimated exactly. The cells are taken three resolution cells apart, where filtered
noise is independent (Hann: no correlation). The echo of the bottom through the filter's side lobes, computed from the
recorded bottom echo, is added. Peaks are counted, so the rate of false alarms is that of crossings of a Rayleigh
envelope (Rice 1948, Bell Syst. Tech. J. 27, 109-157), not of single samples.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, inf, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ADD_OFFSET, SCALE_FACTOR
from pingwright.measure import beside
from pingwright.measure.bottom import Bottom
from pingwright.measure.cells import FloatArray, Grid, StoredArray
from pingwright.measure.filters import STEPS
from pingwright.measure.leak import leak_ahead
from pingwright.palette import LEVEL_LIMITS

IntArray = NDArray[np.int64]

FALSE_ALARM = 1e-4
#: The floor of the picture [dB re 1 m2]: weaker echoes are neither drawn nor judged; without it every side lobe would
#: be detected.
FLOOR = LEVEL_LIMITS[0]
#: Cells left out on each side of the cell under test; the main lobe of a Hann filter ends 2 cells away.
GUARD_CELLS = 3
#: Cells between reference cells: the correlation of noise behind a Hann filter is zero there (power 0.03 at 2 cells,
#: which raises false alarms by 7 %: measured).
SPACING_CELLS = 3
#: Reference cells on each side.
REFERENCES = 8
#: Where other fish echo, cells up to this many times farther are taken in place of those.
FARTHER = 3
#: With fewer pairs than this, for instance close above the bottom, only the cells before are used.
LEAST_PAIRS = 4
#: Fewer cells than this give no local level: only the noise counts.
LEAST_REFERENCES = 4
#: Cells no louder than the peak's own side lobes there (their highest level within a cell, and so much [dB] more, since
#: the highlights of a fish add up by chance; *assumed*) tell nothing of what is around: they are left out.
OWN_MARGIN = 6.0
#: Water this many cells before the bottom's edge is not used as reference: the edge of the filtered echo lies there.
BOTTOM_GUARD_CELLS = 2
#: More than sums of powers are off by [dB].
ROUNDING = 1e-6


@dataclass(frozen=True)
class Factors:
    """Threshold in units of mean power: noise x t_noise + reverberation x t_local, for n reference cells."""

    t_noise: float
    t_local: float


def crossing_rate(threshold: FloatArray, spread: float) -> FloatArray:
    """Return expected peaks per resolution cell above a threshold.

    threshold: power in units of the mean power (any shape); spread: rms width of the spectrum in units of B.
    Valid where peaks are rare (threshold above about 4). Rice 1948, eq. for the upcrossings of a narrow-band
    envelope: N = 2 sqrt(pi) s sqrt(t) exp(-t) per 1/B.
    """
    return np.asarray(2 * sqrt(pi) * spread * np.sqrt(threshold) * np.exp(-threshold))


#: Mean of the logarithm of an exponential variable of mean 1: minus Euler's constant; 2.507 dB.
EULER = 0.5772156649015329
BIAS = 10 * EULER / np.log(10)


def mean_log_law(n: int) -> tuple[FloatArray, FloatArray]:
    """Return the law of the mean of n logarithms of exponential variables: nodes (node) and weights [1], sum 1.

    The nodes are exp(mean + Euler's constant): the local level over the true one. By n-fold convolution.
    """
    step, count = 0.01, 1 << 15
    y = np.fft.fftfreq(count, 1 / count) * step  # zero first, as the transform needs it; the order does not matter
    density = np.exp(y - np.exp(y)) * step
    weight = np.real(np.fft.ifft(np.fft.fft(density) ** n))
    used = weight > 1e-16  # the rest is rounding
    return np.exp(y[used] / n + EULER), weight[used] / weight[used].sum()


@lru_cache(maxsize=256)
def factors(n: int, false_alarm: float, spread: float) -> Factors:
    """Return the threshold factors for n independent reference cells.

    Exact in both limits: in pure reverberation t_local alone, in pure noise of known level both together, give the
    stated expected number of false peaks per cell. n below LEAST_REFERENCES gives t_local = 0.
    """
    if n < LEAST_REFERENCES:
        return Factors(_solve(lambda t: crossing_rate(np.asarray(t), spread).item(), false_alarm), 0.0)
    z, weight = mean_log_law(n)
    local = _solve(lambda t: float(np.sum(weight * crossing_rate(t * z, spread))), false_alarm)
    excess = local * np.maximum(z - 1, 0)
    noise = _solve(lambda t: float(np.sum(weight * crossing_rate(t + excess, spread))), false_alarm)
    return Factors(noise, local)


def _solve(rate: Callable[[float], float], target: float) -> float:
    """Return the factor at which a falling rate equals the target, on 1..1e4 and to the last digits.

    By secants on the logarithm of the rate, which is nearly straight; by bisection where one would leave the bracket.
    """
    low, high = 1.0, 1e4
    old, new = 10.0, 12.0
    miss = log(rate(old) / target)
    for _ in range(100):
        value = rate(new)
        if value > target:
            low = new
        else:
            high = new
        missed, miss = miss, log(value / target) if value > 0 else -inf
        slope = (miss - missed) / (new - old)
        step = -miss / slope if slope else inf
        if abs(step) <= 1e-15 * new or high - low <= 1e-15 * high:
            break
        old, new = new, new + step if low < new + step < high else sqrt(low * high)
    return new


@dataclass(frozen=True)
class Peaks:
    """Detected peaks, flat arrays over (peak), sorted by ping and range.

    row (int): which ping of those given; index (int): sample; range [m] and level [dB re 1 uPa] by a parabola through
    three dB samples; strength [dB re 1 m2]; threshold [dB re 1 uPa] that was exceeded.
    """

    row: IntArray
    index: IntArray
    range: FloatArray
    level: FloatArray
    strength: FloatArray
    threshold: FloatArray

    def __len__(self) -> int:
        """Return the number of peaks."""
        return len(self.row)

    def exceeding(self, floor: float) -> NDArray[np.bool_]:
        """Return which peaks exceed their threshold and a floor [dB re 1 m2]: the detected ones."""
        return np.asarray((self.level >= self.threshold) & (self.strength >= floor))

    def and_(self, other: "Peaks") -> "Peaks":
        """Return these peaks followed by others."""
        both = zip(vars(self).values(), vars(other).values(), strict=True)
        return Peaks(*(np.concatenate(pair) for pair in both))

    def keep(self, mask: NDArray[np.bool_]) -> "Peaks":
        """Return some of the peaks."""
        return Peaks(
            self.row[mask],
            self.index[mask],
            self.range[mask],
            self.level[mask],
            self.strength[mask],
            self.threshold[mask],
        )


def parabola(stored: StoredArray, row: IntArray, index: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return offset [samples] and level [dB re 1 uPa] of the vertex through three dB samples around each index."""
    a, b, c = (stored[row, index + i].astype(np.float64) for i in (-1, 0, 1))
    bend = a - 2 * b + c
    offset = np.where(bend < 0, 0.5 * (a - c) / np.minimum(bend, -1e-9), 0.0)
    offset = np.clip(offset, -0.5, 0.5)
    vertex = b - 0.25 * (a - c) * offset
    return offset, vertex * SCALE_FACTOR + ADD_OFFSET


def last_sample(cells: Grid, bottom: Bottom, samples: int) -> IntArray:
    """Return, by ping, the number of samples that lie ahead of the bottom echo (all of them without a bottom)."""
    return np.where(bottom.peak < 0, samples, np.floor(cells.index(bottom.pick))).astype(np.int64)


def _table(cells: Grid, false_alarm: float) -> list[Factors]:
    return [factors(n, false_alarm, round(cells.filtering.spread, 4)) for n in range(2 * REFERENCES + 1)]


def possible(
    stored: StoredArray, cells: Grid, row: IntArray, index: IntArray, floor: float, false_alarm: float
) -> tuple[NDArray[np.bool_], FloatArray]:
    """Return which local maxima (row, sample index) may be detected, and the range [m] of each.

    No threshold lies lower than the least one over the noise alone. Most maxima of noise end here, at little cost.
    """
    offset, level = parabola(stored, row, index)
    range_m = cells.range[index] + offset * cells.step
    strength = level + np.interp(range_m, cells.range, cells.strength_gain)
    least = cells.noise + 10 * np.log10(min(f.t_noise for f in _table(cells, false_alarm))) - ROUNDING
    return (level >= least) & (strength >= floor), range_m


def examine(
    stored: StoredArray,
    cells: Grid,
    bottom: Bottom,
    row: IntArray,
    index: IntArray,
    false_alarm: float = FALSE_ALARM,
    others: FloatArray | None = None,
    crowd: FloatArray | None = None,
) -> Peaks:
    """Return the given local maxima (row, sample index) as peaks with their thresholds, detected or not.

    others, crowd: see `local_threshold`.
    """
    offset, level = parabola(stored, row, index)
    range_m = cells.range[index] + offset * cells.step
    strength = level + np.interp(range_m, cells.range, cells.strength_gain)
    threshold = local_threshold(stored, cells, bottom, row, index, false_alarm, others, crowd)
    return Peaks(row, index, range_m, level, strength, threshold)


def local_threshold(
    stored: StoredArray,
    cells: Grid,
    bottom: Bottom,
    row: IntArray,
    index: IntArray,
    false_alarm: float,
    others: FloatArray | None = None,
    crowd: FloatArray | None = None,
) -> FloatArray:
    """Return the threshold [dB re 1 uPa] at each (row, sample index), over noise plus local reverberation.

    The known mean power (noise and the bottom's side lobes) is subtracted from the reference cells in decibels; the
    rest is local reverberation. Cells that hold no more than the peak's own side lobes are left out. Where less is
    known than at the peak, a cell is held against what is known at the peak: otherwise the faintest echo over the noise
    raised the threshold beside what leaks as much (30 cm, 0.1 m over sand at 10 m, hid itself in half of the pings; 30
    cm, 0.25 m over silt at 30 m, was lost in one pass of ten).

    others [dB re 1 uPa] (2, peak): the known echo of structures, schools and targets there, of `beside.at_peaks`; None
    if it is not used. crowd (peak, other, from | to): samples in which known other fish of the same ping echo, nan for
    none: a fish is no reverberation, so cells there are left out and farther ones taken in their place.
    """
    if len(row) == 0:
        return np.zeros(0)
    ahead = last_sample(cells, bottom, stored.shape[1])
    profile = leak(stored, cells, bottom)
    noise = 10 ** (0.1 * cells.noise)

    def known(place: IntArray, of: IntArray) -> FloatArray:
        away = np.clip(ahead[of] - place, 0, profile.shape[1] - 1)
        return np.asarray(noise + profile[of, away])

    if others is not None and crowd is not None:
        # Where all else is known, cells farther than `beside.AROUND_CELLS` would hold what is not known there.
        crowd = np.where(np.isfinite(others[0])[:, None, None], np.nan, crowd)
    used, places = _references(stored, cells, bottom, row, index, crowd)
    level, there = stored[row[:, None], places] * SCALE_FACTOR + ADD_OFFSET, known(places, row[:, None])
    here = known(index, row)
    # Reverberation adds to what is known: where less leaks than at the peak, cells are held against the peak's.
    water = np.maximum(level - 10 * np.log10(here)[:, None], -BIAS)
    stand = np.where(here[:, None] > 2 * there, water, level - 10 * np.log10(there))
    count = used.sum(axis=1)
    mean = np.sum(np.where(used, stand, 0.0), axis=1) / np.maximum(count, 1)
    table = _table(cells, false_alarm)
    excess = np.maximum(10 ** (0.1 * (mean + BIAS)) - 1, 0)
    t_noise = np.array([f.t_noise for f in table])[count]
    t_local = np.array([f.t_local for f in table])[count]
    threshold = np.asarray(10 * np.log10(here * (t_noise + t_local * excess)))
    if others is None:
        return threshold
    used, _ = _references(stored, cells, bottom, row, index, crowd, own=True)
    rest, centre = 10 ** (0.1 * others[1])[:, None], (np.arange(len(row)), used.sum(axis=1) // 2)
    over = level - 10 * np.log10(there + rest)
    unknown, middle = (np.sort(np.where(used, one, np.nan), axis=1)[centre] for one in (over, level))
    return beside.threshold(threshold, 10 * np.log10(here * table[0].t_noise), unknown, middle, others[0])


def _references(
    stored: StoredArray, cells: Grid, bottom: Bottom, row: IntArray, index: IntArray, crowd: FloatArray | None, *,
    own: bool = False,
) -> tuple[NDArray[np.bool_], IntArray]:  # fmt: skip
    """Return which reference cells of peaks are used (peak, cell), and the sample of each, within the record.

    crowd: see `local_threshold`; own: whether cells with no more than the peak's own side lobes are used.
    """
    samples, most = stored.shape[1], _own_lobes(cells)
    number = REFERENCES if crowd is None else REFERENCES * FARTHER
    steps = np.rint((GUARD_CELLS + SPACING_CELLS * np.arange(number)) * cells.per_cell).astype(np.int64)
    end = last_sample(cells, bottom, samples) - ceil(BOTTOM_GUARD_CELLS * cells.per_cell)
    end = np.where(bottom.peak < 0, samples, end)[row][:, None]
    sides = []
    for places in (index[:, None] - steps, index[:, None] + steps):
        free, level = _free(places, crowd), stored[row[:, None], np.clip(places, 0, samples - 1)].astype(np.int32)
        free &= own or (level - stored[row, index][:, None]) * SCALE_FACTOR >= most[:number]
        sides.append(((places >= cells.blank) & (places < end), free, places))
    (ahead, before, shallow), (behind, after, deep) = sides
    paired = ahead & behind & _first(before & after)
    ahead, behind = ahead & _first(before), behind & _first(after)
    both = paired.sum(axis=1) >= LEAST_PAIRS
    left, right = np.where(both[:, None], paired, ahead), np.where(both[:, None], paired, False)
    # Close to the blanking range there is water only behind.
    lone = ~both & (ahead.sum(axis=1) < LEAST_REFERENCES)
    right = np.where(lone[:, None], behind, right)
    places = np.clip(np.concatenate([shallow, deep], axis=1), 0, samples - 1)
    return np.concatenate([left, right], axis=1), places


def _own_lobes(cells: Grid) -> FloatArray:
    """Return the level that a peak's own side lobes may reach in reference cells (cell), over that of the peak [dB]."""
    lobes, number = cells.filtering.lobes, REFERENCES * FARTHER
    away = (STEPS * (GUARD_CELLS + SPACING_CELLS * np.arange(number)))[:, None] + np.arange(-STEPS, STEPS + 1)
    own = np.where(away < len(lobes), lobes[np.minimum(away, len(lobes) - 1)], 0.0)
    return np.asarray(10 * np.log10(np.maximum(own.max(axis=1) / lobes[0], 1e-30)) + OWN_MARGIN)


def _free(places: IntArray, crowd: FloatArray | None) -> NDArray[np.bool_]:
    """Return in which places (peak, cell) no other fish echoes."""
    free = np.ones(places.shape, dtype=bool)
    if crowd is None:
        return free
    rows, other = np.nonzero(np.isfinite(crowd[:, :, 0]))
    low, high = (crowd[rows, other, k, None] for k in (0, 1))
    taken = (places[rows] >= low) & (places[rows] <= high)
    np.logical_and.at(free, rows, ~taken)
    return free


def _first(free: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the first REFERENCES places that are free (peak, cell)."""
    return free & (np.cumsum(free, axis=1, dtype=np.int16) <= REFERENCES)


def leak(stored: StoredArray, cells: Grid, bottom: Bottom) -> FloatArray:
    """Return the mean power [uPa2] the filter's side lobes carry ahead of the bottom echo, (ping, samples ahead).

    Element j is for the sample j ahead of the pick; zero in pings without a bottom. See `leak_ahead`.
    """
    return leak_ahead(stored, cells, last_sample(cells, bottom, stored.shape[1]))
