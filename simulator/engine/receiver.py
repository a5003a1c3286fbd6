"""From spread grids to the matched filter's output, for one element and a batch of pings.

Output of a flat channel: integral of |P|^2 W / integral of |P|^2 W = 1, so a point on the axis reads its own level.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.element.model import Element
from simulator.engine import nodes
from simulator.engine.settings import Sampling, Settings
from simulator.engine.tables import Channel

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex64]


@dataclass(frozen=True)
class Receiver:
    """Filters of one element.

    transfer: for each channel heard, complex64 (bin): from the spread grid's FFT to the output's spectrum.
    noise_scale float32 (bin): rms of each output bin's noise [uPa]. blank: stored samples before this one are blind.
    """

    element: Element
    sampling: Sampling
    transfer: tuple[ComplexArray, ...]
    noise_scale: NDArray[np.float32]
    blank: int


def build(element: Element, channels: list[Channel], grid: Sampling, settings: Settings) -> Receiver:
    """Build the filters of an element from the channels it hears (its own first)."""
    frequency = sum(element.band) / 2 + grid.bins * grid.step
    replica = _replica(element, frequency)
    weighting = np.asarray(element.weighting(frequency))
    energy = float(np.sum(np.abs(replica) ** 2 * weighting)) * grid.step
    receive = np.conj(replica) * weighting / energy
    # The grid's array begins FIRST_TAP samples before its time origin.
    shift = np.exp(-2j * np.pi * grid.bins * grid.step * nodes.FIRST_TAP / grid.spread)
    common = receive * shift / nodes.window_spectrum(grid.bins * grid.step, grid.spread) * grid.step
    transfer = tuple(_transmit(channel, frequency, replica) * common for channel in channels)
    psd = np.asarray(element.noise_psd(frequency, settings.wind, settings.ambient, settings.vessel))
    scale = np.sqrt(psd * grid.step) * np.abs(receive)
    blind = 2 * element.blank_range / settings.assumed_sound_speed
    blank = int(np.clip(np.ceil((blind - grid.origin) * grid.stored) - grid.first, 0, grid.count))
    return Receiver(element, grid, tuple(t.astype(np.complex64) for t in transfer), scale.astype(np.float32), blank)


def _replica(element: Element, frequency: FloatArray) -> NDArray[np.complex128]:
    """Return the transmitted pulse's spectrum [s] on many frequencies from as many as its length needs.

    A pulse of length T has a spectrum that is band-limited in the frequency axis: 32 points per 1/T and a cubic
    spline between them keep it to 1e-5 of its peak.
    """
    from scipy.interpolate import CubicSpline

    low, high = float(frequency[0]), float(frequency[-1])
    count = int(np.ceil((high - low) * element.pulse_length * 32)) + 33
    if count > len(frequency):
        return np.asarray(element.replica_spectrum(frequency))
    coarse = np.linspace(low, high, count)
    # The pulse's own delay is a fast phase: take it out before interpolating.
    delay = np.exp(1j * np.pi * (coarse - low) * element.pulse_length)
    smooth = CubicSpline(coarse, np.asarray(element.replica_spectrum(coarse)) * delay)(frequency)
    return np.asarray(smooth * np.exp(-1j * np.pi * (frequency - low) * element.pulse_length))


def _transmit(channel: Channel, frequency: FloatArray, own: NDArray[np.complex128]) -> NDArray[np.complex128]:
    replica = own if channel.own else _replica(channel.transmit, frequency)
    return replica * np.asarray(channel.transmit.source_amplitude(frequency))


def filtered(receiver: Receiver, grids: list[NDArray[np.float32]], keys: list[int], quiet: bool) -> ComplexArray:
    """Return the output [uPa] (ping, sample): rms-calibrated complex envelopes about the band's centre.

    grids: for each channel (ping, real|imaginary, grid sample). keys: noise key of each ping; quiet: no noise.
    """
    from scipy import fft

    from simulator.engine.noise import add_noise

    sampling = receiver.sampling
    pings = len(keys)
    band = np.zeros((pings, len(sampling.bins)), np.complex64)
    for grid, transfer in zip(grids, receiver.transfer, strict=True):
        field = np.empty((pings, sampling.spread_length), np.complex64)
        field.real = grid[:, 0, : sampling.spread_length]
        field.imag = grid[:, 1, : sampling.spread_length]
        spectrum = fft.fft(field, axis=1, overwrite_x=True)
        half = len(sampling.bins) // 2
        band[:, half:] += spectrum[:, : half + 1] * transfer[half:]
        band[:, :half] += spectrum[:, -half:] * transfer[:half]
    if not quiet:
        for row, key in zip(band, keys, strict=True):
            add_noise(row.view(np.float32), np.uint64(key), receiver.noise_scale)
    half = len(sampling.bins) // 2
    whole = np.zeros((pings, sampling.stored_length), np.complex64)
    whole[:, : half + 1] = band[:, half:]
    whole[:, -half:] = band[:, :half]
    echo = fft.ifft(whole, axis=1, norm="forward", overwrite_x=True)
    kept = np.asarray(echo[:, sampling.first : sampling.first + sampling.count])
    return np.asarray(receiver.element.received(kept), np.complex64)
