"""Detection: peaks above a threshold of stated false alarm over noise plus local reverberation.

The local level is an ordered statistic of the cells around the one under test (Rohling 1983, IEEE Trans. Aerosp.
Electron. Syst. 19, 608-621), taken three resolution cells apart, where filtered noise is independent (Hann: no
correlation). What is counted is peaks, so the false alarm is the rate of crossings of a Rayleigh
envelope (Rice 1948, Bell Syst. Tech. J. 27, 109-157), not of single samples.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, lgamma, log10, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from simulator.echograms.record import ADD_OFFSET, SCALE_FACTOR
from simulator.measure.bottom import Bottom
from simulator.measure.cells import FloatArray, Grid, StoredArray, to_stored

IntArray = NDArray[np.int64]

FALSE_ALARM = 1e-4
#: Default floor of the picture [dB re 1 m2]; without it every side lobe would be detected.
FLOOR = -60.0
#: Cells left out on each side of the cell under test; the main lobe of a Hann filter ends 2 cells away.
GUARD_CELLS = 3
#: Cells between reference cells: the correlation of noise behind a Hann filter is zero there (power 0.03 at 2 cells,
#: which raises false alarms by 7 %: measured).
SPACING_CELLS = 3
#: Reference cells on each side.
REFERENCES = 8
#: Fewer reference cells than this give no local level: the noise alone counts.
LEAST_REFERENCES = 4
#: Water this many cells ahead of the bottom's edge is not used as reference: the filter's skirt lies there.
BOTTOM_GUARD_CELLS = 2
#: A sample may lie this far [dB] below the peak of its parabola (Hann at 2 B: 0.4).
SCALLOP = 0.6


@dataclass(frozen=True)
class Factors:
    """Threshold in units of mean power: noise x T_noise + reverberation x T_local, for n reference cells.

    order: which of the sorted cells is taken (1 = lowest); mean: its expectation for cells of unit mean power.
    """

    order: int
    mean: float
    t_noise: float
    t_local: float


def crossing_rate(threshold: FloatArray, spread: float) -> FloatArray:
    """Return expected peaks per resolution cell above a threshold.

    threshold: power in units of the mean power (any shape); spread: rms width of the spectrum in units of B.
    Valid where peaks are rare (threshold above about 4). Rice 1948, eq. for the upcrossings of a narrow-band
    envelope: N = 2 sqrt(pi) s sqrt(t) exp(-t) per 1/B.
    """
    return np.asarray(2 * sqrt(pi) * spread * np.sqrt(threshold) * np.exp(-threshold))


@lru_cache(maxsize=256)
def factors(n: int, false_alarm: float, spread: float) -> Factors:
    """Return the threshold factors for n independent reference cells.

    Exact in both limits: in pure reverberation T_local alone, in pure noise of known level both together, give the
    stated expected number of false peaks per cell. n below LEAST_REFERENCES gives T_local = 0.
    """
    nodes = (np.arange(4000) + 0.5) / 4000
    if n < LEAST_REFERENCES:
        return Factors(1, 1.0, _solve(lambda t: crossing_rate(np.asarray(t), spread).item(), false_alarm), 0.0)
    k = ceil(0.75 * n)
    log_beta = lgamma(k) + lgamma(n - k + 1) - lgamma(n + 1)
    # The k-th of n exponential variables is -log(1 - u) with u from the beta law of k and n - k + 1.
    weight = np.exp((k - 1) * np.log(nodes) + (n - k) * np.log1p(-nodes) - log_beta)
    weight /= weight.sum()
    mean = float(sum(1 / i for i in range(n - k + 1, n + 1)))
    z = -np.log1p(-nodes) / mean
    local = _solve(lambda t: float(np.sum(weight * crossing_rate(t * z, spread))), false_alarm)
    excess = local * np.maximum(z - 1, 0)
    noise = _solve(lambda t: float(np.sum(weight * crossing_rate(t + excess, spread))), false_alarm)
    return Factors(k, mean, noise, local)


def _solve(rate: Callable[[float], float], target: float) -> float:
    """Return the factor at which a falling rate equals the target, by bisection on 1..1e4."""
    low, high = 1.0, 1e4
    for _ in range(80):
        middle = sqrt(low * high)
        low, high = (middle, high) if rate(middle) > target else (low, middle)
    return sqrt(low * high)


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
    index = np.floor(cells.index(np.where(np.isnan(bottom.pick), cells.range[-1], bottom.pick)))
    return np.where(bottom.peak < 0, samples, index).astype(np.int64)


def detect(
    stored: StoredArray, cells: Grid, bottom: Bottom, floor: float = FLOOR, false_alarm: float = FALSE_ALARM
) -> Peaks:
    """Return all peaks of stored pings (ping, sample) ahead of the bottom echo and beyond the blind range.

    floor [dB re 1 m2]: least echo strength; false_alarm: expected false peaks per resolution cell.
    """
    least = np.maximum(
        cells.noise + 10 * log10(min(f.t_noise for f in _table(cells, false_alarm))), floor - cells.strength_gain
    )
    least_stored = to_stored(least - SCALLOP)
    first = max(cells.blank, 1)
    centre = stored[:, first:-1]
    mask = (
        (centre >= least_stored[first:-1]) & (centre >= stored[:, first - 1 : -2]) & (centre > stored[:, first + 1 :])
    )
    row, index = np.nonzero(mask)
    index = index + first
    ahead = index < last_sample(cells, bottom, stored.shape[1])[row]
    peaks = examine(stored, cells, bottom, row[ahead], index[ahead], false_alarm)
    return peaks.keep(peaks.exceeding(floor))


def _table(cells: Grid, false_alarm: float) -> list[Factors]:
    return [factors(n, false_alarm, round(cells.bandwidth_spread, 4)) for n in range(2 * REFERENCES + 1)]


def examine(
    stored: StoredArray,
    cells: Grid,
    bottom: Bottom,
    row: IntArray,
    index: IntArray,
    false_alarm: float = FALSE_ALARM,
) -> Peaks:
    """Return the given local maxima (row, sample index) as peaks with their thresholds, detected or not."""
    offset, level = parabola(stored, row, index)
    range_m = cells.range[index] + offset * cells.step
    strength = level + np.interp(range_m, cells.range, cells.strength_gain)
    threshold = local_threshold(stored, cells, bottom, row, index, false_alarm)
    return Peaks(row, index, range_m, level, strength, threshold)


def local_threshold(
    stored: StoredArray, cells: Grid, bottom: Bottom, row: IntArray, index: IntArray, false_alarm: float
) -> FloatArray:
    """Return the threshold [dB re 1 uPa] at each (row, sample index), over noise plus local reverberation.

    Reverberation is the larger of the local level and what the bottom leaks through the filter's side lobes.
    """
    steps = np.rint((GUARD_CELLS + SPACING_CELLS * np.arange(REFERENCES)) * cells.per_cell).astype(np.int64)
    places = index[:, None] + np.concatenate([-steps[::-1], steps])
    end = last_sample(cells, bottom, stored.shape[1]) - ceil(BOTTOM_GUARD_CELLS * cells.per_cell)
    end = np.where(bottom.peak < 0, stored.shape[1], end)
    usable = (places >= cells.blank) & (places < end[row][:, None])
    values = stored[row[:, None], np.clip(places, 0, stored.shape[1] - 1)].astype(np.int32)
    values[~usable] = np.iinfo(np.int32).max
    values.sort(axis=1)
    count = usable.sum(axis=1)
    table = _table(cells, false_alarm)
    order = np.array([f.order for f in table])[count]
    taken = values[np.arange(len(row)), order - 1]
    local = np.where(
        count >= LEAST_REFERENCES, 10 ** (0.1 * (np.minimum(taken, 32767) * SCALE_FACTOR + ADD_OFFSET)), 0.0
    )
    noise = 10 ** (0.1 * cells.noise)
    reverberation = np.maximum(local / np.array([f.mean for f in table])[count] - noise, 0)
    t_noise = np.array([f.t_noise for f in table])[count]
    t_local = np.array([f.t_local for f in table])[count]
    t_known = table[0].t_noise
    around = np.maximum(t_local * reverberation, t_known * _leak(cells, bottom, row, index))
    return np.asarray(10 * np.log10(t_noise * noise + around))


def _leak(cells: Grid, bottom: Bottom, row: IntArray, index: IntArray) -> FloatArray:
    """Return the mean power [uPa2] that the filter's side lobes carry from the bottom to places ahead of it."""
    ahead = (bottom.pick[row] - cells.range[index]) / cells.cell
    known = np.isfinite(ahead)
    place = np.where(known, np.maximum(ahead * 8, 0), 0)
    share = np.interp(place, np.arange(len(cells.skirt)), cells.skirt, right=0.0)
    return np.where(known, share * 10 ** (0.1 * np.where(known, bottom.level[row], -np.inf)), 0.0)
