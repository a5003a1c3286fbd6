"""From spread grids to the matched filter's output, for one element and a batch of pings.

The filter is conj(P) g / integral of |P|^2 g, g its gain (`element.filter_gain`): a point on the axis reads its own
level.
"""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pingwright.element.model import Element
from pingwright.engine import nodes
from pingwright.engine.channels import Channel, Piece
from pingwright.engine.scratch import Scratch
from pingwright.engine.settings import Sampling, Settings

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex64]


@dataclass(frozen=True)
class Move:
    """A run of bins on its way from the FFT of a grid (source) to the output's spectrum (target), with a factor."""

    source: slice
    target: slice
    transfer: ComplexArray


@dataclass(frozen=True)
class Receiver:
    """Filters of one element.

    pieces: the piece of the band on each grid. moves: for each piece, how its bins go to the output. noise_scale
    float32 (bin): rms of each output bin's noise [uPa]. blank: stored samples before this one are blind.
    """

    element: Element
    sampling: Sampling
    pieces: tuple[Piece, ...]
    moves: tuple[tuple[Move, ...], ...]
    noise_scale: NDArray[np.float32]
    blank: int


def build(element: Element, pieces: list[Piece], grid: Sampling, settings: Settings) -> Receiver:
    """Build the filters of an element from the pieces of the channels that it receives."""
    frequency = sum(element.band) / 2 + grid.bins * grid.step
    replica = np.asarray(element.replica_spectrum(frequency))
    gain = element.filter_gain(frequency, replica)
    energy = float(np.sum(np.abs(replica) ** 2 * gain)) * grid.step
    receive = np.conj(replica) * gain / energy
    sent = {id(p.channel): _transmit(p.channel, frequency, replica) * receive for p in pieces}
    moves = tuple(_moves(p, grid, sent[id(p.channel)][_place(p, grid)] * _from_grid(p, grid)) for p in pieces)
    psd = np.asarray(element.noise_psd(frequency, settings.wind, settings.ambient, settings.own_noise))
    scale = np.sqrt(psd * grid.step) * np.abs(receive)
    blind = 2 * element.blank_range / settings.assumed_sound_speed
    blank = int(np.clip(np.ceil((blind - grid.origin) * grid.stored) - grid.first, 0, grid.count))
    return Receiver(element, grid, tuple(pieces), moves, scale.astype(np.float32), blank)


def _moves(piece: Piece, grid: Sampling, transfer: NDArray[np.complex128]) -> tuple[Move, ...]:
    """Cut a piece's bins, numbered from the band's centre, where the order of either FFT wraps around."""
    edges = sorted({piece.low, piece.high + 1, *(b for b in (0, piece.centre) if piece.low < b <= piece.high)})
    moves = []
    for low, high in itertools.pairwise(edges):
        source, target = (low - piece.centre) % grid.spread_length, low % grid.stored_length
        factor = transfer[low - piece.low : high - piece.low].astype(np.complex64)
        moves.append(Move(slice(source, source + high - low), slice(target, target + high - low), factor))
    return tuple(moves)


def _place(piece: Piece, grid: Sampling) -> slice:
    """Return the places of a piece's bins among those of the band."""
    half = len(grid.bins) // 2
    return slice(half + piece.low, half + piece.high + 1)


def _from_grid(piece: Piece, grid: Sampling) -> NDArray[np.complex128]:
    """Return the factors that turn the FFT of a piece's grid into the spectrum of its echoes (bin of the piece)."""
    offset = (np.arange(piece.low, piece.high + 1) - piece.centre).astype(float) * grid.step
    # The grid's array begins FIRST_TAP samples before its time origin.
    shift = np.exp(-2j * np.pi * offset * nodes.FIRST_TAP / grid.spread)
    return np.asarray(shift / nodes.window_spectrum(offset, grid.spread) * grid.step)


def _transmit(channel: Channel, frequency: FloatArray, own: NDArray[np.complex128]) -> NDArray[np.complex128]:
    replica = own if channel.own else np.asarray(channel.transmit.replica_spectrum(frequency))
    return replica * np.asarray(channel.transmit.source_amplitude(frequency))


def filtered(
    receiver: Receiver, grids: list[NDArray[np.float32]], keys: list[int], quiet: bool, scratch: Scratch
) -> ComplexArray:
    """Return the output [uPa] (ping, sample): rms-calibrated complex envelopes about the band's centre.

    It is linear: saturation and word length (`Element.received`) come after it.

    grids: for each piece (ping, real|imaginary, grid sample). keys: noise key of each ping; quiet: no noise. The output
    may be in the scratch memory: it is valid until the next call in the same thread.
    """
    from scipy import fft

    sampling = receiver.sampling
    pings, half = len(keys), len(sampling.bins) // 2
    whole = scratch.take("whole", (pings, sampling.stored_length), np.complex64)
    # The first run of bins for a place overwrites old contents; all bins of the band have one.
    whole[:, half + 1 : -half] = 0
    if len(receiver.pieces) > 1:
        whole[...] = 0
    for grid, moves in zip(grids, receiver.moves, strict=True):
        field = scratch.take("field", (pings, sampling.spread_length), np.complex64)
        field.real = grid[:, 0, : sampling.spread_length]
        field.imag = grid[:, 1, : sampling.spread_length]
        spectrum = fft.fft(field, axis=1, overwrite_x=True)
        for move in moves:
            if len(receiver.pieces) == 1:
                np.multiply(spectrum[:, move.source], move.transfer, out=whole[:, move.target])
            else:
                whole[:, move.target] += spectrum[:, move.source] * move.transfer
    if not quiet:
        _add_noise(receiver, whole, keys)
    echo = fft.ifft(whole, axis=1, norm="forward", overwrite_x=True)
    return np.asarray(echo[:, sampling.first : sampling.first + sampling.count])


def noise(receiver: Receiver, keys: list[int], scratch: Scratch) -> ComplexArray:
    """Return noise alone [uPa] (ping, sample) at the output, as `filtered` adds it; valid until its next call."""
    from scipy import fft

    sampling = receiver.sampling
    whole = scratch.take("whole", (len(keys), sampling.stored_length), np.complex64)
    whole[...] = 0
    _add_noise(receiver, whole, keys)
    echo = fft.ifft(whole, axis=1, norm="forward", overwrite_x=True)
    return np.asarray(echo[:, sampling.first : sampling.first + sampling.count])


def _add_noise(receiver: Receiver, whole: ComplexArray, keys: list[int]) -> None:
    """Add each ping's noise to spectra (ping, bin) in the order of the FFT; draws are numbered up the band."""
    from pingwright.engine.kernels.noise import add_noise

    half = len(receiver.sampling.bins) // 2
    for row, key in zip(whole, keys, strict=True):
        parts, scale = row.view(np.float32), receiver.noise_scale
        add_noise(parts[: 2 * half + 2], np.uint64(key), scale[half:], half)
        add_noise(parts[-2 * half :], np.uint64(key), scale[:half], 0)
