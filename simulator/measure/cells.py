"""Resolution cells on the sample grid of a recording: what every other measure counts in."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.acoustics.pulse import WEIGHTINGS, weighting
from simulator.echograms.record import ADD_OFFSET, LIMIT, SCALE_FACTOR, ElementInfo, ElementRecord

FloatArray = NDArray[np.float64]
StoredArray = NDArray[np.int16]


@dataclass(frozen=True)
class Grid:
    """How one element's samples stand to its resolution cells.

    step [m]: between samples; cell [m]: c/2B of a chirp, c T/2 of a tone; per_cell: samples in one cell; gap: number of
    samples that span two cells; blank: index of the first sample beyond the blind range; range [m] (sample);
    surface_gain [dB] (sample): 20 log10 r + 2 alpha r - SL, which leaves an extended surface at about one level at any
    depth; strength_gain [dB] (sample): 40 log10 r + 2 alpha r - SL; noise [dB re 1 uPa]: mean level of the noise after
    the filter; bandwidth_spread: rms width of the noise's spectrum in units of 1/(cell duration);
    skirt: see the function of that name.
    """

    step: float
    cell: float
    per_cell: float
    gap: int
    blank: int
    range: FloatArray
    surface_gain: FloatArray
    strength_gain: FloatArray
    noise: float
    bandwidth_spread: float
    skirt: FloatArray

    def index(self, range_m: FloatArray) -> FloatArray:
        """Return the fractional sample index of a range [m] (any shape)."""
        return np.asarray((range_m - self.range[0]) / self.step)


def response(info: ElementInfo) -> tuple[FloatArray, FloatArray, float]:
    """Return the filter's amplitude over the band: x (node) from -0.5 to 0.5, |P|^2 W, and the band's width.

    The third is in units of 1/(duration of a cell): 1 for a chirp, more for a tone, which is received over
    several times that and whose spectrum is taken as that of an untapered one. An unknown weighting counts as none.
    """
    x = np.linspace(-0.5, 0.5, 4001)
    weight = weighting(info.weighting, x) if info.weighting in WEIGHTINGS else np.ones_like(x)
    duration = 2 * info.range_resolution / info.assumed_sound_speed
    cells = duration * (info.band_high - info.band_low)
    return x, weight * (np.sinc(cells * x) ** 2 if cells > 2 else 1.0), cells


def bandwidth_spread(info: ElementInfo) -> float:
    """Return the rms width of the filtered noise's spectrum, in units of 1/(duration of a cell).

    The matched filter lets noise through as |P W|^2, so a flat chirp's rms width is that of its weighting squared:
    1/sqrt(12) unweighted, 0.1414 for Hann.
    """
    x, amplitude, cells = response(info)
    # |P W|^2 has one |P|^2 less than the square of |P|^2 W.
    power = amplitude**2 / (np.maximum(np.sinc(cells * x) ** 2, 1e-9) if cells > 2 else 1.0)
    return float(cells * np.sqrt(np.sum(x**2 * power) / np.sum(power)))


def skirt(info: ElementInfo) -> FloatArray:
    """Return how far an extended echo leaks ahead of its edge: power re its own mean, every 1/8 cell, 64 cells.

    The filter's side lobes summed over independent scatterers from the edge on, counted from where the leak is 15 dB
    down, which is where the bottom is picked.
    """
    x, amplitude, cells = response(info)
    delay = np.arange(-8 * 8, 80 * 8) / 8
    lobes = np.abs(np.exp(2j * np.pi * np.outer(delay, x * cells)) @ amplitude) ** 2
    beyond = np.cumsum(lobes[::-1])[::-1] / lobes.sum()
    start = int(np.argmax(beyond <= 10**-1.5))
    return np.asarray(beyond[start : start + 64 * 8])


def grid(element: ElementRecord) -> Grid:
    """Return how an element's samples stand to its resolution cells."""
    info, r = element.info, np.asarray(element.range, dtype=np.float64)
    step = float(r[-1] - r[0]) / (len(r) - 1)
    size = info.range_resolution
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
        noise=info.noise_level,
        bandwidth_spread=bandwidth_spread(info),
        skirt=skirt(info),
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
        if out.shape[-1] <= shift:
            return out[..., :0]
        out = np.maximum(out[..., :-shift], out[..., shift:])
        covered += shift
    return out
