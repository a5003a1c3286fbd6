"""One job: a part of the track for all elements.

It gathers the seabed within reach, spreads every echo on one grid for each channel, filters, adds noise and packs
levels.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.echograms.record import ADD_OFFSET, FILL_VALUE, LIMIT, SCALE_FACTOR
from pingwright.engine import geometry, receiver, shadows
from pingwright.engine.preparing import Run
from pingwright.world.scatterers import Scatterers

FloatArray = NDArray[np.float64]

#: Pings filtered at a time: pocketfft works on vectors of four, and more would not fit into the caches.
_ROWS = 4
_NONE = np.zeros(0, np.float32)
#: Share of a set's scatterers that may be heard if the silent ones are left out.
_MOST_HEARD = 0.7
#: Shares of their patches that tiles may need, see `kernels.thin`.
_SHARES = 2.0 ** -(np.arange(25) / 4)


@dataclass(frozen=True)
class Chunk:
    """A few pings of one element: level int16 (ping, sample), stored form; echo complex64 [uPa] or None.

    Samples in the blanking range hold FILL_VALUE.
    """

    element: int
    first_ping: int
    level: NDArray[np.int16]
    echo: NDArray[np.complex64] | None


def job(run: Run, which: Sequence[int], keep_phase: bool, only: Sequence[int] | None = None) -> list[Chunk]:
    """Return some pings, rising, of every element, or only of some (by their numbers): the same bits either way.

    The rows follow each other even if the pings are not neighbours.
    """
    elements = range(len(run.elements)) if only is None else only
    grids = _spread_all(run, which, elements)
    chunks = []
    for e in elements:
        parts, count = run.receivers[e], len(run.pings_of(e))
        pings = [p for p in which if p < count]
        if not pings:
            continue
        level = np.empty((len(pings), parts.sampling.count), np.int16)
        echo = np.empty(level.shape, np.complex64) if keep_phase else None
        for first in range(0, len(pings), _ROWS):
            rows = slice(first, min(first + _ROWS, len(pings)))
            # What is quiet draws no noise.
            keys = [0 if run.quiet else seeds.key(run.settings.seed, "noise", e, p) for p in pings[rows]]
            _record(run, parts, [g[rows] for g in grids[e]], keys, level[rows], None if echo is None else echo[rows])
        chunks.append(Chunk(e, which[0], level, echo))
    return chunks


def _record(
    run: Run,
    parts: receiver.Receiver,
    grids: list[NDArray[np.float32]],
    keys: list[int],
    level: NDArray[np.int16],
    echo_: NDArray[np.complex64] | None,
) -> None:
    """Fill level (ping, sample), and kept where echoes are wanted, from a few pings' grids."""
    from pingwright.engine.kernels.noise import pack

    linear = receiver.filtered(parts, grids, keys, run.quiet, run.scratch)
    echo = np.asarray(parts.element.received(linear), np.complex64)
    for row, packed in zip(echo, level, strict=True):
        pack(row, SCALE_FACTOR, ADD_OFFSET, LIMIT, packed)
    level[:, : parts.blank] = FILL_VALUE
    if echo_ is not None:
        echo_[...] = linear if run.linear else echo


