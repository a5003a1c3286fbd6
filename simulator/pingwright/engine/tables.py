"""The effect of an element and the water on an echo, tabulated at the band's nodes once in a run.

All tables are flat float32 with rows of 16 lanes (`nodes.NodeSet.rows`): the kernel reads rows and multiplies.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.acoustics.bubbles import two_way_loss
from pingwright.engine import nodes as node_design
from pingwright.engine.channels import Channel, Piece, parts_of
from pingwright.engine.nodes import Accuracy, NodeSet
from pingwright.engine.remembered import face_key, remembered
from pingwright.world.scatterers import StrengthLaw, Water, World

FloatArray = NDArray[np.float64]

#: Rows of a strength law over t = sqrt(1 - cos incidence): fine near vertical, linear near grazing.
STRENGTH_ROWS = 1025
_RADIAL_ROWS = (513, 1025, 2049, 4097, 8193, 16385)
_PLANE_KNOTS = (33, 49, 65, 97, 129, 193, 257, 385, 513)
_SPARE = 10
_LAYERS = (2, 3, 5, 9, 17, 33, 65)


@dataclass(frozen=True)
class Tables:
    """All tables that the kernel reads for one piece of a channel's band.

    beam: radial (row, part, 16) over sqrt(u^2 + v^2) from 0 to 1, or plane (u knot, v knot, part, 16) cubic B-spline
    coefficients with two knots of margin; beam_shape (3): knots, knots, mirrored. loss (range, depth, 16); strength
    (law, row, 16); gain (16): the share of an echo from below that the bubbles below the surface let through, straight
    under the face; bounce_gain (16): of the second echo. slowness (2, knot): mean slowness [s/m] to each depth and its
    step. offset [Hz]: of the piece's centre from the band's. clock (12) float64: see `Tables.timing`.
    """

    nodes: NodeSet
    plane: bool
    parts: int
    beam: NDArray[np.float32]
    beam_shape: NDArray[np.int64]
    loss: NDArray[np.float32]
    loss_shape: NDArray[np.int64]
    strength: NDArray[np.float32]
    two_sided: NDArray[np.uint8]
    gain: NDArray[np.float32]
    bounce_gain: NDArray[np.float32] | None
    slowness: FloatArray
    offset: float
    clock: FloatArray

    def timing(self, origin: float) -> FloatArray:
        """Return the clock of a direct echo on a grid that begins at origin [s].

        Entries: 0, 1 depth of the first slowness knot [m] and knots per metre; 2 path multiplier; 3 added delay [s];
        4 added path [m]; 5 grid origin [s]; 6 grid rate [Hz]; 7 carrier [Hz]; 8 loss rows per metre; 9, 10 depth of
        the first loss layer [m] and layers per metre; 11 phase of the carrier [turns], so that pieces about different
        carriers fit together.
        """
        clock = self.clock.copy()
        clock[5], clock[11] = origin, self.offset * origin
        return clock

    def bounce_timing(self, origin: float, depth: float, slowness: float) -> FloatArray:
        """Return the clock of the second echo: twice the path plus the face's depth [m]; slowness [s/m] at the face."""
        clock = self.timing(origin)
        clock[2:5] = 2.0, 2.0 * depth * slowness, depth
        return clock

    def arguments(self, clock: FloatArray, gain: NDArray[np.float32]) -> tuple[Any, ...]:
        """Return the kernel's table arguments in its order."""
        return (
            clock, self.slowness, self.beam, self.beam_shape, self.loss, self.loss_shape, self.strength,
            self.two_sided, gain, self.nodes.taps, self.nodes.delays,
        )  # fmt: skip


def build(piece: Piece, world: World, depth: float, reach: float, rate: float, accuracy: Accuracy) -> Tables:
    """Tabulate one piece of a channel.

    depth [m]: the faces' mean depth; reach [m]: longest one-way path; rate [Hz]: of the spreading grid.
    """
    channel, band = piece.channel, piece.band
    deepest = max(depth + reach, depth + 1.0)
    layers = _depth_layers(world.water, band, depth, deepest, reach, accuracy.table)
    nodes = node_design.design(band, rate, accuracy, piece.fit)
    nodes = replace(nodes, taps=aligned(nodes.taps))
    frequency = nodes.frequency
    beam, beam_shape = _beam(channel, nodes, accuracy.table)
    loss, spacing = _loss(world.water, nodes, depth, layers, reach, accuracy.table)
    slowness, knots = _slowness(world.water, depth, deepest)
    clock = np.zeros(12)
    clock[0], clock[1], clock[2] = 0.0, knots, 1.0
    clock[6], clock[7] = rate, (band[0] + band[1]) / 2
    clock[8], clock[9], clock[10] = 1 / spacing, depth, (len(layers) - 1) / (layers[-1] - layers[0])
    bubbles = 10 ** (-two_way_loss(frequency, world.wind_speed, depth) / 20)
    gain = nodes.rows(bubbles)
    bounce = None if world.bounce is None else nodes.rows(bubbles * world.bounce.gain(frequency))
    return Tables(
        nodes, not channel.radial, 1 if channel.is_real else 2, beam, beam_shape, aligned(loss.ravel()),
        np.array(loss.shape[:2]), aligned(strength_rows(world.laws, nodes)),
        np.array([law.two_sided for law in world.laws] or [False], np.uint8), gain, bounce, slowness, piece.offset,
        clock,
    )  # fmt: skip


