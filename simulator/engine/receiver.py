"""From spread grids to the matched filter's output, for one element and a batch of pings.

Output of a flat channel: integral of |P|^2 W / integral of |P|^2 W = 1, so a point on the axis reads its own level.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.element.model import Element
from simulator.engine import nodes
from simulator.engine.channels import Channel, Piece
from simulator.engine.settings import Sampling, Settings

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex64]


@dataclass(frozen=True)
class Receiver:
    """Filters of one element.

    pieces: what each grid carries. transfer: for each piece, complex64 (bin of the piece): from the FFT of its grid to
    the output's spectrum.
    noise_scale float32 (bin): rms of each output bin's noise [uPa]. blank: stored samples before this one are blind.
    """

    element: Element
    sampling: Sampling
    pieces: tuple[Piece, ...]
    transfer: tuple[ComplexArray, ...]
    noise_scale: NDArray[np.float32]
    blank: int


def build(element: Element, pieces: list[Piece], grid: Sampling, settings: Settings) -> Receiver:
    """Build the filters of an element from the pieces of the channels it hears."""
    frequency = sum(element.band) / 2 + grid.bins * grid.step
    replica = _replica(element, frequency)
    weighting = np.asarray(element.weighting(frequency))
    energy = float(np.sum(np.abs(replica) ** 2 * weighting)) * grid.step
    receive = np.conj(replica) * weighting / energy
    sent = {id(p.channel): _transmit(p.channel, frequency, replica) * receive for p in pieces}
    transfer = tuple(sent[id(p.channel)][_place(p, grid)] * _from_grid(p, grid) for p in pieces)
    psd = np.asarray(element.noise_psd(frequency, settings.wind, settings.ambient, settings.vessel))
    scale = np.sqrt(psd * grid.step) * np.abs(receive)
    blind = 2 * element.blank_range / settings.assumed_sound_speed
    blank = int(np.clip(np.ceil((blind - grid.origin) * grid.stored) - grid.first, 0, grid.count))
    narrow = tuple(t.astype(np.complex64) for t in transfer)
    return Receiver(element, grid, tuple(pieces), narrow, scale.astype(np.float32), blank)


def _place(piece: Piece, grid: Sampling) -> slice:
    """Return where a piece's bins stand among those of the band."""
    half = len(grid.bins) // 2
    return slice(half + piece.low, half + piece.high + 1)


def _from_grid(piece: Piece, grid: Sampling) -> NDArray[np.complex128]:
    """Return what turns the FFT of a piece's grid into the spectrum of its echoes (bin of the piece)."""
    offset = (np.arange(piece.low, piece.high + 1) - piece.centre).astype(float) * grid.step
    # The grid's array begins FIRST_TAP samples before its time origin.
    shift = np.exp(-2j * np.pi * offset * nodes.FIRST_TAP / grid.spread)
    return np.asarray(shift / nodes.window_spectrum(offset, grid.spread) * grid.step)


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

    grids: for each piece (ping, real|imaginary, grid sample). keys: noise key of each ping; quiet: no noise.
    """
    from scipy import fft

    from simulator.engine.noise import add_noise

    sampling = receiver.sampling
    pings = len(keys)
    band = np.zeros((pings, len(sampling.bins)), np.complex64)
    for grid, piece, transfer in zip(grids, receiver.pieces, receiver.transfer, strict=True):
        field = np.empty((pings, sampling.spread_length), np.complex64)
        field.real = grid[:, 0, : sampling.spread_length]
        field.imag = grid[:, 1, : sampling.spread_length]
        spectrum = fft.fft(field, axis=1, overwrite_x=True)
        low, high = piece.low - piece.centre, piece.high - piece.centre
        mine = band[:, _place(piece, sampling)]
        mine[:, -low:] += spectrum[:, : high + 1] * transfer[-low:]
        mine[:, :-low] += spectrum[:, low:] * transfer[:-low]
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
