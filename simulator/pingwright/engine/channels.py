"""Which element receives which, and into how many pieces a band is cut.

Sixteen nodes describe the beam of a face up to some 14 wavelengths wide over a band as wide as half its centre
frequency. Over the band of a wider face, more lobes pass over a direction than the nodes can follow. So the band is cut
into pieces, each with its own nodes and grid, and the receiver takes every bin of the spectrum from the piece in which
it lies.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.element.model import Element
from pingwright.engine import nodes as node_design
from pingwright.engine.nodes import Accuracy, Fit
from pingwright.engine.remembered import face_key, remembered
from pingwright.engine.settings import Sampling
from pingwright.world.scatterers import World

FloatArray = NDArray[np.float64]

#: Numbers of pieces that are tried, in this order.
_PIECES = (1, 2, 3, 4, 6, 8, 12, 16)


@dataclass(frozen=True)
class Channel:
    """One transmitting and one receiving element: the same one, or a pair whose bands overlap."""

    transmit: Element
    receive: Element

    @property
    def own(self) -> bool:
        """Whether an element receives its own pulse."""
        return self.transmit is self.receive

    @property
    def radial(self) -> bool:
        """Whether the two-way beam depends only on the angle off one axis."""
        return self.own and self.receive.symmetry == "radial"

    @property
    def is_real(self) -> bool:
        """Whether the two-way beam is real."""
        return self.transmit.is_real and self.receive.is_real

    def beam(self, u: FloatArray, v: FloatArray, frequency: FloatArray) -> NDArray[np.complex128]:
        """Return the two-way amplitude (n, m) in the receiving element's direction cosines."""
        seen = np.asarray(self.receive.beam(u, v, frequency), complex)
        if self.own:
            return np.asarray(seen * seen, complex)
        w = np.sqrt(np.maximum(1 - u * u - v * v, 0))
        turn = self.transmit.rotation @ self.receive.rotation.T
        tu, tv, tw = turn @ np.stack([u, v, w])
        sent = np.asarray(self.transmit.beam(tu, tv, frequency))
        return np.asarray(seen * sent * (tw > 0)[:, None], complex)


@dataclass(frozen=True)
class Piece:
    """A part of a channel's band with one set of nodes.

    low, high: its first and last bin, centre: the bin at the centre of its grid, all counted from the band's centre.
    band [Hz]: covered by its nodes. offset [Hz]: of its centre from the band's. fit: interpolation between its nodes.
    """

    channel: Channel
    low: int
    high: int
    centre: int
    band: tuple[float, float]
    offset: float
    fit: Fit


def divide(
    channel: Channel, world: World, depth: float, reach: float, grid: Sampling, accuracy: Accuracy
) -> list[Piece]:
    """Cut a channel's band into the fewest pieces that keep the accuracy, or into the largest number allowed.

    depth [m]: the faces' mean depth; reach [m]: longest one-way path.
    """
    for count in _PIECES:
        pieces = [_piece(channel, *ends, world, depth, reach, grid, accuracy) for ends in _ends(grid, count)]
        if max(piece.fit.error for piece in pieces) <= accuracy.error:
            break
    return pieces


def _ends(grid: Sampling, count: int) -> list[tuple[int, int]]:
    """Return the first and last bin of each piece."""
    half = len(grid.bins) // 2
    edges = np.linspace(-half, half + 1, count + 1).round().astype(int)
    return [(int(low), int(high) - 1) for low, high in zip(edges[:-1], edges[1:], strict=True)]


def _piece(
    channel: Channel, low: int, high: int, world: World, depth: float, reach: float, grid: Sampling, accuracy: Accuracy
) -> Piece:
    """Fit the nodes of one piece."""
    band = channel.receive.band
    centre = (low + high) // 2
    if high - low + 1 < len(grid.bins):
        middle, half = sum(band) / 2 + centre * grid.step, max(high - centre, centre - low) * grid.step
        band = (middle - half, middle + half)
    curves = _curves(channel, band, world, depth, reach)
    return Piece(channel, low, high, centre, band, centre * grid.step, node_design.choose(band, accuracy, curves))


def parts_of(values: NDArray[np.complex128], parts: int) -> FloatArray:
    """Return real, or real and imaginary, parts as a new axis before the last; in the unit of values (..., m)."""
    return np.stack([values.real, values.imag][:parts], axis=-2)


def _curves(
    channel: Channel, band: tuple[float, float], world: World, depth: float, reach: float
) -> Callable[[FloatArray], FloatArray]:
    """Return the curves over the band that occur on this channel: beam squared times loss, with a slope added."""
    rng = np.random.default_rng(20)
    sine = np.concatenate([np.linspace(0, 1, 100), rng.random(100) ** 2])
    turn = np.zeros_like(sine) if channel.radial else rng.random(len(sine)) * 2 * np.pi
    u, v = sine * np.cos(turn), sine * np.sin(turn)
    distance, slope = rng.random(len(sine)) * reach, rng.normal(size=len(sine))
    deepest = np.array([max(depth + reach, depth + 1.0)])
    reference = world.water.mean_absorption(np.array(band[:1]), depth, deepest)[0]

    beam = _over_the_band(channel, band, u, v)

    def curves(frequency: FloatArray) -> FloatArray:
        mean = world.water.mean_absorption(frequency, depth, deepest)[0]
        loss = 10 ** (-distance[:, None] * (mean - reference) / 10)
        tilt = (2 * frequency / sum(band)) ** slope[:, None]
        parts = parts_of(beam(frequency), 1 if channel.is_real else 2)
        return np.asarray(np.swapaxes(parts * (loss * tilt)[:, None], 0, 1).reshape(-1, len(frequency)))

    return curves


def _over_the_band(
    channel: Channel, band: tuple[float, float], u: FloatArray, v: FloatArray
) -> Callable[[FloatArray], NDArray[np.complex128]]:
    """Return the two-way beam in directions u, v as a function of frequency [Hz] in a band.

    A curved face is summed at few frequencies and interpolated (Chebyshev; error below 1e-7 of the beam's peak).
    """
    face, speed = channel.receive.face, channel.receive.sound_speed
    if face.virtual_depth == 0 or not channel.own:
        return lambda frequency: channel.beam(u, v, frequency)
    # Over the band, the phase between the farthest parts of the face turns by `size` in wavelengths of the bandwidth.
    count = int(28 + 4 * max(face.extent) * (band[1] - band[0]) / speed)
    middle, half = (band[0] + band[1]) / 2, (band[1] - band[0]) / 2
    x = np.polynomial.chebyshev.chebpts1(count)

    def fitted() -> tuple[NDArray[Any], ...]:
        seen = channel.receive.beam(u, v, middle + half * x)
        return (np.polynomial.chebyshev.chebfit(x, seen.T, count - 1),)

    (terms,) = remembered(("band", face_key(channel.receive), band, u.tobytes(), v.tobytes()), fitted)

    def beam(frequency: FloatArray) -> NDArray[np.complex128]:
        seen = np.polynomial.chebyshev.chebval((frequency - middle) / half, terms)
        return np.asarray(seen * seen, complex)

    return beam
