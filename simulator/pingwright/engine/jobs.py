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
#: The amplitude factor of scatterers that are all there.
_WHOLE = np.ones(1, np.float32)


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
    linear = receiver.filtered(parts, grids, keys, run.quiet, run.scratch)
    echo = _packed(parts, linear, level)
    if echo_ is not None:
        echo_[...] = linear if run.linear else echo


def _packed(parts: receiver.Receiver, linear: NDArray[np.complex64], level: NDArray[np.int16]) -> NDArray[np.complex64]:
    """Fill level (ping, sample) from echoes [uPa] (ping, sample); return them as received."""
    from pingwright.engine.kernels.noise import pack

    echo = np.asarray(parts.element.received(linear), np.complex64)
    for row, packed in zip(echo, level, strict=True):
        pack(row, SCALE_FACTOR, ADD_OFFSET, LIMIT, packed)
    level[:, : parts.blank] = FILL_VALUE
    return echo


def together(run: Run, one: Chunk, other: Chunk) -> Chunk:
    """Return the echoes and levels of the things of two linear runs together; noise is in one of them at most.

    The same as simulating both at once, but for rounding: some -130 dB of the echo.
    """
    if one.echo is None or other.echo is None:
        message = "echoes are needed to put them together"
        raise ValueError(message)
    echo, level = one.echo + other.echo, np.empty_like(one.level)
    _packed(run.receivers[one.element], echo, level)
    return Chunk(one.element, one.first_ping, level, echo)


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
        # One element after the other: its tables stay near. Weights of hidden things are good for one ping only.
        at_once = 1 if run.trees or run.world.absorbers else len(sent)
        for some in (sent[k : k + at_once] for k in range(0, len(sent), at_once)):
            received = [(sounded, scene.sets(int(pings[sounded]), group)) for sounded in some]
            for e in group:
                for sounded, sets in received:
                    for row, delay in _arriving(run, pings, sounded, window):
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


def _arriving(run: Run, pings: NDArray[np.int64], sounded: int, window: list[int]) -> list[tuple[int, float]]:
    """Return the rows of a window in which echoes of one transmission arrive, and how much later those pings began."""
    if run.settings.span == 0:
        return [(window.index(sounded), 0.0)]
    time = run.world.track.time
    later = [(row, p, float(time[pings[p]] - time[pings[sounded]])) for row, p in enumerate(window) if p >= sounded]
    return [(row, delay) for row, p, delay in later if p == sounded or delay < run.settings.span]


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

    weight: a factor for each point, or length 0 for all ones. heard, twice, by element: what it receives directly, and
    by the surface (second echo), in segments, and the amplitude factor of each; None if it is not seabed.
    """

    points: Scatterers
    segments: NDArray[np.int64]
    weight: NDArray[np.float32]
    heard: dict[int, tuple[NDArray[np.int64], NDArray[np.float32]]] | None = None
    twice: dict[int, tuple[NDArray[np.int64], NDArray[np.float32]]] | None = None


def _bare(part: _Set) -> _Set:
    """Return a set in one segment without its silent scatterers, if they are many: half of a wreck and more."""
    heard = np.flatnonzero(part.weight != 0)
    if not len(part.weight) or len(heard) > _MOST_HEARD * len(part.weight):
        return part
    return _Set(geometry.take(part.points, heard), np.array([[0, len(heard)]]), part.weight[heard])


class _Scene:
    """All things that the pings of one job can receive."""

    def __init__(self, run: Run, pings: NDArray[np.int64]) -> None:
        track = run.world.track
        self.run = run
        places = np.stack([track.x[pings], track.y[pings], track.depth[pings]])
        self.seabed = geometry.stretch(run.tiles, places, run.reach, run.columns)
        low, high = places[0].min() - run.reach, places[0].max() + run.reach
        self.still = geometry.within(run.discrete[0], low, high)
        self._first = int(np.searchsorted(run.discrete[0].position[0], low))
        self._poses: dict[tuple[int, int], FloatArray] = {}

    def pose(self, ping: int, e: int) -> FloatArray:
        """Return the pose of an element's face at a ping, see `geometry.pose`."""
        if (ping, e) not in self._poses:
            self._poses[ping, e] = geometry.pose(self.run.world.track, ping, self.run.elements[e])
        return self._poses[ping, e]

    def sets(self, ping: int, elements: Sequence[int]) -> list[_Set]:
        """Return the scatterers that one ping of some elements receives."""
        run, place = self.run, geometry.origin(self.run.world.track, ping)
        moving, time = run.discrete[1], float(run.world.track.time[ping])
        tiles = self.seabed.tiles(place, run.reach)
        result = [self._ground(ping, elements, place, tiles)] if len(tiles) else []
        for points in [self.still, *([moving.at(ping, time, place, run.reach)] if len(moving.time) else [])]:
            if len(points):
                heard = np.array([[0, len(points)]])
                result.append(_bare(_Set(points, heard, self._seen(points, heard, place))))
        return result

    def _ground(self, ping: int, elements: Sequence[int], place: FloatArray, tiles: NDArray[np.int64]) -> _Set:
        """Return the patches of the seabed that one ping of some elements receives from tiles within reach."""
        run, seabed = self.run, self.seabed
        # A second echo has travelled twice to the bottom and back, and once to the surface.
        again = seabed.tiles(place, (run.reach - place[2]) / 2) if run.world.bounce is not None else tiles[:0]
        heard, twice = ({e: self._shared(some, e, self.pose(ping, e)) for e in elements} for some in (tiles, again))
        # What a single element does not receive need not be looked for behind things.
        some = heard[elements[0]][0] if len(elements) == 1 else geometry.segments(seabed.slices[tiles])
        return _Set(seabed.points, some, self._seen(seabed.points, some, place), heard, twice)

    def _shared(
        self, tiles: NDArray[np.int64], e: int, pose: FloatArray
    ) -> tuple[NDArray[np.int64], NDArray[np.float32]]:
        """Return the segments of tiles that an element receives, and the amplitude factor of each."""
        from pingwright.engine.kernels.thin import thin

        seabed, found, strength = self.seabed, np.empty((len(tiles), 2), np.int64), np.empty(len(tiles), np.float32)
        count = thin(
            tiles, seabed.middle, seabed.radius, seabed.shares, self.run.columns[e], seabed.whole, self.run.lobes[e],
            pose, _SHARES, found, strength,
        )  # fmt: skip
        return found[:count], strength[:count]

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
    pose = scene.pose(ping, e)
    origin = run.samplings[e].origin + delay
    bounced = 0.0 if world.bounce is None else float(world.bounce.at_ping[ping])
    for part in sets:
        weight = part.weight
        if world.absorbers:
            weight = weight.copy()
            dim(world.absorbers, sum(element.band) / 2, pose[:3], part.points.position, part.segments, weight)
        points = part.points
        common = (points.position, points.axis, points.amplitude, points.phase, points.law, weight)
        segments, shares = (part.segments, _WHOLE) if part.heard is None else part.heard[e]
        again = None if part.twice is None else part.twice[e]
        for table, grid in zip(run.tables[e], grids, strict=True):
            kernel = spreader(table.nodes.half, table.nodes.slope_pairs, table.plane, table.parts)
            kernel(grid, *common, segments, shares, pose, *table.arguments(table.timing(origin), table.gain))
            if table.bounce_gain is not None and again is not None and len(again[0]):
                clock = table.bounce_timing(origin, run.settings.transducer_depth, run.face_slowness)
                gain = (table.bounce_gain * bounced).astype(np.float32)
                kernel(grid, *common, *again, pose, *table.arguments(clock, gain))
