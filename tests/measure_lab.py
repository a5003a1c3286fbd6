"""A small matched-filter simulator for the tests of the measures: points, planes and noise behind a weighted band."""

from types import SimpleNamespace

import numpy as np
from pingwright.echograms.record import ADD_OFFSET, LIMIT, SCALE_FACTOR, BeamPattern, ElementInfo, ElementRecord

SOUND_SPEED = 1500.0


def info(bandwidth=80e3, centre=170e3, noise=32.3, source=215.0, absorption=0.0, position=0, **changes):
    values = {
        "name": "lab", "slug": "lab", "position": position, "band_low": centre - bandwidth / 2,
        "band_high": centre + bandwidth / 2, "pulse_length": 20e-3, "weighting": "hann", "source_level": source,
        "absorption": absorption, "beamwidth_along": 8.0, "beamwidth_across": 8.0, "beamwidth_along_low": 9.0,
        "beamwidth_across_low": 9.0, "beamwidth_along_high": 7.0, "beamwidth_across_high": 7.0,
        "equivalent_beam_angle": -19.0, "effective_pulse": 1e-5, "range_resolution": SOUND_SPEED / (2 * bandwidth),
        "noise_level": noise, "blank_range": 1.7, "transducer_depth": 0.0, "assumed_sound_speed": SOUND_SPEED,
    }  # fmt: skip
    return ElementInfo(**(values | changes))


def pings(about, rng, count, samples=4096, points=(), noise=True, oversampling=2.25, start=0.0, random_phase=True):
    """Return complex pressure [uPa] (ping, sample) and range [m]; points: (range (count), amplitude (count), complex).

    The band is filled with Hann-weighted bins; the sample rate is `oversampling` times the band.
    """
    bandwidth = about.band_high - about.band_low
    step = SOUND_SPEED / 2 / (oversampling * bandwidth)
    bins = round(samples / oversampling)
    x = (np.arange(bins) - (bins - 1) / 2) / bins
    weight = 0.5 + 0.5 * np.cos(2 * np.pi * x)
    spectrum = np.zeros((count, bins), complex)
    if noise:
        white = rng.standard_normal((count, bins)) + 1j * rng.standard_normal((count, bins))
        power = 10 ** (about.noise_level / 10)
        spectrum += white * weight * np.sqrt(power / 2 / np.mean(weight**2) / bins)
    fixed = [(where, size) for where, size in points if np.ndim(where) == 0]
    moving = [(where, size) for where, size in points if np.ndim(where) > 0]
    for group, place in (([f], np.asarray(f[0], float)[:, None]) for f in moving):
        size = _phased(group[0][1], count, rng, random_phase)
        turn = np.exp(-2j * np.pi * (place - start) / step * np.arange(bins) / samples)
        spectrum += size[:, None] * turn * weight / weight.sum()
    if fixed:
        size = np.stack([_phased(size, count, rng, random_phase) for _, size in fixed], axis=1)
        delay = (np.array([where for where, _ in fixed]) - start) / step
        spectrum += (size @ np.exp(-2j * np.pi * np.outer(delay, np.arange(bins)) / samples)) * weight / weight.sum()
    padded = np.zeros((count, samples), complex)
    padded[:, :bins] = spectrum
    return np.fft.ifft(padded, axis=1) * samples, start + np.arange(samples) * step


def _phased(size, count, rng, random_phase):
    size = np.broadcast_to(np.asarray(size, complex), (count,))
    return size * np.exp(2j * np.pi * rng.random(count)) if random_phase else size


def stored(pressure):
    level = 20 * np.log10(np.maximum(np.abs(pressure), 1e-12))
    return np.clip(np.rint((level - ADD_OFFSET) / SCALE_FACTOR), -LIMIT, LIMIT).astype(np.int16)


def element(about, pressure, ranges, bottom_depth=0.0, x=None, y=None, heave=0.0):
    count = len(pressure)
    zero = np.zeros(count)
    beam = BeamPattern(np.zeros(1), np.zeros(1), np.zeros((1, 1)), np.zeros((1, 1)))
    return ElementRecord(
        about, np.arange(count) * 0.2, zero if x is None else x, zero if y is None else y, zero, zero,
        zero + heave, zero + bottom_depth, ranges, beam, stored(pressure),
    )  # fmt: skip


def amplitude(about, strength, range_m):
    """Return pressure [uPa] of a point of some strength [dB re 1 m2] on the axis."""
    level = about.source_level - 40 * np.log10(range_m) - 2 * about.absorption * np.asarray(range_m) + strength
    return 10 ** (np.asarray(level) / 20)


def rough_bottom(about, rng, count, depth, level, length=1.5, fall=0.5):
    """Return points of an extended bottom: independent complex Gaussian amplitudes at 4 a cell from depth [m] on.

    level [dB re 1 uPa]: mean power just behind the edge; fall [m]: distance over which it drops by 4.3 dB.
    """
    cell = about.range_resolution
    places = np.arange(0, length, cell / 4)
    # Mean power of a sum of points through the unit-peak Hann response: 1.5 cells of energy, 4 points each.
    size = np.sqrt(10 ** (level / 10) / 6 * np.exp(-places / fall))
    white = (rng.standard_normal((len(places), count)) + 1j * rng.standard_normal((len(places), count))) / np.sqrt(2)
    return [(depth + place, white[i] * size[i]) for i, place in enumerate(places)]


def truth(**fish):
    defaults = {"name": ("fish",), "id": np.zeros(1, int)}
    return SimpleNamespace(**(defaults | fish))