def aligned(rows: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return a copy that starts on a 64-byte boundary, so that no row of 16 floats lies across two cache lines."""
    spare = np.empty(rows.size + 16, np.float32)
    start = (-spare.ctypes.data // 4) % 16
    copy = spare[start : start + rows.size].reshape(rows.shape)
    copy[...] = rows
    return copy


def strength_rows(laws: tuple[StrengthLaw, ...], nodes: NodeSet) -> NDArray[np.float32]:
    """Tabulate strength laws [m, or 1 for surfaces]: (law, row, 16), rows uniform in sqrt(1 - cosine) from 0 to 1."""
    rows = [_strength(law, nodes) for law in laws]
    return np.stack(rows) if rows else np.zeros((1, STRENGTH_ROWS, node_design.LANES), np.float32)


def _strength(law: StrengthLaw, nodes: NodeSet) -> NDArray[np.float32]:
    """Tabulate one law; a table of an earlier scene is used again if the law states what it depends on."""
    cosine = 1 - np.linspace(0, 1, STRENGTH_ROWS) ** 2

    def made() -> tuple[NDArray[Any], ...]:
        return (nodes.rows(np.asarray(law.amplitude(cosine, nodes.frequency))),)

    if law.key is None:
        return made()[0]
    return remembered(("law", law.key, nodes.frequency.tobytes(), np.asarray(nodes.lane).tobytes()), made)[0]


def _beam(channel: Channel, nodes: NodeSet, limit: float) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """Return the beam's table and shape, see `Tables`; those of earlier faces are stored."""

    def made() -> tuple[NDArray[Any], ...]:
        beam, shape = (_radial if channel.radial else _plane)(channel, nodes, limit)
        return aligned(beam), shape

    key = ("beam", face_key(channel.receive, channel.transmit), channel.own, nodes.frequency.tobytes(), limit)
    beam, shape = remembered(key, made)
    return beam, shape


def _radial(channel: Channel, nodes: NodeSet, limit: float) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """Tabulate a beam over the sine of the angle off axis, as finely as linear interpolation needs."""
    highest = nodes.frequency[:1]
    for rows in _RADIAL_ROWS:
        sine = np.linspace(0, 1, 2 * rows - 1)
        values = channel.beam(sine, np.zeros_like(sine), highest)
        error = np.abs((values[:-2:2] + values[2::2]) / 2 - values[1::2]).max()
        if error < limit:
            break
    sine = sine[::2]
    values = channel.beam(sine, np.zeros_like(sine), nodes.frequency)
    table = nodes.rows(parts_of(values, 1 if channel.is_real else 2))
    return table.ravel(), np.array([rows, 1, 0])


def _plane(channel: Channel, nodes: NodeSet, limit: float) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """Tabulate a beam over both direction cosines as cubic B-spline coefficients, mirrored where it is symmetric."""
    from scipy.ndimage import spline_filter1d

    mirrored = _is_mirrored(channel, nodes)
    counts = [_knots_needed(channel, nodes, axis, mirrored, limit) for axis in (0, 1)]
    # The filter's edge effect falls as 0.27^n: fit some knots beyond the margin, then drop them.
    u, v = (_knot_cosines(n, mirrored, _SPARE) for n in counts)
    grid_u, grid_v = (g.ravel() for g in np.meshgrid(u, v, indexing="ij"))
    parts = 1 if channel.is_real else 2
    values = parts_of(channel.beam(grid_u, grid_v, nodes.frequency), parts).reshape(len(u), len(v), parts, -1)
    for axis in (0, 1):
        values = spline_filter1d(values, order=3, axis=axis, mode="mirror", output=np.float64)
    return nodes.rows(values[_SPARE:-_SPARE, _SPARE:-_SPARE]).ravel(), np.array([*counts, int(mirrored)])


def _knot_cosines(count: int, mirrored: bool, spare: int = 0) -> FloatArray:
    """Return the direction cosines of the knots, with two knots and spare ones beyond each end."""
    step = (1 if mirrored else 2) / (count - 5)
    return np.asarray((np.arange(-spare, count + spare) - 2) * step - (0 if mirrored else 1))


def _is_mirrored(channel: Channel, nodes: NodeSet) -> bool:
    """Return whether the two-way beam is the same in all four quadrants."""
    u, v = np.linspace(0.05, 0.65, 7), np.linspace(0.7, 0.02, 7)
    ours = channel.beam(u, v, nodes.frequency)
    others = [channel.beam(su * u, sv * v, nodes.frequency) for su, sv in ((-1, 1), (1, -1), (-1, -1))]
    return all(bool(np.abs(other - ours).max() < 1e-9) for other in others)


def _knots_needed(channel: Channel, nodes: NodeSet, axis: int, mirrored: bool, limit: float) -> int:
    """Return how many knots along one axis keep the spline's error below the limit, tried on three lines."""
    from scipy.interpolate import make_interp_spline

    edge = 0.98
    between = np.linspace(0 if mirrored else -edge, edge, 1021)
    ends = nodes.frequency[[0, len(nodes.frequency) // 2]]
    lines = {other: _line(channel, between, other, axis, ends) for other in (0.0, 0.11, 0.37)}
    for count in _PLANE_KNOTS:
        knots = _knot_cosines(count if mirrored else 2 * count - 5, mirrored)
        error = 0.0
        for other, wanted in lines.items():
            rebuilt = make_interp_spline(knots, _line(channel, knots, other, axis, ends), k=3)(between)
            inside = between**2 + other**2 < 0.96
            error = max(error, float(np.abs(rebuilt - wanted)[inside].max()))
        if error < limit:
            break
    return len(knots)


def _line(channel: Channel, place: FloatArray, other: float, axis: int, frequency: FloatArray) -> FloatArray:
    """Return the beam's parts (place, part and frequency) along one axis, with the other cosine fixed."""
    fixed = np.full_like(place, other)
    u, v = (place, fixed) if axis == 0 else (fixed, place)
    return parts_of(channel.beam(u, v, frequency), 2).reshape(len(place), -1)


def _depth_layers(
    water: Water, band: tuple[float, float], top: float, bottom: float, reach: float, limit: float
) -> FloatArray:
    """Return depths [m] between which mean absorption is linear enough for the loss table."""
    for count in _LAYERS:
        depth = np.linspace(top, bottom, 2 * count - 1)
        mean = water.mean_absorption(np.array(band), top, depth)
        miss = np.abs((mean[:-2:2] + mean[2::2]) / 2 - mean[1::2]).max() * reach * np.log(10) / 10
        # Linear in the exponent is not linear in the loss: the square of half a step's change stays in the product.
        step = np.abs(np.diff(mean[::2], axis=0)).max() * reach * np.log(10) / 10
        if max(miss, step**2 / 8) < limit:
            break
    return np.asarray(depth[::2])


def _loss(
    water: Water, nodes: NodeSet, top: float, layers: FloatArray, reach: float, limit: float
) -> tuple[NDArray[np.float32], float]:
    """Tabulate two-way absorption as an amplitude (range, depth, 16), and return the spacing of ranges [m]."""
    mean = water.mean_absorption(nodes.frequency, top, layers)
    steepest = float(mean.max()) * np.log(10) / 10
    spacing = np.sqrt(2 * limit) / max(steepest, 1e-6)
    spacing = float(min(spacing, reach / 2))
    distance = np.arange(int(np.ceil(reach / spacing)) + 2) * spacing
    return nodes.rows(10 ** (-distance[:, None, None] * mean[None] / 10)), spacing


def _slowness(water: Water, top: float, bottom: float) -> tuple[FloatArray, float]:
    """Tabulate mean slowness from the face to each depth from 0 on: (2, knot) value and step; knots per metre."""
    for count in (2, 65, 513, 4097):
        depth = np.linspace(0.0, bottom, 2 * count - 1)
        mean = water.mean_slowness(top, depth)
        # 1e-9 of the slowness is 0.1 ns on 100 m: a thousandth of a carrier cycle at 1 MHz is 1 ns.
        if np.abs((mean[:-2:2] + mean[2::2]) / 2 - mean[1::2]).max() < 1e-8 * mean.max():
            break
    knots = mean[::2]
    steps = np.diff(knots)
    return np.stack([knots, np.append(steps, steps[-1])]), (count - 1) / bottom
