"""Short grids: some hundred samples on which the echo of one thing is spread and filtered, wherever it arrives."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pingwright.element.model import Element
from pingwright.engine import nodes, receiver, tables
from pingwright.engine.channels import Piece, divide
from pingwright.engine.preparing import Run
from pingwright.engine.scratch import Scratch
from pingwright.engine.settings import Sampling
from pingwright.engine.tables import Tables
from pingwright.world.scatterers import Scatterers, StrengthLaw

FloatArray = NDArray[np.float64]

#: Share of a point's echo energy that may lie outside the margins and is left out.
_LEFT_OUT = 1e-10
#: The shortest length between the margins [stored samples]; longer ones double, so that there are few lengths.
_SHORTEST = 128


@dataclass(frozen=True)
class Short:
    """Grid, filters and tables of one element for patches of `receiver.sampling.stored_length` samples.

    A patch begins `margin` stored samples ahead of the first echo on it. `tables` carry no laws: see `with_laws`.
    """

    receiver: receiver.Receiver
    tables: tuple[Tables, ...]

    def with_laws(self, laws: tuple[StrengthLaw, ...]) -> "Short":
        """Return the same with the strength laws of the things that will be spread."""
        two_sided = np.array([law.two_sided for law in laws], np.uint8)
        made = [
            replace(t, strength=tables.aligned(tables.strength_rows(laws, t.nodes)), two_sided=two_sided)
            for t in self.tables
        ]
        return replace(self, tables=tuple(made))

    def patches(
        self, points: Scatterers, weight: NDArray[np.float32], bounds: NDArray[np.int64], poses: FloatArray,
        origins: FloatArray, scratch: Scratch,
    ) -> NDArray[np.complex64]:  # fmt: skip
        """Return filtered echoes complex64 [uPa] (ping, sample), good until the next call in the same thread.

        bounds (ping, 2): which points each ping receives; poses (ping, 12); origins (ping) [s]: time of each patch's
        first sample since the transmission.
        """
        from pingwright.engine.kernels.over import many_spreader

        count, grids = len(bounds), []
        for n, table in enumerate(self.tables):
            grid = scratch.take(f"patch {n}", (count, 2, self.receiver.sampling.row), np.float32)
            grid[...] = 0
            clocks = np.tile(table.timing(0.0), (count, 1))
            clocks[:, 5], clocks[:, 11] = origins, table.offset * origins
            kernel = many_spreader(table.nodes.half, table.nodes.slope_pairs, table.plane, table.parts)
            kernel(
                grid, points.position, points.axis, points.amplitude, points.phase, points.law, weight, bounds, poses,
                clocks, *table.arguments(clocks[0], table.gain)[1:],
            )  # fmt: skip
            grids.append(grid)
        return receiver.filtered(self.receiver, grids, [0] * count, True, scratch)


def margin(element: Element, grid: Sampling) -> int:
    """Return the number of stored samples beside an echo that its filtered ripples fill, except 1e-10 of its energy."""
    frequency = sum(element.band) / 2 + grid.bins * grid.step
    whole = np.zeros(grid.stored_length, complex)
    whole[grid.bins] = np.abs(element.replica_spectrum(frequency)) ** 2 * element.weighting(frequency)
    power = np.abs(np.fft.ifft(whole)) ** 2
    half = len(power) // 2
    # Energy beyond k samples on either side, k = 0, 1, ...
    sides = power[1 : half + 1] + power[-1 : -half - 1 : -1]
    beyond = np.cumsum(sides[::-1])[::-1]
    enough = np.flatnonzero(beyond < _LEFT_OUT * power.sum())
    least = element.pulse_length + 2 * nodes.TAPS / (element.band[1] - element.band[0])
    return max(int(enough[0]) if len(enough) else half, int(np.ceil(least * grid.stored)))


def length_of(extent: int, beside: int) -> int:
    """Return the length [stored samples] of a patch for echoes over `extent` samples with margins `beside` them."""
    from scipy.fft import next_fast_len

    inside = _SHORTEST
    while inside < extent:
        inside *= 2
    return int(next_fast_len(inside + 2 * beside))


def build(run: Run, n: int, length: int) -> Short:
    """Return the short grid of element n, `length` stored samples long; beam and loss tables are those of the run."""
    from scipy.fft import next_fast_len

    element, long = run.elements[n], run.samplings[n]
    spread_length = int(next_fast_len(int(np.ceil(length * nodes.OVERSAMPLING / 2))))
    step = long.stored / length
    half = int(np.floor((element.band[1] - element.band[0]) / 2 / step))
    grid = Sampling(
        long.stored, spread_length * step, length, spread_length, 0.0, 0, length, step, np.arange(-half, half + 1)
    )
    pieces, made = [], []
    for channel in run.channels[n]:
        of_channel = [(p, t) for p, t in zip(run.pieces[n], run.tables[n], strict=True) if p.channel is channel]
        if len(of_channel) == 1:
            piece, table = of_channel[0]
            pieces.append(Piece(channel, -half, half, 0, piece.band, 0.0, piece.fit))
            made.append(_at_rate(run, piece, table, grid.spread))
            continue
        settings, world = run.settings, run.world
        cut = divide(channel, world, settings.transducer_depth, run.reach, grid, settings.accuracy)
        pieces += cut
        made += [
            tables.build(p, world, settings.transducer_depth, run.reach, grid.spread, settings.accuracy) for p in cut
        ]
    return Short(receiver.build(element, pieces, grid, run.settings), tuple(made))


def _at_rate(run: Run, piece: Piece, table: Tables, rate: float) -> Tables:
    """Return a run's tables for another rate [Hz] of the spreading grid: only the taps are new."""
    made = nodes.design(piece.band, rate, run.settings.accuracy, piece.fit)
    clock = table.clock.copy()
    clock[6] = rate
    return replace(table, nodes=replace(made, taps=tables.aligned(made.taps)), clock=clock)