def _spread_all(run: Run, which: Sequence[int], elements: Sequence[int]) -> list[list[NDArray[np.float32]]]:
    """Return grids [element][piece] (ping, real|imaginary, sample) holding every echo of the wanted pings.

    Grids of elements that are not chosen are empty.
    """
    grids = [
        [run.scratch.take(f"grid {e} {n}", (len(which), 2, grid.row), np.float32) for n in range(len(run.pieces[e]))]
        for e, grid in enumerate(run.samplings)
    ]
    for grid in (grid for e in elements for grid in grids[e]):
        grid[...] = 0
    groups = [list(elements)] if not run.settings.in_turn else [[e] for e in elements]
    for group in groups:
        pings = run.pings_of(group[0])
        window = [p for p in which if p < len(pings)]
        if not window:
            continue
        before = earlier(run, pings)
        sent = window if not before else range(max(0, window[0] - before), window[-1] + 1)
        scene = _Scene(run, pings[np.asarray(sent)])
        for sounded in sent:
            sets = scene.sets(int(pings[sounded]))
            for row, p in enumerate(window):
                delay = float(run.world.track.time[pings[p]] - run.world.track.time[pings[sounded]])
                if p >= sounded and (p == sounded or delay < run.settings.span):
                    for e in group:
                        _spread_element(run, scene, sets, e, int(pings[sounded]), delay, [g[row] for g in grids[e]])
    for e in (e for e in elements if any(run.scattering_layer[e])):
        layers, count = run.scattering_layer[e], len(run.pings_of(e))
        for row, p in enumerate(p for p in which if p < count):
            x, y, bottom = place_of(run, e, p)
            for n, pieces in enumerate(layers):
                for cells in pieces:
                    # White noise in separate pieces of the band is independent: each piece has its own draw.
                    own = [n, cells.number] if n or cells.number else []
                    key = seeds.key(run.settings.seed, "scattering_layer", e, p, *own)
                    cells.add(grids[e][n][row], run.tables[e][n], key, x, y, bottom)
    return grids


def place_of(run: Run, e: int, p: int) -> tuple[float, float, float]:
    """Return the place x, y of the boat at a ping of an element, and the depth of the seabed there [m]."""
    ping, track = run.pings_of(e)[p], run.world.track
    x, y = track.x[ping : ping + 1], track.y[ping : ping + 1]
    return float(x[0]), float(y[0]), float(run.world.terrain.depth(x, y)[0])


def earlier(run: Run, pings: NDArray[np.int64]) -> int:
    """Return the number of earlier pings whose echoes still arrive."""
    if run.settings.span == 0 or len(pings) < 2:
        return 0
    interval = float(run.world.track.time[pings[1]] - run.world.track.time[pings[0]])
    return int(np.ceil(run.settings.span / interval))


@dataclass(frozen=True)
class _Set:
    """Scatterers, the segments of them that one ping receives, and their weights after hiding.

    weight: a factor for each point, or length 0 for all ones. tiles, twice: numbers of the seabed's tiles received
    directly and by the surface (second echo); None if it is not seabed.
    """

    points: Scatterers
    segments: NDArray[np.int64]
    weight: NDArray[np.float32]
    tiles: NDArray[np.int64] | None = None
    twice: NDArray[np.int64] | None = None


def _bare(part: _Set) -> _Set:
    """Return a set in one segment without its silent scatterers, if they are many: half of a wreck and more."""
    heard = np.flatnonzero(part.weight)
    if not len(part.weight) or len(heard) > _MOST_HEARD * len(part.weight):
        return part
    return _Set(geometry.take(part.points, heard), np.array([[0, len(heard)]]), part.weight[heard])


