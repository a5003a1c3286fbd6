"""Natural roughness: the few centimetres by which a seabed is above and below the typed depths.

Only heights are drawn. Their slopes are in the law of incidence, which holds for a surface with this spectrum, averaged
over natural slopes (world.slopes): tilting the patches as well would count them twice. So an echo keeps its energy, but
its parts arrive in another order.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.acoustics.roughness import relief_variance
from pingwright.acoustics.seabed import Sediment
from pingwright.world.scatterers import FloatArray

if TYPE_CHECKING:
    from pingwright.inputs.sections import Seabed

SHORTEST = 0.3  # m, of the waves drawn: shorter ones lie within a patch and are in the law of incidence
#: Longest wave over the depth: about the two-way footprint of an 8 degree beam (assumed). Longer ones are for `relief`.
LONGEST_OF_DEPTH = 0.1
LEAST_LONGEST, MOST_LONGEST = 1.0, 20.0  # m
_PERIODS = 4  # longest waves after which the table repeats
_NODES = 6  # of the table to the shortest wave: linear interpolation loses 4 % of the variance, which is added again
_TURNS = (0.6, 2.1)  # rad: two readings of one table, turned, so that heights never repeat on a track
_FINEST = 1440  # nodes of a table, a side


@dataclass(frozen=True)
class Roughness:
    """Heights of natural roughness.

    step [m] between the nodes of the tables; table (n, n) of unit variance; rms (ground) [m]: of each region of the
    ground (terrain.Ground.region); table_of (ground): which table is each one's (they differ by the exponent).
    """

    step: float
    tables: tuple[NDArray[np.float32], ...]
    table_of: NDArray[np.int64]
    rms: FloatArray

    def deeper(self, x: FloatArray, y: FloatArray, region: NDArray[np.int64]) -> FloatArray:
        """Return the depth of the surface below the typed seabed [m] at x, y (n) [m] of a region (n)."""
        total = np.zeros(len(x))
        for number, table in enumerate(self.tables):
            here = self.table_of[region] == number
            if here.any():
                parts = [_read(table, self.step, x[here], y[here], turn) for turn in _TURNS]
                total[here] = (parts[0] + parts[1]) / np.sqrt(2.0)
        return total * self.rms[region]

    @property
    def largest(self) -> float:
        """Largest rms of all regions [m]."""
        return float(self.rms.max())


def build(spec: "Seabed", sediments: Sequence[Sediment], seed: int) -> Roughness | None:
    """Return the natural roughness of a `seabed` section, None where it is switched off.

    sediments: the uppermost one of each region (terrain.Ground.region).
    """
    if getattr(spec, "roughness", "none") == "none":
        return None
    longest = longest_wave(_typical_depth(spec))
    exponents = sorted({sediment.roughness_exponent for sediment in sediments})
    step = max(SHORTEST / _NODES, _PERIODS * longest / _FINEST)
    count = int(np.ceil(_PERIODS * longest / step))
    tables = tuple(_table(seed, k, count, step, longest, exponent) for k, exponent in enumerate(exponents))
    rms = [
        np.sqrt(relief_variance(SHORTEST, longest, sediment.roughness_w2, sediment.roughness_exponent))
        for sediment in sediments
    ]
    places = np.array([exponents.index(sediment.roughness_exponent) for sediment in sediments])
    return Roughness(step, tables, places, np.array(rms, dtype=np.float64))


def longest_wave(depth: float) -> float:
    """Return the longest wave drawn [m] over a seabed of some depth [m]."""
    return float(np.clip(LONGEST_OF_DEPTH * depth, LEAST_LONGEST, MOST_LONGEST))


def _typical_depth(spec: "Seabed") -> float:
    """Return the depth [m] at the origin, or the median of the soundings: independent of the elements."""
    profile, grid = getattr(spec, "profile", None), getattr(spec, "grid", None)
    if profile is not None:
        return float(np.median([depth for _, depth in profile]))
    return float(np.median(grid.depth)) if grid is not None else float(spec.depth or 0.0)


@lru_cache(maxsize=2)
def _table(seed: int, index: int, count: int, step: float, longest: float, exponent: float) -> NDArray[np.float32]:
    """Return heights (count, count) of unit variance with a spectrum K^-exponent of the waves drawn."""
    rng = seeds.stream(seed, "roughness", index)
    number = 2.0 * np.pi * np.fft.fftfreq(count, step)
    across, along = np.meshgrid(number, number[: count // 2 + 1], indexing="ij")
    size = np.hypot(along, across)
    band = (size >= 2.0 * np.pi / longest) & (size <= 2.0 * np.pi / SHORTEST)
    spectrum = np.zeros(size.shape, dtype=np.complex128)
    draws = rng.standard_normal((2, int(band.sum())))
    spectrum[band] = (draws[0] + 1j * draws[1]) * size[band] ** (-exponent / 2.0)
    heights = np.fft.irfft2(spectrum, s=(count, count))
    # Linear interpolation flattens the waves; a factor restores their variance.
    remaining = (2.0 + np.cos(along * step)) * (2.0 + np.cos(across * step)) / 9.0
    power = np.abs(spectrum) ** 2 * np.where(along > 0.0, 2.0, 1.0)
    share = float(np.sum(power * remaining) / np.sum(power))
    table = np.asarray(heights / (heights.std() * np.sqrt(share)), dtype=np.float32)
    table.flags.writeable = False  # scenes share it
    return table


def _read(table: NDArray[np.float32], step: float, x: FloatArray, y: FloatArray, turn: float) -> FloatArray:
    """Return a table's values at x, y [m] turned by an angle [rad], linear between its nodes, which repeat."""
    n = len(table)
    u, v = (x * np.cos(turn) - y * np.sin(turn)) / step, (x * np.sin(turn) + y * np.cos(turn)) / step
    i, j = np.floor(u), np.floor(v)
    u, v = u - i, v - j
    i, j = i.astype(np.int64) % n, j.astype(np.int64) % n
    right, lower, flat = (i + 1) % n, (j + 1) % n, table.ravel()
    upper = flat[j * n + i] * (1.0 - u) + flat[j * n + right] * u
    return np.asarray(upper * (1.0 - v) + (flat[lower * n + i] * (1.0 - u) + flat[lower * n + right] * u) * v)
