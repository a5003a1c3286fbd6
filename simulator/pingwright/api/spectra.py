"""Echoes over frequency, and echoes through another filter: both need the stored phase.

The matched filter's output for a channel h(f) is Y(f) = h(f) A(f) T(f), with the source amplitude A and the transfer T
= |P|^2 g / integral of |P|^2 g of pulse and filter. So h follows from Y, and so does Y after another filter. Tables of
the element and the water come from the scenario that the recording holds.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright.api.datasets import blind, two_ranges, with_xarray
from pingwright.echograms import levels
from pingwright.echograms.record import FILL_VALUE, ElementRecord

if TYPE_CHECKING:
    import xarray as xr

    from pingwright.element.model import Element
    from pingwright.recording import Prepared

FloatArray = NDArray[np.float64]

#: Frequencies are given where the filter passes at least this share of its maximum (amplitude, -20 dB).
LEAST = 0.1
#: The gain of a filter is divided out only down to this share of its maximum: below it, an echo would need samples far
#: beyond the recording, and half of it would be missing.
FLOOR = 1e-3
FEWEST, MOST = 33, 2049


def response(element: "Element", frequency: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return |P|^2 [s2] of the pulse and the scaled gain g / integral of |P|^2 g [1/s] of the filter.

    frequency [Hz] (n): evenly over the whole band. Their product is what becomes of a flat channel [s].
    """
    whole = element.signal.filtered
    energy = float(np.trapezoid(whole.power * whole.gain, whole.frequency))
    replica = element.replica_spectrum(frequency)
    return np.asarray(np.abs(replica) ** 2), np.asarray(element.filter_gain(frequency, replica) / energy)


def spectrum(
    stored: ElementRecord, prepared: "Prepared", ends: tuple[float, float], pings: slice | Sequence[int] | None
) -> "xr.Dataset":
    """Return target and volume strength over frequency of the echoes between two ranges [m]; see ElementRecording."""
    position = stored.info.position
    element, water = prepared.elements[position], prepared.world.water
    chosen = slice(None) if pings is None else pings
    samples = _window(stored, ends)
    r = np.asarray(stored.range[samples])
    step = float(stored.range[1] - stored.range[0])
    duration = 2 * step * len(r) / stored.info.assumed_sound_speed
    low, high = element.band
    f = np.linspace(low, high, int(np.clip(np.ceil(2 * (high - low) * duration), FEWEST, MOST)))
    power, gain = response(element, f)
    through = power * gain
    usable = through >= LEAST * through.max()
    f, through = f[usable], through[usable]
    loss = water.mean_absorption(f, stored.info.transducer_depth, np.array([stored.info.transducer_depth + r.mean()]))
    echo = np.asarray(stored.echo[:, samples])[chosen]
    turned = -2j * np.pi * np.outer(2 * r / stored.info.assumed_sound_speed, f - element.centre)
    kernel = np.exp(turned + np.log(10.0) / 10 * r[:, None] * loss) * (2 * step / stored.info.assumed_sound_speed)
    known = 20 * np.log10(through * element.source_amplitude(f))
    with np.errstate(divide="ignore"):
        ts, shell = (20 * np.log10(np.abs((echo * r**times) @ kernel)) - known for times in (2, 1))
    filled = 10 * np.log10(element.equivalent_beam_angle(f) * step * len(r))
    return _dataset(stored, chosen, f, {"ts": ts, "sv": shell - filled})


def _window(stored: ElementRecord, ends: tuple[float, float]) -> slice:
    """Return the samples between two ranges [m]. ValueError if there are fewer than two, or if some are blind."""
    if stored.echo is None:
        message = "this recording has no phase; simulate with keep_phase=True"
        raise ValueError(message)
    low, high = two_ranges(ends)
    first, end = np.searchsorted(stored.range, (low, high))
    least = max(float(stored.info.blank_range), float(stored.range[0]))
    if not (least <= low < high <= float(stored.range[-1])) or end - first < 2:
        message = (
            f"range goes from {low:g} to {high:g} m; allowed: two ranges, the smaller first, from {least:.4g} (what"
            f" lies nearer is blind) to {float(stored.range[-1]):.4g} m, at least two samples"
        )
        raise ValueError(message)
    return slice(int(first), int(end))


NAMES = {
    "ts": ("echo strength", "dB re 1 m2; of a single echo on the beam's axis its target strength"),
    "sv": ("volume backscattering strength", "dB re 1 m-1, of what fills the beam; average as power, 10^(sv/10)"),
}


def _dataset(stored: ElementRecord, chosen: Any, frequency: FloatArray, data: dict[str, FloatArray]) -> "xr.Dataset":
    xarray = with_xarray("spectrum")
    coordinates = {
        "frequency": ("frequency", frequency, {"units": "Hz", "long_name": "frequency"}),
        "x": ("ping", np.asarray(stored.x)[chosen], {"units": "m", "long_name": "position of the boat"}),
        "time": ("ping", np.asarray(stored.ping_time)[chosen], {"units": "s", "long_name": "time since the start"}),
    }
    variables = {
        name: (("ping", "frequency"), values, {"units": "dB", "long_name": NAMES[name][0], "comment": NAMES[name][1]})
        for name, values in data.items()
    }
    dataset: xr.Dataset = xarray.Dataset(variables, coordinates, {"element": stored.info.name})
    return dataset


def refiltered(stored: ElementRecord, old: "Element", new: "Element", header: ElementRecord) -> ElementRecord:
    """Return the record of an element as another filter would have given it; header: axes and numbers with that filter.

    The spectrum of each ping is multiplied by the ratio of the two gains.
    """
    speed = stored.info.assumed_sound_speed
    step = float(stored.range[1] - stored.range[0]) * 2 / speed
    nothing = blind(stored, np.asarray(stored.echo_level[:]))
    echo = np.where(nothing, 0, np.asarray(stored.echo[:]))
    count = echo.shape[1] + 2 * int(np.ceil(stored.info.pulse_length / step))
    size = 1 << int(count - 1).bit_length()
    offset = np.fft.fftfreq(size, step)
    half = (old.band[1] - old.band[0]) / 2
    inside = np.abs(offset) <= half
    even = np.argsort(offset[inside])
    f = old.centre + offset[inside][even]
    before, after = response(old, f)[1], response(new, f)[1]
    ratio = after * before / (before**2 + (FLOOR * before.max()) ** 2)
    gain = np.zeros(size)
    gain[np.flatnonzero(inside)[even]] = ratio
    out = np.fft.ifft(np.fft.fft(echo, size, axis=1) * gain, axis=1)[:, : echo.shape[1]].astype(np.complex64)
    level = levels.pack(out)
    level[nothing] = FILL_VALUE
    out[nothing] = np.nan
    return replace(stored, info=header.info, echo_level=level, echo=out)