class _Scene:
    """All things that the pings of one job can receive."""

    def __init__(self, run: Run, pings: NDArray[np.int64]) -> None:
        track = run.world.track
        self.run = run
        places = np.stack([track.x[pings], track.y[pings], track.depth[pings]])
        self.seabed = geometry.stretch(run.tiles, places, run.reach)
        low, high = places[0].min() - run.reach, places[0].max() + run.reach
        self.still = geometry.within(run.discrete[0], low, high)
        self._first = int(np.searchsorted(run.discrete[0].position[0], low))

    def sets(self, ping: int) -> list[_Set]:
        """Return the scatterers that one ping receives."""
        run, place = self.run, geometry.origin(self.run.world.track, ping)
        moving, time = run.discrete[1], float(run.world.track.time[ping])
        tiles = self.seabed.tiles(place, run.reach)
        # A second echo has travelled twice to the bottom and back, and once to the surface.
        twice = self.seabed.tiles(place, (run.reach - place[2]) / 2) if run.world.bounce is not None else tiles[:0]
        result = []
        if len(tiles):
            points, heard = self.seabed.points, geometry.segments(self.seabed.slices[tiles])
            result.append(_Set(points, heard, self._seen(points, heard, place), tiles, twice))
        for points in [self.still, *([moving.at(ping, time, place, run.reach)] if len(moving.time) else [])]:
            if len(points):
                heard = np.array([[0, len(points)]])
                result.append(_bare(_Set(points, heard, self._seen(points, heard, place))))
        return result

    def shared(
        self, part: _Set, tiles: NDArray[np.int64] | None, e: int, pose: FloatArray
    ) -> list[tuple[NDArray[np.int64], float]]:
        """Return the segments of a set that an element receives, and the amplitude factor of each."""
        if tiles is None:
            return [(part.segments, 1.0)]
        if not len(tiles):
            return []
        from pingwright.engine.kernels.thin import STEPS, thin

        seabed, found, ends = self.seabed, np.empty((len(tiles), 2), np.int64), np.empty(STEPS, np.int64)
        thin(
            tiles, seabed.middle, seabed.radius, seabed.shares, self.run.columns[e], seabed.slices, self.run.lobes[e],
            pose, _SHARES, found, ends,
        )  # fmt: skip
        first, result = 0, []
        for step, end in enumerate(ends.tolist()):
            if end > first:
                result.append((found[first:end], float(2.0 ** (step / 8))))
            first = end
        return result

    def _seen(self, points: Scatterers, segments: NDArray[np.int64], place: FloatArray) -> NDArray[np.float32]:
        """Return the weights of scatterers after hiding, good until those of the next ping."""
        run, name = self.run, "seabed" if points is self.seabed.points else "still" if points is self.still else "fish"
        if not run.trees and not run.world.absorbers:
            return _NONE

        def hidden() -> NDArray[np.float32]:
            from pingwright.engine.kernels.hiding import TOLERANCE, hide

            weight = run.scratch.take(f"weight {name}", (len(points),), np.float32)
            weight[...] = 1.0
            for tree in run.trees:
                hide(
                    points.position, points.axis, points.law, run.tables[0][0].two_sided, segments, place, tree.boxes,
                    tree.child, tree.triangles, TOLERANCE, weight,
                )  # fmt: skip
            return weight

        if name != "still" or not run.trees:
            return hidden()
        return shadows.kept((run.shadow_key, self._first, len(points), place.tobytes()), len(points), hidden)


def _spread_element(
    run: Run, scene: _Scene, sets: list[_Set], e: int, ping: int, delay: float, grids: list[NDArray[np.float32]]
) -> None:
    """Spread one transmission, `delay` [s] before the grids' own ping, on an element's grids."""
    from pingwright.engine.kernels.hiding import dim
    from pingwright.engine.kernels.spread import spreader

    element, world = run.elements[e], run.world
    pose = geometry.pose(world.track, ping, element)
    origin = run.samplings[e].origin + delay
    bounced = 0.0 if world.bounce is None else float(world.bounce.at_ping[ping])
    for part in sets:
        weight = part.weight
        if world.absorbers:
            weight = weight.copy()
            dim(world.absorbers, sum(element.band) / 2, pose[:3], part.points.position, part.segments, weight)
        points = part.points
        common = (points.position, points.axis, points.amplitude, points.phase, points.law, weight)
        at_once = scene.shared(part, part.tiles, e, pose)
        twice = [] if part.twice is None else scene.shared(part, part.twice, e, pose)
        for table, grid in zip(run.tables[e], grids, strict=True):
            kernel = spreader(table.nodes.half, table.nodes.slope_pairs, table.plane, table.parts)
            for segments, strength in at_once:
                gain = (table.gain * strength).astype(np.float32)
                kernel(grid, *common, segments, pose, *table.arguments(table.timing(origin), gain))
            if table.bounce_gain is None or not twice:
                continue
            clock = table.bounce_timing(origin, run.settings.transducer_depth, run.face_slowness)
            for segments, strength in twice:
                gain = (table.bounce_gain * bounced * strength).astype(np.float32)
                kernel(grid, *common, segments, pose, *table.arguments(clock, gain))
